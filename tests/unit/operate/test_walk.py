"""The compiled outage walk against a minute-by-minute twin, and against arithmetic by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.operate import walk as w
from tests.twins.outage import follow
from tests.unit.operate.walks import NEVER, run

BATTERY = dict(
    stored_kwh=10.0, full_kwh=10.0, floor_kwh=0.0, restart_kwh=1.0, wanted_kwh=10.0, kw=5.0,
    solar_charge_kw=5.0, set_charge_kw=0.0, charge_eff=1.0, discharge_eff=1.0, idle_kw=0.0,
    start_kwh=3.0, stop_kwh=8.0,
)  # fmt: skip
GENERATOR = dict(
    kw=5.0, best_kw=3.75, tank=20.0, on_site=20.0, resupply=0.0, resupply_every_h=24.0, refuel_gap_h=0.0,
    run_h=24.0, cycle_h=24.0, repair_h=48.0, life_h=NEVER, ready_h=0.0, by_hand=False,
    points=[(0.0, 1.0), (5.0, 3.0)],
)  # fmt: skip


def house(must=0.5, wanted=0.0, solar=0.0, days=10, home="all"):
    hours = days * 24
    clock = np.arange(hours) % 24
    sun_up = np.clip(np.sin((clock - 6) / 12 * np.pi), 0, None)
    return dict(
        must_kw=[must] * hours,
        wanted_kw=[wanted] * hours,
        solar_kw=list(solar * sun_up),
        attended=[True] * hours if home == "all" else [bool(7 <= c < 22) for c in clock],
        step_h=1.0,
    )


def machines(battery=None, generator=None, **given):
    made = dict(tolerates_h=0.0, solar_charges=False, solar_beside_set=False, resupply_delay_h=24.0)
    if battery is not None:
        made["battery"] = BATTERY | battery
    if generator is not None:
        made["generator"] = GENERATOR | generator
    return made | given


def test_round_numbers_are_exact():
    ends, _, _, _ = run(house(must=0.1), machines(battery={}), [0, 7], 120)
    assert ends == pytest.approx([100.0, 100.0], abs=1e-9)  # 10 kWh / 0.1 kW


def test_the_failing_moment_lies_inside_the_step():
    ends, totals, _, _ = run(house(must=0.6), machines(battery={"discharge_eff": 0.9}), [0], 24)
    assert ends[0] == pytest.approx(10 * 0.9 / 0.6, abs=1e-9)  # 15 h
    assert totals[0, w.MUST_OUT_H] == pytest.approx(24 - 15)
    assert totals[0, w.MUST_OUT_KWH] == pytest.approx((24 - 15) * 0.6)


def test_generator_burns_by_its_curve_until_the_tank_is_dry():
    # 1.5 kW: 1 + 2 * 1.5 / 5 = 1.6 L/h; 20 L last 12.5 h
    ends, totals, _, _ = run(house(must=1.0, wanted=0.5), machines(generator={}), [0], 24)
    assert ends[0] == pytest.approx(12.5, abs=1e-9)
    assert totals[0, w.FUEL] == pytest.approx(20.0)
    assert totals[0, w.SET_RUN_H] == pytest.approx(12.5)
    assert totals[0, w.WANTED_OUT_KWH] == pytest.approx(0.5 * (24 - 12.5))


def test_a_slow_start_is_a_gap_that_some_loads_bear():
    slow = machines(generator={"ready_h": 0.75, "on_site": 1000.0, "tank": 1000.0})
    assert run(house(), slow, [0], 24)[0][0] == 0.0
    slow["tolerates_h"] = 1.0
    assert run(house(), slow, [0], 24)[0][0] == 24.0
    assert run(house(), slow, [0], 24)[1][0, w.MUST_OUT_H] == pytest.approx(0.75)


def test_rotation_two_hours_in_six():
    rest = machines(generator={"run_h": 2.0, "cycle_h": 6.0, "tank": 100.0, "on_site": 100.0})
    _, totals, _, longest = run(house(), rest, [0], 24)
    assert totals[0, w.SET_RUN_H] == pytest.approx(8.0)  # 4 x 2 h
    assert totals[0, w.MUST_OUT_H] == pytest.approx(16.0)
    assert longest[0] == pytest.approx(4.0)
    assert run(house(), rest | {"tolerates_h": 4.0}, [0], 24)[0][0] == 24.0
    assert run(house(), rest | {"tolerates_h": 3.9}, [0], 24)[0][0] == pytest.approx(2.0)


def test_a_failed_start_waits_for_repair():
    fails = np.zeros((1, 4), dtype=bool)
    fails[0, 0] = True
    one = machines(generator={"repair_h": 10.0, "tank": 100.0, "on_site": 100.0})
    ends, totals, _, _ = run(house(), one, [0], 24, start_fails=fails)
    assert ends[0] == 0.0
    assert totals[0, w.MUST_OUT_H] == pytest.approx(10.0)


@pytest.mark.parametrize(("hours", "run_h", "failures"), [(24, 11.0, 4), (35, 15.0, 5)])
def test_every_life_of_a_set_has_its_own_length(hours, run_h, failures):
    """Lives of 3, 2, 5 and 1 h with 4 h of repair after each: it runs in hours 0-3, 7-9, 13-18 and 22-23.

    That is 11 h of 24, with 4 failures. The lives repeat after the last: 27-30 and 34-35 add 4 h by hour 35.
    """
    lives = machines(
        generator={"life_h": [3.0, 2.0, 5.0, 1.0], "repair_h": 4.0, "tank": 500.0, "on_site": 500.0}
    )
    _, totals, trace, longest = run(house(), lives, [0], hours)
    assert totals[0, w.SET_RUN_H] == pytest.approx(run_h)
    assert totals[0, w.MUST_OUT_H] == pytest.approx(hours - run_h)
    assert trace[:, w.T_FAILURES].sum() == failures
    assert longest[0] == pytest.approx(4.0)


def test_a_set_started_by_hand_waits_for_the_morning():
    # from 20 h: 10 kWh / 1 kW fall to 3 kWh at 3 h, and to nothing at 6 h; someone is up at 7 h
    by_hand = machines(battery={}, generator={"by_hand": True, "tank": 90.0, "on_site": 90.0})
    ends, totals, _, _ = run(house(must=1.0, home="day"), by_hand, [20], 24)
    assert ends[0] == pytest.approx(10.0)
    assert totals[0, w.MUST_OUT_H] == pytest.approx(1.0)


def test_hybrid_cycles_between_its_levels():
    # 0.5 kW drains 10 to 3 kWh in 14 h; the set then carries 0.5 and charges min(3, 3.75 - 0.5) = 3 kW: 5/3 h
    both = machines(battery={"set_charge_kw": 3.0}, generator={"tank": 100.0, "on_site": 100.0})
    ends, totals, trace, _ = run(house(), both, [0], 24)
    assert ends[0] == 24.0
    assert totals[0, w.SET_RUN_H] == pytest.approx(5 / 3)
    assert totals[0, w.SET_KWH] == pytest.approx(3.5 * 5 / 3)
    assert totals[0, w.FUEL] == pytest.approx((1 + 2 * 3.5 / 5) * 5 / 3)
    assert trace[-1, w.T_STORED] == pytest.approx(8.0 - 0.5 * (24 - 14 - 5 / 3))


def test_dark_battery_comes_back_with_the_sun():
    cycle = machines(battery={"full_kwh": 5.0, "stored_kwh": 5.0}, solar_charges=True)
    ends, totals, trace, _ = run(house(must=0.5, solar=4.0), cycle, [18], 48)
    assert ends[0] == pytest.approx(10.0)  # 5 kWh / 0.5 kW, from 18 h to 4 h
    # dark from 4 h; 4 kW x sin(15 degrees) = 1.0353 kW from 7 h fills 1 kWh in 0.9659 h; twice in 48 h
    assert totals[0, w.MUST_OUT_H] == pytest.approx(2 * (7 + 0.9659 - 4), abs=1e-3)
    assert trace[20, w.T_UNSERVED] == 0.0  # the next afternoon


def _random_case(seed):
    rng = np.random.default_rng(seed)
    place = house(
        must=float(rng.uniform(0.1, 2.0)),
        wanted=float(rng.uniform(0, 1.5)),
        solar=float(rng.choice([0.0, 3.0, 6.0])),
        home=str(rng.choice(["all", "day"])),
    )
    place["must_kw"] = list(
        np.array(place["must_kw"]) * rng.uniform(0.3, 1.0, len(place["must_kw"])).round(3)
    )
    full = float(rng.uniform(4, 30))
    battery = dict(
        full_kwh=full, stored_kwh=full * float(rng.uniform(0.3, 1)),
        floor_kwh=full * float(rng.choice([0, 0.1])),
        restart_kwh=full * 0.25, wanted_kwh=full * float(rng.choice([0.5, 1.0])), charge_eff=0.94,
        discharge_eff=0.92, idle_kw=float(rng.choice([0, 0.04])), set_charge_kw=float(rng.choice([0, 2.5])),
        start_kwh=full * 0.3, stop_kwh=full * 0.8,
    )  # fmt: skip
    generator = dict(
        tank=float(rng.choice([15, 400])), on_site=float(rng.choice([15, 60, 400])),
        resupply=float(rng.choice([0, 30])), refuel_gap_h=float(rng.choice([0, 0.25])),
        ready_h=float(rng.choice([0, 0.5])), life_h=float(rng.choice([9.5, NEVER])), repair_h=12.0,
        by_hand=bool(rng.integers(2)), run_h=float(rng.choice([2, 24])), cycle_h=float(rng.choice([6, 24])),
    )  # fmt: skip
    generator["run_h"] = min(generator["run_h"], generator["cycle_h"])
    kind = rng.integers(3)
    return place, machines(
        battery=battery if kind != 1 else None,
        generator=generator if kind != 0 else None,
        tolerates_h=float(rng.choice([0.0, 1.0, 4.0])),
        solar_charges=True,
        solar_beside_set=bool(rng.integers(2)),
    )


@pytest.mark.parametrize("seed", range(60))
def test_agrees_with_the_minute_by_minute_twin(seed):
    place, made = _random_case(seed)
    start = 24 + seed % 24
    hours = 72
    ends, totals, trace, _ = run(place, made, [start], hours)
    told = follow(place, made, start, hours)
    minutes = 25 / 60  # a minute each time the twin notices something late
    assert totals[0, w.MUST_OUT_H] == pytest.approx(told["out_h"], abs=minutes)
    assert totals[0, w.MUST_OUT_KWH] == pytest.approx(told["out_kwh"], abs=minutes * max(place["must_kw"]))
    assert totals[0, w.WANTED_OUT_KWH] == pytest.approx(told["wanted_out_kwh"], rel=0.02, abs=0.7)
    assert totals[0, w.SET_RUN_H] == pytest.approx(told["run_h"], rel=0.03, abs=minutes)
    assert totals[0, w.FUEL] == pytest.approx(told["fuel"], rel=0.03, abs=0.7)
    assert totals[0, w.SET_KWH] == pytest.approx(told["set_kwh"], rel=0.03, abs=1.0)
    assert totals[0, w.REFUELS] == pytest.approx(told["refuels"], abs=1)
    if abs(ends[0] - told["ended_h"]) > 0.1:  # a gap as long as the tolerance may fall either way
        assert made["tolerates_h"] > 0
    if "battery" in made:
        assert trace[-1, w.T_STORED] == pytest.approx(told["stored_kwh"], rel=0.05, abs=0.4)


CASES = st.integers(min_value=0, max_value=10_000)


@given(CASES)
@settings(max_examples=60)
def test_energy_closes_and_charge_stays_in_bounds(seed):
    place, made = _random_case(seed)
    if "battery" not in made:
        return
    b = made["battery"]
    ends, totals, trace, _ = run(place, made, [seed % 240], 72)
    stored = np.concatenate([[b["stored_kwh"]], trace[:, w.T_STORED]])
    assert stored.max() <= b["full_kwh"] + 1e-9
    low = min(b["stored_kwh"], b["floor_kwh"])
    assert stored.min() >= low - 1e-9
    # AC side: what sources give is what loads and losses take
    moved = np.diff(stored)
    charged, drawn = np.clip(moved, 0, None) / b["charge_eff"], np.clip(-moved, 0, None) * b["discharge_eff"]
    one_way = np.isclose(charged - drawn, -trace[:, w.T_BATTERY], atol=1e-6)
    served = trace[:, w.T_MUST] - trace[:, w.T_UNSERVED] + trace[:, w.T_WANTED]
    given_kw = trace[:, w.T_SOLAR] + trace[:, w.T_SET] + trace[:, w.T_BATTERY]
    assert (given_kw >= served - 1e-6).all()
    assert (given_kw <= served + b["idle_kw"] + 1e-6).all()
    assert one_way.mean() > 0.5  # steps that charge and discharge both are few
    assert (trace[:, w.T_UNSERVED] <= trace[:, w.T_MUST] + 1e-9).all()
    assert totals[0, w.MUST_OUT_H] <= 72 + 1e-9
    assert 0 <= ends[0] <= 72


@given(CASES, st.floats(min_value=1.0, max_value=2.0))
@settings(max_examples=60)
def test_more_battery_never_rides_less(seed, more):
    place, made = _random_case(seed)
    b = made.get("battery")
    if b is None:
        return
    made.pop("generator", None)
    b |= {"wanted_kwh": 1e9, "restart_kwh": b["full_kwh"] * 0.25}
    bigger = made | {"battery": b | {"full_kwh": b["full_kwh"] * more, "stored_kwh": b["stored_kwh"] * more}}
    starts = np.arange(0, 240, 7)
    small, large = run(place, made, starts, 72)[0], run(place, bigger, starts, 72)[0]
    assert (large >= small - 1e-9).all()


@given(CASES)
@settings(max_examples=40)
def test_a_longer_outage_never_burns_less(seed):
    place, made = _random_case(seed)
    if "generator" not in made:
        return
    short, long = (run(place, made, [seed % 240], hours)[1][0] for hours in (24, 72))
    assert long[w.FUEL] >= short[w.FUEL] - 1e-9
    assert long[w.MUST_OUT_H] >= short[w.MUST_OUT_H] - 1e-9
    assert long[w.SET_RUN_H] >= short[w.SET_RUN_H] - 1e-9
