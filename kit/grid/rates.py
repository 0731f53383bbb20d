"""A rate plan laid over a calendar year: which period each step is in, and what a kWh costs there."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from kit.grid.bill_days import Segments, class_of_day, dates_of, segments
from kit.grid.demand_charges import DemandTable, demand_tables
from kit.grid.ladders import Ladder, ladders, season_shares
from kit.grid.price_series import StepPrices, step_prices
from kit.grid.step_shares import share_of_steps

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.rate_models import RatePlan

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

KEPT_TABLES = 128  # by object and by what a plan says


@dataclass(frozen=True, eq=False)
class VersionTable:
    """One plan laid over the year: of a plan that changes, the part that one version says.

    Columns are the P periods, then the same again for the kWh of each critical peak; C of them.

    Attributes:
        mine: 1.0 in the segments in which it is in force, shape (T,).
        cell: segment * C + column of each entry; an entry is a step, or a part of one that a
            period's hours cut, shape (m,).
        cut: step of each entry and its share of that step, both (m,); None where no step is cut.
        period: period holding most of each step, shape (n,).
        rider_shares: rider slug -> share of each segment's days in its seasons, shape (T,).
    """

    plan: RatePlan
    mine: Floats
    cell: Ints
    cut: tuple[Ints, Floats] | None
    period: Ints
    column_count: int
    ladders: tuple[Ladder, ...]
    demand: tuple[DemandTable, ...]
    rider_shares: dict[str, Floats]
    series: StepPrices | None

    def by_column(self, energy_kwh: Floats) -> Floats:
        """Energy of each segment and column, (..., T, C), from a year of steps, or many, (..., n) [kWh]."""
        size = self.mine.size * self.column_count
        sums = np.empty((*energy_kwh.shape[:-1], size))
        for year in np.ndindex(sums.shape[:-1]):
            entries = energy_kwh[year]
            if self.cut is not None:
                step, share = self.cut
                entries = entries[step] * share
            sums[year] = np.bincount(self.cell, weights=entries, minlength=size)
        by_cell = sums.reshape(*sums.shape[:-1], self.mine.size, self.column_count)
        return np.asarray(by_cell * self.mine[:, None], dtype=np.float64)

    def of_steps(self, by_cell: Floats) -> Floats:
        """A price by segment and column (T, C) spread over the steps; a cut step takes the mean by share."""
        entries = np.asarray(by_cell.ravel()[self.cell], dtype=np.float64)
        if self.cut is None:
            return entries
        step, share = self.cut
        return np.asarray(np.bincount(step, weights=entries * share, minlength=self.period.size))


@dataclass(frozen=True, eq=False)
class PlanTable:
    """A plan prepared for one year, so that many bills can be made from it.

    Attributes:
        segments: bills, cut where the plan changes; T of them.
        of_step: segment of each step, shape (n,).
        versions: the plan and those that follow it.
    """

    plan: RatePlan
    year: Year
    segments: Segments
    of_step: Ints
    versions: tuple[VersionTable, ...]

    @cached_property
    def order(self) -> Ints:
        """The segments in the order of time, the true-up last, shape (T,)."""
        month = self.plan.export.true_up_month - 1
        last = int(np.flatnonzero(self.segments.bill == month)[-1])
        return np.roll(np.arange(self.segments.count), -last - 1)

    @property
    def period_names(self) -> tuple[str, ...]:
        """Slugs of the plan's periods, in its order; of a plan that changes, of all its versions."""
        return tuple(dict.fromkeys(slug for v in self.versions for slug in v.plan.energy))

    @property
    def period(self) -> Ints:
        """Index into period_names of the period holding most of each step, shape (n,)."""
        names = self.period_names
        number = [np.array([names.index(slug) for slug in v.plan.energy])[v.period] for v in self.versions]
        return np.asarray(np.stack(number)[self.segments.version[self.of_step], np.arange(self.of_step.size)])


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


_tables: dict[tuple[int | str, int], tuple[RatePlan, PlanTable]] = {}


