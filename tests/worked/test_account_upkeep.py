"""Service, exercise, replacement and a year's emissions with the arithmetic written out."""

from __future__ import annotations

import math

import pytest

from kit.account.emissions import Range, YearEmissions, change_co2e_kg, fuel_co2e_kg, grid_co2e_kg, onsite_g
from kit.account.upkeep import (
    break_in_count_by_year,
    exercise_run,
    replacement_years,
    service_count_by_year,
    service_usd_by_year,
    unused_life_frac,
)
from kit.study.equipment_models import Exercise, ServiceTask


def test_service_by_hours_or_by_calendar() -> None:
    """Oil at 100 h or 1 year, filter at 400 h or 4 years; 40 h a year but for 250 h in year 2.

    Oil: year 1 by calendar at 1.0 (40 h). Year 2 by hours at 100 and 200 of its 250 h
    (dates 1.4, 1.8), 50 h left over. Year 3: 50 + 40 = 90 h at date 3.0, but the calendar
    calls at 2.8. Year 4 at 3.8, year 5 at 4.8.
    Filter: hours 40 + 250 + 40 = 330 at date 3, 370 at date 4: the calendar calls at 4.0.
    Break-in at 20 h: date 0.5.
    """
    hours = [40.0, 250.0, 40.0, 40.0, 40.0]
    assert list(service_count_by_year(100.0, 1.0, hours, 5)) == [1, 2, 1, 1, 1]
    assert list(service_count_by_year(400.0, 4.0, hours, 5)) == [0, 0, 0, 1, 0]
    assert list(break_in_count_by_year(20.0, hours, 5)) == [1, 0, 0, 0, 0]
    tasks = {
        "oil": ServiceTask(every_h=100.0, every_years=1.0, price_usd=80.0),
        "filter": ServiceTask(every_h=400.0, every_years=4.0, price_usd=30.0),
    }
    assert list(service_usd_by_year(tasks, hours, 5, 20.0, 60.0)) == [
        80 + 60,
        2 * 80,
        80,
        80 + 30,
        80,
    ]


def test_doing_a_task_by_calendar_starts_its_hours_again() -> None:
    """60 h a year, due at 100 h or 1 year: always by calendar; hours alone call at 1.67, 3.33, 5.0."""
    assert list(service_count_by_year(100.0, 1.0, 60.0, 5)) == [1, 1, 1, 1, 1]
    assert list(service_count_by_year(100.0, None, 60.0, 5)) == [0, 1, 0, 1, 1]
    assert list(service_count_by_year(None, 2.0, 60.0, 5)) == [0, 1, 0, 1, 0]
    assert list(service_count_by_year(100.0, None, 0.0, 3)) == [0, 0, 0]


def test_a_new_engine_starts_every_count_again() -> None:
    """Engine of 250 h at 100 h a year, new at 2.5 years: oil at 200 h; break-in at 25 h.

    Old: oil at 2.0. New: oil 200 h after 2.5, at 4.5. Break-in at 0.25 and 2.75.
    """
    new = replacement_years(20.0, 250.0, 100.0, 5)
    assert new == (2.5,)
    assert list(service_count_by_year(200.0, None, 100.0, 5, new)) == [0, 1, 0, 0, 1]
    assert list(break_in_count_by_year(25.0, 100.0, 5, new)) == [1, 0, 1, 0, 0]
    # What is due on the day of the new engine is not done to the old one.
    assert list(service_count_by_year(None, 1.0, 100.0, 4, (2.0,))) == [1, 0, 1, 1]


def test_exercise() -> None:
    """52 runs of 15 min at 40 % of 8 kW on a curve of 0.5 + 0.25 L/h a kW: 13 h at 3.2 kW."""
    run = exercise_run(
        Exercise(runs_per_year=52, minutes=15, output_frac=0.4), 8.0, lambda kw: 0.5 + 0.25 * kw
    )
    assert run.run_h == 52 * 0.25
    assert run.generated_kwh == pytest.approx(13 * 3.2)
    assert run.fuel == pytest.approx(13 * (0.5 + 0.25 * 3.2))
    assert exercise_run(Exercise(), 8.0, 1.0).fuel == 0


def test_replacement_by_age_by_use_and_at_the_horizon() -> None:
    """12 years of life over 30: at 12 and 24, 6 of 12 years left; over 24 only once, none left.

    Battery of 30,000 kWh at 4,000 kWh a year: 7.5 years, before its 12.
    """
    assert replacement_years(12.0, None, 0.0, 30) == (12.0, 24.0)
    assert unused_life_frac(12.0, None, 0.0, 30) == pytest.approx(1 - 6 / 12)
    assert replacement_years(12.0, None, 0.0, 24) == (12.0,)
    assert unused_life_frac(12.0, None, 0.0, 24) == 0
    assert replacement_years(25.0, None, 0.0, 15) == ()
    assert unused_life_frac(25.0, None, 0.0, 15) == pytest.approx(10 / 25)
    assert replacement_years(12.0, 30_000.0, 4_000.0, 20) == pytest.approx((7.5, 15.0))
    assert unused_life_frac(12.0, 30_000.0, 4_000.0, 20) == pytest.approx(1 - 5 * 4_000 / 30_000)


def test_a_hard_year_brings_the_replacement_forward() -> None:
    """300 h of life at 50 h, then 400 h in year 2: 50 + 250 of 400 h, so 1.625; then 150 + 50 + 50 h."""
    hours = [50.0, 400.0, 50.0, 50.0]
    assert replacement_years(20.0, 300.0, hours, 4) == (1.625,)
    assert unused_life_frac(20.0, 300.0, hours, 4) == pytest.approx(1 - (150 + 50 + 50) / 300)


def test_a_years_emissions() -> None:
    """30 L at 2.33 kg; 5,000 kWh at 0.35 bought instead of 5,200; 60 kWh made on site."""
    nothing = YearEmissions(0.0, grid_co2e_kg([2_600.0, 2_600.0], 0.35), Range(0, 0), Range(0, 0))
    option = YearEmissions(
        fuel_co2e_kg(30.0, 2.33),
        grid_co2e_kg([2_500.0, 2_500.0], 0.35),
        onsite_g(60.0, 8.0, 8.0),
        onsite_g(60.0, 610.0),
    )
    assert option.co2e_kg == pytest.approx(30 * 2.33 + 5_000 * 0.35)
    assert change_co2e_kg(option, nothing) == pytest.approx(30 * 2.33 - 200 * 0.35)
    assert option.onsite_nox_g == Range(480.0, 480.0)
    assert option.onsite_co_g == Range(0.0, 60 * 610.0)
    assert grid_co2e_kg([1.0, 3.0], [0.5, 0.1]) == pytest.approx(1 * 0.5 + 3 * 0.1)
    assert math.isclose(grid_co2e_kg(0.0, 0.35), 0.0)
