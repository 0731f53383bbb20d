"""A programme's calls in everyday use, its income, and what it does to the charge that outages find."""

from __future__ import annotations

import numpy as np

from kit.account.time_value import present_value
from kit.grid.rates import prices
from kit.house import HouseYear
from kit.operate.everyday import Everyday
from kit.operate.programme import called_starts, with_calls
from kit.stages.sources import Sources
from kit.study import Study
from kit.study.finding import Finding
from kit.systems.battery import BatterySystem


def called_use(
    house: HouseYear, option: Sources, use: Everyday, battery: BatterySystem, age_years: int
) -> Everyday:
    """Everyday use with the programme's calls in it; as it is without one, or after its contract.

    After a call a held battery refills from the grid at once; one that earns waits for the lowest
    price of the day. Raises ValueError for more calls than weekdays.
    """
    block = option.option
    programme = block.programme if block else None
    if block is None or block.battery is None or programme is None:
        return use
    if age_years >= programme.contract_years:
        return use
    year = house.year
    refill = np.ones(year.n, dtype=bool)
    if block.battery.everyday != "hold":
        price = prices(option.plan, year).import_usd_per_kwh
        lowest = np.full(int(year.day_number.max()) + 1, np.inf)
        np.minimum.at(lowest, year.day_number, price)
        refill = price <= lowest[year.day_number] + 1e-12
    floor_kwh = battery.floor_kwh
    if programme.draws_to_frac is not None:
        floor_kwh = max(floor_kwh, programme.draws_to_frac * battery.usable_kwh)
    return with_calls(
        use,
        house.load_kw + option.standby_kw + battery.idle_kw - use.solar_kwh / year.step_h,
        option.loads.behind_kw,
        battery,
        called_starts(year, programme.months, programme.events_per_year, programme.start_hour),
        programme.event_h,
        floor_kwh,
        block.battery.export_allowed,
        refill,
        option.may_charge,
        year.step_h,
    )


def income_usd(house: HouseYear, option: Sources, use: Everyday) -> float | None:
    """Income of a year in which the contract runs [usd/year]; None without a programme.

    use: everyday use of year 1, calls included.
    """
    programme = option.option.programme if option.option else None
    if programme is None or option.battery is None:
        return None
    return programme.usd_per_kw_year * _paid_kw(house, option, use)


def _paid_kw(house: HouseYear, option: Sources, use: Everyday) -> float:
    """AC kW delivered in the mean over the hours of all calls, at most those enrolled."""
    programme = option.option.programme if option.option else None
    assert programme is not None
    assert option.battery is not None
    starts = called_starts(house.year, programme.months, programme.events_per_year, programme.start_hour)
    steps = max(1, round(programme.event_h / house.year.step_h))
    place = (starts[:, None] + np.arange(steps)[None, :]).ravel() % house.year.n
    delivered_kw = float(use.discharge_kwh[place].mean()) / house.year.step_h
    return min(delivered_kw, programme.enrolled_kw or option.battery.continuous_kw)


def income_by_year(years: int, contract_years: int, usd_per_year: float) -> np.ndarray:
    """Income of years 1..N [usd], nothing after the contract."""
    return np.where(np.arange(years) < contract_years, usd_per_year, 0.0)


def programme_findings(study: Study, house: HouseYear, option: Sources, use: Everyday) -> tuple[Finding, ...]:
    """What a programme pays, for how long, and what its calls leave for an outage."""
    usd = income_usd(house, option, use)
    programme = option.option.programme if option.option else None
    if usd is None or programme is None or option.battery is None:
        return ()
    money, years = study.model.money, study.model.asked.stay_years
    worth = present_value(
        income_by_year(years, programme.contract_years, usd), money.discount_rate_frac, money.timing
    )
    low_frac = float((use.stored_kwh < 0.5 * option.battery.usable_kwh).mean())
    text = (
        f"The programme pays {usd:,.0f} a year for {_paid_kw(house, option, use):.1f} kW over "
        f"{min(programme.contract_years, years)} of {years} years, {worth:,.0f} at present value. Nobody "
        "owes it beyond the contract, so its low value is 0: without it the lifetime cost is higher by that. "
        f"{programme.events_per_year} calls a year leave the battery below half full in {low_frac:.1%} of "
        "all hours; outages that begin then find it so."
    )
    path = f"options.{option.slug}.programme"
    return (Finding("programme_income", option.slug, path, text),)
