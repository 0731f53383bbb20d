"""Battery with a generator from every start: links between states against a plain step loop."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit.operate.hybrid import hybrid_ride_through_h
from kit.operate.ride import ride_through_h
from tests.twins import hybrid as twin
from tests.twins.ride import changes

LIMITS = {"charge_kw": 5.0, "discharge_kw": 5.0}


def steady(load_kw: float = 1.0, fuel_run_h: float = 4.0, step_h: float = 1.0, **more: float) -> np.ndarray:
    """10 kWh, started below 2 kWh, stopped at 8 kWh, a set of 4 kW."""
    asked = {"set_kw": 4.0, "start_kwh": 2.0, "stop_kwh": 8.0} | LIMITS | more
    return hybrid_ride_through_h(
        np.full(int(72 / step_h), load_kw), 10.0, 10.0, step_h, fuel_run_h=fuel_run_h, **asked
    )


def test_a_set_adds_what_its_fuel_makes() -> None:
    # 10 kWh and 4 h x 4 kW at a load of 1 kW: 26 h. The two runs are 2 to 8 kWh at 3 kW, 2 h each.
    assert steady() == pytest.approx(26.0)
    assert steady(fuel_run_h=0.0) == pytest.approx(10.0)
    assert (steady(fuel_run_h=np.inf) == 336.0).all()


def test_the_last_step_of_a_run_is_cut_at_the_stop_level() -> None:
    # 2.9 kWh at 1 kW would end at 1.9: one step of 3 kW to 5.9, then 2.1 kWh: (8 - 4.9) / 4 of a step burnt
    net = np.array([1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 6.0])
    asked = {"set_kw": 4.0, "fuel_run_h": 2.774, "start_kwh": 2.0, "stop_kwh": 8.0} | LIMITS
    # then 1 kW a step from 8 kWh; 0.999 of a step's fuel is left: not enough for the step of 6 kW
    assert hybrid_ride_through_h(net, 2.9, 10.0, 1.0, **asked)[0] == pytest.approx(2.0 + 8.0)
    asked["fuel_run_h"] = 2.775  # 1 + 0.775 + 1: from 2.0 kWh the set runs once more, and is then out of fuel
    assert hybrid_ride_through_h(net, 2.9, 10.0, 1.0, **asked)[0] == pytest.approx(11.0)


def test_fuel_for_less_than_a_step_is_left() -> None:
    assert (steady(fuel_run_h=0.9) == steady(fuel_run_h=0.0)).all()


def test_the_set_carries_what_the_inverter_cannot() -> None:
    assert (steady(6.0, 3.0) == 3.0).all()  # 6 kW above 5 kW: only while the set runs


def test_without_fuel_it_is_the_battery_alone() -> None:
    hour = np.arange(24 * 30)
    net = 0.6 - 3.0 * np.maximum(0.0, np.sin((hour % 24 - 6) * np.pi / 12)) * (hour % 5 > 1)
    alone = ride_through_h(net, 7.0, 9.0, 1.0, **LIMITS)
    both = hybrid_ride_through_h(
        net, 7.0, 9.0, 1.0, set_kw=3.0, fuel_run_h=0.0, start_kwh=1.0, stop_kwh=8.0, **LIMITS
    )
    assert (both == alone).all()


def test_more_fuel_never_rides_shorter() -> None:
    rng = np.random.default_rng(8)
    net = rng.normal(0.8, 1.0, 600)
    asked = {"set_kw": 3.0, "start_kwh": 1.0, "stop_kwh": 6.0} | LIMITS
    less, more = (hybrid_ride_through_h(net, 4.0, 8.0, 0.5, fuel_run_h=h, **asked) for h in (6.0, 30.0))
    assert (more >= less).all()
    assert (more > less).mean() > 0.5


@st.composite
def cases(draw: st.DrawFn):
    n = draw(st.integers(1, 30))
    level = st.sampled_from([-6.0, -1.0, -0.4, 0.0, 0.1, 0.5, 1.0, 2.5, 7.0])
    net = draw(st.lists(level | st.floats(-4, 4), min_size=n, max_size=n))
    usable = draw(st.sampled_from([0.3, 1.0, 2.0, 5.0]) | st.floats(0.1, 12))
    share = draw(st.lists(st.sampled_from([0.0, 0.5, 1.0]) | st.floats(0, 1), min_size=n, max_size=n))
    start, stop = draw(st.sampled_from([(0.0, 1.0), (0.0, 0.5), (0.3, 0.8), (0.25, 0.5), (0.9, 1.0)]))
    efficiencies = draw(st.sampled_from([(1.0, 1.0), (0.9, 0.95), (0.5, 0.8)]))
    limits = draw(st.sampled_from([(5.0, 5.0), (1.0, 2.0), (0.0, 3.0)]))
    set_kw = draw(st.sampled_from([0.0, 0.5, 2.0, 4.0]) | st.floats(0, 6))
    run_steps = draw(st.sampled_from([0.0, 1.0, 2.5, 7.0, 100.0]) | st.floats(0, 20))
    step_h = draw(st.sampled_from([0.25, 0.5, 1.0]))
    horizon = draw(st.integers(1, 70))
    levels = usable, usable * start, usable * stop
    return net, [usable * f for f in share], levels, efficiencies, limits, set_kw, run_steps, step_h, horizon


def check_against_the_step_loop(case) -> None:
    net, stored_kwh, levels_kwh, efficiencies, limits, set_kw, run_steps, step_h, horizon = case
    off = changes(net, step_h, *limits, *efficiencies)
    on = changes([kw - set_kw for kw in net], step_h, *limits, *efficiencies)
    levels = [int(np.floor(kwh * 1e6 + 1e-6)) for kwh in levels_kwh]
    if levels[1] >= levels[2]:
        return
    stored = [min(levels[0], int(np.floor(kwh * 1e6 + 1e-6))) for kwh in stored_kwh]
    fuel = int(np.floor(run_steps * step_h / step_h * 1e6 + 1e-6))
    got = hybrid_ride_through_h(
        net,
        stored_kwh,
        levels_kwh[0],
        step_h,
        charge_kw=limits[0],
        discharge_kw=limits[1],
        set_kw=set_kw,
        fuel_run_h=run_steps * step_h,
        start_kwh=levels_kwh[1],
        stop_kwh=levels_kwh[2],
        charge_efficiency_frac=efficiencies[0],
        discharge_efficiency_frac=efficiencies[1],
        horizon_h=horizon * step_h,
    )
    assert got.tolist() == twin.ride_h(off, on, stored, levels, fuel, horizon, step_h)


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cases())
def test_links_equal_the_step_loop_in_every_start(case) -> None:
    check_against_the_step_loop(case)


@pytest.mark.deep
@settings(max_examples=10_000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cases())
def test_links_equal_the_step_loop_deep(case) -> None:
    check_against_the_step_loop(case)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"start_kwh": 8.0}, "start_kwh 8.0"),
        ({"stop_kwh": 11.0}, "stop_kwh 11.0"),
        ({"set_kw": -1.0}, "set_kw is -1.0"),
        ({"fuel_run_h": float("nan")}, "fuel_run_h is nan"),
        ({"horizon_h": float("inf")}, "horizon_h is inf"),
    ],
)
def test_bad_input_is_named(change: dict, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        steady(**change)
