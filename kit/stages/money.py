"""Fuel, emissions, upkeep and cash of each option over the years the household stays."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from kit.account.cash import (
    Escalation,
    Loan,
    Piece,
    cash_lines,
    fuel_usd,
    paid_usd,
    stale_usd,
    system_cost,
    trips_usd,
    up_front_usd,
)
from kit.account.emissions import embodied_co2e_kg, fuel_co2e_kg, grid_co2e_kg
from kit.account.measures import Measures, measures
from kit.account.upkeep import exercise_run, replacement_years, service_usd_by_year, unused_life_frac
from kit.operate.outage_year import OutageYear
from kit.stages.ageing import Wear
from kit.stages.daily import Daily
from kit.stages.outage import OutageSide
from kit.stages.programme import income_by_year
from kit.stages.sources import DO_NOTHING, Sources
from kit.study import Study
from kit.study.equipment_models import Cost
from kit.study.models import Option
from kit.systems.fuels import fuel_facts
from kit.systems.generator import fuel_per_h


@dataclass(frozen=True, eq=False)
class Flows:
    """What flows in and out of one option. Yearly figures are year 1 at today's prices.

    cash: index year 0..N, negative when money leaves. `fuel` in the set's unit, exercise included.
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
    cash: pd.DataFrame


@dataclass(frozen=True, eq=False)
class Account:
    """The flows of one option and the measures of its money against doing nothing."""

    flows: Flows
    measures: Measures


def account(
    study: Study, options: dict[str, Sources], daily: dict[str, Daily], outages: dict[str, OutageSide]
) -> dict[str, Account]:
    """Cash and measures of every option, each against doing nothing."""
    missed = outages[DO_NOTHING].year
    flows = {
        slug: _flows(study, option, daily[slug], outages[slug], missed) for slug, option in options.items()
    }
    made = {}
    for slug, option in options.items():
        dark_h = unserved_h(option, outages[slug].year, missed)
        made[slug] = Account(
            flows[slug],
            measures(
                flows[slug].cash,
                flows[DO_NOTHING].cash,
                study.model.money.discount_rate_frac,
                timing=study.model.money.timing,
                reinvest_rate_frac=study.model.money.reinvest_rate_frac,
                lost_load_priced=study.model.money.values_lost_load,
                missed_kwh_by_year=missed.must_unserved_kwh,
                avoided_outage_h_by_year=max(0.0, missed.must_unserved_h - dark_h),
            ),
        )
    return made


def unserved_h(option: Sources, year: OutageYear, missed: OutageYear) -> float:
    """Must-run hours without power a year: all of them where a load asked for is on no circuit."""
    if option.unreached:
        return missed.must_unserved_h
    return year.must_unserved_h


def _flows(study: Study, option: Sources, daily: Daily, outage: OutageSide, missed: OutageYear) -> Flows:
    model, money = study.model, study.model.money
    years = model.asked.stay_years
    block, year = option.option, outage.year
    engine = _engine(study, option, year, years)
    recharge_usd, recharge_kwh = _recharge(option, daily, year.drawn_kwh)
    recharge_usd += outage.forewarned_usd
    lost_h = unserved_h(option, year, missed)
    lost_usd = None if money.lost_load_usd_per_h is None else money.lost_load_usd_per_h * lost_h
    if outage.lost_load is not None:
        lost_usd = outage.lost_load.usd_per_year
    delivered_kwh = daily.use.throughput_kwh + year.drawn_kwh
    pieces = _pieces(block, daily.wear, engine.run_h, delivered_kwh, years) if block else []
    if option.site_work_usd:
        pieces.append(Piece(Cost(price_usd=0.0, install_usd=option.site_work_usd)))
    bought_kwh = float(daily.use.import_kwh.sum()) + recharge_kwh
    credited_kwh = model.export_credit_frac * float(daily.use.export_kwh.sum())
    co2e_kg = engine.co2e_kg + grid_co2e_kg(bought_kwh, model.grid_co2e_kg_per_kwh)
    co2e_kg -= grid_co2e_kg(credited_kwh, model.grid_co2e_kg_per_kwh)
    embodied_kg = embodied_co2e_kg(pieces)
    cash = cash_lines(
        years,
        pieces,
        bill_usd_by_year=daily.bill_usd_by_year + recharge_usd,
        fuel_usd_by_year=engine.fuel_usd,
        service_usd_by_year=engine.service_usd_by_year,
        lost_load_usd_by_year=lost_usd or 0.0,
        trips_usd_by_year=engine.trips_usd,
        programme_usd_by_year=_income(option, daily, years),
        carbon_usd_by_year=co2e_kg / 1000.0 * money.carbon_usd_per_t,
        loan=_loan(study),
        escalation=Escalation(
            electricity_frac=money.electricity_escalation_frac,
            fuel_frac=money.fuel_escalation_frac,
            upkeep_frac=money.upkeep_escalation_frac,
            replacement_frac=money.replacement_escalation_frac,
        ),
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
        cash=cash,
    )


