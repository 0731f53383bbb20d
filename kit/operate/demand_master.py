"""The small linear program of the demand-charge optimum: caps of the bills, energies at their borders.

Minimise    sum over caps of price * cap + sum over stretches of theta + worth slope * last level
so that     theta_j >= constant + slopes * caps - v(first) * level_j + v(last) * level_(j+1)   for every cut

A stretch is a run of steps of one bill.  HiGHS keeps its basis from pass to pass.  The lower bound is not
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
        cap_usd_per_kwh: Floats,
        cap_kwh: tuple[Floats, Floats],
        stretch_caps: Whole,
        border_kwh: tuple[Floats, Floats],
        end_usd_per_kwh: float,
    ) -> None:
        """Columns: caps, border levels, theta.

        Args:
            cap_usd_per_kwh: (c,) price of a kWh more cap; cap_kwh: least and most cap (c,).
            stretch_caps: (lines, j) caps that each stretch has a part in.
            border_kwh: least and most level (j + 1,) before each stretch and after the last.
            end_usd_per_kwh: cost of a stored kWh left after the last step, minus its worth.
        """
        self.caps, self.count, self.cap_count = stretch_caps, stretch_caps.shape[1], cap_usd_per_kwh.size
        level_cost = np.zeros(border_kwh[0].size)
        level_cost[-1] = end_usd_per_kwh
        self.cost = np.concatenate([cap_usd_per_kwh, level_cost])
        self.low = np.concatenate([cap_kwh[0], border_kwh[0]])
        self.high = np.concatenate([cap_kwh[1], border_kwh[1]])
        self.cuts: list[Floats] = []
        stretch = np.arange(self.count)
        first = self.cap_count + stretch
        columns = np.stack([self.cost.size + stretch, first, first + 1, *stretch_caps], axis=1)
        self.columns = columns.ravel().astype(np.int32)
        self.starts = np.arange(0, columns.size, columns.shape[1], dtype=np.int32)
        self.free = np.full(self.count, math.inf)
        self.solver = _Quiet()
        for name, value in (
            ("presolve", "off"),
            ("solver", "simplex"),
            ("threads", 1),
            ("primal_feasibility_tolerance", _FEASIBLE),
            ("dual_feasibility_tolerance", _FEASIBLE),
        ):
            self.solver.setOptionValue(name, value)
        cost = np.concatenate([self.cost, np.ones(self.count)])
        low, high = np.concatenate([self.low, -self.free]), np.concatenate([self.high, self.free])
        none = np.empty(0, dtype=np.int32)
        self.solver.addCols(cost.size, cost, low, high, 0, none, none, np.empty(0))

    def solve(self, cuts: Floats) -> tuple[Floats, float]:
        """Add the cuts of one pass.

        Args:
            cuts: (3 + lines, j) constant, v of the first and of the last step, slopes per kWh of the caps.

        Returns:
            (c,) kWh: the caps to try next; and a proven lower bound on the whole cost.
        """
        self.cuts.append(cuts)
        rows = np.ones((self.count, cuts.shape[0]))
        rows[:, 1] = cuts[1]
        rows[:, 2:] = -cuts[2:].T
        self.solver.addRows(
            self.count, cuts[0], self.free, rows.size, self.starts, self.columns, rows.ravel()
        )
        self.solver.run()
        found = self.solver.getSolution()
        weights = np.array(found.row_dual).reshape(len(self.cuts), self.count)
        caps = np.array(found.col_value)[: self.cap_count]
        return np.clip(caps, self.low[: self.cap_count], self.high[: self.cap_count]), self.bound(weights)

    def bound(self, weights: Floats) -> float:
        """The lower bound that weights (passes, j) of the cuts prove."""
        weights = np.maximum(weights, 0.0)
        total = weights.sum(axis=0)
        if not (total > 0.0).all():
            return -math.inf
        constant, first, last, *slopes = np.einsum("pkj,pj->kj", np.array(self.cuts), weights / total)
        left = self.cost.copy()
        np.add.at(left, self.caps, slopes)
        left[self.cap_count : -1] -= first
        left[self.cap_count + 1 :] += last
        return float(constant.sum() + np.minimum(left * self.low, left * self.high).sum())
