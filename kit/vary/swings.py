"""One number at a time, low and high: what it does to every cost and to the answer, widest first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from kit.vary.ground import Ground
from kit.vary.ranges import Range, Unknown, shown, unknowns_of

if TYPE_CHECKING:
    import pandas as pd


def swings(ground: Ground) -> pd.DataFrame:
    """Two rows an option for every range, and for every group of them: at its low and its high value.

    Columns: unknown, group (that a range belongs to, or None), end (low, high), value (in words), option,
    lifetime_cost_usd, change_usd (against all likely), winner (slug or None), source. Ordered by the
    widest swing of any option's cost; ranges that move no cost come last.
    """
    import pandas as pd

    unknowns = unknowns_of(ground.study, ground.ranges)
    ends = _ends(unknowns)
    likely = {one.key: one.likely for one in ground.ranges}
    settings = [likely, *(likely | moved for _, _, moved in ends)]
    values = {key: np.array([one[key] for one in settings]) for key in likely}
    ground.explore()
    standing = ground.standing(values) if values else ground.standing()
    winner = standing.winner_slugs()
    made = []
    for i, (unknown, end, moved) in enumerate(ends, start=1):
        for k, slug in enumerate(standing.slugs):
            cost, base = standing.judged_usd[i, k], standing.judged_usd[0, k]
            made.append(
                {
                    "unknown": unknown.name,
                    "group": _group(unknown, unknowns),
                    "end": end,
                    "value": _value(ground, unknown, moved, end),
                    "option": slug,
                    "lifetime_cost_usd": cost,
                    "change_usd": cost - base,
                    "winner": winner[i],
                    "source": unknown.ranges[0].source if len(unknown.ranges) == 1 else None,
                }
            )
    table = pd.DataFrame(made)
    if table.empty:
        return table
    widest = table["change_usd"].abs().groupby(table["unknown"]).transform("max")
    order = pd.DataFrame({"widest": -widest, "unknown": table["unknown"]})
    return table.loc[order.sort_values(["widest", "unknown"], kind="stable").index].reset_index(drop=True)


def _ends(unknowns: tuple[Unknown, ...]) -> list[tuple[Unknown, str, dict[str, float]]]:
    """Every range by itself, and every group as a whole, at both its ends."""
    alone = [Unknown(one.name, (one,)) for unknown in unknowns for one in unknown.ranges]
    groups = [unknown for unknown in unknowns if len(unknown.ranges) > 1]
    return [
        (unknown, end, {one.key: getattr(one, end) for one in unknown.ranges})
        for unknown in [*alone, *groups]
        for end in ("low", "high")
    ]


def _group(one: Unknown, unknowns: tuple[Unknown, ...]) -> str | None:
    inside = [u.name for u in unknowns if len(u.ranges) > 1 and one.ranges[0] in u.ranges and u is not one]
    return inside[0] if inside else None


def _value(ground: Ground, unknown: Unknown, moved: dict[str, float], end: str) -> str:
    if len(unknown.ranges) > 1:
        return f"all {len(unknown.ranges)} {end}"
    one: Range = unknown.ranges[0]
    return shown(one, moved[one.key], ground.study)
