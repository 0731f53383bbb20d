"""Ride-through of every start: the reflected walk against a plain step loop."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit.operate import ride
from kit.operate.ride import ride_through_h, stored_change_micro_kwh
from tests.twins import ride as twin


def one_load(load_kw: float, usable_kwh: float, step_h: float = 1.0, **more: float) -> np.ndarray:
    limits = {"charge_kw": 5.0, "discharge_kw": 5.0} | more
    return ride_through_h(np.full(int(48 / step_h), load_kw), usable_kwh, usable_kwh, step_h, **limits)


def test_round_numbers_stay_exact() -> None:
    assert (one_load(0.1, 10.0) == 100.0).all()  # 10 kWh / 0.1 kW
    assert (one_load(0.1, 10.0, step_h=0.25) == 100.0).all()
    assert (one_load(0.3, 9.0, step_h=0.5) == 30.0).all()  # 9 kWh / 0.3 kW


def test_the_failing_moment_lies_inside_the_last_step() -> None:
    assert one_load(0.4, 1.0) == pytest.approx(2.5)  # 1 kWh / 0.4 kW
    assert one_load(0.4, 1.0, discharge_efficiency_frac=0.8) == pytest.approx(2.0)  # 1 * 0.8 / 0.4
    assert one_load(1.0, 0.0) == pytest.approx(0.0)


def test_above_the_inverter_limit_fails_at_once() -> None:
    assert (one_load(5.1, 100.0) == 0.0).all()
    net = np.array([1.0, 1.0, 6.0, 1.0])
    got = ride_through_h(net, 50.0, 50.0, 1.0, charge_kw=5.0, discharge_kw=5.0)
    assert got.tolist() == [2.0, 1.0, 0.0, 3.0]


def test_surplus_charges_up_to_limit_and_full() -> None:
    net = np.array([2.0, -8.0, 2.0, 2.0, 2.0, 2.0])  # empty after one step, then 3 kW * 0.5 = 1.5 kWh
    got = ride_through_h(
        net,
        [2.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        9.0,
        1.0,
        charge_kw=3.0,
        discharge_kw=5.0,
        charge_efficiency_frac=0.5,
    )
    assert got == pytest.approx([2.75, 1.75, 0.0, 0.0, 0.0, 0.0])  # 1.5 / 2 of a step


def test_a_ride_longer_than_the_horizon_is_cut_there() -> None:
    assert (one_load(0.0, 1.0, horizon_h=72.0) == 72.0).all()
    assert (one_load(0.1, 10.0, horizon_h=99.5, step_h=1.0) == 100.0).all()


@st.composite
def cases(draw: st.DrawFn):
    n = draw(st.integers(1, 30))
    level = st.sampled_from([-3.0, -1.0, -0.4, 0.0, 0.1, 0.3, 0.5, 1.0, 2.5, 7.0])
    net = draw(st.lists(level | st.floats(-4, 4), min_size=n, max_size=n))
    usable = draw(st.sampled_from([0.0, 0.3, 1.0, 2.0, 5.0]) | st.floats(0, 12))
    share = draw(st.lists(st.sampled_from([0.0, 0.5, 1.0]) | st.floats(0, 1), min_size=n, max_size=n))
    efficiencies = draw(st.sampled_from([(1.0, 1.0), (0.9, 0.95), (0.5, 0.8)]))
    limits = draw(st.sampled_from([(5.0, 5.0), (1.0, 2.0), (0.0, 3.0)]))
    step_h = draw(st.sampled_from([0.25, 0.5, 1.0]))
    return net, usable, [usable * f for f in share], efficiencies, limits, step_h, draw(st.integers(1, 70))


def check_against_the_step_loop(case) -> None:
    net, usable_kwh, stored_kwh, efficiencies, limits, step_h, horizon = case
    change = stored_change_micro_kwh(
        net,
        step_h,
        charge_kw=limits[0],
        discharge_kw=limits[1],
        charge_efficiency_frac=efficiencies[0],
        discharge_efficiency_frac=efficiencies[1],
    )
    told = twin.changes(net, step_h, *limits, *efficiencies)
    assert [None if c == ride.CERTAIN_FAILURE else c for c in change.tolist()] == told
    usable = int(np.floor(usable_kwh * 1e6 + 1e-6))
    stored = [min(usable, int(np.floor(kwh * 1e6 + 1e-6))) for kwh in stored_kwh]
    expected = twin.ride_h(told, stored, usable, horizon, step_h)
    got = ride_through_h(
        net,
        stored_kwh,
        usable_kwh,
        step_h,
        charge_kw=limits[0],
        discharge_kw=limits[1],
        charge_efficiency_frac=efficiencies[0],
        discharge_efficiency_frac=efficiencies[1],
        horizon_h=horizon * step_h,
    )
    assert got.tolist() == expected


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cases())
def test_the_reflected_walk_equals_the_step_loop_in_every_start(case) -> None:
    check_against_the_step_loop(case)


@pytest.mark.deep
@settings(max_examples=10_000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cases())
def test_the_reflected_walk_equals_the_step_loop_deep(case) -> None:
    check_against_the_step_loop(case)


def test_a_float_simulation_agrees_within_one_step() -> None:
    rng = np.random.default_rng(5)
    hour = np.arange(24 * 20) % 24
    net = 0.5 + 0.3 * rng.random(hour.size) - 2.2 * np.maximum(0.0, np.sin((hour - 6) * np.pi / 12))
    stored = 9.0 * rng.random(hour.size)
    got = ride_through_h(
        net,
        stored,
        9.0,
        1.0,
        charge_kw=3.0,
        discharge_kw=5.0,
        charge_efficiency_frac=0.95,
        discharge_efficiency_frac=0.94,
    )
    told = twin.float_ride_steps(net, stored, 9.0, 1.0, (3.0, 5.0), (0.95, 0.94), 336)
    assert np.abs(np.floor(got) - told).max() <= 1
    assert 5 < got.mean() < 330


def test_more_stored_never_rides_shorter() -> None:
    rng = np.random.default_rng(6)
    net = rng.normal(0.2, 1.0, 500)
    stored = 5.0 * rng.random(500)
    less, more = (
        ride_through_h(net, stored + extra, 6.0, 0.5, charge_kw=2.0, discharge_kw=4.0) for extra in (0.0, 0.7)
    )
    assert (more >= less).all()
    assert (more > less).any()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"net_load_kw": []}, "shape"),
        ({"net_load_kw": [1.0, np.nan]}, "not finite at step 1"),
        ({"stored_kwh": [1.0, 2.0, 3.0]}, "stored_kwh has shape"),
        ({"stored_kwh": np.inf}, "stored_kwh is not finite"),
        ({"usable_kwh": -1.0}, "usable_kwh is -1.0"),
        ({"usable_kwh": 5000.0}, "900"),
        ({"step_h": 0.0}, "step_h is 0.0"),
        ({"discharge_efficiency_frac": 1.2}, "discharge_efficiency_frac is 1.2"),
        ({"charge_kw": -1.0}, "charge_kw makes -1.0 kWh"),
        ({"horizon_h": 0.0}, "horizon_h is 0.0"),
    ],
)
def test_bad_input_is_named(change: dict, words: str) -> None:
    good = {
        "net_load_kw": [1.0, 1.0],
        "stored_kwh": 1.0,
        "usable_kwh": 2.0,
        "step_h": 1.0,
        "charge_kw": 1.0,
        "discharge_kw": 2.0,
    }
    with pytest.raises(ValueError, match=words):
        ride_through_h(**(good | change))
