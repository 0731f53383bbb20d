"""The tables of a memo."""

from __future__ import annotations

from typing import Any

import pandas as pd

from kit.report.formats import Units, figure, whole_money
from kit.report.html_table import Cell, Group, table
from kit.report.lines import COST_LINES, lifetime_lines
from kit.report.measures import BY_COLUMN, GROUPS, HEADLINE, MEASURES, Measure
from kit.report.show import Shown, paragraph
from kit.report.theme import Look, looks
from kit.units import split_name


def headline_table(comparison: Any) -> Shown:
    """The dozen figures a client looks for first; every option a column."""
    rows = [BY_COLUMN[c] for c in HEADLINE if c in _columns(comparison) and _any_value(comparison, c)]
    return _measures(comparison, "Main figures", [("", rows)])


def full_table(comparison: Any) -> Shown:
    """Every column of the summary, grouped; one that no option has is left out."""
    present = _columns(comparison)
    known = [m for m in MEASURES if m.column in present]
    extra = [_unnamed(c) for c in present if c not in BY_COLUMN and c not in ("option", "name")]
    groups = [(g, [m for m in known if m.group == g]) for g in GROUPS]
    return _measures(comparison, "All figures", [*groups, ("Also computed", extra)])


def _measures(comparison: Any, caption: str, groups: list[tuple[str, list[Measure]]]) -> Shown:
    items = looks(comparison)
    made = []
    for name, measures in groups:
        rows: list[list[str | Cell]] = [
            [m.label, *(_cell(comparison, look, m) for look in items)] for m in measures
        ]
        if rows:
            made.append(Group(name, rows))
    return table(caption, ["", *(x.heading for x in items)], made, kind="figures options")


def _cell(comparison: Any, look: Look, measure: Measure) -> Cell:
    outcome = comparison.outcomes[look.slug]
    value = outcome.columns.get(measure.column)
    if isinstance(value, float) and value != value:
        value = None
    model = comparison.study.model
    kind = "no" if value is False else ""
    text = figure(value, measure.unit, model.units, model.money.currency)
    if measure.unit == "s" and isinstance(value, (int, float)):
        text = _gap(float(value))
    return Cell(text, _why_empty(outcome, measure) if value is None else "", kind)


def _gap(seconds: float) -> str:
    """A gap in the unit a reader thinks in."""
    if seconds >= 7200:
        return figure(seconds / 3600, "h")
    if seconds >= 120:
        return figure(seconds / 60, "min")
    return figure(seconds, "s")


def _why_empty(outcome: Any, measure: Measure) -> str:
    """Why a figure is missing: what the computation said, else what the option lacks."""
    if measure.column in outcome.reasons:
        return str(outcome.reasons[measure.column])
    if outcome.option is None:
        return "doing nothing: does not apply"
    has = [n for n in measure.needs if getattr(outcome.option, n, None) is not None]
    if measure.needs and not has:
        return f"no {' or '.join(measure.needs)} in this option"
    return measure.when_none


def _unnamed(column: str) -> Measure:
    stem, unit = split_name(column)
    words = stem.replace("_", " ").capitalize()
    per_year = " a year" if unit.endswith("_per_year") else ""
    return Measure(column, words + per_year, unit.removesuffix("_per_year"), "Also computed")


def _columns(comparison: Any) -> list[str]:
    return [c for c in comparison.summary.columns if c != "option"]


def _any_value(comparison: Any, column: str) -> bool:
    values = (o.columns.get(column) for o in comparison.outcomes.values())
    return any(v is not None for v in values)


_MAIN_CHECKS = ("running power", "hardest start")


def power_table(comparison: Any) -> Shown:
    """Running power, the hardest start, and every check that fails, explained under the table."""
    return _power(comparison, "Power and starting checks that decide", whole=False)


def power_details(comparison: Any) -> Shown:
    """Every power and start check of every option."""
    return _power(comparison, "All power and starting checks", whole=True)