def _income(option: Sources, daily: Daily, years: int) -> np.ndarray:
    """Programme income of years 1..N, nothing after its contract [usd]."""
    programme = option.option.programme if option.option else None
    if programme is None or daily.programme_usd is None:
        return np.zeros(years)
    return income_by_year(years, programme.contract_years, daily.programme_usd)


def _loan(study: Study) -> Loan | None:
    terms, money = study.model.money.loan, study.model.money
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


def _engine(study: Study, option: Sources, year: OutageYear, years: int) -> _Engine:
    g = option.option.generator if option.option else None
    curve = option.generator
    if g is None or curve is None:
        return _Engine(service_usd_by_year=np.zeros(years))
    tests = exercise_run(g.exercise, curve.running_kw, lambda kw: float(fuel_per_h(curve, kw)))
    run_h, fuel = year.set_run_h + tests.run_h, year.fuel + tests.fuel
    # grams follow the fuel: at a few per cent of its rating a set emits far more per kWh than at full load
    full_kwh = fuel * curve.rated_kw / float(fuel_per_h(curve, curve.rated_kw))
    terms = study.model.fuels[g.fuel]
    price = terms.price_usd_per_m3 if curve.unit == "m3" else terms.price_usd_per_l
    if price is None:
        raise ValueError(f"fuels.{g.fuel} needs price_usd_per_{curve.unit}")
    replaced = replacement_years(g.life_years, g.life_h, run_h, years)
    served = g.service if g.care == "well" else {}  # poor care: the regular service is not done
    burnt_usd = float(fuel_usd(fuel, price, terms.fixed_usd_per_year, terms.delivery_usd, curve.tank_l))
    spoilt_usd = stale_usd(
        curve.fuel_on_site_l or 0.0, fuel, terms.keeps_months, price, terms.stale_value_frac
    )
    return _Engine(
        run_h=run_h,
        fuel=fuel,
        fuel_unit=curve.unit,
        fuel_usd=burnt_usd + spoilt_usd,
        trips_usd=trips_usd(
            fuel, terms.l_per_trip, terms.trip_usd, terms.trip_h, study.model.money.person_usd_per_h
        ),
        service_usd_by_year=service_usd_by_year(served, run_h, years, g.break_in_h, g.break_in_usd, replaced),
        co2e_kg=fuel_co2e_kg(fuel, fuel_facts(g.fuel).co2e_kg_per_unit),
        onsite_nox_g=full_kwh * g.onsite_nox_g_per_kwh,
        onsite_co_g=full_kwh * g.onsite_co_g_per_kwh,
    )


def _recharge(option: Sources, daily: Daily, drawn_kwh: float) -> tuple[float, float]:
    """Cost and grid energy of charging again what outages took, at the year's mean price per kWh."""
    if option.battery is None or drawn_kwh <= 0:
        return 0.0, 0.0
    energy = drawn_kwh / option.battery.charge_efficiency_frac
    bought = float(daily.use.import_kwh.sum())
    energy_usd = sum(
        float(line.usd.sum()) for line in daily.bill.bill_lines if line.part in ("energy", "rider")
    )
    return energy * energy_usd / bought if bought > 0 else 0.0, energy


def _pieces(block: Option, wear: Wear | None, run_h: float, delivered_kwh: float, years: int) -> list[Piece]:
    """Every piece of equipment with its replacements and what is left of the last one."""
    pieces = []
    if block.battery is not None:
        b = block.battery
        cost = system_cost(b.cost, b.unit_count, b.packs_per_unit, b.pack_price_usd)
        life = None if b.throughput_kwh is None else b.throughput_kwh * b.unit_count
        life_years = b.life_years if wear is None else wear.life_years
        piece = _piece(cost, life_years, life, delivered_kwh, years)
        pieces.append(replace(piece, free_count=wear.free_count) if wear else piece)
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
