"""Ageing by hand, and its laws."""

from __future__ import annotations

import numpy as np
import pytest
import rainflow
from hypothesis import given
from hypothesis import strategies as st

from kit.systems.ageing import YearStress, counted_cycles, held_full, year_stress


def test_loss_adds_the_two_parts() -> None:
    stress = YearStress(calendar_squared=0.04**2, cycle_squared=0.02**2)
    assert stress.loss_frac(4.0) == pytest.approx(2 * (0.04 + 0.02))
    assert stress.loss_frac(4.0, scale_frac=0.5) == pytest.approx(0.06)
    assert stress.age_at_loss_years(0.12) == pytest.approx(4.0)
    assert stress.loss_frac(1e6) == 1.0
    assert YearStress(0.0, 0.0).age_at_loss_years(0.2) == float("inf")


def test_a_stress_that_changes_is_carried_as_squares() -> None:
    """Half a year at 15 C and half at 35 C: the mean of the squares, not of the losses."""
    cold, hot = held_full(15.0), held_full(35.0)
    mixed = year_stress(np.ones(8760), np.repeat([15.0, 35.0], 4380), 1.0)
    assert mixed.calendar_squared == pytest.approx((cold.calendar_squared + hot.calendar_squared) / 2)


def test_resting_half_full_is_kinder_than_full() -> None:
    assert held_full(25.0, charge_frac=0.5).loss_frac(10.0) < held_full(25.0).loss_frac(10.0)


def test_a_path_that_rests_has_no_cycles() -> None:
    assert counted_cycles(np.full(24, 0.7), 1.0).full_equivalent_count == 0.0
    assert year_stress(np.full(8760, 0.7), 20.0, 1.0).cycle_squared == 0.0


@pytest.mark.parametrize("seed", range(40))
def test_turning_points_alone_count_as_the_whole_path(seed: int) -> None:
    """Paths that rest, rise and fall in few levels, against rainflow over every step."""
    rng = np.random.default_rng(seed)
    path = np.repeat(rng.integers(0, 5, rng.integers(3, 60)) / 4.0, rng.integers(1, 4))
    whole = [c for c in rainflow.extract_cycles(path.tolist()) if c[0] > 1e-9]
    counted = counted_cycles(path, 0.5)
    assert counted.depth_frac.tolist() == [c[0] for c in whole]
    assert counted.count.tolist() == [c[2] for c in whole]
    hours = [max(last - first, 1) * 0.5 for *_, first, last in whole]
    assert counted.c_rate_per_h == pytest.approx(
        [2 * c[2] * c[0] / h for c, h in zip(whole, hours, strict=True)]
    )


def test_rate_of_a_cycle() -> None:
    """Down by 0.5 in 2 h and up again in 2 h: one cycle of depth 0.5 at 0.25 an hour."""
    cycles = counted_cycles(np.array([1.0, 0.75, 0.5, 0.75, 1.0]), 1.0)
    assert cycles.full_equivalent_count == pytest.approx(0.5)
    assert cycles.c_rate_per_h == pytest.approx([0.25, 0.25])


def test_quarter_hours_and_hours_agree() -> None:
    day = 0.5 + 0.4 * np.sin(np.arange(8760) * 2 * np.pi / 24)
    hourly = year_stress(day, 20.0, 1.0)
    fine = year_stress(np.repeat(day, 4), 20.0, 0.25)
    assert fine.calendar_squared == pytest.approx(hourly.calendar_squared, rel=1e-9)
    assert fine.cycle_squared == pytest.approx(hourly.cycle_squared, rel=0.05)


def test_unknown_form() -> None:
    with pytest.raises(ValueError, match="naumann or schimpe"):
        year_stress(np.ones(4), 20.0, 1.0, "other")


@given(st.floats(-10, 45), st.floats(0, 1), st.floats(0.1, 30))
def test_warmer_and_older_is_never_less(temperature_c: float, charge: float, age_years: float) -> None:
    for form in ("naumann", "schimpe"):
        here = held_full(temperature_c, form, charge)
        warmer = held_full(temperature_c + 5, form, charge)
        assert warmer.loss_frac(age_years) >= here.loss_frac(age_years)
        assert here.loss_frac(age_years + 1) >= here.loss_frac(age_years)
