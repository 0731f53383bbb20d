"""The cells on how sure an answer is: each shows nothing where the study has no ranges."""

from __future__ import annotations

from typing import Any

import pandas as pd

from kit.report import doubt, doubt_charts, doubt_tables
from kit.report.show import Shown, together
from kit.vary.doubt import Doubt


def win_charts(comparison: Any, made: Doubt | None) -> list[Any]:
    """How often each option is the answer."""
    return [] if made is None else [doubt_charts.win_chances(comparison, made.draws)]


def win_table(comparison: Any, made: Doubt | None) -> Shown | None:
    """The same in figures, with what an option would be regretted by."""
    return None if made is None else doubt.chance_table(comparison, made.draws)


def figures(comparison: Any, made: Doubt | None, stays: pd.DataFrame) -> Shown | None:
    """Intervals of the headline figures, and luck apart from what is not known."""
    if made is None:
        return None
    return together(
        [
            doubt.interval_table(comparison, made.draws),
            doubt.luck_apart(comparison, made.draws, stays),
        ]
    )


def cash_charts(comparison: Any, made: Doubt | None) -> list[Any]:
    """Cash beyond doing nothing, with its band, of the two options that matter."""
    if made is None or made.pair is None:
        return []
    return [doubt_charts.cash_band_chart(comparison, made.draws, list(made.pair))]


def turn_table(comparison: Any, made: Doubt | None) -> Shown | None:
    """Where one number by itself turns the answer."""
    return None if made is None else doubt_tables.turn_table_shown(comparison, made.turned)


def swing_charts(comparison: Any, made: Doubt | None) -> list[Any]:
    """What each number moves by itself."""
    if made is None or made.pair is None:
        return []
    return [doubt_charts.swing_chart(comparison, made.swung, *made.pair)]


def map_charts(comparison: Any, made: Doubt | None) -> list[Any]:
    """Who is the answer over two numbers at once."""
    return [] if made is None else [doubt_charts.turn_map(comparison, made.mapped, made.across, made.up)]


def behind(comparison: Any, made: Doubt | None) -> Shown | None:
    """Ranges and sources, break-evens, what makes the spread, and whether more draws would change it."""
    if made is None:
        return None
    parts = [doubt_tables.ranges_table(made.draws)]
    if made.pair is not None:
        names = doubt.names(comparison)
        about = f"what {names[made.pair[1]]} costs beyond {names[made.pair[0]]}"
        parts.append(doubt_tables.breakeven_table_shown(comparison, made.crossed))
        parts.append(doubt_tables.share_table(made.shares, about))
    parts.append(doubt_tables.convergence_table(comparison, made.draws))
    return together(parts)
