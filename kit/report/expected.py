"""What an expected year of outages asks of each option, and whether the fuel on hand would do."""

from __future__ import annotations

from typing import Any

import pandas as pd

from kit.report.formats import Units, digits_apart, figure
from kit.report.html_table import Cell, Group, table
from kit.report.memo import refuelling
from kit.report.show import Shown, bullets, paragraph, together
from kit.report.theme import Look, looks

_FUEL_LIMIT = "fuel_on_site"


def expected_year(comparison: Any) -> Shown:
    """An expected year of outages, an option a row: what goes unserved, what runs, what is felt."""
    outcomes = comparison.outcomes
    units = comparison.study.model.units
    first = next(iter(outcomes.values()))
    out_h = first.columns["outage_h_per_year"]
    event = figure(first.hard_event_h, "h")
    heads = [
        "", "Must-run loads off", "Must-run not served", "Wanted not served", "Generator runs", "Fuel",
        "Refuelling", "Interruptions felt", "Failed outages in 10 years",
        f"Longest stretch off in a {event} outage",
    ]  # fmt: skip
    rows = [[x.label, *_year_cells(outcomes[x.slug], units)] for x in looks(comparison)]
    said = f"The grid is down for {figure(out_h, 'h')} in an expected year, the same for every option."
    terms = (
        "Interruptions felt count blinks too. A failed outage is one in which must-run loads are off for "
        f"longer than they tolerate. The longest stretch is the one that 95 of 100 outages of {event} stay "
        "within; one outage in twenty of the longest kind of this record lasts longer than that."
    )
    shown = table("Unserved, run and felt in an expected year", heads, [Group("", rows)], (6,), "figures")
    return together([paragraph(said), shown, paragraph(terms, "small")])


def _year_cells(outcome: Any, units: Units) -> list[str | Cell]:
    c, option = outcome.columns, outcome.option
    generator = option.generator if option else None
    none = Cell("–", "no generator in this option" if option else "doing nothing: does not apply")
    fuel = c.get("fuel_l_per_year") if outcome.fuel_unit == "l" else c.get("fuel_gas_m3_per_year")
    stops = refuelling(generator, c.get("refuel_count_per_24h")) if generator else none
    return [
        figure(c.get("must_run_unserved_h_per_year"), "h"),
        figure(c.get("must_run_unserved_kwh_per_year"), "kwh"),
        figure(c.get("wanted_unserved_kwh_per_year"), "kwh"),
        figure(c.get("generator_run_h_per_year"), "h") if generator else none,
        figure(fuel, outcome.fuel_unit, units) if generator else none,
        stops,
        figure(c.get("interruption_felt_count_per_year"), "count"),
        figure(c.get("failed_outage_count_per_10y"), "count"),
        figure(c.get("longest_unserved_h"), "h"),
    ]


def fuel_on_hand(comparison: Any) -> Shown:
    """Fuel that a day, three days and a week of outage take against the fuel on hand; limits passed."""
    items = [x for x in looks(comparison) if _burns(comparison.outcomes[x.slug])]
    if not items:
        return paragraph("No option burns fuel in an outage.")
    units = comparison.study.model.units
    rows: list[list[str | Cell]] = [
        [x.label, *_fuel_cells(comparison.outcomes[x.slug], units)] for x in items
    ]
    hours = [figure(float(h), "h") for h in comparison.outcomes[items[0].slug].fuel_need["hours"]]
    heads = ["", *(f"Takes in {h}" for h in hours), "On hand", "Lasts for"]
    shown = table("Fuel an outage takes against fuel on hand", heads, [Group("", rows)])
    return together([paragraph(_fuel_sentence(comparison, items)), shown, _limits(comparison, items)])


def _fuel_cells(outcome: Any, units: Units) -> list[str | Cell]:
    need = outcome.fuel_need
    on_hand = need["on_hand_l"].iloc[0]
    lasts = figure(outcome.columns.get("fuel_on_hand_h"), "h")
    takes = [float(v) for v in need["fuel_l"]]
    if pd.isna(on_hand):
        piped = Cell("–", "comes by pipe, while the pipeline holds")
        return [*(figure(v, outcome.fuel_unit, units) for v in takes), piped, piped]
    more = max(digits_apart(v, float(on_hand), outcome.fuel_unit, units) for v in takes)
    cells: list[str | Cell] = []
    for litres in takes:
        text = figure(litres, outcome.fuel_unit, units, more=more)
        cells.append(Cell(text, "more than is on hand", "no") if litres > on_hand else text)
    return [*cells, figure(float(on_hand), outcome.fuel_unit, units, more=more), lasts]


def _fuel_sentence(comparison: Any, items: list[Look]) -> str:
    """Which lengths of outage the fuel on hand does not cover, and for whom."""
    short: dict[float, list[str]] = {}
    for look in items:
        for need in comparison.outcomes[look.slug].fuel_need.to_dict("records"):
            if not pd.isna(need["on_hand_l"]) and need["fuel_l"] > need["on_hand_l"]:
                short.setdefault(float(need["hours"]), []).append(look.letter)
    if not short:
        longest = float(comparison.outcomes[items[0].slug].fuel_need["hours"].max())
        return f"The fuel on hand lasts through {figure(longest, 'h')} for every option that keeps any."
    told = "; ".join(
        f"{', '.join(letters)} in an outage of {figure(h, 'h')}" for h, letters in sorted(short.items())
    )
    return f"Unless more is fetched, the fuel on hand does not last for {told}."


def _limits(comparison: Any, items: list[Look]) -> Shown | None:
    """The findings on fuel kept at the house beyond its limit, said where the fuel is counted."""
    letters = {x.slug: x.letter for x in items}
    told: dict[str, list[str]] = {}
    for found in comparison.findings:
        if found.code == _FUEL_LIMIT and found.option in letters and found.severity != "note":
            told.setdefault(found.text, []).append(letters[found.option])
    return bullets([f"{', '.join(who)}: {text}" for text, who in told.items()], "findings") if told else None


def _burns(outcome: Any) -> bool:
    need = outcome.fuel_need
    return need is not None and len(need) > 0 and bool((need["fuel_l"] > 0).any())
