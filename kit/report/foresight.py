"""What perfect foresight would add to a battery's bill saving: the limit beside the claim."""

from __future__ import annotations

from typing import Any

from kit.report.formats import figure, unit_price, whole_money
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, bullets, paragraph, together
from kit.report.theme import Look, looks

_USES = {
    "hold": "held full",
    "clock": "by\N{NO-BREAK SPACE}the\N{NO-BREAK SPACE}clock",
    "best": "with foresight",
}
_MOST_LEVELS = 8
_LIKE = 0.005


def foresight_limit(comparison: Any) -> Shown:
    """Bill saving of each battery as claimed and with perfect foresight, and what foresight would do."""
    items = [x for x in looks(comparison) if comparison.outcomes[x.slug].foresight is not None]
    if not items:
        return paragraph("No option has a battery.")
    currency = comparison.study.model.money.currency
    rows: list[list[str | Cell]] = []
    for look in items:
        outcome = comparison.outcomes[look.slug]
        claim = float(outcome.columns["saving_from_battery_usd_per_year"])
        adds = float(outcome.columns["foresight_adds_usd_per_year"])
        used = _USES[outcome.option.battery.everyday]
        rows.append([look.label, used, *(whole_money(v, currency) for v in (claim, claim + adds, adds))])
    heads = ["", "Used", "Bill saving a year (the claim)", "With perfect foresight (the limit)", "Difference"]
    first = table("Bill saving of the battery: claim and limit", heads, [Group("", rows)], (1,))
    why = paragraph(
        "Nobody knows the load and the sun of the year ahead, so the limit, which is that of the study's own "
        "steps, is not to be expected; a large difference says that a better schedule would be worth the "
        "trouble.",
        "small",
    )
    return together([first, _notes(comparison, items), why])


def _notes(comparison: Any, items: list[Look]) -> Shown | None:
    said: dict[str, list[str]] = {}
    for look in items:
        note = comparison.outcomes[look.slug].foresight.note
        if note:
            said.setdefault(note, []).append(look.letter)
    lines = [note if len(who) == len(items) else f"{', '.join(who)}: {note}" for note, who in said.items()]
    return bullets(lines, "small") if len(lines) > 1 else paragraph(lines[0], "small") if lines else None


def foresight_levels(comparison: Any) -> Shown:
    """At each price: up to which charge the grid fills the battery, down to which it serves the load."""
    items = [x for x in looks(comparison) if comparison.outcomes[x.slug].foresight is not None]
    if not items:
        return paragraph("No option has a battery.")
    currency = comparison.study.model.money.currency
    groups = []
    for look in items:
        outcome = comparison.outcomes[look.slug]
        levels = sorted(outcome.foresight.levels, key=lambda row: -row["hours_per_year"])
        shown = sorted(levels[:_MOST_LEVELS], key=lambda row: row["price_usd_per_kwh"])
        rows = [_level(row, outcome.option.battery.reserve_frac, currency) for row in shown]
        if len(levels) > len(shown):
            rows.append([f"and {len(levels) - len(shown)} more prices", "", "", ""])
        groups.append(Group(look.label, rows))
    heads = ["Price", "Hours a year", "The grid fills it up to", "It serves the load down to"]
    return table("What perfect foresight would do at each price", heads, groups)


def _level(row: dict[str, float], reserve_frac: float, currency: str) -> list[str | Cell]:
    fills, serves = row["grid_fills_to_frac"], row["serves_down_to_frac"]
    return [
        unit_price(row["price_usd_per_kwh"], "kwh", currency),
        f"{row['hours_per_year']:,.0f}",
        "not filled" if fills <= reserve_frac + _LIKE else figure(round(fills, 2), "frac"),
        "does not serve" if serves >= 1.0 - _LIKE else figure(round(serves, 2), "frac"),
    ]
