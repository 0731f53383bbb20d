"""The solar chain against pvlib called directly, published losses and the published incidence angle."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

from kit.calendar import calendar_year
from kit.house.solar import loss_frac, solar_dc_kw, solar_power_kw
from kit.house.weather import WeatherYear, weather_year
from kit.study.equipment_models import Cost, Solar, SolarLosses, SolarPlane
from kit.study.house_models import Appliance, House, Weather
from tests.published.house_cases import LOSSES_PERCENT

ROOT = Path(__file__).parents[2]
ZONE = "America/New_York"
COST = Cost(price_usd=1.0)
HOUSE = House(
    time_zone=ZONE,
    latitude_deg=36.1,
    longitude_deg=-79.95,
    altitude_m=273.0,
    weather=Weather(kind="tmy3", file=str(ROOT / "params/data/weather/tmy3_723170_greensboro_NC.csv")),
    appliances={"lamp": Appliance(running_w=10.0, tier="wanted")},
)
CLEAR = HOUSE.model_copy(update={"weather": Weather(kind="clear_sky", temperature_c=12.0)})


def by_pvlib(weather: WeatherYear, index: pd.DatetimeIndex, tilt: float, azimuth: float) -> np.ndarray:
    """DC W per W of array before losses, by pvlib alone: its position, plane, glass, cell and DC model."""
    middle = index + pd.Timedelta(minutes=30)
    where = pvlib.location.Location(36.1, -79.95, tz=ZONE, altitude=273.0)
    sky = where.get_solarposition(middle, method="nrel_numpy")
    plane = pvlib.irradiance.get_total_irradiance(
        tilt,
        azimuth,
        sky["apparent_zenith"],
        sky["azimuth"],
        np.where(sky["apparent_zenith"] < 90, weather.dni_w_per_m2, 0.0),
        weather.ghi_w_per_m2,
        weather.dhi_w_per_m2,
        dni_extra=pvlib.irradiance.get_extra_radiation(middle),
        albedo=0.2,
        model="haydavies",
    ).fillna(0.0)
    direct, diffuse = plane["poa_direct"].clip(lower=0), plane["poa_diffuse"].clip(lower=0)
    aoi = pvlib.irradiance.aoi(tilt, azimuth, sky["apparent_zenith"], sky["azimuth"])
    used = direct * pvlib.iam.physical(aoi).fillna(0.0) + diffuse
    cell = pvlib.temperature.faiman(direct + diffuse, weather.temperature_c, weather.wind_m_per_s)
    return np.asarray(pvlib.pvsystem.pvwatts_dc(used, cell, 1.0, -0.0037))


@pytest.mark.parametrize("house", [HOUSE, CLEAR], ids=["tmy3", "clear sky"])
@pytest.mark.parametrize(("tilt", "azimuth"), [(25.0, 180.0), (35.0, 262.0), (90.0, 20.0)])
def test_pvlib_called_directly_equals_the_chain(house: House, tilt: float, azimuth: float) -> None:
    year = calendar_year(2025, ZONE, 60)
    weather = weather_year(house, year)
    assert weather is not None
    solar = Solar(size_kw=6.0, inverter_kw=4.5, tilt_deg=tilt, azimuth_deg=azimuth, loss_frac=0.14, cost=COST)
    dc_kw = 6.0 * by_pvlib(weather, year.index, tilt, azimuth) * (1 - 0.14)
    assert np.allclose(solar_dc_kw(house, weather, year, solar), dc_kw, rtol=1e-9, atol=1e-12)
    ac_kw = np.clip(dc_kw * 0.96, 0.0, 4.5)
    assert np.allclose(solar_power_kw(house, weather, year, solar), ac_kw, rtol=1e-9, atol=1e-12)
    assert dc_kw.sum() > 1000


def test_the_clear_sky_is_that_of_pvlib() -> None:
    year = calendar_year(2025, ZONE, 60)
    weather = weather_year(CLEAR, year)
    assert weather is not None
    where = pvlib.location.Location(36.1, -79.95, tz=ZONE, altitude=273.0)
    sky = where.get_clearsky(year.index + pd.Timedelta(minutes=30), model="ineichen", linke_turbidity=3.0)
    # Its position is another implementation of the same algorithm: a tenth of a W/m2.
    assert np.allclose(weather.ghi_w_per_m2, sky["ghi"], atol=0.1)
    assert np.allclose(weather.dni_w_per_m2, sky["dni"], atol=0.5)


def test_losses_are_multiplied_not_added() -> None:
    # NREL/TP-6A20-62641 (2014): 2, 3, 0, 2, 2, 0.5, 1.5, 1, 0, 3 % give 14.0757 %; their sum is 15 %.
    losses = SolarLosses()
    assert losses.total_frac == pytest.approx(LOSSES_PERCENT / 100, abs=5e-7)
    assert sum(losses.model_dump().values()) == pytest.approx(0.15)
    assert losses.total_frac == pytest.approx(pvlib.pvsystem.pvwatts_losses() / 100, rel=1e-12)
    snowy = SolarLosses(snow_frac=0.05, soiling_frac=0.0)
    assert snowy.total_frac == pytest.approx(
        pvlib.pvsystem.pvwatts_losses(snow=5, soiling=0) / 100, rel=1e-12
    )
    assert loss_frac(Solar(size_kw=1.0, inverter_kw=1.0, losses=snowy, cost=COST)) == snowy.total_frac
    # The default of an array is that product, rounded.
    assert loss_frac(Solar(size_kw=1.0, inverter_kw=1.0, cost=COST)) == round(losses.total_frac, 4)
    with pytest.raises(ValueError, match="loss_frac or losses, not both"):
        Solar(size_kw=1.0, inverter_kw=1.0, losses=losses, loss_frac=0.1, cost=COST)


def test_two_planes_are_the_sum_of_two_arrays_behind_one_inverter() -> None:
    year = calendar_year(2025, ZONE, 60)
    weather = weather_year(HOUSE, year)
    assert weather is not None
    east = Solar(size_kw=2.0, inverter_kw=99.0, tilt_deg=20.0, azimuth_deg=90.0, cost=COST)
    west = Solar(size_kw=4.0, inverter_kw=99.0, tilt_deg=35.0, azimuth_deg=270.0, cost=COST)
    planes = {
        "east": SolarPlane(size_kw=2.0, tilt_deg=20.0, azimuth_deg=90.0),
        "west": SolarPlane(size_kw=4.0, tilt_deg=35.0, azimuth_deg=270.0),
    }
    both = Solar(size_kw=6.0, inverter_kw=3.5, planes=planes, cost=COST)
    alone = sum(solar_power_kw(HOUSE, weather, year, s) for s in (east, west))
    assert np.allclose(solar_power_kw(HOUSE, weather, year, both), np.minimum(alone, 3.5), rtol=1e-12)
    with pytest.raises(ValueError, match="not the sum of its planes, 6"):
        Solar(size_kw=5.0, inverter_kw=3.5, planes=planes, cost=COST)
    with pytest.raises(ValueError, match="stand in each plane"):
        Solar(size_kw=6.0, inverter_kw=3.5, planes=planes, tilt_deg=10.0, cost=COST)


def test_snow_and_shade_by_month() -> None:
    year = calendar_year(2025, ZONE, 60)
    weather = weather_year(HOUSE, year)
    assert weather is not None
    months = [0.4, 0.25, 0.1, *[0.0] * 8, 0.2]
    plain = Solar(size_kw=5.0, inverter_kw=99.0, cost=COST)
    snowy = Solar(size_kw=5.0, inverter_kw=99.0, month_loss_frac=months, cost=COST)
    was, now = (solar_power_kw(HOUSE, weather, year, s) for s in (plain, snowy))
    for month in range(1, 13):
        here = year.month == month
        assert now[here].sum() == pytest.approx(was[here].sum() * (1 - months[month - 1]), rel=1e-12)
    with pytest.raises(ValueError, match="12"):
        Solar(size_kw=5.0, inverter_kw=9.0, month_loss_frac=[0.1], cost=COST)


def test_the_solar_input_of_a_battery_limits_the_array_before_the_inverter() -> None:
    year = calendar_year(2025, ZONE, 60)
    weather = weather_year(HOUSE, year)
    assert weather is not None
    free = Solar(size_kw=8.0, inverter_kw=7.0, cost=COST)
    limited = Solar(size_kw=8.0, inverter_kw=7.0, dc_input_kw=4.0, cost=COST)
    dc_kw = solar_dc_kw(HOUSE, weather, year, free)
    assert dc_kw.max() > 5
    ac_kw = solar_power_kw(HOUSE, weather, year, limited)
    assert ac_kw.max() == pytest.approx(4.0 * 0.96)
    assert np.allclose(ac_kw, np.clip(np.minimum(dc_kw, 4.0) * 0.96, 0, 7.0))
