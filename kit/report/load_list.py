"""The load list as tables: what each appliance draws, what runs together, what each source starts."""

from __future__ import annotations

from typing import Any

import pandas as pd

from kit.fit.sources import seen_sources
from kit.fit.start_changes import option_starts
from kit.house.appliances import reaches
from kit.house.coincidence import running_peaks
from kit.house.list_account import list_table, reconcile, tier_table
from kit.house.pieces import start_list
from kit.report.formats import DASH, figure
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, paragraph, together
from kit.report.theme import looks
from kit.stages.sources import asked_loads, machines

TIERS = {"must_run": "Must run", "wanted": "Wanted", "can_wait": "Can wait"}
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
LOADS = ("must run + wanted + can wait", "must run + wanted", "must run")
LOAD_NAMES = ("All loads", "Must-run and wanted loads", "Must-run loads")


def load_list(comparison: Any) -> Shown:
    """Every appliance by tier, with watts running and starting, and its energy."""
    house = comparison.house
    found = list_table(comparison.study.model.house, house.lists, house.year)
    groups = []
    for tier, name in TIERS.items():
        rows = [_appliance_row(row) for row in found[found["tier"] == tier].to_dict("records")]
        if rows:
            groups.append(Group(name, rows))
    heads = ["Appliance", "Room", "Pieces", "Volts", "Running", "Starting", "Everyday\na year"]
    heads.append("In an outage\na day")
    caption = "The load list; running and starting watts are of one piece"
    return table(caption, heads, groups, (1,), kind="figures rows")


def _appliance_row(row: dict[Any, Any]) -> list[str | Cell]:
    return [
        str(row["name"]),
        str(row["room"] or ""),
        f"{row['count']:d}",
        figure(float(row["voltage_v"]), "v"),
        figure(float(row["running_w"]), "w"),
        figure(float(row["start_w"]), "w"),
        figure(float(row["kwh_per_year"]), "kwh"),
        figure(float(row["outage_kwh_per_day"]), "kwh"),
    ]


def running_together(comparison: Any) -> Shown:
    """Energy by tier, and how much runs at one time: mean, 99 % of the time, and all at once."""
    place, house = comparison.study.model.house, comparison.house
    tiers = tier_table(place, house.lists, house.year)
    rows: list[list[str | Cell]] = [
        [
            TIERS[row["tier"]],
            f"{row['appliance_count']:d}",
            figure(row["everyday_kwh_per_day"], "kwh"),
            figure(row["outage_kwh_per_day"], "kwh"),
            figure(row["outage_worst_day_kwh"], "kwh"),
        ]
        for row in tiers.to_dict("records")
    ]
    heads = ["Loads", "Appliances", "Everyday\na day", "In an outage\na day", "Hardest\noutage day"]
    energy = table("Energy of must-run, wanted and can-wait loads", heads, [Group("", rows)])
    found = running_peaks(place, house.lists)
    names = dict(zip(LOADS, LOAD_NAMES, strict=True))
    groups = []
    for when, part in found.groupby("when", sort=False):
        peak_rows: list[list[str | Cell]] = [
            [
                names[row["loads"]],
                *(figure(row[c], "kw") for c in ("mean_kw", "p99_kw", "p999_kw", "worst_kw")),
            ]
            for row in part.to_dict("records")
        ]
        groups.append(Group(str(when).capitalize(), peak_rows))
    heads = ["Loads", "Mean", "99% of\nthe time", "99.9% of\nthe time", "All at once"]
    together_table = table("How much runs at one time: at most", heads, groups)
    said = paragraph(
        "Appliances that go on and off by themselves are taken as independent of each other; the chances are "
        "exact for that, step by step of the year.",
        "small",
    )
    return together([energy, together_table, said])


def starts(comparison: Any) -> Shown:
    """Each source of each option: the hardest start, the order that brings the house back, what helps."""
    study, house = comparison.study, comparison.house
    pieces = study.model.house.appliances
    groups = []
    for look in looks(comparison):
        option = study.model.options.get(look.slug)
        if option is None:
            continue
        source = option.battery or option.generator
        reached = [s for s in asked_loads(study) if source and reaches(pieces[s], source.connected_to)]
        listed = start_list(study.model.house, house.lists, reached)
        found = option_starts(look.slug, seen_sources(*machines(study, house, option)), listed)
        rows = [_start_row(row) for row in found.to_dict("records")]
        if rows:
            groups.append(Group(look.label, rows))
    if not groups:
        return paragraph("No option has a source that starts anything.")
    heads = [
        "Source",
        "Hardest start",
        "Needs",
        "Has",
        "Starts all",
        "Order after a dark hour",
        "What would help",
    ]
    return table("Starting the loads asked for", heads, groups, (1, 5, 6), kind="figures rows")


def _start_row(row: dict[Any, Any]) -> list[str | Cell]:
    whole = row["carried_count"] == row["appliance_count"]
    carried = Cell("yes") if whole else Cell(f"{row['carried_count']} of {row['appliance_count']}", kind="no")
    order = str(row["order"]) + (f"; never: {row['left_off']}" if row["left_off"] else "")
    groups = row["group_count"]
    if whole and not pd.isna(groups):
        order += f" (in {groups:.0f} group{'s' if groups > 1 else ''} at least)"
    unit = str(row["unit"]).lower()
    change = str(row["change"])
    return [
        str(row["source"]).capitalize(),
        str(row["hardest"]),
        figure(float(row["need"]), unit),
        figure(float(row["have"]), unit),
        carried,
        order,
        DASH if change == "none needed" else change,
    ]


def list_against_meter(comparison: Any) -> Shown:
    """The list's energy against the meter's, month by month, and the rest it does not explain."""
    found = reconcile(comparison.house.lists, comparison.house.year)
    if found.empty:
        return paragraph("This house has no meter record, so its list stands for all it uses.")
    rows: list[list[str | Cell]] = []
    for row in found.to_dict("records"):
        year = row["month"] == 0
        cells = [
            figure(row["metered_kwh"], "kwh"),
            figure(row["list_kwh"], "kwh"),
            figure(row["unexplained_kwh"], "kwh"),
            figure(row["unexplained_frac"], "frac"),
        ]
        name = "Year" if year else MONTHS[row["month"] - 1]
        kind = "total" if year else ""
        rows.append([Cell(name, kind=kind), *(Cell(text, kind=kind) for text in cells)])
    heads = ["Month", "Metered", "By the list", "Not explained", "Share"]
    return table("The list against the meter", heads, [Group("", rows)])
