"""Demand charges: which intervals they read, and the kW they bill, ratchets included."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kit.grid.bill_days import BILL_COUNT, Segments, dates_of, season_of_day
from kit.grid.ladders import season_shares
from kit.grid.step_shares import share_of_steps

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.rate_models import RatePlan
    from kit.study.rate_parts import DemandCharge, Ratchet

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class DemandTable:
    """One demand charge laid over the year.

    Attributes:
        counts: shape (n // width,), 1.0 where the interval is inside the charge's hours.
        width: steps averaged into one interval.
        segment: segment of each interval, shape (n // width,).
        price_usd_per_kw: of each segment, by its share of the bill, shape (T,) [USD/kW].
        free_kw: the first kW, which cost nothing.
        sets_ratchet: which bills may set the ratchet, shape (12,), 0 or 1.
    """

    name: str
    counts: Floats
    width: int
    segment: Ints
    price_usd_per_kw: Floats
    free_kw: float
    ratchet: Ratchet | None
    sets_ratchet: Floats

    def billed_kw(self, import_kwh: Floats, step_h: float, bill_of: Ints) -> Floats:
        """kW billed in each segment (T,) for the import of each step (n,); 0 where nothing is charged."""
        mean_kw = import_kwh.reshape(-1, self.width).mean(axis=1) / step_h
        peak_kw = np.zeros(bill_of.size)
        np.maximum.at(peak_kw, self.segment, mean_kw * self.counts)
        read_kw = np.maximum(peak_kw, self._ratchet_kw(peak_kw, bill_of)[bill_of])
        return np.maximum(read_kw - self.free_kw, 0.0) * (self.price_usd_per_kw > 0.0)

    def _ratchet_kw(self, peak_kw: Floats, bill_of: Ints) -> Floats:
        """Least kW that each bill is read at, shape (12,). Bills before January are those of December
        back, unless the plan states the highest demand of the year before."""
        least = np.zeros(BILL_COUNT)
        if self.ratchet is None:
            return least
        of_bill = np.zeros(BILL_COUNT)
        np.maximum.at(of_bill, bill_of, peak_kw)
        of_bill *= self.sets_ratchet
        known = self.ratchet.before_kw
        for back in range(1, self.ratchet.months_back + 1):
            before = np.roll(of_bill, back)
            if known is not None:
                before[:back] = known
            least = np.maximum(least, before)
        return least * self.ratchet.frac


def demand_tables(plan: RatePlan, year: Year, cut: Segments, mine: Floats) -> tuple[DemandTable, ...]:
    """Every demand charge of one plan. `mine`: 1.0 in the segments where it is in force, shape (T,)."""
    return tuple(_table(plan, year, cut, mine, slug, charge) for slug, charge in plan.demand.items())


def _table(
    plan: RatePlan, year: Year, cut: Segments, mine: Floats, slug: str, charge: DemandCharge
) -> DemandTable:
    width = max(1, round(charge.interval_min / (60.0 * year.step_h)))
    inside = share_of_steps(plan, year, charge).reshape(-1, width).mean(axis=1)
    shares = season_shares(plan, year, cut)
    active = sum((shares[s] for s in charge.seasons or plan.seasons), np.zeros(cut.count))
    setting = charge.ratchet.seasons if charge.ratchet is not None else None
    first_season = season_of_day(plan, dates_of(year))[
        np.array([np.flatnonzero(cut.of_day == k)[0] for k in range(cut.count)])
    ]
    sets = np.zeros(BILL_COUNT)
    sets[cut.bill[[setting is None or season in setting for season in first_season]]] = 1.0
    return DemandTable(
        name=f"demand {slug}",
        counts=(inside >= 0.5).astype(float),
        width=width,
        segment=cut.of_day[year.day_number.reshape(-1, width)[:, 0]],
        price_usd_per_kw=charge.price_usd_per_kw * active * cut.share * mine,
        free_kw=charge.free_kw,
        ratchet=charge.ratchet,
        sets_ratchet=sets,
    )
