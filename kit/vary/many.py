"""The money of every option under many settings at once: the formulas of account() on arrays.

A moved number stands in the model as an array (n,), one value a setting; what is not moved stays a plain
number. A test holds every figure equal to account() on random studies.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.account.cash import fuel_usd, loan_flows, stale_usd, system_cost, trips_usd
from kit.account.time_value import flow_years
from kit.account.upkeep import DATE_DIGITS
from kit.stages.money import loan_of
from kit.stages.sources import Sources
from kit.study.equipment_models import Cost, Generator
from kit.study.models import Option, StudyModel
from kit.systems.fuels import fuel_facts
from kit.systems.generator import fuel_per_h

Floats = NDArray[np.float64]
HALF_DATE = 0.5 * 10.0**-DATE_DIGITS


@dataclass(frozen=True, eq=False)
class ManyFigures:
    """kit.stages.year_figures.YearFigures of one option under n settings: every number an array (n,).

    bill_usd_by_year (n, N). life_years 0 where the equipment's own figure counts. losses_usd: None where
    the study has no losses by name or published value.
    """

    bill_usd_by_year: Floats
    energy_usd_per_kwh: Floats
    import_kwh: Floats
    export_kwh: Floats
    throughput_kwh: Floats
    life_years: Floats
    free_count: Floats
    programme_usd: Floats
    run_h: Floats
    fuel: Floats
    drawn_kwh: Floats
    charge_efficiency_frac: Floats
    unserved_h: Floats
    forewarned_usd: Floats
    losses_usd: Floats | None


@dataclass(frozen=True, eq=False)
class ManyLifetimes:
    """The money that ranks one option: present values [usd] (n,); paid_usd_by_year (n, N+1).

    with_lost_load_usd is nan where lost load has no price. paid_usd_by_year: all cash but lost load,
    negative when money leaves.
    """

    cost_usd: Floats
    with_lost_load_usd: Floats
    up_front_usd: Floats
    paid_usd_by_year: Floats


@dataclass(eq=False)
class _Flows:
    """Money that leaves, positive: recurring (n, N) by the timing asked, dated (n, N+1) at a year's end."""

    recurring_usd: Floats
    dated_usd: Floats
    paid_usd: Floats  # price, installation, permits (n,)
    incentive_usd: Floats
    upkeep_usd: Floats


def lifetimes_of(
    model: StudyModel, options: Mapping[str, Sources], figures: Mapping[str, ManyFigures]
) -> dict[str, ManyLifetimes]:
    """What ranks every option, in the order of `options`.

    Numbers of the model may be arrays (n,); the years of the stay and a loan's term are one for all.
    Raises ValueError where a generator's fuel has no price.
    """
    return {slug: _lifetime(model, option, figures[slug]) for slug, option in options.items()}


def _lifetime(model: StudyModel, option: Sources, figures: ManyFigures) -> ManyLifetimes:
    money, years, count = model.money, model.asked.stay_years, figures.run_h.size
    dates, ends = flow_years(years, money.timing), flow_years(years)
    none = np.zeros(count)
    flows = _Flows(np.zeros((count, years)), np.zeros((count, years + 1)), none, none, none)
    run_h, fuel = _engine(model, option, figures, flows, dates)
    if option.option:
        _pieces(model, option.option, figures, run_h, flows)
    flows.paid_usd = flows.paid_usd + option.site_work_usd

    recharge_kwh = none if option.battery is None else figures.drawn_kwh / figures.charge_efficiency_frac
    electricity_usd = figures.bill_usd_by_year[:, :years] + _column(
        recharge_kwh * figures.energy_usd_per_kwh + figures.forewarned_usd
    )
    kg = (figures.import_kwh + recharge_kwh) * model.grid_co2e_kg_per_kwh
    kg = kg - model.export_credit_frac * figures.export_kwh * model.grid_co2e_kg_per_kwh
    g = option.option.generator if option.option else None
    if g is not None:
        kg = kg + fuel * fuel_facts(g.fuel).co2e_kg_per_unit
    programme = option.option.programme if option.option else None
    flows.recurring_usd += electricity_usd * _grown(money.electricity_escalation_frac, dates)
    flows.recurring_usd += _column(flows.upkeep_usd) * _grown(money.upkeep_escalation_frac, dates)
    flows.recurring_usd += _column(kg / 1000.0 * money.carbon_usd_per_t)
    if programme is not None:
        flows.recurring_usd -= _column(figures.programme_usd) * (np.arange(years) < programme.contract_years)

    up_front_usd = flows.paid_usd - flows.incentive_usd
    flows.dated_usd[:, 0] += up_front_usd
    loan = loan_of(money)
    if loan is not None:
        lent_usd, owed_usd = loan_flows(loan, flows.paid_usd, years)
        flows.dated_usd[:, 0] -= lent_usd
        flows.dated_usd[:, 1:] += owed_usd
        up_front_usd = up_front_usd - lent_usd

    at, at_end = _grown(money.discount_rate_frac, dates), _grown(money.discount_rate_frac, ends)
    cost_usd = flows.dated_usd[:, 0] + (flows.dated_usd[:, 1:] / at_end + flows.recurring_usd / at).sum(
        axis=1
    )
    per_h = money.lost_load_usd_per_h
    lost_usd = figures.losses_usd if per_h is None else per_h * figures.unserved_h
    priced = money.values_lost_load and lost_usd is not None
    with_usd = cost_usd + (_column(lost_usd) / at).sum(axis=1) if priced else np.full(count, np.nan)
    paid_usd = -flows.dated_usd
    paid_usd[:, 1:] -= flows.recurring_usd
    return ManyLifetimes(cost_usd, with_usd, np.broadcast_to(up_front_usd, (count,)), paid_usd)


