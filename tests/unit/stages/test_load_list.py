"""The tables of the load list for the invented farmhouse, beside figures worked from its file."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.house import HouseYear, house_year
from kit.stages.load_list import LoadList, list_notes, load_list
from kit.stages.sources import Sources, sources
from kit.study import Study, read_study

PARAMS = Path(__file__).parents[3] / "params"


@pytest.fixture(scope="module")
def study() -> Study:
    return read_study(PARAMS / "studies/farm_house.yaml")


@pytest.fixture(scope="module")
def house(study: Study) -> HouseYear:
    return house_year(study.model.house, study.model.year)


@pytest.fixture(scope="module")
def options(study: Study, house: HouseYear) -> dict[str, Sources]:
    return sources(study, house)


@pytest.fixture(scope="module")
def tables(study: Study, house: HouseYear, options: dict[str, Sources]) -> LoadList:
    return load_list(study, house, options)


def test_the_farmhouse_has_24_lines_in_three_tiers(tables: LoadList) -> None:
    assert len(tables.loads) == 24
    assert tables.tiers["appliance_count"].sum() == 24
    assert (tables.tiers["appliance_count"] > 0).all()
    assert tables.loads["kwh_per_year"].gt(0).all()


def test_the_worst_start_is_the_pump_by_its_code_letter(tables: LoadList) -> None:
    """1 hp of letter L: 9.99 kVA at most. Beside it run 800 + 750 + 200 + 300 + 25 + 140 W."""
    first = tables.starts.iloc[0]
    assert first["appliance"] == "well_pump"
    assert first["start_w"] == pytest.approx(9990.0)
    assert first["others_w"] == pytest.approx(2215.0)
    # Leg 1: fan and freezers; leg 2: sump pump, refrigerator, internet, lamps; half a start on each.
    assert first["leg_1_w"] == pytest.approx(750 + 300 + 4995)
    assert first["leg_2_w"] == pytest.approx(800 + 200 + 25 + 140 + 4995)


def test_each_option_carries_what_its_machine_gives(tables: LoadList) -> None:
    rows = tables.option_starts.set_index(["option", "source"])
    assert list(rows.index.get_level_values("option").unique()) == [
        "portable",
        "standby",
        "battery",
        "two_batteries_solar",
        "two_batteries_small_set",
    ]
    # 12.2 kW to start: two inverters of 8 kW behind 60 A x 240 V (14.4 kW) do it, one of 8 kW does not.
    assert rows.loc[("battery", "battery"), "have"] == pytest.approx(8.0)
    assert rows.loc[("battery", "battery"), "need"] == pytest.approx(12.205)
    assert rows.loc[("two_batteries_solar", "battery"), "have"] == pytest.approx(14.4)
    assert rows.loc[("two_batteries_solar", "battery"), "carried_count"] == 7
    assert rows.loc[("standby", "generator"), "order"].startswith("well pump, ")
    # Legs of 4 kW hold 1.165 kW beside half a start: 2.835 of 4.995 kW may be left.
    assert "at most 56% of its starting current" in rows.loc[("battery", "battery"), "change"]


def test_the_soft_starter_of_the_note_makes_the_battery_feasible() -> None:
    soft = read_study(
        PARAMS / "studies/farm_house.yaml", ["house.appliances.well_pump.soft_start_frac=0.567"]
    )
    for study, falls_short in (
        (soft, False),
        (soft.changed(["house.appliances.well_pump.soft_start_frac=0.6"]), True),
    ):
        year = house_year(study.model.house, study.model.year)
        made = sources(study, year)
        notes = [f.code for f in list_notes(study, year, made["battery"])]
        assert ("start_change" in notes) == falls_short


def test_an_option_without_a_source_has_no_notes(
    study: Study, house: HouseYear, options: dict[str, Sources]
) -> None:
    assert list_notes(study, house, options["do_nothing"]) == []


def test_the_meter_table_is_empty_without_a_meter(tables: LoadList) -> None:
    assert tables.meter.empty


def test_running_together_is_far_below_the_worst_case(tables: LoadList) -> None:
    """Duty-cycled loads seldom meet: the 99th percentile lies under the worst case in every row."""
    running = tables.running
    assert (running["p99_kw"] < running["worst_kw"]).all()
    must = running[(running["loads"] == "must run") & (running["when"] == "in an outage")].iloc[0]
    # 1500 + 800 + 750 + 200 + 300 + 25 + 140 W
    assert must["worst_kw"] == pytest.approx(3.715)
    tier = tables.tiers.set_index("tier").loc["must_run", "outage_mean_kw"]
    assert must["mean_kw"] == pytest.approx(tier)
