"""The house: metered load, appliance list, weather, solar. Files are read here."""

from __future__ import annotations

from kit.house.appliances import ListLoads, OutageLoads, list_loads, outage_loads, reaches
from kit.house.meter import MeterReport, describe_meter
from kit.house.meter_year import read_meter
from kit.house.peaks import Peaks, peaks
from kit.house.readings import MeterError
from kit.house.solar import solar_kw
from kit.house.weather import WeatherError, WeatherYear
from kit.house.year import HouseYear, house_year, in_quarters

__all__ = [
    "HouseYear",
    "ListLoads",
    "MeterError",
    "MeterReport",
    "OutageLoads",
    "Peaks",
    "WeatherError",
    "WeatherYear",
    "describe_meter",
    "house_year",
    "in_quarters",
    "list_loads",
    "outage_loads",
    "peaks",
    "reaches",
    "read_meter",
    "solar_kw",
]
