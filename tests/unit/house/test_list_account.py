"""The list in figures, and the list against the meter."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.house import house_year
from kit.house.list_account import RECONCILED, list_findings, list_table, reconcile, tier_table
from kit.study.appliance_models import Appliance, Season, Thermostat, Use
from kit.study.problems import StudyError
from tests.unit.house.list_houses import YEAR, house_of, lists_of

HEATER = Appliance(
    name="Heater", room="hall", running_a=5.0, power_factor_frac=0.9, duty_frac=0.5, tier="must_run"
)
OVEN = Appliance(
    nameplate_va=4000.0,
    power_factor_frac=0.95,
    voltage_v=240,
    use=Use(weekday="18-19", weekend=""),
    tier="wanted",
)
HOUSE = house_of(heater=HEATER, oven=OVEN)
LISTS = lists_of(HOUSE)


def test_amperes_volts_and_power_factor() -> None:
    assert HEATER.draw_w == pytest.approx(5 * 120 * 0.9)
    assert HEATER.draw_va == pytest.approx(600.0)
    assert OVEN.draw_w == pytest.approx(3800.0)
    at_240 = Appliance(running_a=5.0, voltage_v=240, tier="wanted")
    assert at_240.draw_w == 1200.0


def test_the_list_as_a_table() -> None:
    table = list_table(HOUSE, LISTS, YEAR).set_index("appliance")
    assert table.loc["heater", "name"] == "Heater"
    assert table.loc["heater", "room"] == "hall"
    assert table.loc["oven", "name"] == "Oven"
    # 540 W half on all year; 3.8 kWh on each of the 261 weekdays of 2025.
    assert table.loc["heater", "kwh_per_year"] == pytest.approx(0.27 * 8760)
    assert table.loc["oven", "kwh_per_year"] == pytest.approx(3.8 * 261)
    assert table.loc["heater", "outage_kwh_per_day"] == pytest.approx(0.27 * 24)


def test_an_empty_tier_is_a_row_of_nothing() -> None:
    table = tier_table(HOUSE, LISTS, YEAR).set_index("tier")
    assert table.loc["can_wait"].tolist() == [0, 0.0, 0.0, 0.0, 0.0, 0.0]
    assert table.loc["must_run", "everyday_kwh_per_day"] == pytest.approx(0.27 * 24)
    assert table.loc["wanted", "outage_highest_kw"] == pytest.approx(3.8)
    assert table.loc["wanted", "outage_worst_day_kwh"] == pytest.approx(3.8)


def test_an_outage_is_lived_at_home() -> None:
    """Weekend hours on all 365 days, unless the appliance has outage hours of its own."""
    tea = Appliance(running_w=1000.0, use=Use(weekday="7-8", weekend="7-8, 16-17"), tier="wanted")
    own = tea.model_copy(update={"outage_use": Use(weekday="", weekend="7-8")})
    house = house_of(people_home=True, tea=tea, own=own)
    lists = lists_of(house)
    assert lists.everyday_by_appliance_kw["tea"].sum() == pytest.approx(261 + 2 * 104)
    assert lists.outage_by_appliance_kw["tea"].sum() == pytest.approx(2 * 365)
    assert lists.outage_by_appliance_kw["own"].sum() == pytest.approx(104)


def test_a_season_has_hours_and_a_duty_of_its_own() -> None:
    pump = Appliance(
        running_w=1000.0,
        duty_frac=0.1,
        use=Use(
            weekday="0-12",
            weekend="0-12",
            seasons={
                "wet": Season(months=[4], duty_frac=0.5),
                "dry": Season(months=[8], weekday="", weekend="3-4"),
            },
        ),
        tier="must_run",
    )
    house = house_of(pump=pump)
    load_kw = lists_of(house).everyday_by_appliance_kw["pump"]
    by_month = np.bincount(YEAR.month, weights=load_kw)
    assert by_month[1] == pytest.approx(0.1 * 12 * 31)
    assert by_month[4] == pytest.approx(0.5 * 12 * 30)
    assert by_month[8] == pytest.approx(0.1 * 1 * 10)  # ten weekend days in August 2025
    fixed = pump.model_copy(update={"outage_duty_frac": 0.2})
    outage = lists_of(house_of(pump=fixed)).outage_by_appliance_kw["pump"]
    assert np.bincount(YEAR.month, weights=outage)[4] == pytest.approx(0.2 * 12 * 30)


def test_a_slope_in_kw_per_degree_stops_at_the_rating() -> None:
    """0.1 kW per degree below 15: 0.5 kW at 10, the rated 1.2 kW from 3 degrees down."""
    line = Thermostat(idle_at_c=15.0, load_kw_per_c=0.1, mode="heating")
    heat = Appliance(count=2, running_w=600.0, thermostat=line, tier="must_run")
    cool = Appliance(
        running_w=2000.0,
        thermostat=Thermostat(idle_at_c=24.0, load_kw_per_c=0.25, mode="cooling"),
        tier="wanted",
    )
    temperature_c = np.resize([20.0, 15.0, 10.0, 3.0, -20.0, 24.0, 28.0, 40.0], YEAR.n)
    lists = lists_of(house_of(heat=heat, cool=cool), temperature_c)
    assert lists.everyday_by_appliance_kw["heat"][:5].tolist() == pytest.approx([0, 0, 0.5, 1.2, 1.2])
    assert lists.everyday_by_appliance_kw["cool"][5:8].tolist() == pytest.approx([0, 1.0, 2.0])


def test_a_lower_set_point_in_an_outage_moves_the_line() -> None:
    """Balance at 16, full at -4; at 12 in an outage: 20 degrees of reach, so full at -8."""
    heat = Appliance(
        running_w=1000.0,
        thermostat=Thermostat(idle_at_c=16.0, full_at_c=-4.0, outage_idle_at_c=12.0),
        tier="must_run",
    )
    temperature_c = np.resize([14.0, 6.0, -4.0, -8.0], YEAR.n)
    lists = lists_of(house_of(heat=heat), temperature_c)
    assert lists.everyday_by_appliance_kw["heat"][:4].tolist() == pytest.approx([0.1, 0.5, 1.0, 1.0])
    assert lists.outage_by_appliance_kw["heat"][:4].tolist() == pytest.approx([0.0, 0.3, 0.8, 1.0])


def metered(month_kw: dict[int, float]) -> object:
    house_kw = np.array([month_kw.get(m, 0.5) for m in YEAR.month.tolist()])
    return replace(LISTS, house_kw=house_kw, metered=True)


def test_reconciled_by_month_and_year() -> None:
    table = reconcile(metered({}), YEAR)  # type: ignore[arg-type]
    assert tuple(table.columns) == RECONCILED
    assert table["month"].tolist() == [*range(1, 13), 0]
    january = table.iloc[0]
    # 744 h: 0.27 kW all the time and 23 weekdays of 3.8 kWh against 0.5 kW.
    assert january["list_kwh"] == pytest.approx(0.27 * 744 + 23 * 3.8)
    assert january["metered_kwh"] == pytest.approx(372.0)
    assert january["unexplained_kwh"] == pytest.approx(372.0 - 0.27 * 744 - 23 * 3.8)
    year = table.iloc[12]
    assert year["metered_kwh"] == pytest.approx(0.5 * 8760)
    assert year["unexplained_kwh"] == pytest.approx(table["unexplained_kwh"][:12].sum())
    assert year["unexplained_frac"] == pytest.approx(year["unexplained_kwh"] / year["metered_kwh"])


def test_a_list_above_the_meter_is_told_with_its_months() -> None:
    (found,) = list_findings(metered({2: 0.1, 7: 0.3}), YEAR)  # type: ignore[arg-type]
    assert found.code == "list_above_meter_in_months"
    assert found.text.startswith("The list uses more than the meter saw in Feb, Jul; most in February, 257 ")
    assert list_findings(metered({}), YEAR) == []  # type: ignore[arg-type]


def test_a_month_without_reading_has_no_share() -> None:
    table = reconcile(metered({3: 0.0}), YEAR)  # type: ignore[arg-type]
    assert np.isnan(table.loc[2, "unexplained_frac"])
    assert not table.drop(index=2).isna().any().any()


def test_no_meter_no_rows() -> None:
    assert reconcile(LISTS, YEAR).empty
    assert list_findings(LISTS, YEAR) == []


def test_a_list_that_sums_to_nothing_is_an_error() -> None:
    heat = Appliance(running_w=900.0, thermostat=Thermostat(idle_at_c=10.0, full_at_c=0.0), tier="must_run")
    house = house_of(heat=heat)
    with pytest.raises(StudyError, match=r"house\.appliances: the list sums to nothing in this year"):
        house_year(house, 2025)  # no weather is given: a steady 20 C
