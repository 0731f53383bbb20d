"""The study year: a real calendar year on the local clock, leap days and clock changes included.

A step is named by its start. Steps are of equal length in real time, so the local day on
which clocks go forward has 23 h and the one on which they go back has 25 h.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar
from zoneinfo import ZoneInfo

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

STEP_MINUTES = (15, 30, 60)
HOURS_PER_DAY = 24.0
Number = TypeVar("Number", np.int64, np.float64)
_RANGE = re.compile(r"\s*(\d{1,2}(?:\.\d+)?)\s*-\s*(\d{1,2}(?:\.\d+)?)\s*")


@dataclass(frozen=True, eq=False)
class Year:
    """One calendar year in equal steps, with what the local clock shows at the start of each.

    Attributes (arrays have n entries):
        index: time-zone-aware local start of each step.
        step_h: length of a step [h].
        month: 1 to 12. weekday: 0 is Monday. day_of_year: 1 to 365 or 366.
        hour: local clock hour, 0 <= hour < 24 [h].
        day_number: local days since 1 January, from 0.
    """

    index: pd.DatetimeIndex
    step_h: float
    month: NDArray[np.int64]
    weekday: NDArray[np.int64]
    day_of_year: NDArray[np.int64]
    hour: NDArray[np.float64]
    day_number: NDArray[np.int64]

    @property
    def n(self) -> int:
        """Steps in the year."""
        return len(self.index)

    @property
    def is_weekend(self) -> NDArray[np.bool_]:
        """True where the local day is a Saturday or a Sunday, shape (n,)."""
        return np.asarray(self.weekday >= 5)


def zone_of(time_zone: str) -> ZoneInfo:
    """A zone of the time zone database by its name. Raises ValueError for another text."""
    try:
        return ZoneInfo(time_zone)
    except (KeyError, ValueError, OSError):
        raise ValueError(f"unknown time zone {time_zone!r}; write a name such as America/New_York") from None


@lru_cache(maxsize=16)
def calendar_year(year: int, time_zone: str, step_min: int) -> Year:
    """The steps of calendar year `year` from local midnight to local midnight.

    Args:
        year: calendar year.
        time_zone: a name of the time zone database, such as America/New_York.
        step_min: 15, 30 or 60.

    Raises:
        ValueError: unknown time zone or step.
    """
    import pandas as pd

    if step_min not in STEP_MINUTES:
        raise ValueError(f"step_min must be 15, 30 or 60, got {step_min}")
    zone = zone_of(time_zone)
    ends = [pd.Timestamp(year=y, month=1, day=1, tz=zone).tz_convert("UTC") for y in (year, year + 1)]
    index = pd.date_range(ends[0], ends[1], freq=f"{step_min}min", inclusive="left").tz_convert(zone)
    day_of_year = index.day_of_year.to_numpy(np.int64)
    return Year(
        index=index,
        step_h=step_min / 60.0,
        month=_fixed(index.month.to_numpy(np.int64)),
        weekday=_fixed(index.day_of_week.to_numpy(np.int64)),
        day_of_year=_fixed(day_of_year),
        hour=_fixed(index.hour.to_numpy(np.float64) + index.minute.to_numpy(np.float64) / 60.0),
        day_number=_fixed(day_of_year - 1),
    )


def _fixed(values: NDArray[Number]) -> NDArray[Number]:
    """A copy nobody can write to: one Year serves the whole process."""
    copy = np.array(values)
    copy.flags.writeable = False
    return copy


def parse_hours(text: str) -> tuple[tuple[float, float], ...]:
    """Hour ranges of one local day, each (start, end) with 0 <= start < end <= 24 [h].

    '6-9, 17-22.5' gives two ranges; '22-6' wraps midnight and gives (0, 6) and (22, 24) of
    the same day; empty text means never.

    Raises:
        ValueError: text that is no list of ranges, an hour above 24, an empty range, an overlap.
    """
    ranges: list[tuple[float, float]] = []
    for part in text.split(",") if text.strip() else ():
        match = _RANGE.fullmatch(part)
        if match is None:
            raise ValueError(f"hours {text!r}: {part.strip()!r} is not a range; write it like '6-9, 17-22.5'")
        start, end = float(match[1]), float(match[2])
        if max(start, end) > HOURS_PER_DAY:
            raise ValueError(f"hours {text!r}: an hour is at most 24, got {max(start, end):g}")
        if start == end:
            raise ValueError(f"hours {text!r}: {part.strip()!r} is empty; write 0-24 for the whole day")
        pieces = [(start, end)] if start < end else [(0.0, end), (start, HOURS_PER_DAY)]
        ranges += [(low, high) for low, high in pieces if high > low]
    ranges.sort()
    for (_, before), (after, _) in pairwise(ranges):
        if after < before:
            raise ValueError(f"hours {text!r}: two ranges overlap near {after:g} h")
    return tuple(ranges)


@lru_cache(maxsize=64)
def share_in_hours(year: Year, weekday: str, weekend: str) -> NDArray[np.float64]:
    """Share of each step that lies inside hours of the local clock, shape (n,), 0 to 1.

    Args:
        year: the calendar year.
        weekday: hours of Monday to Friday, as `parse_hours` reads them.
        weekend: hours of Saturday and Sunday.

    Raises:
        ValueError: see `parse_hours`.
    """
    inside_h = np.zeros(year.n)
    tomorrow_is_weekend = (year.weekday == 4) | (year.weekday == 5)
    past_midnight = bool((year.hour + year.step_h > HOURS_PER_DAY).any())
    for text, today, tomorrow in (
        (weekday, ~year.is_weekend, ~tomorrow_is_weekend),
        (weekend, year.is_weekend, tomorrow_is_weekend),
    ):
        for start, end in parse_hours(text):
            inside_h += today * _overlap_h(year.hour, year.step_h, start, end)
            if past_midnight:
                inside_h += tomorrow * _overlap_h(year.hour - HOURS_PER_DAY, year.step_h, start, end)
    return _fixed(np.clip(inside_h / year.step_h, 0.0, 1.0))


def _overlap_h(hour: NDArray[np.float64], step_h: float, start: float, end: float) -> NDArray[np.float64]:
    """Hours that [hour, hour + step_h) and [start, end) have in common."""
    overlap = np.minimum(hour + step_h, end) - np.maximum(hour, start)
    return np.asarray(np.maximum(overlap, 0.0))
