"""The cheapest everyday use of a battery under a monthly demand charge, exactly, with its proof.

The bill is the energy cost of ``kit.operate.best`` and, for each month, a price per kW on the largest mean
import of a step.  The method is Kelley's cutting planes ('The cutting-plane method for solving convex
programs', 1960) on the caps P of the months and the stored energy s at their borders:

1. Fix the caps.  Import above a cap is charged a penalty of (highest demand price) / (step) per AC kWh.  The
   penalty is exact: to raise the cap by the excess costs no more.  The rest is a dispatch with convex costs,
   solved by threshold walks (see ``demand_walk``).
2. The values of stored energy that prove that dispatch optimal give each month a Lagrangian lower bound,
   linear in its cap and in the stored energy at its two borders: a cut that holds everywhere.
3. A small linear program minimises demand charge and cuts over caps and border energies and names the next
   caps.  Its dual weights, applied to the cuts outside the solver, give a lower bound on the whole bill.

Every dispatch is a real schedule whose bill, with the peaks it makes, is an upper bound.  The gap between the
best of both is reported; the optimum is certified where it closes.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.operate.best import BestUse, NoScheduleError, _convex_prices, _not_certified, _why_none
from kit.operate.demand_master import Master
from kit.operate.demand_walk import bounds, levels, schedule, sizes, values
from kit.operate.task import Floats, Task, dispatch_task
from kit.operate.thresholds import price_pairs

CERTIFIED_GAP_FRAC: Final = 1e-9
_ROUNDING_KWH: Final = 1e-7
_BOLD_BELOW_FRAC: Final = 1e-3
_WEIGHT_OF_MASTER: Final = 0.8
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class DemandUse:
    """A year of battery use under a monthly demand charge.

    Attributes:
        use: the schedule.  Its grid_fill_to_kwh is the level up to which the grid fills below the cap (above
            it, in steps whose load is over the cap); is_exact says whether the least cost is certified.
        cap_kw: (12,) import above which a kWh is dear: the caps that the schedule was made for.
        peak_kw: (12,) largest mean import of a step in each month; 0 in a month without steps.
        demand_usd: the demand charge of all months.
        least_usd: proven lower bound on ``steered_by_usd`` less the worth of what is left in the store;
            -inf where the prices allow no proof.
        gap_frac: distance to that bound, relative to the cost (or to 1 unit of currency, if that is more).
        pass_count: how many times the year was walked.
    """

    use: BestUse
    cap_kw: Floats
    peak_kw: Floats
    demand_usd: float
    least_usd: float
    gap_frac: float
    pass_count: int

    @property
    def total_usd(self) -> float:
        """Energy cost at the marginal prices and the demand charge; wear is not in it."""
        return self.use.energy_cost_usd + self.demand_usd

    @property
    def steered_by_usd(self) -> float:
        """The cost that was made smallest, apart from the value of what is left: with wear."""
        return self.use.steered_by_usd + self.demand_usd


def best_use_with_demand(
    net_load_kw: ArrayLike,
    import_usd_per_kwh: ArrayLike,
    export_usd_per_kwh: ArrayLike,
    month: ArrayLike,
    demand_usd_per_kw: ArrayLike,
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
    most_passes: int = 200,
) -> DemandUse:
    """Least-cost use of a battery where each month's largest import is charged too.

    Args:
        month: (n,) month of each step, 1 to 12; a month may come in several stretches.
        demand_usd_per_kw: (12,) price of a kW of each month's largest mean import of a step, 0 or more.
        most_passes: give up the proof after so many walks over the year; the gap is then reported.
        All others: as in ``kit.operate.best.best_use``.

    Returns:
        DemandUse.  Work grows with steps times price levels: fast for a rate plan, slow for market prices.

    Raises:
        ValueError: an array of the wrong shape or not finite, or a number out of its range.
        NoScheduleError: the reserve or the end level cannot be kept within the limits.
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
    if most_passes < 1:
        raise ValueError(f"most_passes is {most_passes}; it must be 1 or more")
    months, price = _months(month, demand_usd_per_kw, task.net_kwh.size)
    year = _Year(task, months, price, float(step_h))
    return _search(year, most_passes)


