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

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.operate import segments, thresholds
from kit.operate.policy import follow
from kit.operate.task import Task, dispatch_task

Floats = NDArray[np.float64]
Method = Literal["auto", "thresholds", "segments"]
_ROUNDING_KWH = 1e-7
_MOST_CLASSES = 24


class NoScheduleError(ValueError):
    """No schedule keeps the floor and the end level within the limits of the equipment."""


@dataclass(frozen=True)
class BestUse:
    """A year of battery use.

    Attributes:
        charge_kwh, discharge_kwh, import_kwh, export_kwh: (n,) AC kWh of each step.
        stored_kwh: (n + 1,) kWh in the store at the start of each step, and after the last.
        grid_fill_to_kwh: (n,) charge from the grid only up to this level.
        hold_at_kwh: (n,) charge from surplus up to it, or serve the load down to it.
        export_down_to_kwh: (n,) discharge to export only down to this level.
        is_exact: the least cost of all schedules; False where the prices allow no such proof.
        note: one sentence for the reader of a memo; empty where there is nothing to say.
        method: how it was found.
    """

    charge_kwh: Floats
    discharge_kwh: Floats
    import_kwh: Floats
    export_kwh: Floats
    stored_kwh: Floats
    grid_fill_to_kwh: Floats
    hold_at_kwh: Floats
    export_down_to_kwh: Floats
    is_exact: bool
    note: str
    method: Method
    import_usd_per_kwh: Floats
    export_usd_per_kwh: Floats
    wear_usd_per_kwh: float

    @cached_property
    def energy_cost_usd(self) -> float:
        """Imports less export credits at the marginal prices; wear is not in it."""
        # einsum and not @: on a year of quarter hours BLAS would start its threads for one dot product
        paid = np.einsum("i,i", self.import_usd_per_kwh, self.import_kwh)
        return float(paid - np.einsum("i,i", self.export_usd_per_kwh, self.export_kwh))

    @property
    def steered_by_usd(self) -> float:
        """The cost that was made smallest, apart from the value of what is left: energy cost and wear."""
        return self.energy_cost_usd + self.wear_usd_per_kwh * float(self.discharge_kwh.sum())

    def thresholds_by_price(self) -> list[dict[str, float]]:
        """Thresholds by class of import price, dearest last: what the schedule does in plain numbers.

        Returns:
            One row per distinct import price (at most 24, else one row per 24th of the steps by price):
            price from and to, count of steps, and the 10 %, 50 % and 90 % points of the level down to which
            the load is served (or surplus stored) and the level up to which the grid fills.
        """
        price = self.import_usd_per_kwh
        edges = np.unique(price)
        if edges.size > _MOST_CLASSES:
            edges = np.unique(np.quantile(price, np.linspace(0, 1, _MOST_CLASSES + 1)[:-1]))
        which = np.searchsorted(edges, price, side="right") - 1
        rows = []
        for k in range(edges.size):
            of = which == k
            row = {
                "price_from_usd_per_kwh": float(price[of].min()),
                "price_to_usd_per_kwh": float(price[of].max()),
                "step_count": float(of.sum()),
            }
            for name in ("grid_fill_to_kwh", "hold_at_kwh", "export_down_to_kwh"):
                low, mid, high = np.quantile(getattr(self, name)[of], (0.1, 0.5, 0.9))
                row |= {f"{name}_p10": float(low), f"{name}_p50": float(mid), f"{name}_p90": float(high)}
            rows.append(row)
        return rows


