"""A utility's calls on a battery: what they draw, how it refills, and what an outage then finds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.operate.everyday import Everyday, clock, hold
from kit.operate.programme import called_starts, with_calls
from kit.systems.battery import BatterySystem, battery_system
from tests.unit.operate.outage_cases import YEAR, plain_battery

N = YEAR.n
YES = np.ones(N, dtype=bool)


def called(
    use: Everyday,
    net_kw: np.ndarray,
    b: BatterySystem,
    starts: list[int],
    hours: float = 3.0,
    **given: object,
) -> Everyday:
    fields = {
        "behind_kw": np.full(N, 99.0),
        "floor_kwh": 1.0,
        "export_allowed": True,
        "refill": YES,
        "may_charge": YES,
        "step_h": 1.0,
    } | given
    return with_calls(use, net_kw, battery=b, starts=np.array(starts), event_h=hours, **fields)


def test_calls_fall_on_weekdays_spread_over_the_months() -> None:
    starts = called_starts(YEAR, [6, 7, 8, 9], 40, 17.0)
    assert starts.size == 40
    assert set(YEAR.month[starts]) == {6, 7, 8, 9}
    assert (YEAR.weekday[starts] < 5).all()
    assert (YEAR.hour[starts] == 17.0).all()
    assert np.diff(YEAR.day_number[starts]).min() >= 2
    assert np.bincount(YEAR.month[starts], minlength=10)[6:10].tolist() == [10, 10, 10, 10]
    with pytest.raises(ValueError, match="programme events, but the months named have 20 weekdays"):
        called_starts(YEAR, [2], 21, 17.0)


def test_a_held_battery_by_hand() -> None:
    """10 kWh, 2 kW in and out, 90 % both ways, 1 kW load, called for 3 h down to 1 kWh.

    Out 2 / 0.9 = 2.222 an hour: 10, 7.778, 5.556, 3.333; back 1.8 an hour: 5.133, 6.933, 8.733, 10.
    The meter: 1 - 2 = -1 for 3 h, then 3, 3, 3 and 1 + 1.267 / 0.9 = 2.407.
    """
    b = battery_system(
        plain_battery(
            charge_kw=2.0,
            continuous_kw=2.0,
            surge_kw=2.0,
            charge_efficiency_frac=0.9,
            discharge_efficiency_frac=0.9,
        )
    )
    load = np.full(N, 1.0)
    use = hold(load, np.zeros(N), 0.0, b, 1.0)
    made = called(use, load, b, [100])
    assert made.stored_kwh[99:109] == pytest.approx(
        [10, 10, 7.7778, 5.5556, 3.3333, 5.1333, 6.9333, 8.7333, 10, 10], abs=1e-4
    )
    assert (made.import_kwh - made.export_kwh)[99:108] == pytest.approx(
        [1, -1, -1, -1, 3, 3, 3, 2.4074, 1], abs=1e-4
    )
    assert made.discharge_kwh.sum() == pytest.approx(6.0)
    untouched = np.r_[0:100, 107:N]
    assert np.array_equal(made.import_kwh[untouched], use.import_kwh[untouched])


def test_without_export_it_gives_the_load_behind_it() -> None:
    b = battery_system(plain_battery(charge_kw=2.0))
    load = np.full(N, 1.5)
    use = hold(load, np.zeros(N), 0.0, b, 1.0)
    made = called(use, load, b, [100], export_allowed=False, behind_kw=np.full(N, 0.4))
    assert made.discharge_kwh[100:103] == pytest.approx([0.4, 0.4, 0.4])
    assert made.export_kwh.sum() == 0.0


def test_it_stops_at_the_floor_and_waits_for_its_hours() -> None:
    """5 kW out of 10 kWh down to 4: 6 kWh in the first two hours; refilled from hour 110 on only."""
    b = battery_system(plain_battery(continuous_kw=5.0, surge_kw=5.0, charge_kw=2.0))
    load = np.zeros(N)
    use = hold(load, load, 0.0, b, 1.0)
    night = np.arange(N) >= 110
    made = called(use, load, b, [100], floor_kwh=4.0, refill=night)
    assert made.discharge_kwh[100:103] == pytest.approx([5.0, 1.0, 0.0])
    assert made.stored_kwh[103:114] == pytest.approx([4.0] * 8 + [6.0, 8.0, 10.0])


def test_solar_surplus_refills_it_without_the_grid() -> None:
    b = replace(battery_system(plain_battery(charge_kw=2.0)), grid_charge_allowed=False)
    net = np.where((YEAR.hour >= 9) & (YEAR.hour < 15), -1.0, 0.5)
    use = hold(np.maximum(net, 0.0), np.maximum(-net, 0.0), 0.0, b, 1.0)
    start = int(np.flatnonzero((YEAR.hour == 17) & (YEAR.day_number == 40))[0])
    made = called(use, net, b, [start])
    assert made.import_kwh.sum() == pytest.approx(
        use.import_kwh.sum() - 2 * 0.5
    )  # 5 and 4 kWh, then the floor
    nine = int(np.flatnonzero((YEAR.hour == 9) & (YEAR.day_number == 41))[0])
    rise = np.diff(made.stored_kwh[nine : nine + 5])
    assert rise == pytest.approx([1.0, 1.0, 1.0, 1.0])
    assert made.export_kwh[nine : nine + 4] == pytest.approx([0.0] * 4)


def test_energy_closes_and_charge_stays_below_everyday_use() -> None:
    rng = np.random.default_rng(8)
    b = battery_system(
        plain_battery(
            charge_kw=2.0, charge_efficiency_frac=0.92, discharge_efficiency_frac=0.95, reserve_frac=0.3
        )
    )
    load, solar = 0.4 + rng.random(N), 2.0 * np.maximum(0.0, np.sin(np.pi * (YEAR.hour - 6) / 12))
    evening, night = (YEAR.hour >= 17) & (YEAR.hour < 21), YEAR.hour < 4
    use = clock(load, load, solar, 0.0, b, night, evening, YES, 1.0)
    starts = called_starts(YEAR, [6, 7, 8, 9], 60, 16.0)
    made = called(use, load - solar, b, list(starts), hours=4.0, refill=night)
    assert (made.stored_kwh <= use.stored_kwh + 1e-9).all()
    assert made.stored_kwh.min() >= min(1.0, use.stored_kwh.min()) - 1e-9
    meter = made.import_kwh - made.export_kwh
    assert meter == pytest.approx(load - solar + made.charge_kwh - made.discharge_kwh, abs=1e-9)
    change = np.diff(made.stored_kwh)
    flows = made.charge_kwh * 0.92 - made.discharge_kwh / 0.95
    assert change == pytest.approx(flows[:-1], abs=1e-9)
    assert made.charge_kwh.max() <= 2.0 + 1e-9
    assert made.discharge_kwh.max() <= b.continuous_kw + 1e-9
    after = starts + 4
    assert made.stored_kwh[after].mean() < use.stored_kwh[after].mean()
