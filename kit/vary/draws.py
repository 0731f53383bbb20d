"""Seeded joint draws of what a study does not know: intervals, chances to win, regret, their errors.

Every unknown is one rank of a Sobol sequence (Owen-scrambled) or a Latin hypercube; the inverse CDF of PERT
or of the triangular distribution makes values of it. What is drawn is knowledge: lives and failures enter
by their expectation, so that luck stays apart (kit.vary.stays).
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from kit.vary.axes import exact_rows
from kit.vary.draw_shapes import values_at
from kit.vary.ground import Ground, Standing
from kit.vary.kept import kept_with
from kit.vary.ranges import Unknown, unknowns_of

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
EDGE = 1e-12  # ranks stay off 0 and 1
HEADLINES = (
    "lifetime_cost_usd",
    "lifetime_cost_with_lost_load_usd",
    "up_front_usd",
    "net_saving_usd",
    "must_run_unserved_h_per_year",
    "ride_through_frac_asked",
)
CHECKED = 2  # joint runs made exactly, to measure what the grid leaves out


@dataclass(frozen=True, eq=False)
class Draws:
    """n joint draws. ranks (n, unknowns); values: range key -> (n,); standing of every option in each."""

    ground: Ground
    unknowns: tuple[Unknown, ...]
    ranks: Floats
    values: Mapping[str, Floats]
    standing: Standing
    checks: pd.DataFrame = field(repr=False)

    @property
    def count(self) -> int:
        return int(self.ranks.shape[0])


def points(count: int, dimensions: int, seed: int, kind: str = "sobol") -> Floats:
    """Seeded ranks (count, dimensions) strictly inside 0 to 1; the same seed gives the same ranks."""
    from scipy.stats import qmc

    if kind == "latin_hypercube":
        ranks = qmc.LatinHypercube(dimensions, rng=seed).random(count)
    else:
        with warnings.catch_warnings():  # a count that is no power of two balances a little less
            warnings.simplefilter("ignore", UserWarning)
            ranks = qmc.Sobol(dimensions, rng=seed).random(count)
    return np.asarray(np.clip(ranks, EDGE, 1.0 - EDGE))


def values_of(ground: Ground, unknowns: tuple[Unknown, ...], ranks: Floats) -> dict[str, Floats]:
    """Ranks (n, unknowns) as values by range key; all ranges of one unknown share its rank."""
    shape = ground.study.model.draw_shape
    return {
        one.key: values_at(ranks[:, column], one.low, one.likely, one.high, shape)
        for column, unknown in enumerate(unknowns)
        for one in unknown.ranges
    }


def draw(ground: Ground, count: int | None = None, *, checked: int = CHECKED) -> Draws:
    """Joint draws of a study, as many as it says (`draw_count`) unless told.

    checked: the first so many draws are also run exactly; the differences stand in `checks`.
    Raises ValueError where the study has no ranges.
    """
    model = ground.study.model
    unknowns = unknowns_of(ground.study, ground.ranges)
    if not unknowns:
        raise ValueError("the study has no low and high value anywhere: there is nothing to draw")
    ranks = points(model.draw_count if count is None else count, len(unknowns), model.seed, model.draw_points)
    values = values_of(ground, unknowns, ranks)
    ground.explore()
    standing = ground.standing(values)
    return Draws(ground, unknowns, ranks, values, standing, _checks(ground, values, standing, checked))


def _checks(ground: Ground, values: Mapping[str, Floats], standing: Standing, count: int) -> pd.DataFrame:
    """Lifetime cost and ride-through of the first draws, by the grid and by exact joint runs.

    One row a draw and option: draw, option, grid_usd, exact_usd, grid_frac, exact_frac, winner_same.
    """
    import pandas as pd

    physical = [one for one in ground.ranges if one.moves == "physics"]
    kept = kept_with(ground.study, ground.stages.house)
    made = []
    for i in range(min(count, len(standing.winner)) if physical else 0):
        settings = [one.settings(float(values[one.key][i])) for one in physical]
        exact = exact_rows(ground.known, {p: v for one in settings for p, v in one.items()}, kept)
        rest = {key: drawn[i] for key, drawn in values.items() if key not in ground.axes}
        rows = {slug: exact.get(slug, ground.rows[slug])[None, :] for slug in ground.slugs}
        told = ground.standing(rest, rows=rows)
        for k, slug in enumerate(ground.slugs):
            made.append(
                {
                    "draw": i,
                    "option": slug,
                    "grid_usd": standing.lifetime_cost_usd[i, k],
                    "exact_usd": told.lifetime_cost_usd[0, k],
                    "grid_frac": standing.ride_through_frac_asked[i, k],
                    "exact_frac": told.ride_through_frac_asked[0, k],
                    "winner_same": bool(told.winner[0] == standing.winner[i]),
                }
            )
    return pd.DataFrame(made)


def intervals(draws: Draws) -> pd.DataFrame:
    """5-50-95 % of every headline figure: option, figure, p05, p50, p95, mean, standard_error.

    The standard error of the mean is that of plain draws: an upper bound for scrambled Sobol points.
    A figure that the study does not price has no rows.
    """
    import pandas as pd

    made = []
    for k, slug in enumerate(draws.standing.slugs):
        for figure in HEADLINES:
            drawn = getattr(draws.standing, figure)[:, k]
            if np.isnan(drawn).any():
                continue
            low, middle, high = np.quantile(drawn, (0.05, 0.5, 0.95))
            error = float(drawn.std(ddof=1) / np.sqrt(drawn.size))
            made.append((slug, figure, low, middle, high, float(drawn.mean()), error))
    names = ["option", "figure", "p05", "p50", "p95", "mean", "standard_error"]
    return pd.DataFrame(made, columns=names)


def chances(draws: Draws) -> pd.DataFrame:
    """Who wins how often: option, wins_frac, standard_error_frac, stands_frac, regret_usd, regret_error_usd.

    stands_frac: share of draws in which the option may be chosen (meets the target, within the budget).
    regret_usd: mean over those draws of what it costs beyond the cheapest that may be chosen; None where it
    never may. A last row `nobody` where in some draw no option may be chosen.
    """
    import pandas as pd

    s, n = draws.standing, draws.count
    best = np.where(s.stands, s.judged_usd, np.inf).min(axis=1)
    made: list[dict[str, object]] = []
    for k, slug in enumerate(s.slugs):
        stands = s.stands[:, k]
        extra = s.judged_usd[stands, k] - best[stands]
        wins = float((s.winner == k).mean())
        made.append(
            {
                "option": slug,
                "wins_frac": wins,
                "standard_error_frac": share_error(wins, n),
                "stands_frac": float(stands.mean()),
                "regret_usd": float(extra.mean()) if extra.size else None,
                "regret_error_usd": float(extra.std() / np.sqrt(extra.size)) if extra.size else None,
            }
        )
    nobody = float((s.winner < 0).mean())
    if nobody > 0.0:
        error = share_error(nobody, n)
        made.append({"option": "nobody", "wins_frac": nobody, "standard_error_frac": error})
    return pd.DataFrame(made)


def share_error(share: float, count: int) -> float:
    """Standard error of a share of plain draws, a count of k in n taken as (k + 1/2) / (n + 1).

    So a share of 0 or 1 does not look certain.
    """
    near = (share * count + 0.5) / (count + 1.0)
    return float(np.sqrt(near * (1.0 - near) / count))


def convergence(draws: Draws, slug: str, steps: int = 4) -> pd.DataFrame:
    """Chance to win and mean cost of one option after n/2^k draws, each with its standard error."""
    import pandas as pd

    s, k = draws.standing, draws.standing.place(slug)
    made = []
    for count in sorted({max(2, draws.count >> step) for step in range(steps)}):
        wins, cost = float((s.winner[:count] == k).mean()), s.lifetime_cost_usd[:count, k]
        error = float(cost.std(ddof=1) / np.sqrt(count))
        made.append((count, wins, share_error(wins, count), float(cost.mean()), error))
    names = ["draw_count", "wins_frac", "standard_error_frac", "mean_usd", "standard_error_usd"]
    return pd.DataFrame(made, columns=names)


def cash_bands(draws: Draws) -> pd.DataFrame:
    """Running sum of cash beyond doing nothing, undiscounted: option, year, p05, p50, p95 [usd]."""
    import pandas as pd

    paid = draws.standing.paid_usd
    running = np.cumsum(paid - paid[:, :1, :], axis=2)
    made = []
    for k, slug in enumerate(draws.standing.slugs[1:], start=1):
        for year, ends in enumerate(np.quantile(running[:, k, :], (0.05, 0.5, 0.95), axis=0).T):
            made.append((slug, year, *ends))
    return pd.DataFrame(made, columns=["option", "year", "p05", "p50", "p95"])
