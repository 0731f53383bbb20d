"""The tables of a memo."""

from __future__ import annotations

from typing import Any

import pandas as pd

from kit.report.formats import digits_apart, figure, whole_money
from kit.report.html_table import Cell, Group, table
from kit.report.lines import COST_LINES, lifetime_lines
from kit.report.measures import BY_COLUMN, GROUPS, HEADLINE, MEASURES, Measure
from kit.report.show import Shown, paragraph, together
from kit.report.theme import Look, looks
from kit.units import split_name

MOST_ACROSS = 8  # options that fit beside each other, in print too


def headline_table(comparison: Any) -> Shown:
    """The dozen figures a client looks for first; options are columns, or rows where they are many."""
    measures = [BY_COLUMN[c] for c in HEADLINE if c in _columns(comparison) and _any_value(comparison, c)]
    items = looks(comparison)
    if len(items) <= MOST_ACROSS:
        return _measures(comparison, "Main figures", [("", measures)])
    return brief_table(comparison)


def brief_table(comparison: Any, caption: str = "Main figures") -> Shown:
    """The same figures with an option a row and short heads, for many options or little room."""
    measures = [BY_COLUMN[c] for c in HEADLINE if c in _columns(comparison) and _any_value(comparison, c)]
    items = looks(comparison)
    rows: list[list[str | Cell]] = [[x.label, *(_cell(comparison, x, m) for m in measures)] for x in items]
    heads = ["", *(HEADLINE[m.column] for m in measures)]
    return table(caption, heads, [Group("", rows)], kind="figures rows")


def full_table(comparison: Any) -> Shown:
    """Every column of the summary, grouped; one that no option has is left out."""
    present = _columns(comparison)
    known = [m for m in MEASURES if m.column in present]
    extra = [_unnamed(c) for c in present if c not in BY_COLUMN and c not in ("option", "name")]
    groups = [(g, [m for m in known if m.group == g]) for g in GROUPS]
    return _measures(comparison, "All figures", [*groups, ("Also computed", extra)])


def _measures(comparison: Any, caption: str, groups: list[tuple[str, list[Measure]]]) -> Shown:
    shown = []
    blocks = _blocks(looks(comparison))
    for items in blocks:
        made = []
        for name, measures in groups:
            rows: list[list[str | Cell]] = [
                [m.label, *(_cell(comparison, look, m) for look in items)] for m in measures
            ]
            if rows:
                made.append(Group(name, rows))
        shown.append(_block(caption, items, made, len(blocks) == 1))
    return together(shown)


def _blocks(items: list[Look]) -> list[list[Look]]:
    """Options that share a table: all of them, or runs of about equal length where they are many."""
    count = -(-len(items) // MOST_ACROSS)
    size = -(-len(items) // count)
    return [items[i : i + size] for i in range(0, len(items), size)]


def _block(caption: str, items: list[Look], groups: list[Group], whole: bool) -> Shown:
    """A table with an option a column; its caption says which options where they are not all."""
    if whole:
        return table(caption, ["", *(x.heading for x in items)], groups, kind="figures options")
    letters = items[0].letter if len(items) == 1 else f"{items[0].letter} to {items[-1].letter}"
    return table(f"{caption}: {letters}", ["", *(x.heading for x in items)], groups, kind="figures options")


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
    need, have, unit = check["need"], check["have"], check["unit"]
    numbers = all(isinstance(v, (int, float)) and not pd.isna(v) for v in (need, have))
    more = digits_apart(float(need), float(have)) if numbers else 0
    return [name[:1].upper() + name[1:], _amount(need, unit, more), _amount(have, unit, more), holds]


def _amount(value: Any, unit: str, more: int = 0) -> str:
    if isinstance(value, str):
        return value
    if value is None or pd.isna(value):
        return figure(None, "")
    if unit == "yes/no":
        return "yes" if value else "no"
    if unit == "s":
        return _gap(float(value))
    text = figure(float(value), "", more=more)
    return f"{text}\N{NO-BREAK SPACE}{unit}" if unit else text


def cost_lines_table(comparison: Any) -> Shown:
    """Present value of each cost line; the same figures as the stacked bars."""
    lines = lifetime_lines(comparison)
    currency = comparison.study.model.money.currency
    sums = lines.sum(axis=1).to_dict()
    caption = f"Present value by line over {lines.attrs['horizon_years']} years; credits are negative"
    shown = []
    blocks = _blocks(looks(comparison))
    for items in blocks:
        rows = _cost_rows(lines, items, currency)
        total: list[str | Cell] = [
            Cell("Lifetime cost", kind="total"),
            *(Cell(whole_money(sums[x.slug], currency), kind="total") for x in items),
        ]
        shown.append(_block(caption, items, [Group("", [*rows, total])], len(blocks) == 1))
    return together(shown)


def _cost_rows(lines: pd.DataFrame, items: list[Look], currency: str) -> list[list[str | Cell]]:
    rows: list[list[str | Cell]] = []
    for line in COST_LINES:
        if line.key not in lines.columns or not lines[line.key].abs().gt(0.005).any():
            continue
        costs = lines[line.key].to_dict()
        rows.append([line.label, *(whole_money(costs[x.slug], currency) for x in items)])
    return rows
