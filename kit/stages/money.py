"""Fuel, emissions, upkeep and cash of each option over the years the household stays."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pandas as pd

from kit.account.cash import (
    Escalation,
    Loan,
    Piece,
    cash_arrays,
    cash_table,
    fuel_usd,
    paid_usd,
    stale_usd,
    system_cost,
    trips_usd,
    up_front_usd,
)
from kit.account.emissions import embodied_co2e_kg, fuel_co2e_kg, grid_co2e_kg
from kit.account.measures import Measures, measures
from kit.account.time_value import Floats
from kit.account.upkeep import exercise_run, replacement_years, service_usd_by_year, unused_life_frac
from kit.stages.daily import Daily
from kit.stages.outage import OutageSide
from kit.stages.programme import income_by_year
from kit.stages.sources import DO_NOTHING, Sources
from kit.stages.year_figures import YearFigures, year_figures
from kit.study import Study
from kit.study.equipment_models import Cost
from kit.study.models import Money, Option, StudyModel
from kit.systems.fuels import fuel_facts
from kit.systems.generator import fuel_per_h


@dataclass(frozen=True, eq=False)
class Flows:
    """What flows in and out of one option. Yearly figures are year 1 at today's prices.

    lines: cash by line (N+1,), negative when money leaves; `cash` is their table, index year 0..N.
    `fuel` in the set's unit, exercise included.
    """

    up_front_usd: float
    fuel_usd: float
    upkeep_usd: float
    recharge_usd: float
    lost_load_usd: float | None
    run_h: float
    fuel: float
    fuel_unit: str
    co2e_kg: float
    embodied_co2e_kg: float | None
    co2e_kg_of_stay: float | None
    onsite_nox_g: float
    onsite_co_g: float
    lines: dict[str, Floats]

    @cached_property
    def cash(self) -> pd.DataFrame:
        return cash_table(self.lines)


@dataclass(frozen=True, eq=False)
class Account:
    """The flows of one option and the measures of its money against doing nothing."""

    flows: Flows
    measures: Measures


def account(
    study: Study, options: dict[str, Sources], daily: dict[str, Daily], outages: dict[str, OutageSide]
) -> dict[str, Account]:
    """Cash and measures of every option, each against doing nothing."""
    model, missed = study.model, outages[DO_NOTHING].year
    figures = {s: year_figures(option, daily[s], outages[s], missed) for s, option in options.items()}
    flows = {slug: flows_of(model, option, figures[slug]) for slug, option in options.items()}
    made = {}
    for slug in options:
        made[slug] = Account(
            flows[slug],
            measures(
                flows[slug].lines,
                flows[DO_NOTHING].lines,
                model.money.discount_rate_frac,
                timing=model.money.timing,
                reinvest_rate_frac=model.money.reinvest_rate_frac,
                lost_load_priced=model.money.values_lost_load,
                missed_kwh_by_year=missed.must_unserved_kwh,
                avoided_outage_h_by_year=max(0.0, missed.must_unserved_h - figures[slug].unserved_h),
            ),
        )
    return made


def flows_of(model: StudyModel, option: Sources, figures: YearFigures) -> Flows:
    """The flows of one option from its figures; `option` is read for its blocks, curve and site work."""
    money, years, block = model.money, model.asked.stay_years, option.option
    engine = _engine(model, option, figures, years)
    recharge_usd, recharge_kwh = _recharge(option, figures)
    recharge_usd += figures.forewarned_usd
    per_h = money.lost_load_usd_per_h
    lost_usd = figures.losses_usd if per_h is None else per_h * figures.unserved_h
    delivered_kwh = figures.throughput_kwh + figures.drawn_kwh
    pieces = _pieces(block, figures, engine.run_h, delivered_kwh, years) if block else []
    if option.site_work_usd:
        pieces.append(Piece(Cost(price_usd=0.0, install_usd=option.site_work_usd)))
    bought_kwh = figures.import_kwh + recharge_kwh
    credited_kwh = model.export_credit_frac * figures.export_kwh
    co2e_kg = engine.co2e_kg + grid_co2e_kg(bought_kwh, model.grid_co2e_kg_per_kwh)
    co2e_kg -= grid_co2e_kg(credited_kwh, model.grid_co2e_kg_per_kwh)
    embodied_kg = embodied_co2e_kg(pieces)
    lines = cash_arrays(
        years,
        pieces,
        bill_usd_by_year=figures.bill_usd_by_year[:years] + recharge_usd,
        fuel_usd_by_year=engine.fuel_usd,
        service_usd_by_year=engine.service_usd_by_year,
        lost_load_usd_by_year=lost_usd or 0.0,
        trips_usd_by_year=engine.trips_usd,
        programme_usd_by_year=_income(option, figures, years),
        carbon_usd_by_year=co2e_kg / 1000.0 * money.carbon_usd_per_t,
        loan=loan_of(money),
        escalation=_escalation(money),
        timing=money.timing,
    )
    return Flows(
        up_front_usd=up_front_usd(pieces) - (money.loan.share_frac * paid_usd(pieces) if money.loan else 0.0),
        fuel_usd=engine.fuel_usd,
        upkeep_usd=float(engine.service_usd_by_year.mean()) + sum(p.cost.upkeep_usd_per_year for p in pieces),
        recharge_usd=recharge_usd,
        lost_load_usd=lost_usd,
        run_h=engine.run_h,
        fuel=engine.fuel,
        fuel_unit=engine.fuel_unit,
        co2e_kg=co2e_kg,
        embodied_co2e_kg=embodied_kg,
        co2e_kg_of_stay=None if embodied_kg is None else years * co2e_kg + embodied_kg,
        onsite_nox_g=engine.onsite_nox_g,
        onsite_co_g=engine.onsite_co_g,
        lines=lines,
    )


def _escalation(money: Money) -> Escalation:
    return Escalation(
        electricity_frac=money.electricity_escalation_frac,
        fuel_frac=money.fuel_escalation_frac,
        upkeep_frac=money.upkeep_escalation_frac,
        replacement_frac=money.replacement_escalation_frac,
    )


def _income(option: Sources, figures: YearFigures, years: int) -> np.ndarray:
    """Programme income of years 1..N, nothing after its contract [usd]."""
    programme = option.option.programme if option.option else None
    if programme is None or figures.programme_usd is None:
        return np.zeros(years)
    return income_by_year(years, programme.contract_years, figures.programme_usd)


def loan_of(money: Money) -> Loan | None:
    """The loan of a study; its inflation is 0 in nominal money."""
    terms = money.loan
    if terms is None:
        return None
    inflation = (money.inflation_frac or 0.0) if money.money_basis == "real" else 0.0
    return Loan(terms.share_frac, terms.rate_frac, terms.term_years, inflation)


@dataclass(frozen=True)
class _Engine:
    """A year of the generator, outages and exercise together."""

    run_h: float = 0.0
    fuel: float = 0.0
    fuel_unit: str = "l"
    fuel_usd: float = 0.0
    trips_usd: float = 0.0
    service_usd_by_year: np.ndarray = field(default_factory=lambda: np.zeros(1))
    co2e_kg: float = 0.0
    onsite_nox_g: float = 0.0
    onsite_co_g: float = 0.0


def _engine(model: StudyModel, option: Sources, figures: YearFigures, years: int) -> _Engine:
    g = option.option.generator if option.option else None
    curve = option.generator
    if g is None or curve is None:
        return _Engine(service_usd_by_year=np.zeros(years))
    tests = exercise_run(g.exercise, curve.running_kw, lambda kw: float(fuel_per_h(curve, kw)))
    run_h, fuel = figures.run_h + tests.run_h, figures.fuel + tests.fuel
    # grams follow the fuel: at a few per cent of its rating a set emits far more per kWh than at full load
    full_kwh = fuel * curve.rated_kw / float(fuel_per_h(curve, curve.rated_kw))
    terms = model.fuels[g.fuel]
    price = terms.price_usd_per_m3 if curve.unit == "m3" else terms.price_usd_per_l
    if price is None:
        raise ValueError(f"fuels.{g.fuel} needs price_usd_per_{curve.unit}")
    replaced = replacement_years(g.life_years, g.life_h, run_h, years)
    served = g.service if g.care == "well" else {}  # poor care: the regular service is not done
    burnt_usd = float(fuel_usd(fuel, price, terms.fixed_usd_per_year, terms.delivery_usd, curve.tank_l))
    spoilt_usd = float(
        stale_usd(curve.fuel_on_site_l or 0.0, fuel, terms.keeps_months, price, terms.stale_value_frac)
    )
    return _Engine(
        run_h=run_h,
        fuel=fuel,
        fuel_unit=curve.unit,
        fuel_usd=burnt_usd + spoilt_usd,
        trips_usd=float(
            trips_usd(fuel, terms.l_per_trip, terms.trip_usd, terms.trip_h, model.money.person_usd_per_h)
        ),
        service_usd_by_year=service_usd_by_year(served, run_h, years, g.break_in_h, g.break_in_usd, replaced),
        co2e_kg=fuel_co2e_kg(fuel, fuel_facts(g.fuel).co2e_kg_per_unit),
        onsite_nox_g=full_kwh * g.onsite_nox_g_per_kwh,
        onsite_co_g=full_kwh * g.onsite_co_g_per_kwh,
    )


def _recharge(option: Sources, figures: YearFigures) -> tuple[float, float]:
    """Cost and grid energy of charging again what outages took, at the year's mean price per kWh."""
    if option.battery is None or figures.drawn_kwh <= 0:
        return 0.0, 0.0
    energy = figures.drawn_kwh / figures.charge_efficiency_frac
    return energy * figures.energy_usd_per_kwh, energy