def _power(comparison: Any, caption: str, whole: bool) -> Shown:
    groups = []
    for look in looks(comparison):
        outcome = comparison.outcomes[look.slug]
        if outcome.option is None or outcome.fit is None or not len(outcome.fit.rows):
            continue
        rows: list[list[str | Cell]] = []
        left_out = 0
        for check in outcome.fit.rows.to_dict("records"):
            if whole or not check["ok"] or str(check["check"]).lower().startswith(_MAIN_CHECKS):
                rows.append(_check_row(check))
            else:
                left_out += 1
        if left_out:
            rows.append([f"{left_out} other check{'s' if left_out > 1 else ''}", "", "", "yes"])
        groups.append(Group(look.label, rows))
    if not groups:
        return paragraph("No option has equipment to check.")
    return table(caption, ["Check", "Needs", "Has", "Holds"], groups, kind="figures checks")


def _check_row(check: dict[Any, Any]) -> list[str | Cell]:
    ok = bool(check["ok"])
    name = str(check["check"])
    holds = Cell("yes") if ok else Cell("NO", str(check["text"]), "no")
    return [
        name[:1].upper() + name[1:],
        _amount(check["need"], check["unit"]),
        _amount(check["have"], check["unit"]),
        holds,
    ]


def _amount(value: Any, unit: str) -> str:
    if isinstance(value, str):
        return value
    if value is None or pd.isna(value):
        return figure(None, "")
    if unit == "yes/no":
        return "yes" if value else "no"
    if unit == "s":
        return _gap(float(value))
    text = figure(float(value), "")
    return f"{text}\N{NO-BREAK SPACE}{unit}" if unit else text


def cost_lines_table(comparison: Any) -> Shown:
    """Present value of each cost line; the same figures as the stacked bars."""
    lines = lifetime_lines(comparison)
    currency = comparison.study.model.money.currency
    items = looks(comparison)
    rows: list[list[str | Cell]] = []
    for line in COST_LINES:
        if line.key not in lines.columns or not lines[line.key].abs().gt(0.005).any():
            continue
        costs = lines[line.key].to_dict()
        rows.append([line.label, *(whole_money(costs[x.slug], currency) for x in items)])
    sums = lines.sum(axis=1).to_dict()
    total: list[str | Cell] = [
        Cell("Lifetime cost", kind="total"),
        *(Cell(whole_money(sums[x.slug], currency), kind="total") for x in items),
    ]
    caption = f"Present value by line over {lines.attrs['horizon_years']} years; credits are negative"
    return table(
        caption, ["", *(x.heading for x in items)], [Group("", [*rows, total])], kind="figures options"
    )


def fuel_table(comparison: Any) -> Shown | None:
    """Fuel a hard outage would take against what is on hand, by length. None without fuel."""
    items = [x for x in looks(comparison) if _burns(comparison.outcomes[x.slug])]
    if not items:
        return None
    units = comparison.study.model.units
    rows = [[x.label, *_fuel_cells(comparison.outcomes[x.slug], units)] for x in items]
    hours = [figure(float(h), "h") for h in comparison.outcomes[items[0].slug].fuel_need["hours"]]
    heads = ["", *(f"Takes in {h}" for h in hours), "On hand"]
    return table("Fuel an outage takes against fuel on hand", heads, [Group("", rows)])


def _fuel_cells(outcome: Any, units: Units) -> list[str | Cell]:
    cells: list[str | Cell] = []
    on_hand = None
    for need in outcome.fuel_need.to_dict("records"):
        on_hand = None if pd.isna(need["on_hand_l"]) else float(need["on_hand_l"])
        text = figure(float(need["fuel_l"]), outcome.fuel_unit, units)
        short = on_hand is not None and need["fuel_l"] > on_hand
        cells.append(Cell(text, "more than is on hand", "no") if short else text)
    return [*cells, Cell("–", "comes by pipe") if on_hand is None else figure(on_hand, "l", units)]


def _burns(outcome: Any) -> bool:
    need = outcome.fuel_need
    return need is not None and len(need) > 0 and bool((need["fuel_l"] > 0).any())
