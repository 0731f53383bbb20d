"""The load list: hours, duties, thermostats, tiers, what a connection reaches, peaks."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kit.calendar import calendar_year
from kit.house.appliances import list_loads, outage_loads
from kit.house.peaks import peaks
from kit.study.house_models import Appliance, House, Thermostat, Use

ZONE = "America/New_York"
YEAR = calendar_year(2025, ZONE, 60)
MILD_C = np.full(YEAR.n, 20.0)


def house_of(**appliances: Appliance) -> House:
    return House(time_zone=ZONE, latitude_deg=36.0, longitude_deg=-80.0, appliances=appliances)


REFRIGERATOR = Appliance(
    running_w=600.0, starting_total_w=2000.0, duty_frac=0.25, tier="must_run", connection="cord"
)
PUMP = Appliance(
    running_w=1000.0,
    starting_extra_w=2500.0,
    voltage_v=240,
    duty_frac=0.1,
    tier="must_run",
    tolerates_gap_s=3600.0,
)
OVEN = Appliance(
    running_w=3000.0, voltage_v=240, use=Use(weekday="18-19", weekend="18-19"), tier="can_wait", backed=False
)
LAMP = Appliance(
    count=4, running_w=10.0, use=Use(weekday="18-23", weekend="18-23"), tier="wanted", connection="cord"
)
HOUSE = house_of(refrigerator=REFRIGERATOR, pump=PUMP, oven=OVEN, lamp=LAMP)
LISTS = list_loads(HOUSE, YEAR, MILD_C)


def test_watts_times_hours() -> None:
    # Common practice: kWh = W x h / 1000. 2 x 1,500 W for half an hour a weekday: 1.5 kWh a weekday.
    kettle = Appliance(count=2, running_w=1500.0, use=Use(weekday="7-7.5", weekend=""), tier="wanted")
    lists = list_loads(house_of(kettle=kettle), YEAR, MILD_C)
    # 2025 has 52 weeks and one Wednesday: 261 weekdays.
    assert lists.everyday_kw.sum() == pytest.approx(261 * 1.5)
    assert lists.everyday_kw.max() == pytest.approx(1.5)


def test_the_same_energy_at_every_step() -> None:
    for step_min in (15, 30, 60):
        year = calendar_year(2025, ZONE, step_min)
        lists = list_loads(HOUSE, year, np.full(year.n, 20.0))
        # 0.15 + 0.1 kW all year, 3 kW and 0.04 kW for 1 and 5 h a day.
        assert lists.everyday_kw.sum() * year.step_h == pytest.approx(0.25 * 8760 + (3 + 0.2) * 365)


def test_hours_follow_the_clock_when_it_changes() -> None:
    night = Appliance(running_w=1000.0, use=Use(weekday="", weekend="1-3"), tier="wanted")
    load_kw = list_loads(house_of(night=night), YEAR, MILD_C).everyday_kw
    by_day = np.bincount(YEAR.day_number, weights=load_kw)
    assert by_day[67] == 1.0  # 9 March: the hour from 2 to 3 does not exist
    assert by_day[305] == 3.0  # 2 November: the hour from 1 to 2 comes twice
    assert by_day[60] == 2.0


def test_months_of_use() -> None:
    fan = Appliance(running_w=100.0, use=Use(months=[7]), tier="wanted")
    load_kw = list_loads(house_of(fan=fan), YEAR, MILD_C).everyday_kw
    assert load_kw.sum() == pytest.approx(0.1 * 31 * 24)
    assert np.all(load_kw[YEAR.month != 7] == 0)


def test_a_thermostat_calls_with_the_temperature() -> None:
    heat = Appliance(running_w=1000.0, thermostat=Thermostat(idle_at_c=18.0, full_at_c=-2.0), tier="must_run")
    cool = Appliance(running_w=2000.0, thermostat=Thermostat(idle_at_c=24.0, full_at_c=34.0), tier="wanted")
    temperature_c = np.resize([-10.0, -2.0, 8.0, 18.0, 24.0, 29.0, 40.0], YEAR.n)
    lists = list_loads(house_of(heat=heat, cool=cool), YEAR, temperature_c)
    assert lists.everyday_by_appliance_kw["heat"][:7].tolist() == pytest.approx([1, 1, 0.5, 0, 0, 0, 0])
    assert lists.everyday_by_appliance_kw["cool"][:7].tolist() == pytest.approx([0, 0, 0, 0, 0, 1, 2])


def test_an_outage_has_hours_and_duties_of_its_own() -> None:
    heater = Appliance(
        running_w=1000.0,
        duty_frac=0.1,
        use=Use(weekday="6-8", weekend=""),
        outage_use=Use(weekday="0-24", weekend="0-24"),
        outage_duty_frac=0.6,
        tier="must_run",
    )
    lists = list_loads(house_of(heater=heater), YEAR, MILD_C)
    assert lists.everyday_by_appliance_kw["heater"].max() == pytest.approx(0.1)
    assert np.allclose(lists.outage_by_appliance_kw["heater"], 0.6)


def test_bad_hours_name_the_appliance() -> None:
    wrong = Use.model_construct(weekday="9-8-7", weekend="", months=[1], seasons={})  # past the model's check
    lamp = REFRIGERATOR.model_copy(update={"outage_use": wrong})
    with pytest.raises(ValueError, match=r"house\.appliances\.lamp\.outage_use: hours '9-8-7'"):
        list_loads(house_of(lamp=lamp), YEAR, MILD_C)


@pytest.mark.parametrize(
    ("connected_to", "must_run_kw", "wanted_max_kw", "can_wait_max_kw", "dark"),
    [
        ("whole_house", 0.25, 0.04, 3.0, ()),
        ("backed_panel", 0.25, 0.04, 0.0, ()),
        ("plug_in", 0.15, 0.04, 0.0, ("pump",)),
        (None, 0.0, 0.0, 0.0, ("refrigerator", "pump")),
    ],
)
def test_what_a_connection_reaches(
    connected_to: str | None, must_run_kw: float, wanted_max_kw: float, can_wait_max_kw: float, dark: tuple
) -> None:
    loads = outage_loads(HOUSE, LISTS, connected_to)
    assert np.allclose(loads.must_run_kw, must_run_kw)
    assert loads.wanted_kw.max() == pytest.approx(wanted_max_kw)
    assert loads.can_wait_kw.max() == pytest.approx(can_wait_max_kw)
    assert loads.unreached_must_run == dark
    assert np.allclose(loads.must_run_kw + loads.unreached_must_run_kw, 0.25)


def test_an_unknown_connection_is_an_error() -> None:
    with pytest.raises(ValueError, match="whole_house, backed_panel or plug_in, got 'roof'"):
        outage_loads(HOUSE, LISTS, "roof")


def test_the_strictest_reached_load_sets_the_gap() -> None:
    assert outage_loads(HOUSE, LISTS, "whole_house").tolerates_gap_s == 3600.0
    assert outage_loads(HOUSE, LISTS, "plug_in").tolerates_gap_s == 14400.0
    assert outage_loads(HOUSE, LISTS, None).tolerates_gap_s == 3600.0
    only_lamp = house_of(lamp=LAMP)
    lists = list_loads(only_lamp, YEAR, MILD_C)
    assert outage_loads(only_lamp, lists, "whole_house").tolerates_gap_s == math.inf


def test_life_support_bears_no_gap() -> None:
    breather = Appliance(running_w=100.0, tier="must_run", life_support=True, tolerates_gap_s=60.0)
    house = house_of(breather=breather, pump=PUMP)
    loads = outage_loads(house, list_loads(house, YEAR, MILD_C), "backed_panel")
    assert loads.tolerates_gap_s == 0.0
    assert loads.life_support == ("breather",)


def test_a_list_without_a_meter_lies_whole_behind_the_house_connection() -> None:
    whole = outage_loads(HOUSE, LISTS, "whole_house")
    assert np.allclose(whole.behind_kw, LISTS.everyday_kw)
    panel = outage_loads(HOUSE, LISTS, "backed_panel")
    assert np.allclose(panel.behind_kw, LISTS.everyday_kw - LISTS.everyday_by_appliance_kw["oven"])


def test_peaks_of_a_list_worked_by_hand() -> None:
    found = peaks(HOUSE, LISTS, HOUSE.appliances)
    # At 18 h all run: 600 + 1000 + 3000 + 4 x 10.
    assert found.running_w == 4640.0
    # The pump starts on top of them: 4640 + 2500; the refrigerator would add 1400 only.
    assert found.worst_start_w == 7140.0
    assert found.worst_start_slug == "pump"
    # All at once: 2000 + 3500 + 3000 + 40.
    assert found.all_start_w == 8540.0
    assert found.needs_240v == ("pump", "oven")
    assert found.largest_120v_w == 2000.0
    # Half of 4000 at 240 V, half of 640 at 120 V, half of the refrigerator's 600.
    assert found.leg_w == 2000.0 + 320.0 + 300.0


def test_loads_that_never_meet_are_not_added() -> None:
    heat = Appliance(running_w=1000.0, thermostat=Thermostat(idle_at_c=15.0, full_at_c=0.0), tier="must_run")
    cool = Appliance(running_w=3000.0, thermostat=Thermostat(idle_at_c=24.0, full_at_c=34.0), tier="wanted")
    morning = Appliance(running_w=800.0, use=Use(weekday="6-8", weekend="6-8"), tier="wanted")
    house = house_of(heat=heat, cool=cool, morning=morning)
    temperature_c = np.where(YEAR.hour < 12, 5.0, 30.0)
    found = peaks(house, list_loads(house, YEAR, temperature_c), house.appliances)
    assert found.running_w == 3000.0  # the afternoon; mornings 1000 + 800


def test_peaks_of_nothing_are_nothing() -> None:
    found = peaks(HOUSE, LISTS, ())
    assert (found.running_w, found.worst_start_w, found.worst_start_slug, found.leg_w) == (0, 0, "", 0)
    assert found.needs_240v == ()
