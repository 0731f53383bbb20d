"""The tables behind the doubt: where the answer turns, ranges and sources, convergence, variance shares."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pandas as pd

from kit.report.doubt import names, share, with_error
from kit.report.formats import DASH, figure, unit_symbol
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, paragraph, together
from kit.report.theme import looks
from kit.vary.draws import Draws, convergence
from kit.vary.ranges import printed, shown


def turn_table_shown(comparison: Any, turned: pd.DataFrame) -> Shown:
    """Every number that was searched, and where by itself it makes another option the answer."""
    by_slug, rows = names(comparison), list[Sequence[str | Cell]]()
    for row in turned.to_dict("records"):
        text = _text(comparison, str(row["unit"]))
        where = "nowhere" if pd.isna(row["value"]) else text(row["value"])
        change = (
            DASH
            if pd.isna(row["value"])
            else f"{_who(row['below'], by_slug)} → {_who(row['above'], by_slug)}"
        )
        rows.append(
            [
                _headed(str(row["name"])),
                text(row["likely"]),
                f"{text(row['low'])} to {text(row['high'])}",
                where,
                change,
            ]
        )
    heads = ["", "Likely", "Searched", "Turns at", "Chosen below → above"]
    return table("Where the answer turns, one number at a time", heads, [Group("", rows)], (4,), "words")


def _headed(name: str) -> str:
    return f"{name[0].upper()}{name[1:]}"


def _text(comparison: Any, unit: str) -> Callable[[Any], str]:
    """How the values of one unit are printed in a table."""
    model = comparison.study.model
    money = unit_symbol("usd", currency=model.money.currency)
    return lambda value: printed(float(value), unit, model.units == "us", money)


def _who(slug: Any, by_slug: dict[str, str]) -> str:
    return "no option" if slug is None or pd.isna(slug) else by_slug[str(slug)]


def breakeven_table_shown(comparison: Any, crossed: pd.DataFrame) -> Shown:
    """Values at which two options cost the same, each put back into the study."""
    by_slug, rows = names(comparison), list[Sequence[str | Cell]]()
    currency = comparison.study.model.money.currency
    for row in crossed.to_dict("records"):
        text = _text(comparison, str(row["unit"]))
        none = pd.isna(row["value"])
        gap: str | Cell = DASH if none else figure(abs(float(row["gap_usd"])), "usd", currency=currency)
        if not none and row["jump"]:
            gap = Cell(str(gap), "the cost steps here (a service or a replacement more) and is never equal")
        where = f"none in {text(row['low'])} to {text(row['high'])}" if none else text(row["value"])
        rows.append([_headed(str(row["name"])), by_slug[str(row["other"])], text(row["likely"]), where, gap])
    first = by_slug[str(crossed["option"].iloc[0])] if len(crossed) else ""
    heads = ["", "Costs the same as", "Likely", "Break-even at", "Put back: differs by"]
    return table(
        f"Where {first} costs the same as its nearest rival", heads, [Group("", rows)], (1, 3), "words"
    )


def ranges_table(draws: Draws) -> Shown:
    """Every number with a low and a high value, what it is drawn with, and who says so."""
    rows: list[Sequence[str | Cell]] = []
    for unknown in draws.unknowns:
        group = unknown.name if len(unknown.ranges) > 1 else ""
        for one in (m for r in unknown.ranges for m in (r.members or (r,))):
            ends = [shown(one, value, draws.ground.study) for value in (one.low, one.likely, one.high)]
            rows.append(
                [one.name, *ends, group or (DASH if len(unknown.ranges) == 1 else ""), one.source or DASH]
            )
    heads = ["", "Low", "Likely", "High", "Drawn together with", "Source"]
    return table("Every range and its source", heads, [Group("", rows)], (4, 5), "words")


def convergence_table(comparison: Any, draws: Draws, slug: str | None = None) -> Shown:
    """Whether more draws would change the figures: the same shares from a part of them."""
    slug = slug or comparison.verdict.winner or draws.standing.slugs[0]
    look = next(x for x in looks(comparison) if x.slug == slug)
    currency = comparison.study.model.money.currency
    rows = [
        [
            f"{int(row['draw_count']):,}",
            share(row["wins_frac"], row["standard_error_frac"]),
            with_error(row["mean_usd"], row["standard_error_usd"], currency),
        ]
        for row in convergence(draws, slug).to_dict("records")
    ]
    heads = ["Draws", "Chosen in", "Mean lifetime cost"]
    return table(f"{look.label}, from a part of the draws and from all", heads, [Group("", rows)])


def share_table(shares: pd.DataFrame, about: str) -> Shown:
    """Which unknowns make the spread. shares: kit.vary.shares.variance_shares; about: of what."""
    if shares.empty:
        return paragraph(f"No unknown moves {about}.")
    rows = [
        [str(row["unknown"]), _index(row["first_frac"]), _index(row["total_frac"])]
        for row in shares.to_dict("records")
        if row["total_frac"] >= 0.005
    ]
    heads = ["", "Alone", "With what it interacts with"]
    return together(
        [
            table(f"What makes the spread of {about}", heads, [Group("", rows)]),
            paragraph(
                "Shares of the variance (Sobol's indices); those below half a per cent are left out.", "small"
            ),
        ]
    )


def _index(value: float) -> str:
    return f"{100.0 * min(1.0, max(0.0, float(value))):.0f}%"
