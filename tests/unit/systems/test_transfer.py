"""Power path and the time without power."""

from __future__ import annotations

import pytest

from kit.systems.battery import battery_system
from kit.systems.generator import generator_set
from kit.systems.transfer import option_gap, option_gap_s, path_power, power_path, starts_alone
from tests.unit.systems.blocks import a_battery, a_generator, a_transfer


def test_the_smallest_limit_wins() -> None:
    path = power_path(a_transfer(inlet_a=50.0, rating_a=30.0, panel_kw=6.0))
    power = path_power(12.0, 15.0, path, inlet=True)
    assert (power.continuous_kw, power.peak_kw, power.limited_by) == (6.0, 6.0, "the backed panel")
    path = power_path(a_transfer(inlet_a=20.0, voltage_v=120))
    power = path_power(12.0, 15.0, path, inlet=True)
    assert (power.continuous_kw, power.peak_kw) == pytest.approx((1.92, 2.4))
    assert power.limited_by == "the inlet"


def test_a_wired_battery_does_not_pass_the_inlet() -> None:
    path = power_path(a_transfer(inlet_a=20.0))
    assert path_power(12.0, 15.0, path, inlet=False).continuous_kw == 12.0


def test_no_transfer_equipment_limits_nothing() -> None:
    assert power_path(None) is None
    power = path_power(3.0, 4.0, None, inlet=True)
    assert (power.continuous_kw, power.peak_kw, power.limited_by) == (3.0, 4.0, "the source itself")


def test_gap_of_a_wired_battery() -> None:
    gap = option_gap(battery_system(a_battery(transfer_time_s=0.1)), None, None)
    assert gap is not None
    assert (gap.gap_s, gap.needs_person) == (0.1, False)


def test_gap_of_a_plug_in_battery() -> None:
    fetched = battery_system(a_battery(connected_to="plug_in", transfer_time_s=0.0, setup_min=10.0))
    in_line = battery_system(a_battery(connected_to="plug_in", transfer_time_s=0.01, in_line=True))
    gap = option_gap(fetched, None, None)
    assert gap is not None
    assert (gap.gap_s, gap.needs_person) == (600.0, True)
    assert option_gap_s(in_line, None, None) == 0.01


def test_gap_of_generators() -> None:
    """Automatic 10 + 0.5 s; by hand 20 min + 15 s."""
    alone = generator_set(a_generator(start="automatic", start_time_s=10.0), 0.0, 20.0)
    by_hand = generator_set(a_generator(), 0.0, 20.0)
    path = power_path(a_transfer())
    assert option_gap_s(None, alone, path) == 10.5
    gap = option_gap(None, by_hand, path)
    assert gap is not None
    assert (gap.gap_s, gap.needs_person) == (1215.0, True)


def test_an_automatic_set_behind_a_manual_switch_waits_for_a_person() -> None:
    gs = generator_set(a_generator(start="automatic"), 0.0, 20.0)
    assert not starts_alone(gs, power_path(a_transfer(kind="manual")))
    assert not starts_alone(gs, None)
    assert starts_alone(gs, power_path(a_transfer()))


def test_gap_of_a_hybrid_is_its_battery_s_unless_that_needs_a_person() -> None:
    alone = generator_set(a_generator(start="automatic", start_time_s=10.0), 0.0, 20.0)
    path = power_path(a_transfer())
    assert option_gap_s(battery_system(a_battery()), alone, path) == 0.02
    carried = battery_system(a_battery(connected_to="plug_in"))
    assert option_gap_s(carried, alone, path) == 10.5


def test_no_source_has_no_gap() -> None:
    assert option_gap_s(None, None, None) is None
