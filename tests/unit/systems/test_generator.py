"""A generator set at its place."""

from __future__ import annotations

import numpy as np
import pytest

from kit.study.equipment_models import FuelPoint
from kit.systems.generator import derate_frac, efficiency_frac, fuel_per_h, generator_set, range_findings
from tests.unit.systems.blocks import a_generator


def test_engine_power_is_derated() -> None:
    """1,500 m: 5 x 3 % off."""
    gs = generator_set(a_generator(), 1500.0, 20.0)
    assert (gs.rated_kw, gs.running_kw, gs.starting_kw) == pytest.approx((8.0, 6.8, 8.5))
    assert gs.starting_kva is None
    assert gs.leg_kw == pytest.approx(3.4)
    assert gs.best_load_kw == pytest.approx(0.75 * 6.8)
    assert gs.minimum_load_kw == pytest.approx(2.4)  # of the rating


def test_the_alternator_is_not() -> None:
    gs = generator_set(a_generator(starting_basis="kva", starting_kw=16.0), 1500.0, 20.0)
    assert gs.starting_kva == 16.0
    assert gs.starting_kw == pytest.approx(6.8)


def test_a_low_or_cold_place_gives_no_more_than_the_rating() -> None:
    assert derate_frac(-300.0, -20.0) == 1.0


def test_nothing_is_left_on_an_absurd_mountain() -> None:
    assert derate_frac(12_000.0, 25.0) == 0.0
    assert derate_frac(9_000.0, 100.0, combine="add") == 0.0


def test_fuel_curve_is_linear_and_held_at_its_ends() -> None:
    gs = generator_set(a_generator(), 0.0, 20.0)
    np.testing.assert_allclose(
        fuel_per_h(gs, [0.0, 1.0, 4.0, 6.0, 8.0, 9.0]), [1.0, 1.25, 2.0, 2.75, 3.5, 3.5]
    )
    assert fuel_per_h(gs, np.full((2, 3), 4.0)).shape == (2, 3)


def test_the_curve_is_read_at_kw_out_whatever_the_place() -> None:
    low, high = (generator_set(a_generator(), m, 20.0) for m in (0.0, 1500.0))
    assert fuel_per_h(low, 5.0) == fuel_per_h(high, 5.0)


def test_efficiency_is_nothing_at_no_load() -> None:
    gs = generator_set(a_generator(), 0.0, 20.0)
    assert efficiency_frac(gs, [0.0, 8.0])[0] == 0.0
    assert 0.2 < efficiency_frac(gs, [0.0, 8.0])[1] < 0.3


def test_heat_points_of_pipeline_gas_become_m3() -> None:
    gs = generator_set(a_generator(fuel="natural_gas"), 0.0, 20.0)
    assert gs.unit == "m3"
    assert gs.tank_l is None
    assert gs.fuel_on_site_l is None
    assert gs.fuel_per_h[0] == pytest.approx(20.0 / 10.6188, rel=1e-4)


def test_fuel_on_site_is_a_full_tank_unless_said() -> None:
    assert generator_set(a_generator(), 0.0, 20.0).fuel_on_site_l == 30.0
    assert generator_set(a_generator(fuel_on_site_l=75.0), 0.0, 20.0).fuel_on_site_l == 75.0


def test_a_gas_in_litres_is_refused() -> None:
    points = [FuelPoint(output_kw=0.0, fuel_l_per_h=1.0), FuelPoint(output_kw=8.0, fuel_l_per_h=2.0)]
    with pytest.raises(ValueError, match="natural_gas is metered"):
        generator_set(a_generator(fuel="natural_gas", fuel_points=points), 0.0, 20.0)


def test_range_findings() -> None:
    points = [FuelPoint(output_kw=4.0, fuel_l_per_h=2.0), FuelPoint(output_kw=8.0, fuel_l_per_h=3.5)]
    gs = generator_set(a_generator(fuel_points=points), 0.0, 20.0)
    assert not gs.no_load_known
    assert range_findings(gs, [4.0, 8.0]) == ()
    assert range_findings(gs, []) == ()
    (low,) = range_findings(gs, [0.5, 5.0], "portable")
    assert low.code == "fuel_curve_no_load_missing"
    assert low.path == "options.portable.generator.fuel_points"
    assert "down to 0.50 kW but its fuel curve starts at 4.00 kW" in low.text
    (high,) = range_findings(gs, [5.0, 8.4])
    assert high.code == "fuel_curve_exceeded"


def test_a_curve_with_no_load_has_no_finding_there() -> None:
    assert range_findings(generator_set(a_generator(), 0.0, 20.0), [0.0, 0.1]) == ()
