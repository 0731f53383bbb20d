"""Which unknowns make the spread: variance shares by Sobol's indices (scipy.stats.sobol_indices)."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from kit.vary.draws import EDGE, values_of
from kit.vary.ground import Ground
from kit.vary.ranges import unknowns_of

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
POINTS = 64  # base points; each unknown takes as many evaluations again


def first_and_total(
    function: Callable[[Floats], Floats], dimensions: int, count: int, seed: int
) -> tuple[Floats, Floats]:
    """First-order and total indices (dimensions,) of a function of ranks (n, dimensions) -> (n,).

    count: base points, a power of two. Estimators: Saltelli et al. 2010, as in scipy.
    """
    from scipy.stats import sobol_indices, uniform

    made = sobol_indices(
        func=lambda x: function(np.clip(x.T, EDGE, 1.0 - EDGE))[None, :],
        n=count,
        dists=[uniform(0.0, 1.0)] * dimensions,
        rng=seed,
    )
    return np.ravel(made.first_order), np.ravel(made.total_order)


def variance_shares(ground: Ground, slug: str, other: str | None = None, count: int = POINTS) -> pd.DataFrame:
    """What makes the lifetime cost of an option uncertain, or its difference to another; largest first.

    Columns: unknown, first_frac (alone), total_frac (with all it interacts with). Only unknowns that move it
    at either end take part; an empty table where none does.
    """
    import pandas as pd

    unknowns = unknowns_of(ground.study, ground.ranges)
    only = [slug] if other is None else [slug, other]

    def cost_usd(values: dict[str, Floats]) -> Floats:
        standing = ground.standing(values, only=only)
        cost = standing.judged_usd[:, standing.place(slug)]
        return cost if other is None else cost - standing.judged_usd[:, standing.place(other)]

    middle = np.full((1 + 2 * len(unknowns), len(unknowns)), 0.5)
    for k in range(len(unknowns)):
        middle[1 + 2 * k, k], middle[2 + 2 * k, k] = EDGE, 1.0 - EDGE
    ends = cost_usd(values_of(ground, unknowns, middle))
    moves = np.abs(ends[1:].reshape(-1, 2) - ends[0]).max(axis=1, initial=0.0) > 1e-6
    kept = tuple(u for u, m in zip(unknowns, moves, strict=True) if m)
    if not kept:
        return pd.DataFrame(columns=["unknown", "first_frac", "total_frac"])
    first, total = first_and_total(
        lambda ranks: cost_usd(values_of(ground, kept, ranks)), len(kept), count, ground.study.model.seed
    )
    table = pd.DataFrame({"unknown": [u.name for u in kept], "first_frac": first, "total_frac": total})
    return table.sort_values("total_frac", ascending=False, kind="stable", ignore_index=True)