def _engine(
    model: StudyModel, option: Sources, figures: ManyFigures, flows: _Flows, dates: Floats
) -> tuple[Floats, Floats]:
    """Run hours and fuel of a year, exercise included; fuel, trips and service go to the flows."""
    g = option.option.generator if option.option else None
    curve = option.generator
    if g is None or curve is None:
        return figures.run_h, figures.fuel
    money, terms = model.money, model.fuels[g.fuel]
    test_h = np.asarray(g.exercise.runs_per_year * g.exercise.minutes / 60.0)
    run_h = figures.run_h + test_h
    fuel = figures.fuel + test_h * fuel_per_h(curve, g.exercise.output_frac * curve.running_kw)
    price = terms.price_usd_per_m3 if curve.unit == "m3" else terms.price_usd_per_l
    if price is None:
        raise ValueError(f"fuels.{g.fuel} needs price_usd_per_{curve.unit}")
    burnt_usd = fuel_usd(fuel, price, terms.fixed_usd_per_year, terms.delivery_usd, curve.tank_l)
    spoilt_usd = stale_usd(
        curve.fuel_on_site_l or 0.0, fuel, terms.keeps_months, price, terms.stale_value_frac
    )
    flows.recurring_usd += _column(burnt_usd + spoilt_usd) * _grown(money.fuel_escalation_frac, dates)
    upkeep = _grown(money.upkeep_escalation_frac, dates)
    fetched_usd = trips_usd(fuel, terms.l_per_trip, terms.trip_usd, terms.trip_h, money.person_usd_per_h)
    flows.recurring_usd += _column(fetched_usd) * upkeep
    flows.recurring_usd += _service_usd(g, run_h, dates.size) * upkeep
    return run_h, fuel


def _service_usd(g: Generator, run_h: Floats, years: int) -> Floats:
    """Cost of service in each year at today's prices (n, N): kit.account.upkeep.service_usd_by_year."""
    count = run_h.size
    period = _period(g.life_years, g.life_h, run_h)
    last = _replaced_count(period, years)
    period = np.where(last > 0, period, 0.0)
    total = np.zeros((count, years))
    served = g.service if g.care == "well" else {}
    for number in range(int(last.max()) + 1):
        start = np.round(number * period, DATE_DIGITS)
        stop = np.where(number < last, np.round((number + 1) * period, DATE_DIGITS), np.inf)
        there = _column((number <= last).astype(float))
        for task in served.values():
            total += (
                there
                * _column(task.price_usd)
                * _due_counts(start, stop, _period(task.every_years, task.every_h, run_h), years)
            )
        if g.break_in_h is not None:
            with np.errstate(divide="ignore"):
                date = start + g.break_in_h / run_h
            done = (number <= last) & (date < stop) & (date <= years)
            total += _column(done * g.break_in_usd) * (_column(_year_of(date)) == np.arange(1, years + 1))
    return total


def _due_counts(start: Floats, stop: Floats, every: Floats, years: int) -> Floats:
    """How often what is due every so many years after `start` is done in each year, before `stop` (n, N)."""
    reach = np.minimum(np.arange(0.0, years + 1.0) + HALF_DATE, _column(stop - HALF_DATE)) - _column(start)
    done = np.floor(np.maximum(reach, 0.0) / _column(every))
    return np.asarray(np.diff(done, axis=1))


