"""Weather, sky and appliance energy at the places of house_cases.py."""

from __future__ import annotations

from functools import cache, partial

import numpy as np
import pandas as pd
import pvlib

from kit.calendar import Year, calendar_year
from kit.house.appliances import list_loads
from kit.house.solar import solar_kw, solar_position
from kit.house.weather import WeatherYear, weather_year
from kit.report.checks import Check
from kit.study.equipment_models import Cost, Solar, SolarLosses
from kit.study.house_models import Appliance, House, Use, Weather
from tests.published import house_cases as cases
from tests.published.meter_checks import ROOT
from tests.published.meter_checks import check as meter_check

SUBJECT = "House: weather, solar, energy of appliances"
ZONE = "America/New_York"


def greensboro_house(step_min: int = 60) -> House:
    return House(
        time_zone=ZONE,
        latitude_deg=36.1,
        longitude_deg=-79.95,
        altitude_m=273.0,
        step_min=step_min,
        weather=Weather(kind="tmy3", file=str(ROOT / cases.GREENSBORO.file)),
        appliances={"lamp": Appliance(running_w=10.0, tier="wanted")},
    )


@cache
def greensboro(step_min: int = 60) -> tuple[Year, WeatherYear]:
    year = calendar_year(2025, ZONE, step_min)
    weather = weather_year(greensboro_house(step_min), year)
    assert weather is not None
    return year, weather


def sunshine_kwh_per_m2(step_min: int) -> float:
    year, weather = greensboro(step_min)
    return float(weather.ghi_w_per_m2.sum() * year.step_h / 1000)


def temperature_c(step_min: int, end: str) -> float:
    return float(getattr(greensboro(step_min)[1].temperature_c, end)())


def yield_kwh_per_kw() -> float:
    year, weather = greensboro()
    # Tilt 25 degrees south, losses 14.08 %: the default.
    solar = Solar(size_kw=4.0, inverter_kw=4.0, cost=Cost(price_usd=1.0))
    return float(solar_kw(greensboro_house(), weather, year, solar).sum() / 4.0)


@cache
def sky() -> pd.Series:
    golden = cases.GOLDEN
    times = pd.DatetimeIndex([pd.Timestamp(golden.local_time)])
    return solar_position(
        times,
        golden.latitude_deg,
        golden.longitude_deg,
        golden.altitude_m,
        golden.temperature_c,
        golden.pressure_pa,
        golden.delta_t_s,
    ).iloc[0]


def incidence_deg() -> float:
    return float(pvlib.irradiance.aoi(30.0, 170.0, sky()["apparent_zenith"], sky()["azimuth"]))


def everyday_kwh(piece: Appliance) -> float:
    house = greensboro_house().model_copy(update={"appliances": {"piece": piece}})
    year = calendar_year(2025, ZONE, 60)
    return float(list_loads(house, year, np.full(year.n, 20.0)).everyday_kw.sum())


def window_fan_kwh() -> float:
    """120 days: June (30), July (31), August (31) and the 28 days of February 2025."""
    use = Use(weekday="18-22", weekend="18-22", months=[2, 6, 7, 8])
    return everyday_kwh(Appliance(running_w=float(cases.WINDOW_FAN["running_w"]), use=use, tier="wanted"))


def refrigerator_kwh() -> float:
    duty = float(cases.REFRIGERATOR_THIRD["duty_frac"])
    return everyday_kwh(Appliance(running_w=500.0, duty_frac=duty, tier="must_run"))


check = partial(meter_check, subject=SUBJECT)
WEATHER = [
    check(
        f"{what}, steps of {step_min} min",
        unit,
        cases.GREENSBORO.source.partition(";")[0],
        expected,
        within,
        compute,
        "GREENSBORO",
        why,
    )
    for step_min in (60, 30, 15)
    for what, unit, expected, within, compute, why in (
        (
            "sum of global irradiance",
            "kWh/m2",
            cases.GREENSBORO.ghi_kwh_per_m2,
            0.05,
            partial(sunshine_kwh_per_m2, step_min),
            "half of the last digit",
        ),
        (
            "lowest temperature",
            "C",
            cases.GREENSBORO.lowest_c,
            0.0,
            partial(temperature_c, step_min, "min"),
            "exact",
        ),
        (
            "highest temperature",
            "C",
            cases.GREENSBORO.highest_c,
            0.0,
            partial(temperature_c, step_min, "max"),
            "exact",
        ),
    )
]
SOLAR = [
    check(
        "yield of a fixed array",
        "kWh/kW a year",
        "yield of a fixed tilt in North Carolina",
        cases.GREENSBORO.yield_kwh_per_kw,
        0.0,
        yield_kwh_per_kw,
        "GREENSBORO",
        "a range",
        "practice",
    ),
    check(
        "zenith",
        "degrees",
        cases.GOLDEN.source,
        cases.GOLDEN.zenith_deg,
        cases.GOLDEN.tolerance_deg,
        lambda: float(sky()["apparent_zenith"]),
        "GOLDEN",
        "half of the last printed digit",
        "seen",
    ),
    check(
        "azimuth",
        "degrees",
        cases.GOLDEN.source,
        cases.GOLDEN.azimuth_deg,
        cases.GOLDEN.tolerance_deg,
        lambda: float(sky()["azimuth"]),
        "GOLDEN",
        "half of the last printed digit",
        "seen",
    ),
    check(
        "angle of incidence",
        "degrees",
        cases.GOLDEN.source,
        cases.INCIDENCE_DEG,
        cases.INCIDENCE_WITHIN_DEG,
        incidence_deg,
        "INCIDENCE_DEG",
        "half of the last printed digit",
        "seen",
    ),
    check(
        "losses multiplied",
        "%",
        cases.LOSSES,
        cases.LOSSES_PERCENT,
        cases.LOSSES_WITHIN_PERCENT,
        lambda: 100 * SolarLosses().total_frac,
        "LOSSES_PERCENT",
        "half of the last digit",
        "memory",
    ),
]
ENERGY = [
    check(
        "window fan, 120 days of 4 h",
        "kWh",
        cases.DOE,
        float(cases.WINDOW_FAN["kwh"]),
        1e-6,
        window_fan_kwh,
        "WINDOW_FAN",
        "exact product",
        "seen",
    ),
    check(
        "refrigerator, a third of its hours",
        "kWh a year",
        cases.DOE,
        cases.REFRIGERATOR_KWH,
        1e-6,
        refrigerator_kwh,
        "REFRIGERATOR_KWH",
        "exact product",
        "worked",
    ),
]
CHECKS: list[Check] = [
    *WEATHER,
    *SOLAR,
    *ENERGY,
]
