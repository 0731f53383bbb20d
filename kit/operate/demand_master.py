"""The small linear program of the demand-charge optimum: caps of the months, energies at their borders.

Minimise    sum over months of price * cap + sum over stretches of theta + worth slope * last level
so that     theta_j >= constant + slope * cap - v(first) * level_j + v(last) * level_(j+1)   for every cut

A stretch is a run of steps of one month.  HiGHS keeps its basis from pass to pass.  The lower bound is not
the solver's objective: it is computed from the dual weights of the cuts, made non-negative and summing to
one in each stretch, by minimising what is left over the bounds of caps and levels.  By weak duality that is
a bound whatever the solver's tolerances.
"""

import math

import highspy
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
_FEASIBLE = 1e-10


class _Quiet(highspy.Highs):
    """HiGHS without the banner that it prints while it is made."""

    def enableCallbacks(self) -> None:  # noqa: N802 - the name is the library's
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()


class Master:
    """Cuts collected so far and the linear program over them."""

    def __init__(
        self,
        price_usd_per_kwh: Floats,
        highest_kwh: Floats,
        stretch_month: Whole,
        border_kwh: tuple[Floats, Floats],
        end_usd_per_kwh: float,
    ) -> None:
        """Columns: caps, border levels, theta.

        Args:
            price_usd_per_kwh: (12,) price of a kWh more cap; highest_kwh: (12,) import that no step exceeds.
            stretch_month: (j,) month of each stretch, 0 to 11.
            border_kwh: least and most level (j + 1,) before each stretch and after the last.
            end_usd_per_kwh: cost of a stored kWh left after the last step, minus its worth.
        """
        self.month, self.count = stretch_month, stretch_month.size
        borders = border_kwh[0].size
        level_cost = np.zeros(borders)
        level_cost[-1] = end_usd_per_kwh
        self.cost = np.concatenate([price_usd_per_kwh, level_cost])
        self.low = np.concatenate([np.zeros(12), border_kwh[0]])
        self.high = np.concatenate([highest_kwh, border_kwh[1]])
        self.cuts: list[Floats] = []
        stretch = np.arange(self.count)
        self.columns = np.stack([12 + borders + stretch, stretch_month, 12 + stretch, 13 + stretch], axis=1)
        self.solver = _Quiet()
        for name, value in (
            ("presolve", "off"),
            ("solver", "simplex"),
            ("threads", 1),
            ("primal_feasibility_tolerance", _FEASIBLE),
            ("dual_feasibility_tolerance", _FEASIBLE),
        ):
            self.solver.setOptionValue(name, value)
        free = np.full(self.count, math.inf)
        cost = np.concatenate([self.cost, np.ones(self.count)])
        low, high = np.concatenate([self.low, -free]), np.concatenate([self.high, free])
        none = np.empty(0, dtype=np.int32)
        self.solver.addCols(cost.size, cost, low, high, 0, none, none, np.empty(0))

    def solve(self, cuts: Floats) -> tuple[Floats, float]:
        """Add the cuts of one pass.

        Args:
            cuts: (4, j) constant, slope per kWh of cap, v of the first step, v of the last step.

        Returns:
            (12,) kWh: the caps to try next; and a proven lower bound on the whole cost.
        """
        self.cuts.append(cuts)
        constant, slope, first, last = cuts
        rows = np.stack([np.ones(self.count), -slope, first, -last], axis=1)
        self.solver.addRows(
            self.count,
            constant,
            np.full(self.count, math.inf),
            rows.size,
            np.arange(0, rows.size, 4, dtype=np.int32),
            self.columns.ravel().astype(np.int32),
            rows.ravel(),
        )
        self.solver.run()
        found = self.solver.getSolution()
        weights = np.array(found.row_dual).reshape(len(self.cuts), self.count)
        caps = np.clip(np.array(found.col_value[:12]), 0.0, self.high[:12])
        return caps, self.bound(weights)

    def bound(self, weights: Floats) -> float:
        """The lower bound that weights (passes, j) of the cuts prove."""
        weights = np.maximum(weights, 0.0)
        total = weights.sum(axis=0)
        if not (total > 0.0).all():
            return -math.inf
        constant, slope, first, last = (np.stack(self.cuts, axis=1) * (weights / total)).sum(axis=1)
        left = self.cost.copy()
        np.add.at(left, self.month, slope)
        left[12:-1] -= first
        left[13:] += last
        return float(constant.sum() + np.minimum(left * self.low, left * self.high).sum())
