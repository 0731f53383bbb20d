"""A battery system added up from its units."""

from __future__ import annotations

import numpy as np
import pytest

from kit.systems.battery import battery_system, charge_allowed, place_temperature_c
from tests.unit.systems.blocks import a_battery


def test_units_and_packs_add_up() -> None:
    """Two units of 10 + 2 x 4 kWh: 36 kWh usable; nominal 12.5 + 8 x 1.25 = 22.5 each."""
    s = battery_system(a_battery(unit_count=2, packs_per_unit=2, pack_usable_kwh=4.0))
    assert s.usable_kwh == pytest.approx(36.0)
    assert s.rated_kwh == pytest.approx(45.0)
    assert (s.continuous_kw, s.charge_kw) == (10.0, 6.0)
    assert s.idle_kw == pytest.approx(0.08)


def test_surge_adds_up_but_lasts_no_longer() -> None:
    s = battery_system(a_battery(unit_count=2, surge_kw=7.0, surge_s=10.0))
    assert (s.surge_kw, s.surge_s) == (14.0, 10.0)


def test_ac_usable_becomes_stored_energy() -> None:
    """10 kWh delivered at 80 % discharge efficiency are 12.5 kWh stored."""
    assert battery_system(a_battery(usable_basis="ac", nominal_kwh=20.0)).usable_kwh == pytest.approx(12.5)


def test_levels_are_shares_of_usable_energy() -> None:
    s = battery_system(
        a_battery(reserve_frac=0.3, outage_floor_frac=0.1, restart_frac=0.15, wanted_above_frac=0.6)
    )
    assert (s.reserve_kwh, s.floor_kwh, s.restart_kwh, s.wanted_above_kwh) == pytest.approx(
        (3.0, 1.0, 1.5, 6.0)
    )


def test_idle_counts_once() -> None:
    assert battery_system(a_battery(efficiency_includes_idle=True)).idle_kw == 0.0


def test_defaults_of_surge_and_solar_charge() -> None:
    s = battery_system(a_battery())
    assert s.surge_kw == s.continuous_kw == 5.0
    assert s.solar_charge_kw == s.charge_kw == 3.0
    assert s.generator_charge_kw == 0.0
    assert battery_system(a_battery(solar_charge_kw=0.0)).solar_charge_kw == 0.0


@pytest.mark.parametrize(
    ("voltage_v", "pair", "count", "gives_240v", "continuous_kw", "leg_kw", "unpaired"),
    [
        (240, False, 1, True, 5.0, 2.5, 0),
        (120, False, 1, False, 5.0, 5.0, 0),
        (120, False, 2, False, 10.0, 10.0, 0),
        (120, True, 1, False, 5.0, 5.0, 0),
        (120, True, 2, True, 10.0, 5.0, 0),
        (120, True, 3, True, 10.0, 5.0, 1),
        (120, True, 4, True, 20.0, 10.0, 0),
    ],
)
def test_voltage(
    voltage_v: int,
    pair: bool,
    count: int,
    gives_240v: bool,
    continuous_kw: float,
    leg_kw: float,
    unpaired: int,
) -> None:
    s = battery_system(a_battery(voltage_v=voltage_v, pair_gives_240v=pair, unit_count=count))
    assert s.gives_120v
    assert s.gives_240v == gives_240v
    assert (s.continuous_kw, s.leg_kw, s.unpaired_count) == (continuous_kw, leg_kw, unpaired)


def test_an_odd_unit_gives_neither_power_nor_energy_but_takes_space() -> None:
    three = battery_system(a_battery(voltage_v=120, pair_gives_240v=True, unit_count=3))
    two = battery_system(a_battery(voltage_v=120, pair_gives_240v=True, unit_count=2))
    assert (three.usable_kwh, three.idle_kw) == (two.usable_kwh, two.idle_kw)
    assert three.rated_kwh == pytest.approx(1.5 * two.rated_kwh)


def test_temperature_of_a_place() -> None:
    outdoor = np.array([-10.0, 0.0, 30.0])
    np.testing.assert_array_equal(place_temperature_c("indoors", outdoor), [20.0, 20.0, 20.0])
    np.testing.assert_array_equal(place_temperature_c("garage", outdoor), [-5.0, 5.0, 35.0])
    np.testing.assert_array_equal(place_temperature_c("outdoors", outdoor), outdoor)


def test_no_charge_below_freezing_at_its_place() -> None:
    outdoor = [-6.0, -5.0, -0.1, 0.0]
    assert charge_allowed("indoors", outdoor).tolist() == [True] * 4
    assert charge_allowed("garage", outdoor).tolist() == [False, True, True, True]
    assert charge_allowed("outdoors", outdoor).tolist() == [False, False, False, True]
    assert charge_allowed("outdoors", outdoor, no_charge_below_c=-5.0).tolist() == [False, True, True, True]


def test_unknown_place() -> None:
    with pytest.raises(ValueError, match="unknown place 'attic'"):
        charge_allowed("attic", [1.0])  # type: ignore[arg-type]
