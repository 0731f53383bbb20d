"""Laws of equipment that hold for any input."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from kit.fit import fit
from kit.fit.hazards import noise_db_a
from kit.study.equipment_models import FuelPoint
from kit.systems.battery import battery_system
from kit.systems.generator import derate_frac, fuel_per_h, generator_set
from kit.systems.reliability import reliability, serves_frac
from kit.systems.transfer import path_power, power_path
from tests.unit.fit.test_check import ListPeaks
from tests.unit.systems.blocks import a_battery, a_generator, a_transfer

kw = st.floats(0.1, 50.0)
metres = st.floats(-400.0, 6000.0)
celsius = st.floats(-40.0, 55.0)
amperes = st.floats(5.0, 200.0)


@given(st.lists(st.tuples(st.floats(0.5, 5.0), st.floats(0.0, 3.0)), min_size=2, max_size=6), st.data())
def test_fuel_rises_with_load_where_its_points_rise(
    steps: list[tuple[float, float]], data: st.DataObject
) -> None:
    outputs = np.cumsum([width for width, _ in steps])
    flows = 0.3 + np.cumsum([rise for _, rise in steps])
    points = [
        FuelPoint(output_kw=float(o), fuel_l_per_h=float(f)) for o, f in zip(outputs, flows, strict=True)
    ]
    gs = generator_set(a_generator(fuel_points=points), 0.0, 20.0)
    loads = np.sort(data.draw(st.lists(st.floats(0.0, 40.0), min_size=2, max_size=20)))
    flow = fuel_per_h(gs, loads)
    assert (np.diff(flow) >= -1e-12).all()
    assert flow.min() >= flows[0] - 1e-12
    assert flow.max() <= flows[-1] + 1e-12


@given(metres, celsius, st.sampled_from(["multiply", "add"]))
def test_a_place_never_adds_power(altitude_m: float, temperature_c: float, combine: Any) -> None:
    assert 0.0 <= derate_frac(altitude_m, temperature_c, combine=combine) <= 1.0


@given(metres, celsius)
def test_adding_losses_is_never_kinder_than_multiplying(altitude_m: float, temperature_c: float) -> None:
    added, multiplied = (derate_frac(altitude_m, temperature_c, combine=c) for c in ("add", "multiply"))
    assert added <= multiplied + 1e-12


@given(st.integers(1, 9), st.sampled_from([120, 240]), st.booleans())
def test_one_unit_more_never_gives_less(count: int, voltage_v: int, pair: bool) -> None:
    few, more = (
        battery_system(a_battery(unit_count=n, voltage_v=voltage_v, pair_gives_240v=pair))
        for n in (count, count + 1)
    )
    for name in ("usable_kwh", "continuous_kw", "surge_kw", "charge_kw", "leg_kw", "rated_kwh"):
        assert getattr(more, name) >= getattr(few, name), name
    assert more.gives_240v >= few.gives_240v


@given(kw, amperes, amperes, kw)
def test_a_path_never_adds_power(source_kw: float, inlet_a: float, rating_a: float, panel_kw: float) -> None:
    path = power_path(a_transfer(inlet_a=inlet_a, rating_a=rating_a, panel_kw=panel_kw))
    power = path_power(source_kw, 1.5 * source_kw, path, inlet=True)
    assert power.continuous_kw <= source_kw
    assert power.continuous_kw <= power.peak_kw <= 1.5 * source_kw


@given(kw, kw, st.floats(0.0, 30_000.0), st.floats(0.0, 30_000.0))
def test_a_stronger_battery_never_fits_worse(
    one_kw: float, other_kw: float, run_w: float, add_w: float
) -> None:
    peaks = ListPeaks(
        running_w=run_w,
        worst_start_w=run_w + add_w,
        all_start_w=run_w + add_w,
        leg_w=run_w / 2,
        needs_240v=(),
    )
    weak, strong = (
        fit(peaks, option="o", battery=battery_system(a_battery(continuous_kw=power)))
        for power in sorted((one_kw, other_kw))
    )
    assert strong.carries_all >= weak.carries_all
    assert strong.starts_all >= weak.starts_all
    assert strong.available_kw >= weak.available_kw


@given(st.floats(0.0, 1000.0), st.floats(0.0, 1000.0), st.sampled_from(["well", "poor"]))
def test_a_longer_run_is_never_likelier(one_h: float, other_h: float, care: Any) -> None:
    short, long = sorted((one_h, other_h))
    r = reliability(care)
    assert 0.0 <= float(serves_frac(r, long)) <= float(serves_frac(r, short)) <= 1.0


@given(st.floats(40.0, 90.0), st.floats(1.0, 200.0))
def test_twice_as_far_is_six_decibels_less(db_a: float, distance_m: float) -> None:
    drop = noise_db_a(db_a, distance_m) - noise_db_a(db_a, 2 * distance_m)
    assert abs(drop - 6.0206) < 1e-4
