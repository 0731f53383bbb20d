"""Small houses for the tests of the load list."""

from __future__ import annotations

import numpy as np

from kit.calendar import calendar_year
from kit.house.appliances import ListLoads, list_loads
from kit.study.appliance_models import Appliance
from kit.study.house_models import House

ZONE = "America/New_York"
YEAR = calendar_year(2025, ZONE, 60)
MILD_C = np.full(YEAR.n, 20.0)
SWING_C = 12.0 + 18.0 * np.sin(2 * np.pi * (np.arange(YEAR.n) / YEAR.n - 0.3))


def house_of(people_home: bool = False, **appliances: Appliance) -> House:
    return House(
        time_zone=ZONE,
        latitude_deg=36.0,
        longitude_deg=-80.0,
        outage_people_home=people_home,
        appliances=appliances,
    )


def lists_of(house: House, temperature_c: np.ndarray = MILD_C) -> ListLoads:
    return list_loads(house, YEAR, temperature_c)
