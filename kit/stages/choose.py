"""The rule of choice, in one place: who may win, and what is least.

target: the cheapest lifetime cost among the options that keep the asked loads on for the asked hours with
the asked chance, within the budget. value: the least lifetime cost with lost load at its price, doing
nothing included, within the budget; no target has to be met.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.study.models import Asked

NOBODY = -1


def cost_column(asked: Asked) -> str:
    """The figure that ranks options."""
    return "lifetime_cost_usd" if asked.judged_by == "target" else "lifetime_cost_with_lost_load_usd"


def may_win(asked: Asked, meets: ArrayLike, feasible: ArrayLike, up_front_usd: ArrayLike) -> Any:
    """Whether an option stands for election, elementwise in arrays of one shape."""
    stands = np.asarray(meets if asked.judged_by == "target" else feasible, dtype=bool)
    if asked.budget_usd is not None:
        stands = stands & (np.asarray(up_front_usd) <= asked.budget_usd)
    return stands


def winners(stands: ArrayLike, cost_usd: ArrayLike) -> NDArray[np.int64]:
    """Place of the cheapest that stands (n,), from (n, options); NOBODY where none does."""
    able = np.asarray(stands, dtype=bool)
    cost = np.where(able, np.asarray(cost_usd, dtype=float), np.inf)
    return np.where(able.any(axis=1), np.argmin(cost, axis=1), NOBODY)
