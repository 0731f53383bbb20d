"""The days of a year as a rate plan sees them: season, class of day, bill, and plan in force.

A segment is a bill, or the part of one in which one plan is in force; most plans have twelve.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from kit.study.holiday_days import public_holidays
from kit.study.rate_days import day_in
from kit.study.rate_hours import DAY_CLASSES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.rate_models import RatePlan

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

BILL_COUNT = 12


@dataclass(frozen=True, eq=False)
class Segments:
    """Bills cut where the plan changes, in the order of time; T of them.

    Attributes:
        of_day: segment of each local day, shape (days,).
        bill: 0 to 11 (a bill is named after the month of its last day), shape (T,).
        version: which of `plan.versions()` is in force, shape (T,).
        days: days of each segment, shape (T,).
        share: its share of the days of its bill, shape (T,).
        starts: first day of each, as text such as '17 January'.
        spans: first and last day of each of the twelve bills, and how many, as text.
    """

    of_day: Ints
    bill: Ints
    version: Ints
    days: Floats
    share: Floats
    starts: tuple[str, ...]
    spans: tuple[str, ...]

    @property
    def count(self) -> int:
        """Number of segments, T."""
        return self.bill.size

    @property
    def bill_days(self) -> Floats:
        """Days of the bill that each segment belongs to, shape (T,)."""
        return self.days / self.share


@lru_cache(maxsize=16)
def dates_of(year: Year) -> list[dt.date]:
    """Date of each local day of the year."""
    first = dt.date(int(year.index[0].year), 1, 1)
    return [first + dt.timedelta(days=number) for number in range(int(year.day_number[-1]) + 1)]


def segments(plan: RatePlan, year: Year) -> Segments:
    """The bills of a year under a plan and those that follow it."""
    dates = dates_of(year)
    bill, version = bill_of_day(plan, dates), version_of_day(plan, dates)
    keys = {pair: None for pair in zip(bill.tolist(), version.tolist(), strict=True)}
    number = {pair: k for k, pair in enumerate(keys)}
    of_day = np.array([number[pair] for pair in zip(bill.tolist(), version.tolist(), strict=True)])
    days = np.bincount(of_day).astype(np.float64)
    bills = np.array([pair[0] for pair in keys])
    bill_days = np.bincount(bill, minlength=BILL_COUNT).astype(np.float64)
    return Segments(
        of_day=of_day,
        bill=bills,
        version=np.array([pair[1] for pair in keys]),
        days=days,
        share=days / bill_days[bills],
        starts=tuple(_ends_of(dates, of_day == k)[0] for k in range(len(keys))),
        spans=tuple(
            "{} to {}".format(*_ends_of(dates, bill == k)) + f", {np.count_nonzero(bill == k)} days"
            for k in range(BILL_COUNT)
        ),
    )


def _ends_of(dates: list[dt.date], mine: Flags) -> tuple[str, str]:
    """First and last day of some days; of those that run over the end of the year, December's first."""
    first, last = int(np.argmax(mine)), len(mine) - 1 - int(np.argmax(mine[::-1]))
    if mine[0] and mine[-1] and not mine.all():
        gap = np.flatnonzero(~mine)
        first, last = int(gap[-1]) + 1, int(gap[0]) - 1
    return f"{dates[first].day} {dates[first]:%B}", f"{dates[last].day} {dates[last]:%B}"


def bill_of_day(plan: RatePlan, dates: list[dt.date]) -> Ints:
    """Bill of each day, 0 to 11: calendar months, or those of the plan's billing cycle."""
    cycle = plan.billing_cycle
    if cycle is None or cycle.begins_on_day == 1:
        return np.array([day.month - 1 for day in dates])
    texts = cycle.begins_on or [f"{month:02d}-{cycle.begins_on_day:02d}" for month in range(1, 13)]
    begins = [day_in(text, dates[0].year) for text in texts]
    count = np.array([sum(begin <= day for begin in begins if begin is not None) for day in dates])
    return (count - (1 if texts[0] == "01-01" else 0)) % BILL_COUNT


def version_of_day(plan: RatePlan, dates: list[dt.date]) -> Ints:
    """Which of `plan.versions()` is in force on each day; before the first start the first one."""
    number = np.zeros(len(dates), dtype=np.int64)
    for k, version in enumerate(plan.versions()):
        if k == 0 or version.starts is None:
            continue
        start = day_in(version.starts, dates[0].year)
        if start is None:  # a day of another year
            start = dt.date.fromisoformat(version.starts)
        number[[day >= start for day in dates]] = k
    return number


def season_of_day(plan: RatePlan, dates: list[dt.date]) -> NDArray[np.str_]:
    """Season slug of each day."""
    by_month = plan.season_of_month()
    return np.array([by_month[day.month - 1] for day in dates])


def class_of_day(plan: RatePlan, dates: list[dt.date]) -> Ints:
    """0 weekday, 1 weekend, 2 holiday (only where the plan tells holidays apart) of each day."""
    kind = np.array([int(day.weekday() >= 5) for day in dates])
    if plan.holidays is not None:
        number = DAY_CLASSES.index(plan.holidays.count_as)
        free = holiday_dates(plan, dates[0].year)
        kind[[day in free for day in dates]] = number
    return kind


def holiday_dates(plan: RatePlan, calendar_year: int) -> set[dt.date]:
    """The dates that the plan bills as holidays in one year."""
    block = plan.holidays
    if block is None:
        return set()
    kept = {
        date
        for date, text in public_holidays(block.country, block.subdivision, (calendar_year,))
        if block.only is None or any(n.strip().startswith(o) for n in text.split(";") for o in block.only)
    }
    added = {day for text in block.also if (day := day_in(text, calendar_year)) is not None}
    return {date for date in kept | added if date.year == calendar_year}


def event_days(dates_text: list[str], dates: list[dt.date]) -> Flags:
    """True for each day of the year that a list of event dates names, shape (days,)."""
    named = {day_in(text, dates[0].year) for text in dates_text}
    return np.array([day in named for day in dates])
