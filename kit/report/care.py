"""What changes when nobody services the generator."""

from __future__ import annotations

from typing import Any

import pandas as pd

from kit.report.formats import CHANCE, figure, whole_money
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, paragraph, together
from kit.report.theme import Look, looks


def neglect_table(comparison: Any, neglected: pd.DataFrame) -> Shown:
    """Each option with a generator, as studied and with nobody servicing it.

    `neglected`: kit.vary.neglect's rows, two an option (as studied first, then poor care).
    """
    if not len(neglected):
        return paragraph("No option has a generator.")
    model = comparison.study.model
    asked, currency = figure(model.asked.keep_on_h, "h"), model.money.currency
    rows = []
    for look, studied, poor in _pairs(comparison, neglected):
        row: list[str | Cell] = [look.label]
        for case in (studied, poor):
            fails = not bool(case["meets_target"])
            chance = figure(float(case["ride_through_frac_asked"]), CHANCE)
            row.append(Cell(chance, "does not meet what was asked", "no") if fails else chance)
        row += [figure(float(case["must_run_unserved_h_per_year"]), "h") for case in (studied, poor)]
        row += [whole_money(float(case["lifetime_cost_usd"]), currency) for case in (studied, poor)]
        rows.append(row)
    heads = [
        "", f"Chance for {asked}, as studied", "not serviced", "Must-run off a year, as studied",
        "not serviced", "Lifetime cost, as studied", "not serviced",
    ]  # fmt: skip
    shown = table("The generator as studied, and with no service done or paid for", heads, [Group("", rows)])
    return together([paragraph(neglect_sentence(comparison, neglected)), shown])


def neglect_sentence(comparison: Any, neglected: pd.DataFrame) -> str:
    """Which options stop meeting what was asked when nobody services the generator."""
    lost: list[str] = []
    kept: list[str] = []
    never: list[str] = []
    for look, studied, poor in _pairs(comparison, neglected):
        if not studied["meets_target"]:
            never.append(look.letter)
        else:
            (kept if poor["meets_target"] else lost).append(look.letter)
    parts = []
    if lost:
        parts.append(f"{_listed(lost)} no longer {_verb(lost, 'meet')} what was asked")
    if kept:
        parts.append(f"{_listed(kept)} still {_verb(kept, 'meet')} it" if lost else _still(kept))
    if never:
        do = "do" if len(never) > 1 else "does"
        parts.append(f"{_listed(never)} {do} not meet {'it' if parts else 'what was asked'} either way")
    return f"If nobody services the generator: {'; '.join(parts)}."


def _still(kept: list[str]) -> str:
    return f"{_listed(kept)} still {_verb(kept, 'meet')} what was asked"


def _verb(subjects: list[str], verb: str) -> str:
    return verb if len(subjects) > 1 else f"{verb}s"


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _pairs(comparison: Any, neglected: pd.DataFrame) -> list[tuple[Look, dict[Any, Any], dict[Any, Any]]]:
    made = []
    for look in looks(comparison):
        cases = neglected[neglected["option"] == look.slug].to_dict("records")
        if cases:
            made.append((look, cases[0], cases[-1]))
    return made
