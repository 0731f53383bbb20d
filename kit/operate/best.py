"""The cheapest everyday use of a battery for a year of prices that is known beforehand, exactly.

The model, one step t, energies of the step in AC kWh, stored energy s in kWh inside the store::

    s' = s + charge efficiency * charged - discharged / discharge efficiency,   floor <= s' <= full
    meter = net load + idle + charged - discharged
    cost = buy * imported - sell * exported + wear * discharged

Where the cost of a step is convex in the change of stored energy, the optimum follows from an exact backward
recursion (see ``thresholds`` and ``segments``).  That is so while the slopes of a step's segments ascend:
no export price above the import price, and no price so far below zero that energy would be burned by charging
and discharging at once.  Where it is not, the walk is made for the nearest prices that do qualify, and the
result says that it is not certified.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal, Unpack

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.operate import thresholds
from kit.operate.policy import account, follow
from kit.operate.task import NoScheduleError as NoScheduleError
from kit.operate.task import (
    PricedYear,
    StoreTerms,
    Task,
    convex_prices,
    dispatch_task,
    is_convex,
    not_certified,
    priced_year,
)

Floats = NDArray[np.float64]
Rows = tuple[Floats, Floats, Floats]
Method = Literal["auto", "thresholds", "segments"]
_MOST_CLASSES: Final = 24
_TINY_KWH: Final = 1e-12
_NONE_KWH: Final = np.zeros(1)


@dataclass(frozen=True, eq=False)
class BestUse:
    """A year of battery use; flows and costs are worked out from the path when they are asked for.

    Attributes:
        task: what was solved.
        stored_kwh: (n + 1,) kWh in the store at the start of each step, and after the last.
        wanted_kwh: three rows as of ``kit.operate.thresholds.thresholds``.
        is_exact: the least cost of all schedules; False where the prices allow no such proof.
        note: what the reader of a memo must know; empty where there is nothing to say.
        method: how it was found.
    """

    task: Task
    stored_kwh: Floats
    wanted_kwh: Rows
    is_exact: bool
    note: str
    method: Method

    @cached_property
    def charge_kwh(self) -> Floats:
        """(n,) AC kWh charged in each step."""
        return np.maximum(np.diff(self.stored_kwh), 0.0) / self.task.into

    @cached_property
    def discharge_kwh(self) -> Floats:
        """(n,) AC kWh discharged in each step."""
        return np.maximum(-np.diff(self.stored_kwh), 0.0) * self.task.out_of

    @cached_property
    def _meter_kwh(self) -> Floats:
        meter = self.task.net_kwh + self.charge_kwh - self.discharge_kwh
        meter[np.abs(meter) < _TINY_KWH] = 0.0
        return meter

    @cached_property
    def import_kwh(self) -> Floats:
        """(n,) AC kWh from the grid in each step."""
        return np.maximum(self._meter_kwh, 0.0)

    @cached_property
    def export_kwh(self) -> Floats:
        """(n,) AC kWh into the grid in each step."""
        return np.maximum(-self._meter_kwh, 0.0)

    @property
    def grid_fill_to_kwh(self) -> Floats:
        """(n,) charge from the grid only up to this level: the reserve where that is not allowed."""
        if self.task.grid_charge:
            return self.wanted_kwh[0]
        return np.broadcast_to(self.task.reserve_kwh, self.task.free_kwh.shape)

    @property
    def hold_at_kwh(self) -> Floats:
        """(n,) charge from surplus up to this level, or serve the load down to it."""
        return self.wanted_kwh[1]

    @property
    def export_down_to_kwh(self) -> Floats:
        """(n,) discharge to export only down to this level: full where that is not allowed."""
        if self.task.export:
            return self.wanted_kwh[2]
        return np.full(self.task.free_kwh.shape, self.task.full_kwh)

    @cached_property
    def _account(self) -> tuple[float, float]:
        task = self.task
        return account(
            self.stored_kwh, task.year.net_kw, task.idle_kw, task.year.step_h, task.buy, task.sell, task.into,
            task.out_of,
        )  # fmt: skip

    @property
    def energy_cost_usd(self) -> float:
        """Imports less export credits at the marginal prices; wear is not in it."""
        return self._account[0]

    @property
    def wear_usd_per_kwh(self) -> float:
        """The cost per AC kWh discharged that steered it."""
        return self.task.wear

    @property
    def steered_by_usd(self) -> float:
        """The cost that was made smallest, apart from the value of what is left: energy cost and wear."""
        return self._account[0] + self.task.wear * self._account[1]

    def thresholds_by_price(self) -> list[dict[str, float]]:
        """Thresholds by class of import price, dearest last: what the schedule does in plain numbers.

        Returns:
            One row per distinct import price (at most 24, else one row per 24th of the steps by price):
            price from and to, count of steps, and the median of the level up to which the grid fills, of the
            level down to which the load is served (or surplus stored), and of that down to which is exported.
        """
        price = self.task.buy
        edges = np.unique(price)
        if edges.size > _MOST_CLASSES:
            edges = np.unique(np.quantile(price, np.linspace(0, 1, _MOST_CLASSES + 1)[:-1]))
        which = np.searchsorted(edges, price, side="right") - 1
        names = ("grid_fill_to_kwh", "hold_at_kwh", "export_down_to_kwh")
        levels = [getattr(self, name) for name in names]
        rows = []
        for k in range(edges.size):
            of = np.flatnonzero(which == k)
            row = {
                "price_from_usd_per_kwh": float(price[of].min()),
                "price_to_usd_per_kwh": float(price[of].max()),
                "step_count": float(of.size),
            }
            rows.append(row | {name: float(np.median(x[of])) for name, x in zip(names, levels, strict=True)})
        return rows


def best_use(
    net_load_kw: ArrayLike,
    import_usd_per_kwh: ArrayLike,
    export_usd_per_kwh: ArrayLike,
    step_h: float,
    *,
    method: Method = "auto",
    **store: Unpack[StoreTerms],
) -> BestUse:
    """Least-cost use of a battery against prices known beforehand.

    Args:
        net_load_kw, import_usd_per_kwh, export_usd_per_kwh, step_h: as in ``kit.operate.task.priced_year``.
        method: "auto" picks by the number of price levels.
        store: the battery, see ``kit.operate.task.StoreTerms``.

    Returns:
        BestUse.

    Raises:
        ValueError: an array of the wrong shape or not finite, or a number out of its range.
        NoScheduleError: the reserve or the end level cannot be kept within the limits, to 1e-7 kWh.

    Source: dynamic programming with a convex piecewise linear cost-to-go; one step back is an inf-convolution
    (Rockafellar, 'Convex analysis', 1970, section 5 and 16) and a restriction to the allowed range.
    """
    return best_of(
        priced_year(net_load_kw, import_usd_per_kwh, export_usd_per_kwh, step_h), method=method, **store
    )


def best_of(year: PricedYear, *, method: Method = "auto", **store: Unpack[StoreTerms]) -> BestUse:
    """``best_use`` for one of many batteries in the same year, whose prices are sorted once."""
    task = dispatch_task(year, store)
    wanted, note, used = _thresholds(task, method)
    stored, corrected = follow(
        *wanted,
        task.free_kwh,
        task.start_kwh,
        task.reserve_kwh,
        task.full_kwh,
        task.most_in_kwh if task.grid_charge else _NONE_KWH,
        task.most_out_kwh if task.export else _NONE_KWH,
    )
    task.check_path(stored, corrected)
    return BestUse(task, stored, wanted, not note, note, used)


def _thresholds(task: Task, method: Method) -> tuple[Rows, str, Method]:
    """Pick the recursion by the number of price levels, with prices it is exact for."""
    levels = task.year.pairs if method != "segments" else None
    if levels is not None:
        pair, pairs = levels
        note = ""
        if not is_convex(pairs, task):
            distinct = np.array(pairs)
            buy, sell, changed = convex_prices(distinct[:, 0], distinct[:, 1], task)
            pairs, note = (
                list(zip(buy.tolist(), sell.tolist(), strict=True)),
                not_certified(changed[pair].sum()),
            )
        lines = thresholds.slopes(pairs, task)
        if method == "thresholds" or thresholds.count_of(lines) <= _MOST_CLASSES:
            return thresholds.thresholds(pair, lines, task), note, "thresholds"
    if method == "thresholds":
        raise ValueError(f"the prices have more than {thresholds.MOST_PAIRS} levels: use method 'segments'")
    from kit.operate import segments  # its loops are loaded only for prices of many levels

    buy, sell, changed = convex_prices(task.buy, task.sell, task)
    return segments.thresholds(buy, sell, task), not_certified(changed.sum()), "segments"
