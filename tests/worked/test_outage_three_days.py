"""Three days without the grid, written out hour by hour: nights, cans of fuel, a delivery, a battery."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.operate import walk as w
from kit.operate.outages import walk_kind
from kit.operate.single import one_outage
from kit.study.equipment_models import FuelPoint
from kit.systems.transfer import Gap
from tests.unit.operate.outage_cases import MAJOR, YEAR, backup, kinds_of, plain_battery
from tests.unit.systems.blocks import a_generator

HOME = (YEAR.hour >= 7) & (YEAR.hour < 22)
EVENING = int(np.flatnonzero((YEAR.day_number == 20) & (YEAR.hour == 20))[0])
HALF_AN_HOUR = Gap(1800.0, True, "half an hour to set up")
(KIND,) = kinds_of(major=MAJOR | {"resupply_delay_h": 36.0})
# 0.5 L/h idling and 0.5 L more for each kW: 1 L/h at 1 kW, 2 L/h at 3 kW
POINTS = [FuelPoint(output_kw=kw, fuel_l_per_h=0.5 + 0.5 * kw) for kw in (0.0, 2.0, 4.0, 8.0)]


def portable(**changes):
    fields = dict(
        fuel_points=POINTS,
        tank_l=12.0,
        fuel_on_site_l=30.0,
        resupply_l=10.0,
        resupply_every_h=24.0,
        refuel_gap_min=30.0,
        refuels_at_night=False,
    )
    return backup(
        1.0,
        generator=a_generator(**(fields | changes.pop("generator", {}))),
        attended=HOME,
        set_gap=HALF_AN_HOUR,
        **changes,
    )


# A portable of 12 L with 18 L in cans, at 1 kW: 1 L/h. The grid fails at 20:00; people are up 7 to 22.
#   20:00-20:30  set up                                                       dark 0.5
#   20:30-08:30  12 L are 12 h (21:00: 11.5 L is above half, not filled up)   served 12
#   08:30-09:00  refuelled from cans: 12 L in the tank, 18 - 12 = 6 left      dark 0.5
#   09:00-21:00  12 L are 12 h                                                served 12
#   21:00-21:30  the last hour up, the tank dry: the 6 L in cans go in        dark 0.5
#   21:30-03:30  6 L are 6 h                                                  served 6
#   03:30-08:00  dry, no fuel                                                 dark 4.5
#   08:00-08:30  36 h after 20:00 come 10 L: into the tank                    dark 0.5
#   08:30-18:30  10 L are 10 h                                                served 10
#   18:30-08:00  dry until the next delivery at 60 h                          dark 13.5
#   08:00-08:30  10 L into the tank                                           dark 0.5
#   08:30-18:30  10 h                                                         served 10
#   18:30-20:00  dry                                                          dark 1.5
DARK = {
    0: 0.5,  # 20:00
    12: 0.5,  # 08:30 to 09:00
    25: 0.5,  # 21:00 to 21:30
    31: 0.5,  # 03:30 to 04:00
    **dict.fromkeys(range(32, 36), 1.0),  # 04:00 to 08:00
    36: 0.5,  # 08:00 to 08:30
    46: 0.5,  # 18:30 to 19:00
    **dict.fromkeys(range(47, 60), 1.0),  # 19:00 to 08:00
    60: 0.5,  # 08:00 to 08:30
    70: 0.5,  # 18:30 to 19:00
    71: 1.0,  # 19:00 to 20:00
}


def test_portable_through_three_days():
    told = one_outage(portable(), KIND, EVENING, 72.0)
    dark_h = np.zeros(72)
    dark_h[list(DARK)] = list(DARK.values())
    assert dark_h.sum() == 0.5 + 0.5 + 0.5 + 4.5 + 0.5 + 13.5 + 0.5 + 1.5
    assert told[:, w.T_UNSERVED] == pytest.approx(dark_h, abs=1e-9)
    assert told[:, w.T_SET] == pytest.approx(1.0 - dark_h, abs=1e-9)
    assert np.flatnonzero(told[:, w.T_REFUELS]).tolist() == [12, 25, 36, 60]
    # 30 L and two deliveries of 10 L are burnt in 12 + 12 + 6 + 10 + 10 = 50 h
    assert told[-1, w.T_FUEL] == pytest.approx(0.0, abs=1e-9)
    assert told[:, w.T_SET].sum() == pytest.approx(30 + 10 + 10)
    assert told[11, w.T_FUEL] == pytest.approx(30 - 11.5)  # 08:00
    assert told[25, w.T_FUEL] == pytest.approx(30 - 24 - 0.5)  # 22:00


@pytest.mark.parametrize(("tolerates_h", "ends_h"), [(0.25, 0.0), (4.0, 31.5), (10.0, 46.5)])
def test_portable_ends_at_the_first_gap_that_is_too_long(tolerates_h, ends_h):
    """Half an hour is too long for some; 4 h bear all before 03:30, 10 h all before 18:30."""
    (walked,) = walk_kind(portable(tolerates_h=tolerates_h), replace(KIND, attended_frac=1.0), 1, 72.0)
    assert walked.ends_h[walked.starts == EVENING] == pytest.approx(ends_h)


def test_a_deep_night_of_a_battery_with_a_set():
    """8 kWh and a set that charges at 2 kW, started below 2 kWh and stopped when full; 1 kW all day.

    20:00-02:00  8 kWh less 6 are 2: the set is wanted, nobody is up
    02:00-04:00  the last 2 kWh
    04:00-07:00  dark, 3 h
    07:00-11:00  the set carries 1 kW and charges 2 kW: 4 h x 2 = 8 kWh
    11:00-17:00  6 h from the store, down to 2 kWh
    17:00-20:00  the set again: 3 h x 2 = 6 kWh, full
    and so on for three days: 9 h dark, 7 h of the set a day at 3 kW, 2 L/h: 42 L.
    """
    block = plain_battery(usable_kwh=8.0, generator_charge_kw=2.0)
    b = portable(
        battery=block,
        generator={
            "tank_l": 100.0,
            "fuel_on_site_l": 100.0,
            "resupply_l": 0.0,
            "start_below_frac": 0.25,
            "stop_at_frac": 1.0,
        },
    )
    told = one_outage(b, KIND, EVENING, 72.0)
    day = np.zeros((3, 24))  # from 20:00
    day[:, 8:11] = 1.0
    assert told[:, w.T_UNSERVED] == pytest.approx(day.ravel(), abs=1e-6)
    ran = np.zeros((3, 24))
    ran[:, 11:15] = 3.0  # 07:00 to 11:00
    ran[:, 21:24] = 3.0  # 17:00 to 20:00
    assert told[:, w.T_SET] == pytest.approx(ran.ravel(), abs=1e-6)
    stored = told[:24, w.T_STORED]
    assert stored == pytest.approx(
        [7, 6, 5, 4, 3, 2, 1, 0, 0, 0, 0, 2, 4, 6, 8, 7, 6, 5, 4, 3, 2, 4, 6, 8], abs=1e-6
    )
    assert 100.0 - told[-1, w.T_FUEL] == pytest.approx(3 * (4 + 3) * 2.0)
