"""Where the answer turns: values at which two options cost the same, or at which another one is chosen.

A lever is scanned at SCANNED places of its search range; between two of them where the sign of the
difference (or the chosen option) changes, the place is found by Brent's method (or by cutting it finer). Two
crossings closer than a step of the scan can go unseen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from kit.vary.levers import Lever, together

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
SCANNED = 33
CLOSE = 1e-7  # of the search range
PARTS, ROUNDS = 16, 6  # of a step of the scan: to one part in sixteen million
SAME_USD = 0.01


@dataclass(frozen=True)
class Crossing:
    """A value at which two options cost the same. gap_usd: the difference found by substituting it back.

    jump: the difference changes sides at a step (a service or a replacement more), without being 0.
    dearer_above: whether the first option is the dearer one above the value.
    """

    value: float
    gap_usd: float
    dearer_above: bool

    @property
    def jump(self) -> bool:
        return abs(self.gap_usd) > SAME_USD


@dataclass(frozen=True)
class Turn:
    """A value at which the choice turns: who is chosen below and from there on (None: nobody)."""

    value: float
    below: str | None
    above: str | None


def scan(lever: Lever, count: int = SCANNED) -> Floats:
    """The places that are looked at: even over the search range, the likely value among them."""
    if lever.whole:
        return np.arange(lever.low, lever.high + 1.0)
    places = np.linspace(lever.low, lever.high, count)
    return np.unique(np.append(places, np.clip(lever.likely, lever.low, lever.high)))


def crossings(lever: Lever, slug: str, other: str, count: int = SCANNED) -> tuple[Crossing, ...]:
    """Every value of the lever at which `slug` and `other` cost the same, rising; empty: none in range.

    Whole numbers: the first one on the other side.
    """

    def gap(values: Floats) -> Floats:
        standing = lever.standing(values, only=(slug, other))
        judged = standing.judged_usd
        return np.asarray(judged[:, standing.place(slug)] - judged[:, standing.place(other)])

    at = scan(lever, count)
    gaps = gap(at)
    found = []
    for k in range(at.size):
        if gaps[k] == 0.0 and (k == 0 or gaps[k - 1] != 0.0):
            found.append(Crossing(float(at[k]), 0.0, bool(gaps[min(k + 1, at.size - 1)] > 0)))
        elif k and gaps[k - 1] * gaps[k] < 0.0:
            value = float(at[k]) if lever.whole else _root(gap, at[k - 1], at[k])
            found.append(Crossing(value, float(gap(np.array([value]))[0]), bool(gaps[k] > 0)))
    return tuple(found)


def _root(gap, low: float, high: float) -> float:  # type: ignore[no-untyped-def]
    from scipy.optimize import brentq

    width = abs(high - low)
    return float(brentq(lambda v: float(gap(np.array([v]))[0]), low, high, xtol=CLOSE * width, rtol=1e-12))


def turns(lever: Lever, count: int = SCANNED) -> tuple[Turn, ...]:
    """Every value of the lever at which another option is chosen, rising; empty: the choice stands."""
    at = scan(lever, count)
    chosen = lever.standing(at).winner_slugs()
    found = []
    for k in range(1, at.size):
        if chosen[k] != chosen[k - 1]:
            found += (
                [Turn(float(at[k]), chosen[k - 1], chosen[k])]
                if lever.whole
                else _turned(lever, float(at[k - 1]), float(at[k]), chosen[k - 1], chosen[k])
            )
    return tuple(found)


def _turned(
    lever: Lever, low: float, high: float, below: str | None, above: str | None, rounds: int = ROUNDS
) -> list[Turn]:
    """By cutting into PARTS again and again; a third option in between is seen where a cut meets it."""
    if rounds == 0:
        return [Turn(0.5 * (low + high), below, above)]
    at = np.linspace(low, high, PARTS + 1)
    chosen = [below, *lever.standing(at[1:-1]).winner_slugs(), above]
    return [
        turn
        for k in range(1, at.size)
        if chosen[k] != chosen[k - 1]
        for turn in _turned(lever, float(at[k - 1]), float(at[k]), chosen[k - 1], chosen[k], rounds - 1)
    ]


def breakeven_table(levers: Sequence[Lever], slug: str, others: Sequence[str]) -> pd.DataFrame:
    """One row a crossing, and one a lever and pair without any (value None: none in range).

    Columns: lever, name, unit, likely, low, high, option, other, value, gap_usd, jump, dearer_above.
    """
    import pandas as pd

    made = []
    for lever in levers:
        base = {name: getattr(lever, name) for name in ("slug", "name", "unit", "likely", "low", "high")}
        base["lever"] = base.pop("slug")
        for other in others:
            found = crossings(lever, slug, other)
            pair = base | {"option": slug, "other": other}
            made += [pair | vars(one) | {"jump": one.jump} for one in found]
            if not found:
                made.append(pair | {"value": None, "gap_usd": None, "dearer_above": None, "jump": None})
    return pd.DataFrame(made)


def turn_table(levers: Sequence[Lever]) -> pd.DataFrame:
    """Where the choice turns: lever, name, unit, likely, low, high, value (None: nowhere), below, above."""
    import pandas as pd

    made = []
    for lever in levers:
        base = {name: getattr(lever, name) for name in ("slug", "name", "unit", "likely", "low", "high")}
        base["lever"] = base.pop("slug")
        found = turns(lever)
        made += [base | vars(one) for one in found]
        if not found:
            made.append(base | {"value": None, "below": None, "above": None})
    return pd.DataFrame(made)


def win_map(across: Lever, up: Lever, across_count: int = 13, up_count: int = 13) -> pd.DataFrame:
    """Who is chosen over two numbers: x, y, winner (slug or None), judged_usd of it."""
    import pandas as pd

    x = np.linspace(across.low, across.high, across_count)
    y = np.linspace(up.low, up.high, up_count)
    grid_x, grid_y = (a.ravel() for a in np.meshgrid(x, y))
    standing = together(across, up, grid_x, grid_y)
    rows = np.arange(grid_x.size)
    cost = np.where(standing.winner >= 0, standing.judged_usd[rows, standing.winner], np.nan)
    return pd.DataFrame({"x": grid_x, "y": grid_y, "winner": standing.winner_slugs(), "judged_usd": cost})