def prepare(plan: RatePlan, year: Year) -> PlanTable:
    """The plan laid over a year; kept, so asking again for the same two objects is free.

    A plan that says the same has the same table, unless it reads a file.

    Raises:
        PriceSeriesError: the plan's price series does not cover the year, or cannot be read.
    """
    key = (id(plan), id(year))  # what is kept holds both, so neither number is used again
    if key not in _tables:
        alone = any(one.series is not None for one in plan.versions())
        said = key if alone else (plan.model_dump_json(), id(year))
        found = _tables.get(said)
        table = _lay_out(plan, year) if found is None else found[1]
        for one in {key, said}:
            while len(_tables) >= KEPT_TABLES:
                _tables.pop(next(iter(_tables)))
            _tables[one] = (plan, table)
    return _tables[key][1]


def prices(
    plan: RatePlan, year: Year, import_kwh: Floats | None = None, export_kwh: Floats | None = None
) -> PriceYear:
    """Marginal prices of the year, riders and percentage lines included.

    They steer the dispatch; the bill itself follows tiers, minimum and credits exactly. Tiers: the first,
    or with `import_kwh` (and `export_kwh`) of each step, shape (n,), the tier in which each bill ends.
    Export under net metering is worth what the kWh would have cost, less riders on import; under net
    billing its own price. What the prices leave out is named by `left_out_of_prices`.
    """
    table = prepare(plan, year)
    bought, sold = np.zeros(year.n), np.zeros(year.n)
    of_version = table.segments.version[table.of_step]
    drawn = None if import_kwh is None else np.asarray(import_kwh, dtype=np.float64)
    sent = np.zeros(year.n) if export_kwh is None else np.asarray(export_kwh, dtype=np.float64)
    for number, version in enumerate(table.versions):
        one, other = _version_prices(version, _tier_prices(version, drawn, sent))
        here = of_version == number
        bought[here], sold[here] = one[here], other[here]
    return PriceYear(bought, sold, table.period, table.period_names)


def _tier_prices(version: VersionTable, drawn: Floats | None, sent: Floats) -> Floats:
    """Energy price of each segment and column, shape (T, C): first tier, or the one in which a bill ends."""
    price = np.zeros((version.mine.size, version.column_count))
    net = None
    if drawn is not None:
        netted = version.plan.export.kind == "net_metering"
        net = version.by_column(drawn) - (version.by_column(sent) if netted else 0.0)
    for ladder in version.ladders:
        own = ladder.first_usd_per_kwh
        if net is not None:
            own = ladder.marginal_usd_per_kwh(np.maximum(net @ ladder.columns, 0.0))
        price += own[:, None] * ladder.columns
    return price


def _version_prices(version: VersionTable, energy_usd_per_kwh: Floats) -> tuple[Floats, Floats]:
    plan, count = version.plan, version.mine.size
    energy_tax, rider_tax, credit_tax = (1.0 + tax_frac(plan, part) for part in ("energy", "rider", "credit"))
    billed, always = np.zeros(count), np.zeros(count)
    for slug, rider in plan.riders.items():
        price = version.rider_shares[slug] * rider.price_usd_per_kwh * rider_tax
        billed, always = (billed + price, always) if rider.counts == "billed" else (billed, always + price)
    retail = version.of_steps(energy_usd_per_kwh * energy_tax + billed[:, None])
    bought = retail + version.of_steps(np.repeat(always[:, None], version.column_count, axis=1))
    if version.series is not None:
        bought = bought + version.series.import_usd_per_kwh * energy_tax
    if plan.export.kind == "net_metering":
        return bought, retail.copy()
    if plan.export.kind == "none":
        return bought, np.zeros(retail.size)
    if plan.export.price_from_series and version.series is not None:
        return bought, version.series.export_usd_per_kwh * credit_tax
    own = np.tile(export_prices(plan), 1 + len(plan.critical_peaks)) * credit_tax
    return bought, version.of_steps(np.tile(own, (count, 1)))


def tax_frac(plan: RatePlan, part: str) -> float:
    """Percentage lines on one more USD of a part of the bill: energy, rider, demand, fixed or credit."""
    total = 0.0
    for tax in plan.taxes.values():
        counts = tax.of == part or tax.of == "subtotal" or (tax.of == "charges" and part != "credit")
        total += tax.frac * (counts + (total if tax.with_lines_before else 0.0))
    return total