def _months(month: ArrayLike, demand_usd_per_kw: ArrayLike, n: int) -> tuple[Whole, Floats]:
    given, price = np.asarray(month), np.array(demand_usd_per_kw, dtype=np.float64)
    if given.shape != (n,):
        raise ValueError(f"month has shape {given.shape}; it must be ({n},)")
    months = given.astype(np.int64)
    if (months != given).any() or months.min() < 1 or months.max() > 12:
        raise ValueError(f"month has {given.min()} to {given.max()}; it must be whole numbers from 1 to 12")
    if price.shape != (12,):
        raise ValueError(f"demand_usd_per_kw has shape {price.shape}; it must be (12,)")
    if not (np.isfinite(price) & (price >= 0.0)).all():
        raise ValueError(f"demand_usd_per_kw is {price.tolist()}; it must be 0 or more and finite")
    return months - 1, price


@dataclass(frozen=True)
class _Pass:
    """One walk over the year: its caps, schedule, peaks, bill, and the cuts it gives."""

    cap_kwh: Floats
    stored_kwh: Floats
    flow_kwh: Floats
    wanted_kwh: Floats
    peak_kwh: Floats
    cost_usd: float
    cuts: Floats


class _Year:
    """What stays the same from pass to pass: prices in classes, stretches of one month, the penalty."""

    def __init__(self, task: Task, months: Whole, price: Floats, step_h: float) -> None:
        self.task, self.months, self.step_h = task, months, step_h
        present = np.bincount(months, minlength=12) > 0
        self.demand_usd_per_kwh = np.where(present, price, 0.0) / step_h
        self.penalty = float(self.demand_usd_per_kwh.max())
        self.pair, buy, sell = _classes(task)
        self.buy, self.sell, changed = _convex_prices(buy, sell, task)
        self.step_buy, self.step_sell = self.buy[self.pair], self.sell[self.pair]
        self.note = _not_certified(int(changed[self.pair].sum())) if changed.any() else ""
        into, out_of = task.limits[2:4]
        over = self.buy + self.penalty
        drawn = [out_of * (price - task.wear) for price in (over, self.buy, self.sell)]
        self.cost = np.stack([over / into, self.buy / into, self.sell / into, *drawn], axis=1)
        ranked = np.unique(-self.cost)
        self.rank = np.searchsorted(ranked, -self.cost).astype(np.int64)
        least, most, slope = task.end
        self.end_kwh = np.where(ranked >= slope, most, least)
        starts = np.flatnonzero(np.diff(months)) + 1
        self.begins = np.concatenate([[0], starts, [months.size]]).astype(np.int64)
        self.stretch_month = months[self.begins[:-1]]
        self.highest_kwh = self._peaks(np.maximum(task.net_kwh, 0.0) + task.limits[0])

    def _peaks(self, import_kwh: Floats) -> Floats:
        """(12,) largest import of a step in each month, AC kWh."""
        peak = np.zeros(12)
        np.maximum.at(peak, self.stretch_month, np.maximum.reduceat(import_kwh, self.begins[:-1]))
        return peak

    @cached_property
    def border_kwh(self) -> tuple[Floats, Floats]:
        """Least and most stored kWh before each stretch, and after the last."""
        task = self.task
        inner = np.broadcast_to(task.reserve_kwh, task.net_kwh.shape)[self.begins[1:-1] - 1]
        low = np.concatenate([[task.start_kwh], inner, [task.end[0]]])
        high = np.concatenate([[task.start_kwh], np.full(inner.size, task.full_kwh), [task.end[1]]])
        return low, high

    def walk(self, cap_kwh: Floats) -> _Pass:
        """The best dispatch for fixed caps, its true cost, and the cut of each stretch."""
        task, (into, out_of) = self.task, self.task.limits[2:4]
        least, most, slope = task.end
        floor, full = task.reserve_kwh, task.full_kwh
        size = sizes(task.net_kwh, self.months, cap_kwh, *task.limits)
        wanted = levels(size, self.pair, self.rank, self.end_kwh, floor, full)
        stored, flow, worst = schedule(wanted, size, task.start_kwh, floor, full, task.net_kwh, into, out_of)
        if worst > _ROUNDING_KWH or not least - _ROUNDING_KWH <= stored[-1] <= most + _ROUNDING_KWH:
            raise NoScheduleError(_why_none(task, stored))
        value = values(stored, size, self.pair, self.cost, floor, full, least, most, -slope)
        found = bounds(
            value, size, self.pair, self.cost, floor, full, self.begins, task.net_kwh, self.months, cap_kwh,
            self.buy, self.sell, self.penalty, into, out_of,
        )  # fmt: skip
        found[0] -= found[1] * cap_kwh[self.stretch_month]
        peak = self._peaks(flow[2])
        bought = np.einsum("i,i", self.step_buy, flow[2])  # in this thread; @ would start others
        energy = bought - np.einsum("i,i", self.step_sell, flow[3]) + task.wear * flow[1].sum()
        cost = float(energy + self.demand_usd_per_kwh @ peak + slope * stored[-1])
        return _Pass(cap_kwh, stored, flow, wanted, peak, cost, found)


