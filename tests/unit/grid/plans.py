"""Plans and years the grid tests share."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from kit.calendar import Year, calendar_year
from kit.study.rate_models import RatePlan

ZONE = "America/New_York"
SEASONS = {"summer": [6, 7, 8, 9], "winter": [1, 2, 3, 4, 5, 10, 11, 12]}


def plan(**keys: Any) -> RatePlan:
    return RatePlan.model_validate(keys)


def flat(price: float = 0.16, **keys: Any) -> RatePlan:
    return plan(energy={"all_hours": {"price_usd_per_kwh": price}}, **keys)


def evening_peak(**keys: Any) -> RatePlan:
    """Seasons, weekdays, holidays, a wrap over midnight and an edge inside an hour."""
    periods = {
        "summer_peak": {
            "seasons": ["summer"],
            "days": "weekday",
            "hours": "16-21",
            "price_usd_per_kwh": 0.41,
        },
        "winter_peak": {
            "seasons": ["winter"],
            "days": "weekday",
            "hours": "6-9, 17-20.5",
            "price_usd_per_kwh": 0.25,
        },
        "night": {"hours": "23-5", "price_usd_per_kwh": 0.07},
        "day": {"hours": "rest", "price_usd_per_kwh": 0.12},
    }
    return plan(seasons=SEASONS, energy=periods, holidays={"country": "US"}, **keys)


def year(step_min: int = 60, of: int = 2025) -> Year:
    return calendar_year(of, ZONE, step_min)


def in_month(y: Year, *kwh_by_month: float) -> NDArray[np.float64]:
    """kWh of January, February, ... each drawn at noon of the month's third day."""
    energy = np.zeros(y.n)
    for month, kwh in enumerate(kwh_by_month, start=1):
        energy[np.flatnonzero((y.month == month) & (y.index.day == 3) & (y.hour == 12))[0]] = kwh
    return energy
