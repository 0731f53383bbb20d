"""Everyday use of each option and its bills, year by year as the equipment ages."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np

from kit.grid.bill import Bill, bill, bills_usd
from kit.grid.rates import PriceYear, prepare
from kit.house import HouseYear
from kit.operate.everyday import Everyday, clock, hold, plan_hours, without_battery
from kit.stages.ageing import Wear, aged, wear_of
from kit.stages.best_schedule import best_schedule as best_schedule
from kit.stages.best_schedule import first_prices
from kit.stages.best_schedule import marginal_note as marginal_note
from kit.stages.programme import called_use, income_usd
from kit.stages.sources import Sources
from kit.study import Study
from kit.study.rate_models import RatePlan
from kit.systems.battery import BatterySystem

MOST_HOURS = 32  # of one plan in one year: pairs of rows of steps
_kept_hours: WeakKeyDictionary[PriceYear, dict[tuple[object, ...], tuple[np.ndarray, np.ndarray]]]
_kept_hours = WeakKeyDictionary()


@dataclass(frozen=True, eq=False)
class Daily:
    """Everyday use of one option in year 1, its bill, and its bill in every year.

    Against doing nothing under today's plan the bill falls by plan change, solar and battery, and
    rises by what a generator draws on standby; the four add up to the whole. `foresight`: the
    exact optimum for the prices it saw, for options with a battery; its bill is a limit, not a claim.
    """

    use: Everyday
    bill: Bill
    bill_usd_by_year: np.ndarray
    saving_from_plan_usd: float
    saving_from_solar_usd: float
    saving_from_battery_usd: float
    standby_usd: float
    foresight: Foresight | None
    programme_usd: float | None = None  # income of year 1; None without a programme
    wear: Wear | None = None  # of the battery


@dataclass(frozen=True, eq=False)
class Foresight:
    """Everyday use with perfect foresight: its bill, what it adds to the use claimed, and its levels.

    levels: one row a price level with the charge up to which the grid fills and down to which the
    load is served, as shares of full (median over the year's steps at that price).
    """

    bill_usd: float
    adds_usd: float
    levels: list[dict[str, float]]
    note: str


def everyday_use(study: Study, house: HouseYear, options: dict[str, Sources]) -> dict[str, Daily]:
    """Everyday use and bills of every option, the first of which is doing nothing."""
    years = study.model.asked.stay_years
    none_kw = np.zeros(house.year.n)
    kept: dict[tuple[int, bytes, float], float] = {}  # options share their plan and often their solar

    def plain_usd(plan: RatePlan, solar_kw: np.ndarray, standby_kw: float = 0.0) -> float:
        key = (id(plan), solar_kw.tobytes(), standby_kw)
        if key not in kept:
            kept[key] = _bill(plan, house, _plain(house, solar_kw, standby_kw)).total_usd
        return kept[key]

    baseline_usd = plain_usd(study.model.rate_plan, none_kw)
    made = {}
    for slug, option in options.items():
        use = use_of(house, option, 0)
        wear = wear_of(house, option, use)
        first = _bill(option.plan, house, use)
        plan_only = plain_usd(option.plan, none_kw)
        solar_only = plain_usd(option.plan, option.solar_kw)
        standing_by = plain_usd(option.plan, option.solar_kw, option.standby_kw)
        made[slug] = Daily(
            use=use,
            bill=first,
            bill_usd_by_year=_by_year(house, option, wear, first.total_usd, years),
            saving_from_plan_usd=baseline_usd - plan_only,
            saving_from_solar_usd=plan_only - solar_only,
            saving_from_battery_usd=standing_by - first.total_usd,
            standby_usd=standing_by - solar_only,
            foresight=_foresight(house, option, first.total_usd),
            programme_usd=income_usd(house, option, use),
            wear=wear,
        )
    return made


def _plain(house: HouseYear, solar_kw: np.ndarray, standby_kw: float = 0.0) -> Everyday:
    return without_battery(house.load_kw, solar_kw, standby_kw, house.year.step_h)


def _bill(plan: RatePlan, house: HouseYear, use: Everyday) -> Bill:
    return bill(plan, house.year, use.import_kwh, use.export_kwh)


def _by_year(
    house: HouseYear, option: Sources, wear: Wear | None, first_usd: float, years: int
) -> np.ndarray:
    """Bills of years 1..N at today's prices: solar and battery fade, each year is run again."""
    block = option.option
    solar_fades = block is not None and block.solar is not None and block.solar.fade_frac_per_year > 0.0
    cycles = block is not None and block.battery is not None and block.battery.everyday != "hold"
    battery_fades = wear is not None and wear.fades and cycles
    called = block is not None and block.programme is not None
    if not (solar_fades or battery_fades or called):
        return np.full(years, first_usd)
    states = [_state(option, age, wear) for age in range(years)]  # years in the same state have one bill
    kept = {_state(option, 0, None): first_usd}
    others = {state: age for age, state in reversed(list(enumerate(states))) if state not in kept}
    if others:
        drawn, sent = np.empty((2, len(others), house.year.n))
        for k, age in enumerate(others.values()):
            use = use_of(house, option, age, wear)
            drawn[k], sent[k] = use.import_kwh, use.export_kwh
        bills = bills_usd(prepare(option.plan, house.year), drawn, sent)
        kept |= dict(zip(others, bills.tolist(), strict=True))
    return np.array([kept[state] for state in states])


def _state(option: Sources, age_years: int, wear: Wear | None) -> tuple[float, float, bool]:
    """All that an age changes in a year of everyday use: battery left, solar left, a contract running."""
    block = option.option
    programme = block.programme if block is not None else None
    left_frac = 1.0 if wear is None else wear.left_frac(age_years)
    return (
        left_frac,
        _solar_frac(option, age_years),
        programme is None or age_years < programme.contract_years,
    )


def use_of(house: HouseYear, option: Sources, age_years: int, wear: Wear | None = None) -> Everyday:
    """One year of everyday use at an age of the equipment, in years; a replaced battery is new again.

    wear: of the option's battery; None takes it as new. The calls of a programme are in it while its
    contract runs.
    """
    battery = option.battery
    if battery is not None and wear is not None:
        battery = aged(battery, wear.left_frac(age_years))
    use = _policy_use(house, option, battery, age_years)
    return use if battery is None else called_use(house, option, use, battery, age_years)


def _policy_use(house: HouseYear, option: Sources, battery: BatterySystem | None, age_years: int) -> Everyday:
    block = option.option
    solar = option.solar_kw * _solar_frac(option, age_years)
    if battery is None or block is None or block.battery is None:
        return without_battery(house.load_kw, solar, option.standby_kw, house.year.step_h)
    if block.battery.everyday == "hold":
        return hold(house.load_kw, solar, option.standby_kw, battery, house.year.step_h)
    if block.battery.everyday == "best":
        found = best_schedule(house, option, battery, solar)
        step_h = house.year.step_h
        return Everyday(
            found.import_kwh,
            found.export_kwh,
            found.stored_kwh[:-1],
            found.charge_kwh,
            found.discharge_kwh,
            solar * step_h,
        )
    charge, discharge = _plan_hours(house, option, battery, solar > house.load_kw)
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


def _plan_hours(
    house: HouseYear, option: Sources, battery: BatterySystem, surplus: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """The steps in which the clock charges and discharges; years of age that differ in nothing share them."""
    assert option.option is not None
    assert option.option.battery is not None
    used, rates = option.option.battery, first_prices(option.plan, house)
    periods = used.charge_periods, used.discharge_periods
    efficiencies = battery.charge_efficiency_frac, battery.discharge_efficiency_frac
    key = (str(periods), efficiencies, battery.grid_charge_allowed, surplus.tobytes())
    kept = _kept_hours.setdefault(rates, {})
    if key not in kept:
        if len(kept) >= MOST_HOURS:
            kept.clear()
        import_price, export_price = rates.import_usd_per_kwh, rates.export_usd_per_kwh
        named = (_in_periods(rates, periods[0]), _in_periods(rates, periods[1]))
        kept[key] = plan_hours(import_price, export_price, house.year.day_number, battery, surplus, *named)
    return kept[key]


def _solar_frac(option: Sources, age_years: int) -> float:
    """Share of the new output of an option's solar at an age; a replaced array is new again."""
    solar = option.option.solar if option.option else None
    if solar is None:
        return 1.0
    return float((1.0 - solar.fade_frac_per_year) ** (age_years % solar.life_years))


def _foresight(house: HouseYear, option: Sources, claimed_usd: float) -> Foresight | None:
    if option.battery is None:
        return None
    found = best_schedule(house, option, option.battery, option.solar_kw)
    bill_usd = bill(option.plan, house.year, found.import_kwh, found.export_kwh).total_usd
    full = max(option.battery.usable_kwh, 1e-9)
    levels = [
        {
            "price_usd_per_kwh": row["price_to_usd_per_kwh"],
            "hours_per_year": row["step_count"] * house.year.step_h,
            "grid_fills_to_frac": row["grid_fill_to_kwh"] / full,
            "serves_down_to_frac": row["hold_at_kwh"] / full,
        }
        for row in found.thresholds_by_price()
    ]
    note = " ".join(text for text in (marginal_note(option.plan), found.note) if text)
    return Foresight(bill_usd, claimed_usd - bill_usd, levels, note)


def _in_periods(rates: PriceYear, names: list[str] | None) -> np.ndarray | None:
    """Steps whose period is named; None where no period is."""
    if names is None:
        return None
    wanted = [rates.period_names.index(name) for name in names]
    return np.isin(rates.period, wanted)
