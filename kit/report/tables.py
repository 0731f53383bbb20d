"""The tables of a memo."""

from __future__ import annotations

from typing import Any

import pandas as pd

from kit.report.formats import figure
from kit.report.html_table import Cell, Group, table
from kit.report.lines import COST_LINES, lifetime_lines
from kit.report.measures import BY_COLUMN, GROUPS, HEADLINE, MEASURES, Measure
from kit.report.show import Shown, paragraph
from kit.report.theme import Look, looks
from kit.units import split_name


def headline_table(comparison: Any) -> Shown:
    """The dozen figures a client looks for first; every option a column."""
    asked = comparison.study.model.asked
    chance = f"ride_through_frac_{asked.keep_on_h:.0f}h"
    wanted = [HEADLINE[0], *([chance] if chance in _columns(comparison) else []), *HEADLINE[1:]]
    rows = [BY_COLUMN[c] for c in wanted if c in _columns(comparison) and _any_value(comparison, c)]
    return _measures(comparison, "The options side by side", [("", rows)])


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
        rows = [[m.label, *(_cell(comparison, look, m) for look in items)] for m in measures]
        if rows:
            made.append(Group(name, rows))
    return table(caption, ["", *(x.label for x in items)], made, kind="figures options")


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
    return Cell(text, _why_empty(outcome.option, measure) if value is None else "", kind)


def _gap(seconds: float) -> str:
    """A gap in the unit a reader thinks in."""
    if seconds >= 7200:
        return figure(seconds / 3600, "h")
    if seconds >= 120:
        return figure(seconds / 60, "min")
    return figure(seconds, "s")


def _why_empty(option: Any, measure: Measure) -> str:
    if option is None:
        return "doing nothing: not applicable"
    needs = [n for n in measure.needs if getattr(option, n, None) is not None]
    if measure.needs and not needs:
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


def power_table(comparison: Any) -> Shown:
    """Power and start checks of every option; a failing one is explained in words under the table."""
    groups = []
    for look in looks(comparison):
        fit = comparison.outcomes[look.slug].fit
        if fit is None:
            continue
        rows = []
        for r in fit.rows.itertuples():
            ok = r.ok is True or (not isinstance(r.ok, str) and bool(r.ok))
            why = "" if ok else str(r.text)
            rows.append(
                [str(r.check), _amount(r.need, r.unit), _amount(r.have, r.unit), Cell("yes" if ok else "NO", why, "" if ok else "no")]
            )  # fmt: skip
        groups.append(Group(look.label, rows))
    if not groups:
        return paragraph("No option has equipment to check.")
    return table("Power and starting checks", ["Check", "Needs", "Has", "Holds"], groups)


def _amount(value: Any, unit: str) -> str:
    if isinstance(value, str):
        return value
    if value is None or pd.isna(value):
        return figure(None, "")
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
        rows.append([line.label, *(_usd(lines.at[x.slug, line.key], currency) for x in items)])
    total: list[str | Cell] = [
        Cell("Lifetime cost", kind="total"),
        *(Cell(_usd(lines.loc[x.slug].sum(), currency), kind="total") for x in items),
    ]
    caption = f"Present value by line over {lines.attrs['horizon_years']} years; credits are negative"
    return table(
        caption, ["", *(x.label for x in items)], [Group("", [*rows, total])], kind="figures options"
    )


def _usd(value: float, currency: str) -> str:
    """Money in a table of large sums: whole units."""
    return (
        figure(float(round(value)), "usd", currency=currency)
        if abs(value) >= 0.5
        else figure(0.0, "usd", currency=currency)
    )


def fuel_table(comparison: Any) -> Shown | None:
    """Fuel a hard outage would take against what is on hand, by length. None without fuel."""
    items = [x for x in looks(comparison) if _burns(comparison.outcomes[x.slug])]
    if not items:
        return None
    units = comparison.study.model.units
    groups = []
    for look in items:
        need = comparison.outcomes[look.slug].fuel_need
        rows = []
        for r in need.itertuples():
            on_hand = None if pd.isna(r.on_hand_l) else float(r.on_hand_l)
            short = on_hand is not None and r.fuel_l > on_hand
            rows.append(
                [
                    figure(float(r.hours), "h"), figure(float(r.fuel_l), "l", units),
                    figure(on_hand, "l", units), Cell("NO" if short else "yes", kind="no" if short else ""),
                ]
            )  # fmt: skip
        groups.append(Group(look.label, rows))
    return table(
        "Fuel an outage takes against fuel on hand", ["Outage lasts", "Takes", "On hand", "Enough"], groups
    )


def _burns(outcome: Any) -> bool:
    need = outcome.fuel_need
    return need is not None and len(need) > 0 and bool((need["fuel_l"] > 0).any())
