"""Everyday use: energy closes, charge stays in bounds, and the clock loop against a plain twin."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.operate.everyday import Everyday, clock, hold, plan_hours, without_battery
from kit.systems.battery import battery_system
from tests.twins.clock import by_the_clock
from tests.unit.systems.blocks import a_battery

DAYS = 40
N = DAYS * 24
HOUR = np.arange(N) % 24
DAY = np.arange(N) // 24
SUN_KW = 4.0 * np.clip(np.sin((HOUR - 6.0) / 12.0 * np.pi), 0.0, None)
PRICES = np.where((HOUR >= 16) & (HOUR < 21), 0.40, np.where(HOUR < 6, 0.10, 0.20))
ALWAYS = np.ones(N, dtype=bool)
NEVER = np.zeros(N, dtype=bool)


def one_day(kw: dict[int, float]) -> np.ndarray:
    made = np.zeros(24)
    for hour, value in kw.items():
        made[hour] = value
    return made


def some_use(seed: int, step_h: float = 1.0, **changes: Any):
    """A clock year of random loads and hours, and all that went into it."""
    rng = np.random.default_rng(seed)
    battery = battery_system(
        a_battery(
            reserve_frac=float(rng.uniform(0, 0.6)),
            charge_efficiency_frac=float(rng.uniform(0.8, 1.0)),
            discharge_efficiency_frac=float(rng.uniform(0.8, 1.0)),
            solar_charge_kw=float(rng.uniform(0.5, 5.0)),
            **changes,
        )
    )
    load = rng.uniform(0.1, 4.0, N)
    given_ = dict(
        load_kw=load,
        behind_kw=load * rng.uniform(0.2, 1.0),
        solar_kw=SUN_KW * rng.uniform(0.0, 1.5, N),
        standby_kw=0.03,
        battery=battery,
        charge_hours=rng.random(N) < 0.3,
        discharge_hours=rng.random(N) < 0.4,
        may_charge=rng.random(N) < 0.9,
        step_h=step_h,
    )
    return clock(**given_), given_


def closes(use: Everyday, load_kw: np.ndarray, step_h: float) -> None:
    """What passes the meter is load and charging less solar and discharging, in every step."""
    met = load_kw * step_h + use.charge_kwh - use.discharge_kwh - use.solar_kwh
    assert use.import_kwh - use.export_kwh == pytest.approx(met, abs=1e-9)
    assert (use.import_kwh >= 0).all()
    assert (use.export_kwh >= 0).all()
    assert (use.import_kwh * use.export_kwh == 0).all()


@pytest.mark.parametrize("step_h", [0.25, 1.0])
@given(seed=st.integers(0, 10_000))
@settings(max_examples=40)
def test_clock_closes_and_stays_in_bounds(step_h, seed):
    use, given_ = some_use(seed, step_h)
    b = given_["battery"]
    closes(use, given_["load_kw"] + 0.03 + b.idle_kw, step_h)
    stored = np.append(use.stored_kwh, use.stored_kwh[0])
    moved = use.charge_kwh * b.charge_efficiency_frac - use.discharge_kwh / b.discharge_efficiency_frac
    assert np.diff(stored) == pytest.approx(moved, abs=1e-8)  # the last step leads back to the first
    assert stored.min() >= -1e-9
    assert stored.max() <= b.usable_kwh + 1e-9
    assert (use.charge_kwh <= max(b.charge_kw, b.solar_charge_kw) * step_h + 1e-9).all()
    assert (use.discharge_kwh <= b.continuous_kw * step_h + 1e-9).all()
    assert (use.discharge_kwh <= given_["behind_kw"] * step_h + 1e-9).all()
    assert (use.discharge_kwh[use.charge_kwh > 0] == 0).all()


@given(seed=st.integers(0, 10_000))
@settings(max_examples=30)
def test_clock_keeps_its_reserve(seed):
    """The clock never discharges below the reserve; only a step begun below it may stay there."""
    use, given_ = some_use(seed)
    reserve = given_["battery"].reserve_kwh
    after = np.roll(use.stored_kwh, -1)
    assert (after[use.discharge_kwh > 1e-9] >= reserve - 1e-8).all()
    assert use.stored_kwh.min() >= min(reserve, use.stored_kwh[0]) - 1e-8


@given(seed=st.integers(0, 10_000))
@settings(max_examples=30)
def test_clock_never_charges_where_it_may_not(seed):
    use, given_ = some_use(seed)
    assert (use.charge_kwh[~given_["may_charge"]] == 0).all()
    outside = ~given_["charge_hours"]
    surplus = np.maximum(0.0, given_["solar_kw"] - given_["load_kw"])
    assert (use.charge_kwh[outside] <= surplus[outside] + 1e-9).all()  # from solar only
    assert (use.discharge_kwh[~given_["discharge_hours"]] == 0).all()


def check_against_twin(use: Everyday, given_: dict[str, Any], reserve_kwh: Any) -> None:
    b = given_["battery"]
    load = given_["load_kw"] + 0.03 + b.idle_kw
    house = dict(
        load_kwh=load.tolist(),
        behind_kwh=np.minimum(given_["behind_kw"], load).tolist(),
        solar_kwh=given_["solar_kw"].tolist(),
    )
    sizes = dict(
        full_kwh=b.usable_kwh,
        reserve_kwh=reserve_kwh,
        grid_charges=b.grid_charge_allowed,
        grid_in_kwh=b.charge_kw,
        solar_in_kwh=b.solar_charge_kw,
        out_kwh=b.continuous_kw,
        charge_eff=b.charge_efficiency_frac,
        discharge_eff=b.discharge_efficiency_frac,
    )
    hours = (given_["charge_hours"], given_["discharge_hours"], given_["may_charge"])
    told, end_kwh = by_the_clock(house, sizes, *hours, float(use.stored_kwh[0]))
    assert use.import_kwh == pytest.approx(np.array(told["bought"]), abs=1e-8)
    assert use.export_kwh == pytest.approx(np.array(told["sold"]), abs=1e-8)
    assert use.stored_kwh == pytest.approx(np.array(told["stored"]), abs=1e-8)
    assert use.charge_kwh == pytest.approx(np.array(told["charged"]), abs=1e-8)
    assert use.discharge_kwh == pytest.approx(np.array(told["discharged"]), abs=1e-8)
    assert end_kwh == pytest.approx(float(use.stored_kwh[0]), abs=1e-8)  # the year ends as it began


@given(seed=st.integers(0, 10_000))
@settings(max_examples=25)
def test_clock_is_its_plain_twin(seed):
    use, given_ = some_use(seed)
    check_against_twin(use, given_, given_["battery"].reserve_kwh)


@given(seed=st.integers(0, 10_000), allowed=st.booleans())
@settings(max_examples=25)
def test_clock_with_a_reserve_that_changes_is_its_plain_twin(seed, allowed):
    _, given_ = some_use(seed, grid_charge_allowed=allowed)
    rng = np.random.default_rng(seed)
    raised = np.repeat(rng.uniform(0, 1, DAYS) * (rng.random(DAYS) < 0.3), 24)
    given_["reserve_kwh"] = raised * given_["battery"].usable_kwh
    use = clock(**given_)
    check_against_twin(use, given_, given_["reserve_kwh"].tolist())
    full = given_["battery"].usable_kwh
    below = use.stored_kwh < given_["reserve_kwh"] - 1e-6
    assert (use.discharge_kwh[below] == 0.0).all()
    assert use.stored_kwh.max() <= full + 1e-9


def test_a_reserve_raised_before_a_storm_is_charged_to_and_held():
    """10 kWh, of which 2 are the reserve; from noon on 8, at 3 kW of charging without losses."""
    battery = battery_system(
        a_battery(
            usable_kwh=10.0,
            charge_kw=3.0,
            continuous_kw=5.0,
            idle_w=0.0,
            charge_efficiency_frac=1.0,
            discharge_efficiency_frac=1.0,
        )
    )
    reserve = np.where(np.arange(24) < 12, 2.0, 8.0)
    load, none, hours = np.full(24, 4.0), np.zeros(24), np.zeros(24, dtype=bool)
    early = np.arange(24) < 8
    use = clock(load, load, none, 0.0, battery, hours, early, np.ones(24, dtype=bool), 1.0, reserve)
    assert use.stored_kwh[8:16] == pytest.approx([2.0, 2.0, 2.0, 2.0, 2.0, 5.0, 8.0, 8.0])
    with pytest.raises(ValueError, match=r"reserve_kwh has shape \(1,\)"):
        clock(load, load, none, 0.0, battery, hours, early, early, 1.0, reserve[:1])


def test_one_day_by_hand():
    """4 kWh at night at 90 %, 3 kWh of peak load at 80 %."""
    battery = battery_system(
        a_battery(
            usable_kwh=5.0,
            reserve_frac=0.2,
            idle_w=0.0,
            charge_efficiency_frac=0.9,
            discharge_efficiency_frac=0.8,
        )
    )
    load = one_day({3: 0.5, 4: 0.5, 17: 2.0, 18: 2.0})
    charge, discharge = np.isin(np.arange(24), [3, 4]), np.isin(np.arange(24), [17, 18])
    use = clock(load, load, np.zeros(24), 0.0, battery, charge, discharge, np.ones(24, dtype=bool), 1.0)
    # 4 kWh above the reserve of 1: 4 x 0.8 = 3.2 kWh to the load, 2.0 then 1.2
    assert use.discharge_kwh[[17, 18]] == pytest.approx([2.0, 1.2])
    # from the reserve: 3 kW x 0.9 = 2.7, then the last 1.3 / 0.9
    assert use.stored_kwh[3] == pytest.approx(1.0)
    assert use.charge_kwh[[3, 4]] == pytest.approx([3.0, 1.3 / 0.9])
    assert use.import_kwh[[3, 4, 17, 18]] == pytest.approx([3.5, 0.5 + 1.3 / 0.9, 0.0, 0.8])
    assert use.throughput_kwh == pytest.approx(3.2)


def test_a_battery_shifts_only_the_load_behind_it():
    """0.4 kW behind it and a 3 h peak: 1.2 kWh, whatever its size (T4)."""
    battery = battery_system(a_battery(idle_w=0.0, reserve_frac=0.0, discharge_efficiency_frac=1.0))
    peak = np.isin(np.arange(24), [17, 18, 19])
    use = clock(
        np.full(24, 3.0), np.full(24, 0.4), np.zeros(24), 0.0, battery, ~peak, peak,
        np.ones(24, dtype=bool), 1.0,
    )  # fmt: skip
    assert use.throughput_kwh == pytest.approx(1.2)


def test_stored_energy_is_never_sold():
    battery = battery_system(a_battery(idle_w=0.0))
    use = clock(np.full(N, 0.2), np.full(N, 0.2), SUN_KW, 0.0, battery, NEVER, ALWAYS, ALWAYS, 1.0)
    assert (use.export_kwh <= np.maximum(0.0, SUN_KW - 0.2) + 1e-12).all()


# ---- hold and without ----------


def test_hold_never_discharges_and_pays_its_idle_draw():
    battery = battery_system(a_battery(idle_w=40.0))
    load = np.full(N, 1.0)
    use = hold(load, SUN_KW, 0.02, battery, 1.0)
    closes(use, load + 0.02 + 0.04, 1.0)
    assert (use.stored_kwh == battery.usable_kwh).all()
    assert use.discharge_kwh.sum() == use.charge_kwh.sum() == 0.0
    bare = without_battery(load, SUN_KW, 0.02, 1.0)
    more = (use.import_kwh - use.export_kwh - bare.import_kwh + bare.export_kwh).sum()
    assert more == pytest.approx(0.04 * N)  # 40 W: 350 kWh in a year of 8,760 h


def test_without_battery_is_load_less_solar():
    use = without_battery(np.array([1.0, 2.0]), np.array([3.0, 0.5]), 0.1, 0.5)
    assert use.import_kwh == pytest.approx([0.0, 0.8])  # (2.0 + 0.1 - 0.5) / 2
    assert use.export_kwh == pytest.approx([0.95, 0.0])  # (3.0 - 1.1) / 2


# ---- hours of the plan ---------


def test_plan_hours_are_the_cheapest_and_the_dearest():
    battery = battery_system(a_battery(charge_efficiency_frac=0.94, discharge_efficiency_frac=0.94))
    charge, discharge = plan_hours(PRICES, np.full(N, 0.05), DAY, battery, NEVER)
    assert np.array_equal(charge, HOUR < 6)
    assert np.array_equal(discharge, (HOUR >= 16) & (HOUR < 21))


def test_a_trip_that_does_not_pay_is_not_made():
    """0.20 against 0.18 at 0.9 x 0.9: 0.162 is less than 0.18."""
    battery = battery_system(a_battery(charge_efficiency_frac=0.9, discharge_efficiency_frac=0.9))
    price = np.where(HOUR < 6, 0.18, 0.20)
    charge, discharge = plan_hours(price, np.zeros(N), DAY, battery, NEVER)
    assert not charge.any()
    assert not discharge.any()


def test_one_price_needs_a_surplus_worth_keeping():
    battery = battery_system(a_battery(charge_efficiency_frac=0.9, discharge_efficiency_frac=0.9))
    price, surplus = np.full(N, 0.20), SUN_KW > 2.0
    for sold_at, keeps in ((0.10, True), (0.17, False)):  # 0.20 x 0.81 = 0.162
        charge, discharge = plan_hours(price, np.full(N, sold_at), DAY, battery, surplus)
        assert not charge.any()
        assert discharge.all() == keeps
        assert discharge.any() == keeps
    assert not plan_hours(price, np.zeros(N), DAY, battery, NEVER)[1].any()


def test_named_hours_come_first_and_never_overlap():
    battery = battery_system(a_battery())
    charge, discharge = plan_hours(PRICES, np.zeros(N), DAY, battery, NEVER, HOUR < 12, HOUR >= 10)
    assert np.array_equal(charge, HOUR < 10)
    assert np.array_equal(discharge, HOUR >= 10)


def test_no_grid_charging_where_it_is_not_allowed():
    battery = battery_system(a_battery(grid_charge_allowed=False))
    charge, discharge = plan_hours(PRICES, np.zeros(N), DAY, battery, NEVER)
    assert not charge.any()
    assert discharge.any()
    bound = replace(battery, grid_charge_allowed=True)
    assert plan_hours(PRICES, np.zeros(N), DAY, bound, NEVER)[0].any()
