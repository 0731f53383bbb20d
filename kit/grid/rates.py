"""A rate plan laid over a calendar year: which period each step is in, and what a kWh costs there."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kit.study.rate_hours import DAY_CLASSES, rest_windows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.rate_models import DemandCharge, EnergyPeriod, RatePlan, Tier

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

MONTH_COUNT = 12
KEPT_TABLES = 64


@dataclass(frozen=True, eq=False)
class Ladder:
    """What one energy line of the plan counts: a period's kWh, or all kWh, in up to T tiers.

    Attributes:
        name: text of the line.
        periods: which periods' kWh it counts, shape (P,), 0 or 1.
        low_kwh, high_kwh: limits of each tier in each month, shape (12, T) [kWh].
        price_usd_per_kwh: shape (12, T) [USD/kWh].
        adder: True for a time-of-use adder on kWh that another ladder counts already.
    """

    name: str
    periods: Floats
    low_kwh: Floats
    high_kwh: Floats
    price_usd_per_kwh: Floats
    adder: bool


@dataclass(frozen=True, eq=False)
class DemandTable:
    """One demand charge: the steps it looks at and its price in each month.

    Attributes:
        counts: shape (n // width,), 1.0 where the interval is inside the charge's hours.
        width: steps averaged into one interval.
        price_usd_per_kw: shape (12,) [USD/kW].
    """

    name: str
    counts: Floats
    width: int
    month_start: Ints
    price_usd_per_kw: Floats


@dataclass(frozen=True, eq=False)
class PlanTable:
    """A plan prepared for one year, so that many bills can be made from it.

    Attributes:
        cell: month * P + period of each entry; an entry is a step, or a part of one that a
            period's hours cut, shape (m,).
        cut: step of each entry and its share of that step, both (m,); None where no step is cut.
        period: period holding most of each step, shape (n,).
        days_in_month: shape (12,).
    """

    plan: RatePlan
    year: Year
    cell: Ints
    cut: tuple[Ints, Floats] | None
    period: Ints
    days_in_month: Floats
    ladders: tuple[Ladder, ...]
    demand: tuple[DemandTable, ...]

    @property
    def period_names(self) -> tuple[str, ...]:
        """Slugs of the plan's periods, in the plan's order."""
        return tuple(self.plan.energy)

    def by_month_and_period(self, energy_kwh: Floats) -> Floats:
        """Energy of each month and period, shape (12, P), from a year of steps (n,) [kWh]."""
        entries = energy_kwh
        if self.cut is not None:
            step, share = self.cut
            entries = energy_kwh[step] * share
        size = MONTH_COUNT * len(self.plan.energy)
        sums = np.bincount(self.cell, weights=entries, minlength=size)
        return np.asarray(sums.reshape(MONTH_COUNT, -1), dtype=np.float64)


@dataclass(frozen=True, eq=False)
class PriceYear:
    """Marginal prices of each step, for deciding when to charge and discharge.

    Attributes:
        import_usd_per_kwh, export_usd_per_kwh: shape (n,) [USD/kWh].
        period: index into period_names, shape (n,).
    """

    import_usd_per_kwh: Floats
    export_usd_per_kwh: Floats
    period: Ints
    period_names: tuple[str, ...]


_tables: dict[tuple[int, int], PlanTable] = {}


def prepare(plan: RatePlan, year: Year) -> PlanTable:
    """The plan laid over a year; kept, so asking again for the same two objects is free."""
    key = (id(plan), id(year))  # the table holds both, so neither number is used again
    if key not in _tables:
        while len(_tables) >= KEPT_TABLES:
            _tables.pop(next(iter(_tables)))
        _tables[key] = _lay_out(plan, year)
    return _tables[key]


def prices(plan: RatePlan, year: Year) -> PriceYear:
    """Marginal prices of the year: first tier, riders and taxes included.

    They steer the dispatch; the bill itself follows tiers, minimum and credits exactly. Export under
    net metering is worth what the kWh would have cost, less riders on import; under net billing its
    own price. Minimum bills and credit that cannot be used make the true worth lower in some months.
    """
    table = prepare(plan, year)
    first = np.zeros((MONTH_COUNT, len(plan.energy)))
    for ladder in table.ladders:
        first += ladder.price_usd_per_kwh[:, :1] * ladder.periods
    energy_tax = 1.0 + sum(t.frac for t in plan.taxes.values())
    rider_tax = 1.0 + sum(t.frac for t in plan.taxes.values() if t.of != "energy")
    billed = sum(r.price_usd_per_kwh for r in plan.riders.values() if r.counts == "billed") * rider_tax
    always = sum(r.price_usd_per_kwh for r in plan.riders.values() if r.counts == "import") * rider_tax
    retail = _of_steps(table, first * energy_tax + billed)
    export = np.zeros(year.n)
    if plan.export.kind == "net_metering":
        export = retail.copy()
    elif plan.export.kind == "net_billing":
        credit_tax = 1.0 + sum(t.frac for t in plan.taxes.values() if t.of == "subtotal")
        export = _of_steps(table, np.tile(export_prices(plan) * credit_tax, (MONTH_COUNT, 1)))
    return PriceYear(retail + always, export, table.period, table.period_names)


def export_prices(plan: RatePlan) -> Floats:
    """Net-billing price of each period, shape (P,) [USD/kWh]."""
    by_period = plan.export.period_price_usd_per_kwh
    if by_period is None:
        return np.full(len(plan.energy), plan.export.price_usd_per_kwh or 0.0)
    return np.array([by_period[slug] for slug in plan.energy])


def _of_steps(table: PlanTable, by_cell: Floats) -> Floats:
    """A price by month and period spread over the steps; a cut step takes the mean by share."""
    entries = np.asarray(by_cell.ravel()[table.cell], dtype=np.float64)
    if table.cut is None:
        return entries
    step, share = table.cut
    return np.asarray(np.bincount(step, weights=entries * share, minlength=table.year.n), dtype=np.float64)


def _lay_out(plan: RatePlan, year: Year) -> PlanTable:
    shares = np.stack([_share(plan, year, period) for period in plan.energy.values()], axis=1)
    step, period = np.nonzero(shares)
    cell = (year.month[step] - 1) * len(plan.energy) + period
    whole = len(step) == year.n
    calendar_year = int(year.index[0].year)
    days = [float(calendar.monthrange(calendar_year, month)[1]) for month in range(1, 13)]
    return PlanTable(
        plan=plan,
        year=year,
        cell=cell.astype(np.int64),
        cut=None if whole else (step.astype(np.int64), shares[step, period]),
        period=np.argmax(shares, axis=1).astype(np.int64),
        days_in_month=np.array(days),
        ladders=tuple(_ladders(plan, np.array(days))),
        demand=tuple(_demand(plan, year, slug, charge) for slug, charge in plan.demand.items()),
    )


def day_is_weekend(plan: RatePlan, year: Year) -> NDArray[np.bool_]:
    """True for each local day of the year that is billed as weekend, holidays included, shape (days,)."""
    weekend = np.zeros(int(year.day_number[-1]) + 1, dtype=bool)
    weekend[year.day_number] = year.weekday >= 5
    if plan.holidays is not None:
        import holidays

        calendar_year = int(year.index[0].year)
        named = holidays.country_holidays(
            plan.holidays.country, subdiv=plan.holidays.subdivision, years=calendar_year
        )
        for date in named:
            if date.year == calendar_year:
                weekend[date.timetuple().tm_yday - 1] = True
    return weekend


def _share(plan: RatePlan, year: Year, block: EnergyPeriod | DemandCharge) -> Floats:
    """Share of each step inside the seasons, days and hours of a block, shape (n,)."""
    weekend = day_is_weekend(plan, year)
    today = weekend[year.day_number].astype(int)
    tomorrow = weekend[np.minimum(year.day_number + 1, len(weekend) - 1)].astype(int)
    season_of = np.array(plan.season_of_month())[year.month - 1]
    inside_h = np.zeros(year.n)
    for season in block.seasons if block.seasons is not None else plan.seasons:
        here = season_of == season
        for number, day_class in enumerate(DAY_CLASSES):
            windows = block.windows(day_class)
            if windows is None:
                windows = rest_windows(plan.energy, season, day_class)
            for start, end in windows:
                inside_h += (here & (today == number)) * _overlap_h(year, start, end)
                inside_h += (here & (tomorrow == number)) * _overlap_h(year, start + 24.0, end + 24.0)
    return np.minimum(inside_h / year.step_h, 1.0)


def _overlap_h(year: Year, start: float, end: float) -> Floats:
    """Hours of each step between two clock hours; hours past 24 are those of the next day."""
    inside = np.minimum(year.hour + year.step_h, end) - np.maximum(year.hour, start)
    return np.maximum(inside, 0.0)


def _ladders(plan: RatePlan, days: Floats) -> list[Ladder]:
    count = len(plan.energy)
    ladders = []
    over_all = plan.season_tiers
    if plan.tiers is not None:
        over_all = {season: plan.tiers for season in plan.seasons}
    if over_all is not None:
        by_month = [over_all[season] for season in plan.season_of_month()]
        ladders.append(_ladder("energy", np.ones(count), by_month, days, adder=False))
    for number, (slug, period) in enumerate(plan.energy.items()):
        if over_all is not None and not period.price_usd_per_kwh:
            continue
        tiers = period.tiers or [_open_tier(period.price_usd_per_kwh or 0.0)]
        mine = (np.arange(count) == number).astype(float)
        name = f"energy {slug}" if over_all is None else f"adder {slug}"
        ladders.append(_ladder(name, mine, [tiers] * MONTH_COUNT, days, adder=over_all is not None))
    return ladders


def _open_tier(price_usd_per_kwh: float) -> Tier:
    from kit.study.rate_models import Tier

    return Tier(price_usd_per_kwh=price_usd_per_kwh)


def _ladder(name: str, periods: Floats, by_month: list[list[Tier]], days: Floats, adder: bool) -> Ladder:
    """Tiers of twelve months as arrays; a month with fewer tiers has empty ones above."""
    width = max(len(tiers) for tiers in by_month)
    low, high = np.full((MONTH_COUNT, width), np.inf), np.full((MONTH_COUNT, width), np.inf)
    price = np.zeros((MONTH_COUNT, width))
    for month, tiers in enumerate(by_month):
        below = 0.0
        for number, tier in enumerate(tiers):
            low[month, number] = below
            price[month, number] = tier.price_usd_per_kwh
            if tier.up_to_kwh_per_month is not None:
                below = tier.up_to_kwh_per_month
            elif tier.up_to_kwh_per_day is not None:
                below = tier.up_to_kwh_per_day * days[month]
            else:
                below = np.inf
            high[month, number] = below
    return Ladder(name, periods, low, high, price, adder)


def _demand(plan: RatePlan, year: Year, slug: str, charge: DemandCharge) -> DemandTable:
    width = max(1, round(charge.interval_min / (60.0 * year.step_h)))
    inside = _share(plan, year, charge).reshape(-1, width).mean(axis=1)
    months = year.month.reshape(-1, width)[:, 0]
    seasons = plan.season_of_month()
    wanted = [charge.seasons is None or season in charge.seasons for season in seasons]
    return DemandTable(
        name=f"demand {slug}",
        counts=(inside >= 0.5).astype(float),
        width=width,
        month_start=np.searchsorted(months, np.arange(1, 13)),
        price_usd_per_kw=charge.price_usd_per_kw * np.array(wanted, dtype=float),
    )
