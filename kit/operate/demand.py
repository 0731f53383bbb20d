"""The cheapest everyday use of a battery under demand charges, exactly, with its proof.

The bill is the energy cost of ``kit.operate.best`` and, for each bill of the year, one or several lines of a
price per kW on the largest mean import of a step: of all steps, or of those in the hours of the line.  The
method is Kelley's cutting planes ('The cutting-plane method for solving convex programs', 1960) on the caps P
of every line and bill and the stored energy s at the borders of the bills:

1. Fix the caps; a step must stay below the lowest of those it counts in.  Import above it is charged a
   penalty of (highest demand price of a bill, all its lines) / (step) per AC kWh.  The penalty is exact: to
   raise the caps by the excess costs no more.  The rest is a dispatch with convex costs, solved by threshold
   walks (see ``demand_walk``).
2. The values of stored energy that prove that dispatch optimal give each bill a Lagrangian lower bound,
   linear in its caps and in the stored energy at its two borders: a cut that holds everywhere
   (``demand_proof``).
3. A small linear program minimises demand charge and cuts over caps and border energies and names the next
   caps.  Its dual weights, applied to the cuts outside the solver, give a lower bound on the whole bill.

Every dispatch is a real schedule whose bill, with the peaks it makes, is an upper bound.  The gap between the
best of both is reported; the optimum is certified where it closes.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Unpack

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.operate.best import BestUse
from kit.operate.demand_charges import Charges
from kit.operate.demand_charges import DemandLine as DemandLine
from kit.operate.demand_master import Master
from kit.operate.demand_proof import bounds, values
from kit.operate.demand_walk import least_caps, levels, schedule, sizes
from kit.operate.policy import account
from kit.operate.task import (
    Floats,
    PricedYear,
    StoreTerms,
    Task,
    convex_prices,
    dispatch_task,
    not_certified,
    priced_year,
)

CERTIFIED_GAP_FRAC: Final = 1e-9
_BOLD_BELOW_FRAC: Final = 1e-3
_WEIGHT_OF_MASTER: Final = 0.8
_START_FRAC: Final = 0.1  # of the way from the least cap there can be to the peak without a battery


@dataclass(frozen=True, eq=False)
class DemandUse:
    """A year of battery use under demand charges.

    Attributes:
        use: the schedule.  Its grid_fill_to_kwh is the level up to which the grid fills below the cap (above
            it, in steps whose load is over the cap); is_exact says whether the least cost is certified.
        cap_kw: (lines, bills) import above which a kWh is dear: the caps that the schedule was made for.
        peak_kw: (lines, bills) largest mean import of a step that counts; 0 where none does.
        demand_usd: the demand charges of all lines and bills.
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
        """Energy cost at the marginal prices and the demand charges; wear is not in it."""
        return self.use.energy_cost_usd + self.demand_usd

    @property
    def steered_by_usd(self) -> float:
        """The cost that was made smallest, apart from the value of what is left: with wear."""
        return self.use.steered_by_usd + self.demand_usd


def best_use_with_demand(
    net_load_kw: ArrayLike,
    import_usd_per_kwh: ArrayLike,
    export_usd_per_kwh: ArrayLike,
    bill_of_step: ArrayLike,
    lines: DemandLine | Sequence[DemandLine],
    step_h: float,
    *,
    most_passes: int = 200,
    **store: Unpack[StoreTerms],
) -> DemandUse:
    """Least-cost use of a battery where each bill's largest import is charged too.

    Args:
        net_load_kw, import_usd_per_kwh, export_usd_per_kwh, step_h: as in ``kit.operate.task.priced_year``.
        bill_of_step: (n,) which bill a step is in, 0 for the first; a bill may come in several stretches.
        lines: the demand charges.
        most_passes: give up the proof after so many walks over the year; the gap is then reported.
        store: the battery, see ``kit.operate.task.StoreTerms``.

    Returns:
        DemandUse.  Work grows with steps times price levels: fast for a rate plan, slow for market prices.

    Raises:
        ValueError: an array of the wrong shape or not finite, or a number out of its range.
        NoScheduleError: the reserve or the end level cannot be kept within the limits.
    """
    priced = priced_year(net_load_kw, import_usd_per_kwh, export_usd_per_kwh, step_h)
    return best_of_with_demand(priced, bill_of_step, lines, most_passes=most_passes, **store)