def _classes(task: Task) -> tuple[Whole, Floats, Floats]:
    """Index of each step's pair of prices, and the distinct import and export prices."""
    few = price_pairs(task.buy, task.sell)
    if few is not None:
        distinct = np.array(few[1])
        return few[0].astype(np.int64), distinct[:, 0].copy(), distinct[:, 1].copy()
    both = np.stack([task.buy, task.sell], axis=1)
    distinct, of_step = np.unique(both, axis=0, return_inverse=True)
    return of_step.reshape(-1).astype(np.int64), distinct[:, 0].copy(), distinct[:, 1].copy()


def _search(year: _Year, most_passes: int) -> DemandUse:
    """Cutting planes until the gap is closed or the passes are used up."""
    slope = year.task.end[2]
    master = Master(year.demand_usd_per_kwh, year.highest_kwh, year.stretch_month, year.border_kwh, slope)
    best = done = year.walk(year._peaks(np.maximum(year.task.net_kwh, 0.0)) * 0.7)
    least, count = -math.inf, 1
    while True:
        caps, bound = master.solve(done.cuts)
        rises, least = bound > least, max(least, bound)
        gap = max(0.0, best.cost_usd - least) / max(1.0, abs(best.cost_usd))
        if gap <= CERTIFIED_GAP_FRAC or count == most_passes:
            break
        if rises and gap > _BOLD_BELOW_FRAC:  # a step back towards what is known to be good
            caps = _WEIGHT_OF_MASTER * caps + (1.0 - _WEIGHT_OF_MASTER) * best.peak_kwh
        done = year.walk(caps)
        best = done if done.cost_usd <= best.cost_usd else best
        count += 1
    return _result(year, best, least, gap, count)


def _result(year: _Year, best: _Pass, least: float, gap: float, count: int) -> DemandUse:
    """The schedule billed at the true prices, and what is proven about it."""
    task, flow, wanted = year.task, best.flow_kwh, best.wanted_kwh
    note = year.note
    if not note and gap > CERTIFIED_GAP_FRAC:
        note = (
            f"Not certified as the least cost: after {count} passes it is proven to lie within a share of "
            f"{gap:.1e} of it."
        )
    within = np.where(task.net_kwh > best.cap_kwh[year.months], wanted[0], wanted[1])
    use = BestUse(
        charge_kwh=flow[0],
        discharge_kwh=flow[1],
        import_kwh=flow[2],
        export_kwh=flow[3],
        stored_kwh=best.stored_kwh,
        grid_fill_to_kwh=within if task.limits[4] else np.broadcast_to(task.reserve_kwh, within.shape).copy(),
        hold_at_kwh=wanted[2],
        export_down_to_kwh=wanted[3] if task.limits[5] else np.full(within.size, task.full_kwh),
        is_exact=not note,
        note=note,
        method="thresholds",
        import_usd_per_kwh=task.buy,
        export_usd_per_kwh=task.sell,
        wear_usd_per_kwh=task.wear,
    )
    return DemandUse(
        use=use,
        cap_kw=best.cap_kwh / year.step_h,
        peak_kw=best.peak_kwh / year.step_h,
        demand_usd=float(year.demand_usd_per_kwh @ best.peak_kwh),
        least_usd=-math.inf if year.note else least,
        gap_frac=math.inf if year.note else gap,
        pass_count=count,
    )
