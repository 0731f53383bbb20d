"""How much runs at the same time: the exact distribution of simultaneous running watts.

Each piece is on or off. In a step it is on for the share that its hours, duty and thermostat give, by
itself of all others: so in that step the watts are a sum of independent on-and-off loads, and their
distribution is a convolution. Over the year the steps count alike. Nothing is drawn at random. Loads that
start by the same cause (a heat pump and its fan) run together more often than independence says; the worst
case, all that may be on at once, covers them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import comb
from typing import TYPE_CHECKING

import numpy as np

from kit.recall import recalled

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from kit.house.appliances import ListLoads
    from kit.study.house_models import House

FEW_VALUES = 400  # a load with more different shares than this follows the weather, not the clock
TIERS = (("must_run",), ("must_run", "wanted"), ("must_run", "wanted", "can_wait"))


@dataclass(frozen=True, eq=False)
class Distribution:
    """Chances of each whole number of running watts from 0: `chance_frac` (w,), sums to 1.

    mean_w is its mean. worst_w is the highest that may be on in any step, whatever its chance.
    """

    chance_frac: NDArray[np.float64]
    mean_w: float
    worst_w: float

    def at_most_w(self, share_frac: float) -> float:
        """The watts that are not exceeded for this share of the time: the smallest with P(W <= w) >= share.

        Raises ValueError for a share outside 0 to 1.
        """
        if not 0.0 <= share_frac <= 1.0:
            raise ValueError(f"share_frac must be 0 to 1, got {share_frac:g}")
        cumulated = np.cumsum(self.chance_frac)
        return float(np.searchsorted(cumulated, share_frac - 1e-12))


def simultaneous(
    house: House,
    lists: ListLoads,
    slugs: Iterable[str],
    in_outage: bool = True,
    steps: NDArray[np.bool_] | None = None,
) -> Distribution:
    """The running watts of the named appliances over the year, or over the chosen steps (n,).

    Exact on whole watts: each piece's running watts are rounded to the nearest one.
    """
    loads = lists.outage_by_appliance_kw if in_outage else lists.everyday_by_appliance_kw
    n = lists.everyday_kw.size
    pick = np.ones(n, dtype=bool) if steps is None else steps
    chosen = [s for s in dict.fromkeys(slugs) if bool((loads[s][pick] > 0).any())]
    counts = [house.appliances[s].count for s in chosen]
    watts = [round(house.appliances[s].draw_w) for s in chosen]
    rated_kw = [c * house.appliances[s].draw_w / 1000.0 for c, s in zip(counts, chosen, strict=True)]
    shares = [np.clip(loads[s][pick] / kw, 0.0, 1.0) for s, kw in zip(chosen, rated_kw, strict=True)]
    if not chosen:
        return Distribution(np.ones(1), 0.0, 0.0)
    chance = year_chances(shares, counts, watts)
    on_w = sum((s > 0) * float(c * w) for s, c, w in zip(shares, counts, watts, strict=True))
    return Distribution(chance, float(chance @ np.arange(chance.size)), float(np.max(on_w)))


def year_chances(
    shares: list[NDArray[np.float64]], counts: list[int], watts: list[int]
) -> NDArray[np.float64]:
    """Chances of each whole number of watts, mean over the steps.

    shares: of each load, the share of every step it is on, (steps,). counts, watts: its pieces, and what one
    draws. Loads that follow the clock take few values, so steps with the same values share one convolution;
    those that follow the weather have few outcomes, and are mixed over such steps first. Both are exact.
    """
    clocked = [i for i, s in enumerate(shares) if np.unique(s).size <= FEW_VALUES]
    weathered = [i for i in range(len(shares)) if i not in clocked]
    n = shares[0].size
    outcomes = _outcomes([(shares[i], counts[i], watts[i]) for i in weathered], n)
    total = np.zeros(sum(c * w for c, w in zip(counts, watts, strict=True)) + 1)
    keys = np.stack([shares[i] for i in clocked], axis=1) if clocked else np.zeros((n, 1))
    rows, which = np.unique(keys, axis=0, return_inverse=True)
    for k, row in enumerate(rows):
        inside = which.ravel() == k
        chance = np.ones(1)
        for i, share in zip(clocked, row if clocked else (), strict=True):
            for _ in range(counts[i]):
                chance = _with_piece(chance, float(share), watts[i])
        for level_w, level_frac in outcomes.items():
            weight = float(level_frac[inside].sum())
            if weight > 0:
                total[level_w : level_w + chance.size] += weight * chance
    return total / n


def _with_piece(chance: NDArray[np.float64], share_frac: float, watts: int) -> NDArray[np.float64]:
    """The distribution with one more piece that is on for a share of the time."""
    if share_frac == 0.0:
        return chance
    longer = np.zeros(chance.size + watts)
    longer[: chance.size] = (1.0 - share_frac) * chance
    longer[watts:] += share_frac * chance
    return longer


def _outcomes(loads: list[tuple[NDArray[np.float64], int, int]], n: int) -> dict[int, NDArray[np.float64]]:
    """Watts -> chance in every step (n,), for loads with pieces that are on independently."""
    outcomes = {0: np.ones(n)}
    for share, count, watts in loads:
        wider: dict[int, NDArray[np.float64]] = {}
        for on in range(count + 1):
            here = comb(count, on) * share**on * (1.0 - share) ** (count - on)
            for level_w, chance in outcomes.items():
                at = level_w + on * watts
                wider[at] = wider.get(at, 0.0) + chance * here
        outcomes = wider
    return outcomes


@recalled
def running_peaks(house: House, lists: ListLoads) -> pd.DataFrame:
    """How much runs at the same time, everyday and in an outage, for the tiers one after another.

    Columns: loads, when, mean_kw, not exceeded 95, 99 and 99.9 % of the time (p95_kw, p99_kw, p999_kw), and
    worst_kw: all that may be on at once.
    """
    import pandas as pd

    rows = []
    for in_outage in (False, True):
        for tiers in TIERS:
            slugs = [s for s, piece in house.appliances.items() if piece.tier in tiers]
            if not any(piece.tier == tiers[-1] for piece in house.appliances.values()):
                continue
            found = simultaneous(house, lists, slugs, in_outage)
            rows.append(
                {
                    "loads": " + ".join(tier.replace("_", " ") for tier in tiers),
                    "when": "in an outage" if in_outage else "everyday",
                    "mean_kw": found.mean_w / 1000.0,
                    "p95_kw": found.at_most_w(0.95) / 1000.0,
                    "p99_kw": found.at_most_w(0.99) / 1000.0,
                    "p999_kw": found.at_most_w(0.999) / 1000.0,
                    "worst_kw": found.worst_w / 1000.0,
                }
            )
    return pd.DataFrame(rows)