def best_use(
    net_load_kw: ArrayLike,
    import_usd_per_kwh: ArrayLike,
    export_usd_per_kwh: ArrayLike,
    step_h: float,
    *,
    usable_kwh: float,
    start_kwh: float,
    charge_kw: ArrayLike,
    discharge_kw: ArrayLike,
    charge_efficiency_frac: float = 1.0,
    discharge_efficiency_frac: float = 1.0,
    reserve_kwh: ArrayLike = 0.0,
    idle_kw: float = 0.0,
    wear_usd_per_kwh: float = 0.0,
    grid_charge_allowed: bool = True,
    export_allowed: bool = False,
    end_value_usd_per_kwh: float | None = None,
    method: Method = "auto",
) -> BestUse:
    """Least-cost use of a battery against prices known beforehand.

    Args:
        net_load_kw: (n,) AC kW of load less solar, as the meter would see it without the battery.
        import_usd_per_kwh: (n,) or scalar price of an AC kWh imported.
        export_usd_per_kwh: (n,) or scalar credit of an AC kWh exported.
        step_h: length of a step in hours.
        usable_kwh: kWh in the store when full; levels are counted from its lower stop.
        start_kwh: kWh in the store before the first step, 0 to usable_kwh.
        charge_kw, discharge_kw: scalar or (n,) AC kW limits; an (n,) discharge limit can hold the battery to
            the load behind it.
        charge_efficiency_frac: kWh stored per AC kWh charged, above 0 up to 1.
        discharge_efficiency_frac: AC kWh delivered per kWh drawn from the store, above 0 up to 1.
        reserve_kwh: scalar or (n,) least kWh in the store at the end of each step.
        idle_kw: AC kW that the system draws in every step.
        wear_usd_per_kwh: cost per AC kWh discharged that steers the schedule, 0 or more.
        grid_charge_allowed: whether it may charge from the grid, not only from surplus.
        export_allowed: whether the battery may discharge into the grid (surplus solar always may flow there).
        end_value_usd_per_kwh: None: the year ends at start_kwh. A number: what a stored kWh left is worth.
        method: "auto" picks by the number of price levels.

    Returns:
        BestUse.

    Raises:
        ValueError: an array of the wrong shape or not finite, or a number out of its range.
        NoScheduleError: the reserve or the end level cannot be kept within the limits, to 1e-7 kWh.

    Source: dynamic programming with a convex piecewise linear cost-to-go; one step back is an inf-convolution
    (Rockafellar, 'Convex analysis', 1970, section 5 and 16) and a restriction to the allowed range.
    """
    task = dispatch_task(
        net_load_kw,
        import_usd_per_kwh,
        export_usd_per_kwh,
        step_h,
        usable_kwh=usable_kwh,
        start_kwh=start_kwh,
        charge_kw=charge_kw,
        discharge_kw=discharge_kw,
        charge_efficiency_frac=charge_efficiency_frac,
        discharge_efficiency_frac=discharge_efficiency_frac,
        reserve_kwh=reserve_kwh,
        idle_kw=idle_kw,
        wear_usd_per_kwh=wear_usd_per_kwh,
        grid_charge_allowed=grid_charge_allowed,
        export_allowed=export_allowed,
        end_value_usd_per_kwh=end_value_usd_per_kwh,
    )
    wanted, note, used = _thresholds(task, method)
    stored, flow, worst = follow(
        wanted, task.net_kwh, task.start_kwh, task.reserve_kwh, task.full_kwh, *task.limits
    )
    if worst > _ROUNDING_KWH or not task.end[0] - _ROUNDING_KWH <= stored[-1] <= task.end[1] + _ROUNDING_KWH:
        raise NoScheduleError(_why_none(task, stored))
    if not grid_charge_allowed:
        wanted[0] = task.reserve_kwh
    if not export_allowed:
        wanted[2] = task.full_kwh
    return BestUse(
        charge_kwh=flow[0],
        discharge_kwh=flow[1],
        import_kwh=flow[2],
        export_kwh=flow[3],
        stored_kwh=stored,
        grid_fill_to_kwh=wanted[0],
        hold_at_kwh=wanted[1],
        export_down_to_kwh=wanted[2],
        is_exact=not note,
        note=note,
        method=used,
        import_usd_per_kwh=task.buy,
        export_usd_per_kwh=task.sell,
        wear_usd_per_kwh=task.wear,
    )


def _thresholds(task: Task, method: Method) -> tuple[Floats, str, Method]:
    """Pick the recursion by the number of price levels, with prices it is exact for."""
    _, _, into, out_of, _, _ = task.limits
    levels = thresholds.price_pairs(task.buy, task.sell) if method != "segments" else None
    if levels is not None:
        pair, pairs = levels
        distinct = np.array(pairs)
        buy, sell, changed = _convex_prices(distinct[:, 0], distinct[:, 1], task)
        lines = thresholds.slopes(buy.tolist(), sell.tolist(), into, out_of, task.wear)
        few = len({slope for four in lines for slope in four}) <= _MOST_CLASSES
        if few or method == "thresholds":
            wanted = thresholds.thresholds(
                pair, lines, task.net_kwh, task.reserve_kwh, task.full_kwh, task.limits, task.end
            )
            return wanted, _not_certified(int(changed[pair].sum())) if changed.any() else "", "thresholds"
    if method == "thresholds":
        raise ValueError(f"the prices have more than {thresholds.MOST_PAIRS} levels: use method 'segments'")
    buy, sell, changed = _convex_prices(task.buy, task.sell, task)
    wanted = segments.thresholds(
        buy, sell, task.wear, task.net_kwh, task.reserve_kwh, task.full_kwh, task.limits, task.end
    )
    return wanted, _not_certified(int(changed.sum())) if changed.any() else "", "segments"


def _convex_prices(buy: Floats, sell: Floats, task: Task) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """The nearest prices whose segments ascend by slope, and where they differ from those given.

    grid <= serve and surplus <= export:  price >= -wear / (1 / (both efficiencies) - 1)
    grid <= surplus and serve <= export:  sell <= buy
    """
    _, _, into, out_of, grid_charge, export = task.limits
    if not grid_charge and not export:
        return buy, sell, np.zeros(buy.size, dtype=np.bool_)
    lossy = 1.0 / (into * out_of) - 1.0
    least = -task.wear / lossy if lossy > 0.0 else -math.inf
    if buy.min() >= least and (not export or sell.min() >= least) and (sell <= buy).all():
        return buy, sell, np.zeros(buy.size, dtype=np.bool_)
    fair_buy = np.maximum(buy, least)
    fair_sell = np.minimum(np.maximum(sell, least) if export else sell, fair_buy)
    return fair_buy, fair_sell, (fair_buy != buy) | (fair_sell != sell)


def _not_certified(count: int) -> str:
    return (
        f"Not certified as the least cost: in {count} steps the export price is above the import price, or a "
        "price is so far below zero that wasting energy would pay; the schedule is the best one for prices "
        "without these, billed at the true prices."
    )


def _why_none(task: Task, stored: Floats) -> str:
    short = np.flatnonzero(
        stored[1:] <= np.broadcast_to(task.reserve_kwh, task.net_kwh.shape) + _ROUNDING_KWH
    )
    where = f" near step {int(short[0])}" if short.size else ""
    return (
        "no schedule keeps the reserve and ends where it should within the charge and discharge limits"
        f"{where}: start {task.start_kwh:g} kWh, reserve up to {task.reserve_kwh.max():g} kWh, "
        f"end {task.end[0]:g} to {task.end[1]:g} kWh"
    )
