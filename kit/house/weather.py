"""Weather of the study year: a typical year from a file, or a clear sky.

Sources: S. Wilcox, W. Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156 (2008): rows
carry the sums of the hour that ENDS at their time, in local standard time, and months come from
different years. P. Ineichen, R. Perez, A new airmass independent formulation for the Linke
turbidity coefficient, Solar Energy 73 (2002), for the clear sky.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from kit.disk import kept
from kit.study.finding import Finding

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.house_models import House

CLEAR_SKY_TURBIDITY = 3.0  # Linke; common practice for temperate air, no source
CLEAR_SKY_WIND_M_PER_S = 1.0
TYPICAL_HOURS = 8760
COLUMNS = ("ghi_w_per_m2", "dni_w_per_m2", "dhi_w_per_m2", "temperature_c", "wind_m_per_s")


class WeatherError(ValueError):
    """A weather file that cannot be used; one line with the file and the reason."""


@dataclass(frozen=True, eq=False)
class WeatherYear:
    """Weather of every step of a year; arrays have shape (n,), values are means over the step.

    Attributes:
        ghi_w_per_m2, dni_w_per_m2, dhi_w_per_m2: global horizontal, direct normal and diffuse
            horizontal irradiance.
        temperature_c: outdoor dry-bulb temperature.
        wind_m_per_s: wind speed.
        kind: 'tmy3', 'epw' or 'clear_sky'. place: name of the station, '' for a clear sky.
        from_years: the years the months were taken from, none for a clear sky.
    """

    ghi_w_per_m2: NDArray[np.float64]
    dni_w_per_m2: NDArray[np.float64]
    dhi_w_per_m2: NDArray[np.float64]
    temperature_c: NDArray[np.float64]
    wind_m_per_s: NDArray[np.float64]
    kind: str
    place: str = ""
    from_years: tuple[int, ...] = ()


@dataclass(frozen=True, eq=False)
class TypicalYear:
    """A TMY3 file: 8,760 h from 1 January in local standard time, each named by its start."""

    columns: dict[str, NDArray[np.float64]]
    utc_offset_h: float
    latitude_deg: float
    longitude_deg: float
    place: str
    from_years: tuple[int, ...]


def weather_year(house: House, year: Year) -> WeatherYear | None:
    """The weather of the study year, or None where the house names none.

    A typical year is laid on by month, day and hour of STANDARD time, so the daylight of each
    step is where the sky puts it; 29 February copies the 28th; steps under an hour repeat the
    hour's mean, which keeps its energy.

    Raises:
        WeatherError: a file that is missing, is not of its kind, or has gaps.
    """
    if house.weather is None:
        return None
    if house.weather.file is None:
        return _kept_clear_sky(house, year, house.weather.temperature_c)
    typical = read_typical_year(house.weather.file, house.weather.kind)
    hour = _typical_hour(year, typical.utc_offset_h)
    column = {name: values[hour] for name, values in typical.columns.items()}
    return WeatherYear(**column, kind=house.weather.kind, place=typical.place, from_years=typical.from_years)


def _typical_hour(year: Year, utc_offset_h: float) -> NDArray[np.int64]:
    """Row of a 365-day typical year for each step, by standard time."""
    import pandas as pd

    # The middle of the step, so that half-hour offsets take the hour they mostly lie in.
    middle = year.index.tz_convert("UTC").tz_localize(None) + pd.Timedelta(
        hours=utc_offset_h + year.step_h / 2
    )
    leap = np.asarray(middle.is_leap_year)
    day = middle.day_of_year.to_numpy(np.int64) - 1
    day -= leap & (day >= 59)  # day 59 of a leap year is 29 February
    return day * 24 + middle.hour.to_numpy(np.int64)


def read_typical_year(path: Path | str, kind: str = "tmy3") -> TypicalYear:
    """The hours of a TMY3 file, or of an EPW file where `kind` is 'epw'.

    Raises:
        WeatherError: see `weather_year`.
    """
    path = Path(path)
    try:
        state = path.stat()
    except OSError:
        raise WeatherError(f"{path}: there is no such file") from None
    return _read_once(path, kind, state.st_mtime_ns, state.st_size)


@lru_cache(maxsize=4)
def _read_once(path: Path, kind: str, _changed_ns: int, _size: int) -> TypicalYear:
    """The hours as an earlier run read them from a file of the same bytes, else as read now."""
    try:
        key = (kind, path.read_bytes())
    except OSError as error:
        raise WeatherError(f"{path}: cannot be read: {error.strerror or error}") from None
    held = kept("house", "typical", key, lambda: _parts(_parsed(path, kind)))
    place = {name: float(held[name]) for name in ("utc_offset_h", "latitude_deg", "longitude_deg")}
    columns = {name: held[name] for name in COLUMNS}
    for values in columns.values():
        values.flags.writeable = False
    years = tuple(int(y) for y in held["from_years"])
    return TypicalYear(columns, **place, place=str(held["place"]), from_years=years)


def _parts(typical: TypicalYear) -> dict[str, NDArray[Any]]:
    """A typical year as named arrays."""
    return {
        **typical.columns,
        "utc_offset_h": np.array(typical.utc_offset_h),
        "latitude_deg": np.array(typical.latitude_deg),
        "longitude_deg": np.array(typical.longitude_deg),
        "place": np.array(typical.place),
        "from_years": np.array(typical.from_years, dtype=np.int64),
    }


def _parsed(path: Path, kind: str) -> TypicalYear:
    """The hours of a weather file, checked."""
    if kind == "epw":
        from kit.house.epw import read_epw_year

        return read_epw_year(path)
    from pvlib.iotools import read_tmy3

    try:
        table, place = read_tmy3(path, map_variables=True)
        columns = {
            "ghi_w_per_m2": table["ghi"].to_numpy(np.float64),
            "dni_w_per_m2": table["dni"].to_numpy(np.float64),
            "dhi_w_per_m2": table["dhi"].to_numpy(np.float64),
            "temperature_c": table["temp_air"].to_numpy(np.float64),
            "wind_m_per_s": table["wind_speed"].to_numpy(np.float64),
        }
        offset_h, latitude_deg, longitude_deg = (float(place[k]) for k in ("TZ", "latitude", "longitude"))
    except (ValueError, KeyError, IndexError, TypeError, UnicodeDecodeError, StopIteration) as error:
        raise WeatherError(f"{path}: not a TMY3 file: {type(error).__name__}: {error}") from None
    _check_hours(path, table)
    for column, values in columns.items():
        # TMY3 marks what is missing by -9900.
        if bad := int(np.count_nonzero(~np.isfinite(values) | (values < -9000))):
            raise WeatherError(f"{path}: {bad} hours without {column}")
        values.flags.writeable = False
    name = str(place.get("Name", "")).strip('" ')
    return TypicalYear(columns, offset_h, latitude_deg, longitude_deg, name, _years(table))


def _check_hours(path: Path, table: pd.DataFrame) -> None:
    """The rows are the 8,760 hours of a year without 29 February, in order."""
    if len(table) != TYPICAL_HOURS:
        raise WeatherError(f"{path}: a typical year has 8760 hours, this file {len(table)}")
    ends = np.arange("2001-01-01T01", "2002-01-01T01", dtype="datetime64[h]")
    days = ends - np.timedelta64(1, "h")
    expected = [str(d)[5:10] for d in days]
    first = [
        f"{month}-{day}" for month, day in table["Date (MM/DD/YYYY)"].str.extract(r"^(\d+)/(\d+)").to_numpy()
    ]
    clock = table["Time (HH:MM)"].astype(str).str.extract(r"^(\d+)")[0].astype(int).to_numpy()
    if first != expected or not np.array_equal(clock, np.tile(np.arange(1, 25), 365)):
        raise WeatherError(f"{path}: its rows are not the hours 01:00 to 24:00 of 1 January to 31 December")


def _years(table: pd.DataFrame) -> tuple[int, ...]:
    years = table["Date (MM/DD/YYYY)"].str.extract(r"/(\d{4})$")[0]
    return tuple(sorted({int(y) for y in years.dropna()}))


def _kept_clear_sky(house: House, year: Year, temperature_c: float) -> WeatherYear:
    """The light of the clear sky of an earlier run for the same place and steps, else as worked out now."""

    def columns() -> dict[str, NDArray[Any]]:
        sky = clear_sky_year(house, year, temperature_c)
        return {name: getattr(sky, name) for name in COLUMNS}

    place = f"{house.latitude_deg!r} {house.longitude_deg!r} {house.altitude_m!r} {temperature_c!r}"
    steps = (year.index.asi8, f"{year.index.unit} {year.step_h}")
    held = kept("house", "clear", (place, *steps), columns)
    ghi, dni, dhi, air_c, wind = (held[name] for name in COLUMNS)
    return WeatherYear(ghi, dni, dhi, air_c, wind, kind="clear_sky")


def clear_sky_year(house: House, year: Year, temperature_c: float) -> WeatherYear:
    """Irradiance under a sky that is never cloudy, at one temperature.

    The clear-sky model of Ineichen and Perez (2002) with Linke turbidity 3 all year.
    """
    import pvlib

    from kit.house.solar import position_of

    position = position_of(house, year)
    zenith = position["apparent_zenith"]
    airmass = pvlib.atmosphere.get_absolute_airmass(
        pvlib.atmosphere.get_relative_airmass(zenith), pvlib.atmosphere.alt2pres(house.altitude_m)
    )
    extra = pvlib.irradiance.get_extra_radiation(position.index)
    sky = pvlib.clearsky.ineichen(zenith, airmass, CLEAR_SKY_TURBIDITY, house.altitude_m, extra)
    return WeatherYear(
        ghi_w_per_m2=np.nan_to_num(sky["ghi"].to_numpy(np.float64)),
        dni_w_per_m2=np.nan_to_num(sky["dni"].to_numpy(np.float64)),
        dhi_w_per_m2=np.nan_to_num(sky["dhi"].to_numpy(np.float64)),
        temperature_c=np.full(year.n, temperature_c),
        wind_m_per_s=np.full(year.n, CLEAR_SKY_WIND_M_PER_S),
        kind="clear_sky",
    )


def weather_findings(house: House, weather: WeatherYear | None, year_number: int) -> list[Finding]:
    """What a reader must know about the weather behind the figures."""
    if weather is None:
        if not any(a.thermostat for a in house.appliances.values()):
            return []
        text = "No weather is given: loads with a thermostat are worked out at a steady 20 C."
        return [Finding("weather_none", None, "house.weather", text)]
    if weather.kind == "clear_sky":
        text = (
            "Solar is worked out under a sky that is never cloudy, at "
            f"{weather.temperature_c[0]:g} C all year: an upper limit, not an expectation."
        )
        return [Finding("weather_clear_sky", None, "house.weather", text)]
    found = []
    first, last = weather.from_years[0], weather.from_years[-1]
    if house.meter is not None and not first == last == year_number:
        what = f"that of {first}" if first == last else f"a typical year from months of {first} to {last}"
        text = (
            "Load and weather are not of the same year: the load is metered, the weather of "
            f"{weather.place.title()} is {what}, laid on {year_number}."
        )
        found.append(Finding("weather_not_of_load_year", None, "house.weather.file", text, severity="note"))
    return found + _far_findings(house)


def _far_findings(house: House) -> list[Finding]:
    """A station more than about 100 km from the house describes another place."""
    if house.weather is None or house.weather.file is None:
        return []
    typical = read_typical_year(house.weather.file, house.weather.kind)
    north_km = (house.latitude_deg - typical.latitude_deg) * 111.2
    east_km = (house.longitude_deg - typical.longitude_deg) * 111.2 * np.cos(np.radians(house.latitude_deg))
    away_km = float(np.hypot(north_km, east_km))
    if away_km <= 100:
        return []
    text = f"The weather station {typical.place.title()} is about {away_km:.0f} km from the house."
    return [Finding("weather_far", None, "house.weather.file", text)]