def _pieces(model: StudyModel, block: Option, figures: ManyFigures, run_h: Floats, flows: _Flows) -> None:
    """Buy, replace, dispose of and value every piece of equipment."""
    delivered_kwh = figures.throughput_kwh + figures.drawn_kwh
    never, none = np.full(run_h.size, np.inf), np.zeros(run_h.size)
    growth = model.money.replacement_escalation_frac
    if block.battery is not None:
        b = block.battery
        cost = system_cost(b.cost, b.unit_count, b.packs_per_unit, b.pack_price_usd)
        life_years = np.where(figures.life_years > 0.0, figures.life_years, b.life_years)
        life = None if b.throughput_kwh is None else b.throughput_kwh * b.unit_count
        _piece(flows, cost, life_years, life, delivered_kwh, growth, figures.free_count)
    if block.generator is not None:
        g = block.generator
        _piece(flows, g.cost, g.life_years, g.life_h, run_h, growth)
    if block.solar is not None:
        _piece(flows, block.solar.cost, block.solar.life_years, None, none, growth)
    if block.transfer is not None:  # part of the house: not replaced, nothing left to sell
        _piece(flows, block.transfer.cost, never, None, none, growth, wears=False)


def _piece(
    flows: _Flows,
    cost: Cost,
    life_years: ArrayLike,
    life_use: ArrayLike | None,
    use: Floats,
    growth: ArrayLike,
    free_count: ArrayLike = 0,
    wears: bool = True,
) -> None:
    """One piece: kit.account.cash with its replacements and what is left of the last one."""
    years, count = flows.recurring_usd.shape[1], use.size
    flows.paid_usd = flows.paid_usd + cost.price_usd + cost.install_usd + cost.permit_usd
    flows.incentive_usd = flows.incentive_usd + cost.incentive_usd
    flows.upkeep_usd = flows.upkeep_usd + cost.upkeep_usd_per_year
    period = _period(life_years, life_use, use)
    last = _replaced_count(period, years)
    again_usd = cost.price_usd if cost.replacement_usd is None else cost.replacement_usd
    for number in range(1, int(last.max()) + 1):
        year = np.minimum(_year_of(number * period), years)
        paid = np.where(number > np.asarray(free_count), again_usd, 0.0) + cost.disposal_usd
        rows = np.flatnonzero(number <= last)
        grown = paid * (1.0 + np.asarray(growth)) ** year
        flows.dated_usd[rows, year[rows].astype(int)] += np.broadcast_to(grown, (count,))[rows]
    bought = np.where(last > 0, np.round(last * np.where(last > 0, period, 0.0), DATE_DIGITS), 0.0)
    if "residual_frac" in cost.model_fields_set:
        residual_usd = cost.price_usd * np.asarray(cost.residual_frac)
    else:
        worn = (years - bought) / np.asarray(life_years)
        if life_use is not None:
            worn = np.maximum(worn, use * (years - bought) / life_use)
        unused = np.clip(1.0 - worn, 0.0, 1.0) if wears else 0.0
        residual_usd = np.where(last > 0, again_usd, cost.price_usd) * unused
    flows.dated_usd[:, years] += (cost.disposal_usd - residual_usd) * (1.0 + np.asarray(growth)) ** years


def _period(every_years: ArrayLike | None, every_use: ArrayLike | None, use: Floats) -> Floats:
    """Years between two dates due by age or by use, an even use a year (n,); the earlier counts."""
    with np.errstate(divide="ignore"):
        by_use = np.inf if every_use is None else np.asarray(every_use) / use
    return np.broadcast_to(np.minimum(np.inf if every_years is None else every_years, by_use), use.shape)


def _replaced_count(period: Floats, years: int) -> Floats:
    """How many whole periods end before the horizon (n,)."""
    return np.asarray(np.maximum(np.ceil((years - HALF_DATE) / period) - 1.0, 0.0))


def _year_of(date: Floats) -> Floats:
    """The year in whose course, or at whose end, each date falls: kit.account.upkeep.year_of."""
    return np.asarray(np.maximum(1.0, np.ceil(np.round(date, DATE_DIGITS))))


def _grown(rate: Any, dates: Floats) -> Floats:
    """(1 + rate)^date, (1, N) or (n, N)."""
    return np.asarray(_column(1.0 + np.asarray(rate, dtype=float)) ** dates)


def _column(value: Any) -> Floats:
    """One value a setting beside the years: (n, 1) or (1, 1)."""
    return np.asarray(np.atleast_1d(np.asarray(value, dtype=float))[:, None])


def part_of(figures: ManyFigures, rows: NDArray[np.int64]) -> ManyFigures:
    """The figures of some of the settings."""
    names = [name for name, value in vars(figures).items() if value is not None]
    return replace(figures, **{name: getattr(figures, name)[rows] for name in names})
