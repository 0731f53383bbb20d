"""The local calendar: clock changes, leap days, hours of use."""

from __future__ import annotations

import calendar as almanac

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.calendar import calendar_year, parse_hours, share_in_hours

EASTERN = "America/New_York"


def test_a_common_year_in_a_zone_with_clock_changes_has_8760_hours() -> None:
    year = calendar_year(2025, EASTERN, 60)
    hours_of_day = np.bincount(year.day_number)
    assert year.n == 365 * 24
    # US clocks changed on Sunday 9 March and Sunday 2 November 2025.
    assert hours_of_day[31 + 28 + 8] == 23
    assert hours_of_day[304 + 1] == 25
    assert np.count_nonzero(hours_of_day == 24) == 363
    assert year.index[0] == pd.Timestamp("2025-01-01 00:00", tz=EASTERN)


@pytest.mark.parametrize(("step_min", "steps"), [(60, 8784), (30, 17568), (15, 35136)])
def test_a_leap_year_has_366_days_at_every_step(step_min: int, steps: int) -> None:
    year = calendar_year(2024, EASTERN, step_min)
    assert year.n == steps
    assert year.step_h == step_min / 60
    assert year.day_number[-1] == 365
    assert np.any((year.month == 2) & (year.index.day == 29))


def test_weekdays_are_those_of_the_almanac() -> None:
    year = calendar_year(2026, EASTERN, 60)
    first = np.flatnonzero((year.month == 7) & (year.index.day == 4))[0]
    assert year.weekday[first] == almanac.weekday(2026, 7, 4) == almanac.SATURDAY
    assert year.is_weekend[first]


def test_the_hour_that_is_skipped_and_the_hour_that_comes_twice() -> None:
    year = calendar_year(2025, EASTERN, 60)
    spring = year.hour[year.day_number == 67]
    autumn = year.hour[year.day_number == 305]
    assert 2.0 not in spring
    assert np.count_nonzero(autumn == 1.0) == 2


def test_a_zone_off_by_half_an_hour_still_starts_at_local_midnight() -> None:
    year = calendar_year(2025, "Asia/Kolkata", 60)
    assert year.hour[0] == 0.0
    assert year.n == 8760


@pytest.mark.parametrize(
    ("text", "ranges"),
    [
        ("", ()),
        ("0-24", ((0.0, 24.0),)),
        ("17-22.5, 6-9", ((6.0, 9.0), (17.0, 22.5))),
        ("22-6", ((0.0, 6.0), (22.0, 24.0))),
        ("22-0", ((22.0, 24.0),)),
    ],
)
def test_hour_ranges(text: str, ranges: tuple[tuple[float, float], ...]) -> None:
    assert parse_hours(text) == ranges


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("6 to 9", "is not a range"),
        ("6-9,", "is not a range"),
        ("6-25", "at most 24"),
        ("6-6", "write 0-24 for the whole day"),
        ("6-9, 8-10", "overlap"),
        ("22-6, 5-7", "overlap"),
    ],
)
def test_bad_hour_ranges_say_why(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        parse_hours(text)


def test_bad_zone_and_step_say_why() -> None:
    with pytest.raises(ValueError, match="unknown time zone 'Mars/Olympus'"):
        calendar_year(2025, "Mars/Olympus", 60)
    with pytest.raises(ValueError, match="15, 30 or 60, got 20"):
        calendar_year(2025, EASTERN, 20)


def test_a_step_partly_inside_counts_in_part() -> None:
    year = calendar_year(2025, EASTERN, 60)
    share = share_in_hours(year, "6.5-7.25", "")
    wednesday = slice(0, 24)  # 1 January 2025
    assert share[wednesday][6] == pytest.approx(0.5)
    assert share[wednesday][7] == pytest.approx(0.25)
    assert share[year.is_weekend].sum() == 0.0


def test_a_step_across_midnight_takes_the_hours_of_the_next_day() -> None:
    # Lord Howe Island changes by half an hour: hourly steps then start at half past.
    year = calendar_year(2025, "Australia/Lord_Howe", 60)
    late = np.flatnonzero((year.hour == 23.5) & (year.weekday == 4))
    assert late.size > 20
    assert np.allclose(share_in_hours(year, "", "0-24")[late], 0.5)
    assert np.allclose(share_in_hours(year, "0-24", "0-24"), 1.0)


@given(
    year=st.integers(1990, 2060),
    zone=st.sampled_from([EASTERN, "Europe/Berlin", "Australia/Sydney", "Asia/Tokyo", "America/Phoenix"]),
    step_min=st.sampled_from([15, 30, 60]),
)
def test_every_year_has_its_days_and_its_hours(year: int, zone: str, step_min: int) -> None:
    steps = calendar_year(year, zone, step_min)
    days = 366 if almanac.isleap(year) else 365
    assert steps.n * steps.step_h == days * 24
    assert steps.day_number[0] == 0
    assert steps.day_number[-1] == days - 1
    assert set(np.bincount(steps.day_number) * steps.step_h) <= {23.0, 24.0, 25.0}
    assert np.all((steps.hour >= 0) & (steps.hour < 24))
