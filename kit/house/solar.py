"""What a solar array gives: position in the sky, light on the tilted plane, cells, inverter.

Sources: I. Reda, A. Andreas, Solar Position Algorithm for Solar Radiation Applications,
NREL/TP-560-34302 (2008), for the position. J. Hay, J. Davies, Calculation of the solar radiation
incident on an inclined surface (1980), for light on the tilted plane; ground albedo 0.2, common
practice. D. Faiman, Assessing the outdoor operating temperature of photovoltaic modules,
Progress in Photovoltaics 16 (2008), for cell temperature, with its 25 and 6.84 W/m2K. Reflection
at the glass by the physical model of W. De Soto et al., Solar Energy 80 (2006).
The temperature coefficient, -0.37 % of power per degree, is common practice, from memory.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from kit.disk import kept

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.house.weather import WeatherYear
    from kit.study.equipment_models import Solar, SolarPlane
    from kit.study.house_models import House

POWER_PER_C_FRAC = -0.0037
REFERENCE_CELL_C = 25.0
REFERENCE_W_PER_M2 = 1000.0
ALBEDO_FRAC = 0.2


def solar_position(
    times: pd.DatetimeIndex,
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float = 0.0,
    temperature_c: float = 12.0,
    pressure_pa: float | None = None,
    delta_t_s: float = 67.0,
) -> pd.DataFrame:
    """Zenith and azimuth at each time, by NREL/TP-560-34302 [degrees].

    Args:
        times: time-zone-aware moments.
        latitude_deg, longitude_deg: north and east are positive.
        altitude_m: height above sea level.
        temperature_c, pressure_pa: yearly means, for refraction; pressure by altitude if None.
        delta_t_s: difference of terrestrial and universal time.

    Returns:
        Columns zenith, apparent_zenith (refracted), azimuth (clockwise from north); index `times`.
    """
    from pvlib.atmosphere import alt2pres
    from pvlib.solarposition import spa_python

    table = spa_python(
        times,
        latitude_deg,
        longitude_deg,
        altitude=altitude_m,
        pressure=alt2pres(altitude_m) if pressure_pa is None else pressure_pa,
        temperature=temperature_c,
        delta_t=delta_t_s,
        how="numpy",
    )
    return table[["zenith", "apparent_zenith", "azimuth"]]


def position_of(house: House, year: Year) -> pd.DataFrame:
    """Position at the middle of every step, as `solar_position` gives it; n rows."""
    return _position_once(house.latitude_deg, house.longitude_deg, house.altitude_m, year)


@lru_cache(maxsize=4)
def _position_once(latitude_deg: float, longitude_deg: float, altitude_m: float, year: Year) -> pd.DataFrame:
    import pandas as pd

    middle = year.index + pd.Timedelta(hours=year.step_h / 2)
    return solar_position(middle, latitude_deg, longitude_deg, altitude_m)


def solar_kw(house: House, weather: WeatherYear, year: Year, solar: Solar) -> NDArray[np.float64]:
    """AC power of the array in its first year, mean of each step, shape (n,) [kW].

    An array asked for in an earlier run is not worked out again (kit.disk).
    """
    sky = (weather.ghi_w_per_m2, weather.dni_w_per_m2, weather.dhi_w_per_m2)
    air = (weather.temperature_c, weather.wind_m_per_s)
    steps = (year.index.asi8, f"{year.index.unit} {year.step_h}")
    key = (house.model_dump_json(), solar.model_dump_json(), *sky, *air, *steps)
    return kept("house", "solar", key, lambda: {"kw": solar_power_kw(house, weather, year, solar)})["kw"]


def solar_power_kw(house: House, weather: WeatherYear, year: Year, solar: Solar) -> NDArray[np.float64]:
    """The same, worked out.

    DC power is that of all planes together after losses, at most what a battery's solar input
    takes where the array is wired to one; AC power is DC x inverter efficiency, at most the
    inverter's rating.
    """
    dc_kw = solar_dc_kw(house, weather, year, solar)
    if solar.dc_input_kw is not None:
        dc_kw = np.minimum(dc_kw, solar.dc_input_kw)
    return np.clip(dc_kw * solar.inverter_efficiency_frac, 0.0, solar.inverter_kw)


def solar_dc_kw(house: House, weather: WeatherYear, year: Year, solar: Solar) -> NDArray[np.float64]:
    """DC power of all planes after losses, before the inverter, shape (n,) [kW].

    Of each plane size x light / 1000 W/m2 x (1 - 0.0037 (cell - 25 C)) x (1 - losses), and where
    the study says what snow and shade take by month, x (1 - that).
    """
    planes: list[Solar | SolarPlane] = list(solar.planes.values()) if solar.planes else [solar]
    planes_kw = sum(plane.size_kw for plane in planes)
    total = np.zeros(year.n)
    for plane in planes:
        size_kw = solar.size_kw * (plane.size_kw / planes_kw)
        plane_w_per_m2, used_w_per_m2 = plane_light(house, weather, year, plane)
        cell_c = cell_temperature_c(plane_w_per_m2, weather.temperature_c, weather.wind_m_per_s)
        warmth_frac = 1.0 + POWER_PER_C_FRAC * (cell_c - REFERENCE_CELL_C)
        total += size_kw * used_w_per_m2 / REFERENCE_W_PER_M2 * warmth_frac * (1.0 - loss_frac(solar))
    if solar.month_loss_frac is not None:
        total *= 1.0 - np.array(solar.month_loss_frac)[year.month - 1]
    return total


def loss_frac(solar: Solar) -> float:
    """Share of the DC power that is lost all year: as one number, or by cause, multiplied."""
    return solar.losses.total_frac if solar.losses is not None else solar.loss_frac


def plane_light(
    house: House, weather: WeatherYear, year: Year, solar: Solar | SolarPlane
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(light on the plane, what of it passes the glass), each of shape (n,) [W/m2].

    Direct light counts only in steps whose middle is by day.
    """
    import pvlib

    position = position_of(house, year)
    zenith, azimuth = position["apparent_zenith"].to_numpy(), position["azimuth"].to_numpy()
    extra = pvlib.irradiance.get_extra_radiation(position.index).to_numpy()
    by_day = zenith < 90.0
    on_plane = pvlib.irradiance.get_total_irradiance(
        solar.tilt_deg,
        solar.azimuth_deg,
        zenith,
        azimuth,
        np.where(by_day, weather.dni_w_per_m2, 0.0),
        weather.ghi_w_per_m2,
        weather.dhi_w_per_m2,
        dni_extra=extra,
        albedo=ALBEDO_FRAC,
        model="haydavies",
    )
    direct = np.clip(np.nan_to_num(np.asarray(on_plane["poa_direct"])), 0.0, None)
    diffuse = np.clip(np.nan_to_num(np.asarray(on_plane["poa_diffuse"])), 0.0, None)
    incidence_deg = pvlib.irradiance.aoi(solar.tilt_deg, solar.azimuth_deg, zenith, azimuth)
    passes_frac = np.nan_to_num(np.asarray(pvlib.iam.physical(incidence_deg)))
    return direct + diffuse, direct * passes_frac + diffuse


def cell_temperature_c(
    plane_w_per_m2: NDArray[np.float64], air_c: NDArray[np.float64], wind_m_per_s: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Cell temperature by Faiman (2008), same shape as the inputs [degrees C]."""
    from pvlib.temperature import faiman

    return np.asarray(faiman(plane_w_per_m2, air_c, wind_m_per_s))
