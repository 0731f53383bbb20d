"""A year of weather from an EPW file.

Source: US DOE, EnergyPlus Auxiliary Programs, "EPW data dictionary": eight lines of head, then
the hours 1 to 24 of local standard time, each the hour that ENDS at its number; 99.9 C, 9999 Wh/m2
and 999 m/s stand for what is missing (codes from memory).
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kit.house.weather import TYPICAL_HOURS, TypicalYear, WeatherError

if TYPE_CHECKING:
    from numpy.typing import NDArray

# column of the kit -> (column of the file, lowest value that stands for none)
COLUMNS = {
    "ghi_w_per_m2": ("ghi", 9999.0),
    "dni_w_per_m2": ("dni", 9999.0),
    "dhi_w_per_m2": ("dhi", 9999.0),
    "temperature_c": ("temp_air", 99.9),
    "wind_m_per_s": ("wind_speed", 999.0),
}


def read_epw_year(path: Path) -> TypicalYear:
    """The hours of an EPW file, checked.

    Raises:
        WeatherError: a file that is no EPW file, has other hours than a year's 8,760, or gaps.
    """
    from pvlib.iotools import read_epw

    try:
        table, place = read_epw(path)
        columns = {name: table[said].to_numpy(np.float64) for name, (said, _) in COLUMNS.items()}
        offset_h, latitude_deg, longitude_deg = (float(place[k]) for k in ("TZ", "latitude", "longitude"))
        hours = table[["month", "day", "hour"]].to_numpy(np.int64)
    except (ValueError, KeyError, IndexError, TypeError, UnicodeDecodeError, AttributeError) as error:
        raise WeatherError(f"{path}: not an EPW file: {type(error).__name__}: {error}") from None
    if len(hours) != TYPICAL_HOURS:
        raise WeatherError(f"{path}: a year of weather has 8760 hours, this file {len(hours)}")
    if not np.array_equal(hours, _hours_of_a_year()):
        raise WeatherError(f"{path}: its rows are not the hours 1 to 24 of 1 January to 31 December")
    for name, values in columns.items():
        if bad := int(np.count_nonzero(~np.isfinite(values) | (values >= COLUMNS[name][1]))):
            raise WeatherError(f"{path}: {bad} hours without {name}")
        values.flags.writeable = False
    years = tuple(sorted({int(y) for y in table["year"]}))
    return TypicalYear(columns, offset_h, latitude_deg, longitude_deg, str(place["city"]).strip(), years)


def _hours_of_a_year() -> NDArray[np.int64]:
    """Month, day and hour 1 to 24 of each row, shape (8760, 3)."""
    starts = np.arange("2001-01-01T00", "2002-01-01T00", dtype="datetime64[h]")
    days = starts.astype("datetime64[D]")
    month = days.astype("datetime64[M]").astype(np.int64) % 12 + 1
    day = (days - days.astype("datetime64[M]")).astype(np.int64) + 1
    hour = (starts - days).astype(np.int64) + 1
    return np.column_stack([month, day, hour])
