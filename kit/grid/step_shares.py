"""Which part of each step lies inside the seasons, days and hours of a block of a rate plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from kit.calendar import parse_hours
from kit.grid.bill_days import class_of_day, dates_of, event_days, season_of_day
from kit.study.rate_hours import DAY_CLASSES, rest_windows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.rate_hours import Windows
    from kit.study.rate_models import RatePlan
    from kit.study.rate_parts import CriticalPeak, DemandCharge, EnergyPeriod

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]


def share_of_steps(
    plan: RatePlan, year: Year, block: EnergyPeriod | DemandCharge, event: CriticalPeak | None = None
) -> Floats:
    """Share of each step inside a block, shape (n,); with `event`, inside both.

    Hours are those of the local clock: the hour that clocks leave out has no step, the hour that they
    show twice has two.
    """
    dates = dates_of(year)
    season_of, class_of = season_of_day(plan, dates), class_of_day(plan, dates)
    held = event_days(event.dates, dates) if event is not None else np.ones(len(dates), dtype=bool)
    inside_h = np.zeros(year.n)
    for season in block.seasons if block.seasons is not None else plan.seasons:
        for number, day_class in enumerate(DAY_CLASSES):
            days = (season_of == season) & (class_of == number) & held
            windows = block.windows(day_class) if days.any() else ()
            if windows is None:
                windows = rest_windows(plan.energy, season, day_class)
            if event is not None:
                windows = _common(windows, parse_hours(event.hours))
            inside_h += _inside_h(year, days, windows)
    return np.minimum(inside_h / year.step_h, 1.0)


def _common(one: Windows, other: Windows) -> Windows:
    """Hours inside both of two lists of ranges."""
    pairs = ((max(a, c), min(b, d)) for a, b in one for c, d in other)
    return tuple((low, high) for low, high in pairs if high > low)


def _inside_h(year: Year, days: Flags, windows: Windows) -> Floats:
    """Hours of each step inside clock hours of some days; hours past 24 are those of the next day."""
    inside_h = np.zeros(year.n)
    today = days[year.day_number]
    tomorrow = np.append(days[1:], days[-1])[year.day_number]
    for start, end in windows:
        inside_h += today * _overlap_h(year, start, end)
        inside_h += tomorrow * _overlap_h(year, start + 24.0, end + 24.0)
    return inside_h


def _overlap_h(year: Year, start: float, end: float) -> Floats:
    """Hours of each step between two clock hours."""
    inside = np.minimum(year.hour + year.step_h, end) - np.maximum(year.hour, start)
    return np.maximum(inside, 0.0)
