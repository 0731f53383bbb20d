"""Everyday use of each option and its bills, year by year as the equipment ages."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from kit.grid.bill import Bill, bill
from kit.grid.rates import PriceYear, prices
from kit.house import HouseYear
from kit.operate.everyday import Everyday, clock, hold, plan_hours, without_battery
from kit.stages.sources import Sources
from kit.study import Study
from kit.systems.battery import BatterySystem


@dataclass(frozen=True, eq=False)
class Daily:
    """Everyday use of one option in year 1, its bill, and its bill in every year.

    The three savings are against doing nothing under today's plan and add up to the whole:
    plan change, solar, battery (with whatever the generator draws on standby).
    """

    use: Everyday
    bill: Bill
    bill_usd_by_year: np.ndarray
    saving_from_plan_usd: float
    saving_from_solar_usd: float
    saving_from_battery_usd: float


def everyday_use(study: Study, house: HouseYear, options: dict[str, Sources]) -> dict[str, Daily]:
    """Everyday use and bills of every option, the first of which is doing nothing."""
    years = study.model.asked.stay_years
    baseline_usd = _bill(study.model.rate_plan, house, _plain(house, np.zeros(house.year.n))).total_usd
    made = {}
    for slug, option in options.items():
        use = use_of(house, option, 0)
        first = _bill(option.plan, house, use)
        plan_only = _bill(option.plan, house, _plain(house, np.zeros(house.year.n))).total_usd
        solar_only = _bill(option.plan, house, _plain(house, option.solar_kw)).total_usd
        made[slug] = Daily(
            use=use,
            bill=first,
            bill_usd_by_year=_by_year(house, option, first.total_usd, years),
            saving_from_plan_usd=baseline_usd - plan_only,
            saving_from_solar_usd=plan_only - solar_only,
            saving_from_battery_usd=solar_only - first.total_usd,
        )
    return made


def _plain(house: HouseYear, solar_kw: np.ndarray) -> Everyday:
    return without_battery(house.load_kw, solar_kw, 0.0, house.year.step_h)


def _bill(plan: object, house: HouseYear, use: Everyday) -> Bill:
    return bill(plan, house.year, use.import_kwh, use.export_kwh)  # type: ignore[arg-type]


def _by_year(house: HouseYear, option: Sources, first_usd: float, years: int) -> np.ndarray:
    """Bills of years 1..N at today's prices: solar and battery fade, each year is run again."""
    block = option.option
    solar_fade = block.solar.fade_frac_per_year if block and block.solar else 0.0
    battery_fade = (
        block.battery.fade_frac_per_year
        if block and block.battery and block.battery.everyday != "hold"
        else 0.0
    )
    if solar_fade == 0.0 and battery_fade == 0.0:
        return np.full(years, first_usd)
    return np.array([_bill(option.plan, house, use_of(house, option, age)).total_usd for age in range(years)])


def faded(battery: BatterySystem, fade_frac_per_year: float, age_years: float) -> BatterySystem:
    """The battery after some years: every stored energy shrinks in proportion."""
    left = max(0.0, 1.0 - fade_frac_per_year * age_years)
    return replace(
        battery,
        usable_kwh=battery.usable_kwh * left,
        floor_kwh=battery.floor_kwh * left,
        reserve_kwh=battery.reserve_kwh * left,
        restart_kwh=battery.restart_kwh * left,
        wanted_above_kwh=battery.wanted_above_kwh * left,
    )


def use_of(house: HouseYear, option: Sources, age_years: int) -> Everyday:
    """One year of everyday use at an age of the equipment, in years; a replaced battery is new again."""
    block = option.option
    solar = option.solar_kw
    if block is not None and block.solar is not None:
        solar = solar * (1.0 - block.solar.fade_frac_per_year) ** (age_years % block.solar.life_years)
    if option.battery is None or block is None or block.battery is None:
        return without_battery(house.load_kw, solar, option.standby_kw, house.year.step_h)
    battery = faded(option.battery, block.battery.fade_frac_per_year, age_years % block.battery.life_years)
    if block.battery.everyday == "hold":
        return hold(house.load_kw, solar, option.standby_kw, battery, house.year.step_h)
    rates = prices(option.plan, house.year)
    charge, discharge = plan_hours(
        rates.import_usd_per_kwh,
        rates.export_usd_per_kwh,
        house.year.day_number,
        battery,
        _in_periods(rates, block.battery.charge_periods),
        _in_periods(rates, block.battery.discharge_periods),
    )
    return clock(
        house.load_kw,
        option.loads.behind_kw,
        solar,
        option.standby_kw,
        battery,
        charge,
        discharge,
        option.may_charge,
        house.year.step_h,
    )


def _in_periods(rates: PriceYear, names: list[str] | None) -> np.ndarray | None:
    """Steps whose period is named; None where no period is."""
    if names is None:
        return None
    wanted = [rates.period_names.index(name) for name in names]
    return np.isin(rates.period, wanted)