def best_of_with_demand(
    priced: PricedYear,
    bill_of_step: ArrayLike,
    lines: DemandLine | Sequence[DemandLine],
    *,
    most_passes: int = 200,
    **store: Unpack[StoreTerms],
) -> DemandUse:
    """``best_use_with_demand`` for one of many batteries in the same year."""
    if most_passes < 1:
        raise ValueError(f"most_passes is {most_passes}; it must be 1 or more")
    task = dispatch_task(priced, store)
    charges = Charges([lines] if isinstance(lines, DemandLine) else list(lines), bill_of_step, task)
    return _search(_Year(task, charges), most_passes)


@dataclass(frozen=True, eq=False)
class _Pass:
    """One walk over the year: its caps, schedule, peaks, bill, and the cuts it gives."""

    cap_kwh: Floats
    stored_kwh: Floats
    wanted_kwh: Floats
    peak_kwh: Floats
    cost_usd: float
    cuts: Floats


class _Year:
    """What stays the same from pass to pass: prices in classes, rows of segments, the penalty."""

    def __init__(self, task: Task, charges: Charges) -> None:
        self.task, self.charges = task, charges
        self.penalty = float(charges.usd_per_kwh.sum(axis=0).max())
        self.pair, buy, sell = _classes(task)
        self.buy, self.sell, changed = convex_prices(buy, sell, task)
        self.note = not_certified(int(changed[self.pair].sum()) if changed.any() else 0)
        self.step_buy, self.step_sell = self.buy[self.pair], self.sell[self.pair]
        into, out_of = task.into, task.out_of
        over = self.buy + self.penalty
        drawn = [out_of * (price - task.wear) for price in (over, self.buy, self.sell)]
        self.cost = np.stack([over / into, self.buy / into, self.sell / into, *drawn], axis=1)
        self.step_cost = np.ascontiguousarray(self.cost[:, (1, 2, 4, 5)].T[:, self.pair])
        self.more = np.array([self.penalty / into, self.penalty * out_of])
        self._rank(*task.end)
        surplus, served = np.maximum(task.free_kwh, 0.0), np.maximum(-task.free_kwh, 0.0)
        none = np.zeros(surplus.size)
        self.room = np.maximum(task.most_in_kwh - surplus, 0.0) if task.grid_charge else none
        self.sold = np.maximum(task.most_out_kwh - served, 0.0) if task.export else none
        self.floor = np.broadcast_to(task.reserve_kwh, none.shape).copy()

    def _rank(self, least: float, most: float, slope: float) -> None:
        """Rank of each cost among all that occur, and the thresholds of all after the last step."""
        allowed = np.ones(6, dtype=np.bool_)
        allowed[:2], allowed[5] = self.task.grid_charge, self.task.export
        ranked = np.unique(-self.cost[:, allowed])
        self.rank = np.searchsorted(ranked, -self.cost).astype(np.int64)
        self.rank[:, :2] *= self.task.grid_charge
        self.end_kwh = np.full(-(-ranked.size // 16) * 16, most)
        self.end_kwh[: ranked.size] = np.where(ranked >= slope, most, least)
        if not self.task.export:
            self.rank[:, 5] = self.end_kwh.size

    @cached_property
    def border_kwh(self) -> tuple[Floats, Floats]:
        """Least and most stored kWh before each stretch, and after the last."""
        task, inner = self.task, self.floor[self.charges.begins[1:-1] - 1]
        low = np.concatenate([[task.start_kwh], inner, [task.end[0]]])
        high = np.concatenate([[task.start_kwh], np.full(inner.size, task.full_kwh), [task.end[1]]])
        return low, high

    @cached_property
    def least_kwh(self) -> Floats:
        """(lines, bills) cap that no use of the battery keeps below, or what is free, if that is more."""
        task, charges = self.task, self.charges
        least = charges.free_kwh.copy()
        for line, mine in zip(least, charges.member, strict=True):
            of_stretch = least_caps(
                mine, charges.kind, task.net_kwh, task.free_kwh, self.room, self.floor, task.full_kwh,
                charges.begins, task.into, 1.0 / task.out_of,
            )  # fmt: skip
            np.maximum.at(line, charges.stretch_bill, of_stretch)
        return np.minimum(least, charges.most_kwh)

    def walk(self, cap_kwh: Floats) -> _Pass:
        """The best dispatch for fixed caps (lines, bills), its true cost, and the cut of each stretch."""
        task, charges, room, sold = self.task, self.charges, self.room, self.sold
        net, free, floor, full = task.net_kwh, task.free_kwh, self.floor, task.full_kwh
        least, most, slope = task.end
        cell_kwh, line_of_cell = charges.lowest(cap_kwh)
        made = sizes(net, free, room, charges.cell, cell_kwh, task.into, 1.0 / task.out_of)
        wanted = np.empty((4, net.size))
        wanted[3] = math.inf  # where no threshold holds it: export is not allowed
        for k in range(0, self.end_kwh.size, 16):
            levels(wanted, self.pair, self.rank, self.end_kwh, k, free, room, sold, made, floor, full)
        stored, corrected = schedule(wanted, free, room, sold, made, task.start_kwh, floor, full)
        task.check_path(stored, corrected)
        v = values(
            stored, free, room, sold, made, self.step_cost, self.more, floor, full, least, most, -slope
        )
        found = bounds(
            v, net, free, room, sold, made, self.step_cost, self.more, floor, full, charges.begins,
            charges.kind, charges.kinds, self.step_buy, self.step_sell, self.penalty, task.into,
            1.0 / task.out_of,
        )  # fmt: skip
        peak = charges.peaks(stored, net, 1.0 / task.into, task.out_of)
        paid, given = account(
            stored, task.year.net_kw, task.idle_kw, task.year.step_h, self.step_buy, self.step_sell,
            task.into, task.out_of,
        )  # fmt: skip
        cost = paid + task.wear * given + charges.usd(peak) + slope * stored[-1]
        return _Pass(cap_kwh, stored, wanted, peak, cost, charges.cuts(found, cap_kwh, line_of_cell))


def _classes(task: Task) -> tuple[NDArray[np.uint16], Floats, Floats]:
    """Index of each step's pair of prices, and the distinct import and export prices."""
    few = task.year.pairs
    if few is not None:
        distinct = np.array(few[1])
        return few[0].astype(np.uint16), distinct[:, 0].copy(), distinct[:, 1].copy()
    both = np.stack([task.buy, task.sell], axis=1)
    distinct, of_step = np.unique(both, axis=0, return_inverse=True)
    return of_step.reshape(-1).astype(np.uint16), distinct[:, 0].copy(), distinct[:, 1].copy()


def _search(year: _Year, most_passes: int) -> DemandUse:
    """Cutting planes until the gap is closed or the passes are used up."""
    charges, slope = year.charges, year.task.end[2]
    master = Master(
        charges.usd_per_kwh.ravel(),
        (year.least_kwh.ravel(), charges.most_kwh.ravel()),
        charges.stretch_caps,
        year.border_kwh,
        slope,
    )
    shape, free_usd = charges.usd_per_kwh.shape, charges.free_usd
    alone = charges.peaks(np.zeros(year.floor.size + 1), year.task.net_kwh)
    first = year.least_kwh + _START_FRAC * np.maximum(alone - year.least_kwh, 0.0)
    best = done = year.walk(np.minimum(first, charges.most_kwh))
    least, count = -math.inf, 1
    while True:
        caps, bound = master.solve(done.cuts)
        caps, bound = caps.reshape(shape), bound - free_usd
        rises, least = bound > least, max(least, bound)
        gap = max(0.0, best.cost_usd - least) / max(1.0, abs(best.cost_usd))
        if gap <= CERTIFIED_GAP_FRAC or count == most_passes:
            break
        if rises and gap > _BOLD_BELOW_FRAC:  # a step back towards what is known to be good
            known = np.maximum(best.peak_kwh, year.least_kwh)
            caps = _WEIGHT_OF_MASTER * caps + (1.0 - _WEIGHT_OF_MASTER) * known
        done = year.walk(caps)
        best = done if done.cost_usd <= best.cost_usd else best
        count += 1
    return _result(year, best, least, gap, count)


def _result(year: _Year, best: _Pass, least: float, gap: float, count: int) -> DemandUse:
    """The schedule billed at the true prices, and what is proven about it."""
    task, charges, wanted = year.task, year.charges, best.wanted_kwh
    note = year.note
    if not note and gap > CERTIFIED_GAP_FRAC:
        note = (
            f"Not certified as the least cost: after {count} passes it is proven to lie within a share of "
            f"{gap:.1e} of it."
        )
    above = task.net_kwh > charges.lowest(best.cap_kwh)[0][charges.cell]
    fill = np.where(above, wanted[0], wanted[1])
    return DemandUse(
        use=BestUse(task, best.stored_kwh, (fill, wanted[2], wanted[3]), not note, note, "thresholds"),
        cap_kw=best.cap_kwh / task.year.step_h,
        peak_kw=best.peak_kwh / task.year.step_h,
        demand_usd=charges.usd(best.peak_kwh),
        least_usd=-math.inf if year.note else least,
        gap_frac=math.inf if year.note else gap,
        pass_count=count,
    )
