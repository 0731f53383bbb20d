"""The first hour with power after hours without it."""

from __future__ import annotations

import numpy as np
import pytest

from kit.calendar import calendar_year
from kit.house.appliances import list_loads
from kit.house.pickup import cold_pickup, pickup_table
from kit.study.appliance_models import Appliance, Cycle, Thermostat, Use
from tests.unit.house.list_houses import MILD_C, YEAR, ZONE, house_of, lists_of

FREEZER = Appliance(
    count=2,
    running_w=150.0,
    starting_extra_w=500.0,
    cycle=Cycle(on_minutes=10, off_minutes=20),
    tier="must_run",
)
LAMP = Appliance(running_w=100.0, duty_frac=0.5, tier="must_run")
HOUSE = house_of(freezer=FREEZER, lamp=LAMP)
LISTS = lists_of(HOUSE)


def test_after_hours_it_runs_without_a_pause() -> None:
    """Two freezers, a third on: 0.1 kW, without a pause 0.3 kW: 0.2 kWh more. The lamp holds no level."""
    found = cold_pickup(HOUSE, LISTS, YEAR, HOUSE.appliances)
    assert found.slugs == ("freezer",)
    assert np.allclose(found.extra_kwh, 0.2)
    assert np.allclose(found.first_hour_kw, 0.3 + 0.05)
    assert np.allclose(found.running_w, 400.0)
    # Both start at once, 2 x 650 W, beside the lamp.
    assert np.allclose(found.surge_w, 1400.0)


@pytest.mark.parametrize(
    ("off_h", "extra_kwh"), [(0.5, 0.0), (1.0, 0.0), (1.5, 0.15), (2.0, 0.2), (24.0, 0.2)]
)
def test_nothing_to_catch_up_on_within_an_hour_and_never_more_than_was_missed(
    off_h: float, extra_kwh: float
) -> None:
    """1.5 h off at 0.1 kW missed 0.15 kWh; from 2 h on the freezers take 0.2 kWh, all they can."""
    found = cold_pickup(HOUSE, LISTS, YEAR, HOUSE.appliances, off_h)
    assert np.allclose(found.extra_kwh, extra_kwh)
    assert found.slugs == (("freezer",) if off_h > 1 else ())


def test_a_thermostat_that_does_not_call_catches_nothing_up() -> None:
    fan = Appliance(running_w=1000.0, thermostat=Thermostat(idle_at_c=15.0, full_at_c=-5.0), tier="must_run")
    house = house_of(fan=fan)
    temperature_c = np.where(YEAR.month == 1, 5.0, 20.0)
    found = cold_pickup(house, lists_of(house, temperature_c), YEAR, ["fan"])
    assert np.allclose(found.extra_kwh[YEAR.month == 1][:-1], 0.5)  # half on at 5 degrees
    assert np.allclose(found.extra_kwh[YEAR.month == 6], 0.0)


def test_the_flag_says_otherwise() -> None:
    pump = FREEZER.model_copy(update={"catches_up": False})
    kettle = LAMP.model_copy(update={"catches_up": True})
    house = house_of(pump=pump, kettle=kettle)
    assert cold_pickup(house, lists_of(house), YEAR, house.appliances).slugs == ("kettle",)


def test_the_same_hour_at_every_step() -> None:
    for step_min in (15, 30, 60):
        year = calendar_year(2025, ZONE, step_min)
        lists = list_loads(HOUSE, year, np.full(year.n, 20.0))
        assert np.allclose(cold_pickup(HOUSE, lists, year, HOUSE.appliances).extra_kwh, 0.2)


def test_the_hour_looks_ahead_over_short_steps() -> None:
    """At 15 min steps the hour from 17:45 holds three quarters of use from 18 h on: 0.75 of 0.2 kWh."""
    year = calendar_year(2025, ZONE, 15)
    evening = FREEZER.model_copy(update={"use": Use(weekday="18-20", weekend="18-20")})
    house = house_of(evening=evening)
    lists = list_loads(house, year, np.full(year.n, 20.0))
    found = cold_pickup(house, lists, year, ["evening"])
    assert found.extra_kwh[year.hour == 17.75] == pytest.approx(0.15)
    assert found.extra_kwh[year.hour == 18.0] == pytest.approx(0.2)


def test_the_table_has_a_row_for_each_tier_and_dark_spell() -> None:
    table = pickup_table(HOUSE, LISTS, YEAR, (2.0, 24.0))
    assert table["off_h"].tolist() == [2.0, 24.0]
    assert table["loads"].tolist() == ["must run", "must run"]
    assert table["extra_kwh"].tolist() == pytest.approx([0.2, 0.2])
    assert table["worst_surge_kw"].tolist() == pytest.approx([1.4, 1.4])
    assert MILD_C.size == YEAR.n