def _pieces(
    block: Option, figures: YearFigures, run_h: float, delivered_kwh: float, years: int
) -> list[Piece]:
    """Every piece of equipment with its replacements and what is left of the last one."""
    pieces = []
    if block.battery is not None:
        b = block.battery
        cost = system_cost(b.cost, b.unit_count, b.packs_per_unit, b.pack_price_usd)
        life = None if b.throughput_kwh is None else b.throughput_kwh * b.unit_count
        life_years = b.life_years if figures.life_years is None else figures.life_years
        piece = _piece(cost, life_years, life, delivered_kwh, years)
        pieces.append(replace(piece, free_count=figures.free_count))
    if block.generator is not None:
        g = block.generator
        pieces.append(_piece(g.cost, g.life_years, g.life_h, run_h, years))
    if block.solar is not None:
        pieces.append(_piece(block.solar.cost, block.solar.life_years, None, 0.0, years))
    if block.transfer is not None:
        pieces.append(Piece(block.transfer.cost))  # part of the house: not replaced, nothing left to sell
    return pieces


def _piece(cost: Cost, life_years: float, life_use: float | None, use_by_year: float, years: int) -> Piece:
    return Piece(
        cost,
        replacement_years(life_years, life_use, use_by_year, years),
        unused_life_frac(life_years, life_use, use_by_year, years),
    )