def export_prices(plan: RatePlan) -> Floats:
    """Net-billing price of each period, shape (P,) [USD/kWh]."""
    by_period = plan.export.period_price_usd_per_kwh
    if by_period is None:
        return np.full(len(plan.energy), plan.export.price_usd_per_kwh or 0.0)
    return np.array([by_period[slug] for slug in plan.energy])


def has_tiers(plan: RatePlan) -> bool:
    """Whether the price of a kWh depends on how many a bill holds."""
    return any("tiers" in name for name in left_out_of_prices(plan))


def left_out_of_prices(plan: RatePlan) -> tuple[str, ...]:
    """What the bill has and the marginal prices that steer a battery do not, in words."""
    found: dict[str, bool] = {}
    for one in plan.versions():
        over_all = [one.tiers] if one.tiers else list((one.season_tiers or {}).values())
        tiers = [t for t in (*over_all, *(p.tiers for p in one.energy.values())) if t and len(t) > 1]
        falls = any(b.price_usd_per_kwh < a.price_usd_per_kwh for t in tiers for a, b in pairwise(t))
        export = one.export
        limited = (export.earns_up_to_kwh_per_month, export.earns_up_to_usd_per_month) != (None, None)
        parts = {
            "declining tiers": falls,
            "tiers": bool(tiers) and not falls,
            "a minimum bill": one.minimum_usd_per_month > 0,
            "demand charges": bool(one.demand),
            "a demand ratchet": any(d.ratchet is not None for d in one.demand.values()),
            "net metering": export.kind == "net_metering",
            "a yearly true-up": export.leftover == "settled_yearly",
            "limits on export credit": limited or export.offsets_up_to_frac < 1,
        }
        found |= {name: True for name, there in parts.items() if there}
    return tuple(found)


def _lay_out(plan: RatePlan, year: Year) -> PlanTable:
    cut = segments(plan, year)
    of_step = cut.of_day[year.day_number]
    made = tuple(
        _version(one, year, cut, of_step, (cut.version == number).astype(float))
        for number, one in enumerate(plan.versions())
    )
    return PlanTable(plan=plan, year=year, segments=cut, of_step=of_step, versions=made)


def _version(plan: RatePlan, year: Year, cut: Segments, of_step: Ints, mine: Floats) -> VersionTable:
    shares = _column_shares(plan, year)
    step, column = np.nonzero(shares)
    whole = len(step) == year.n
    seasons = season_shares(plan, year, cut)
    return VersionTable(
        plan=plan,
        mine=mine,
        cell=of_step[step] * shares.shape[1] + column,
        cut=None if whole else (step.astype(np.int64), shares[step, column]),
        period=np.argmax(sum(np.split(shares, shares.shape[1] // len(plan.energy), axis=1)), axis=1),
        column_count=shares.shape[1],
        ladders=ladders(plan, year, cut),
        demand=demand_tables(plan, year, cut, mine),
        rider_shares={
            slug: np.asarray(sum(seasons[s] for s in rider.seasons or plan.seasons))
            for slug, rider in plan.riders.items()
        },
        series=None if plan.series is None else step_prices(plan.series, year),
    )


def _column_shares(plan: RatePlan, year: Year) -> Floats:
    """Share of each step in each column, shape (n, C)."""
    plain = np.stack([share_of_steps(plan, year, period) for period in plan.energy.values()], axis=1)
    events = [
        np.stack([share_of_steps(plan, year, period, event) for period in plan.energy.values()], axis=1)
        for event in plan.critical_peaks.values()
    ]
    for inside in events:
        plain = np.maximum(plain - inside, 0.0)
    return np.hstack([plain, *events])


def day_is_weekend(plan: RatePlan, year: Year) -> NDArray[np.bool_]:
    """True for each local day that is billed as weekend, holidays that count so included, shape (days,)."""
    return np.asarray(class_of_day(plan, dates_of(year)) == 1)
