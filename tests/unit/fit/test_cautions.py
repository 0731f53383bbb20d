"""Safety and code findings: when they come, what they say, and that none approves."""

from __future__ import annotations

import math
from typing import Any

import pytest

from kit.fit.cautions import cautions
from kit.fit.equipment import Equipment
from kit.fit.hazards import busbar_room_a, co_minutes_to_danger, inverter_breaker_a, noise_db_a
from kit.fit.inputs import Site
from kit.study.finding import Finding
from kit.systems.battery import battery_system
from kit.systems.generator import generator_set
from kit.systems.transfer import power_path
from tests.unit.fit.test_check import Array
from tests.unit.systems.blocks import a_battery, a_generator, a_transfer

DEFERS = "local code and a licensed person decide."
# what the kit itself does or counts, no matter of code or safety
OPERATION = {"battery_unpaired", "solar_not_charging", "generator_charge_none", "not_parallel"}


def found(
    battery: dict[str, Any] | None = None,
    generator: dict[str, Any] | None = None,
    transfer: dict[str, Any] | None = None,
    solar: Array | None = None,
    site: Site | None = None,
    life_support: tuple[str, ...] = (),
) -> dict[str, Finding]:
    equipment = Equipment(
        "o",
        None if battery is None else battery_system(a_battery(**battery)),
        None if generator is None else generator_set(a_generator(**generator), 0.0, 20.0),
        solar,
        None if transfer is None else power_path(a_transfer(**transfer)),
    )
    return {f.code: f for f in cautions(equipment, site or Site(), life_support)}


CASES: list[dict[str, Any]] = [
    {"generator": {}},
    {"generator": {"connected_to": "plug_in", "fuel_on_site_l": 200.0, "noise_db_a_at_7m": 65.0}},
    {"generator": {"fuel": "natural_gas", "voltage_v": 120}, "transfer": {}},
    {"generator": {"fuel": "propane"}, "transfer": {"switches_neutral": False}, "solar": Array()},
    {"battery": {"unit_count": 7, "voltage_v": 120, "pair_gives_240v": True, "place": "indoors"}},
    {"battery": {"packs_per_unit": 3, "pack_usable_kwh": 10.0, "generator_charge_kw": 2.0}, "generator": {}},
    {"solar": Array(inverter_kw=12.0), "life_support": ("oxygen",)},
]


def test_only_a_set_wired_for_good_is_told_the_distance_of_fixed_sets() -> None:
    automatic = {"kind": "automatic", "inlet_a": None}
    assert "set_distance" in found(generator={}, transfer=automatic)
    assert "set_distance" not in found(generator={}, transfer={"kind": "manual"})
    assert "set_distance" not in found(generator={"connected_to": "plug_in"}, transfer=automatic)
    assert "at least 20 ft" in found(generator={}, transfer={"kind": "manual"})["carbon_monoxide"].text


@pytest.mark.parametrize("case", CASES)
def test_no_finding_approves(case: dict[str, Any]) -> None:
    for code, finding in found(**case).items():
        assert finding.severity != "stop"
        if code not in OPERATION:
            assert finding.text.endswith(DEFERS), code
        assert "comply" not in finding.text
        assert "is safe" not in finding.text
        assert finding.path is not None
        assert finding.path.startswith("options.o")


def test_every_generator_warns_of_carbon_monoxide() -> None:
    for generator in ({}, {"connected_to": "plug_in"}, {"fuel": "natural_gas"}, {"onsite_co_g_per_kwh": 0.0}):
        warning = found(generator=generator)["carbon_monoxide"]
        assert warning.severity == "warning"
        assert "at least 20 ft (7 m) from doors" in warning.text
    assert "carbon_monoxide" not in found(battery={})


def test_carbon_monoxide_says_how_fast() -> None:
    """13.5 min at 610 g/kWh and 1 kW."""
    text = found(generator={"onsite_co_g_per_kwh": 610.0})["carbon_monoxide"].text
    assert "passes 1,200 ppm, immediately dangerous, in 13.5 min" in text


def test_backfeed() -> None:
    assert "kill a line worker" in found(generator={})["backfeed"].text
    assert "backfeed" in found(generator={}, transfer={"kind": "none"})
    assert "backfeed" not in found(generator={}, transfer={})
    assert "cords" in found(generator={"connected_to": "plug_in"})


def test_neutral() -> None:
    assert found(generator={}, transfer={})["neutral_bond"].severity == "warning"
    assert found(generator={}, transfer={"switches_neutral": True})["neutral_bond"].severity == "note"
    bonded = found(generator={}, transfer={"switches_neutral": False})["neutral_bond"]
    assert bonded.severity == "warning"
    assert "neutral current on the grounding wires" in bonded.text


def test_a_120_v_source_on_split_phase_wiring() -> None:
    assert "multi-wire" in found(battery={"voltage_v": 120})["shared_neutral"].text
    assert "shared_neutral" not in found(battery={"voltage_v": 120, "connected_to": "plug_in"})
    assert "shared_neutral" not in found(battery={})


def test_fuel_on_site() -> None:
    """25 gal is 94.6 L."""
    assert "fuel_on_site" not in found(generator={"fuel_on_site_l": 94.0})
    warning = found(generator={"fuel_on_site_l": 95.0})["fuel_on_site"]
    assert "25 gal common for one dwelling" in warning.text
    assert warning.source is not None
    assert "from memory" in warning.source
    stated = found(generator={"fuel_on_site_l": 38.0}, site=Site(legal_limit_l=37.9))["fuel_on_site"]
    assert "the limit of this study" in stated.text
    assert "fuel_on_site" not in found(generator={"fuel_on_site_l": 200.0}, site=Site(legal_limit_l=200.0))


def test_gas_and_propane() -> None:
    """40 kW of heat at full load is 136,486 Btu/h."""
    assert "136,486 Btu/h" in found(generator={"fuel": "natural_gas"})["gas_meter"].text
    assert "propane_cold" in found(generator={"fuel": "propane", "fuel_on_site_l": 1500.0})


@pytest.mark.parametrize(
    ("place", "units", "over"),
    [
        ("indoors", 3, False),
        ("indoors", 4, True),
        ("garage", 6, False),
        ("garage", 7, True),
        ("outdoors", 7, True),
    ],
)
def test_aggregate_limit(place: str, units: int, over: bool) -> None:
    """12.5 kWh each: 3 are 37.5 of 40 indoors, 6 are 75 of 80 elsewhere."""
    got = found(battery={"place": place, "unit_count": units})
    assert ("battery_aggregate" in got) == over
    assert got["battery_place"].source == "NFPA 855 chapter 15"


def test_unit_limit() -> None:
    assert "battery_unit" not in found(battery={"nominal_kwh": 20.0, "unit_count": 2})
    assert "home units are limited to 20 kWh" in found(battery={"nominal_kwh": 20.1})["battery_unit"].text


def test_an_odd_unit() -> None:
    assert "battery_unpaired" in found(battery={"voltage_v": 120, "pair_gives_240v": True, "unit_count": 3})


def test_battery_and_generator() -> None:
    got = found(battery={}, generator={}, transfer={})
    assert "generator_charge_none" in got
    assert "together at most 8.00 kW" in got["not_parallel"].text
    got = found(battery={"generator_charge_kw": 2.0, "parallel_with_generator": True}, generator={})
    assert "window of frequency" in got["generator_charge"].text
    assert "not_parallel" not in got


def test_solar() -> None:
    assert "not even at noon" in found(solar=Array())["solar_off_in_outage"].text
    assert "solar_off_in_outage" not in found(solar=Array(), battery={})
    assert "solar_not_charging" in found(solar=Array(charges_battery_in_outage=False), battery={})
    assert found(solar=Array(), generator={})["solar_with_generator"].severity == "note"
    beside = found(solar=Array(allowed_with_generator=True), generator={})["solar_with_generator"]
    assert beside.severity == "warning"


def test_busbar() -> None:
    """200 A bus and main: 40 A of room; 7.68 kW x 1.25 / 240 V is 40 A."""
    assert busbar_room_a(200.0, 200.0) == pytest.approx(40.0)
    assert inverter_breaker_a(7.68) == pytest.approx(40.0)
    assert "busbar" not in found(solar=Array(inverter_kw=7.68))
    got = found(solar=Array(inverter_kw=7.7))["busbar"]
    assert got.source == "NEC 705.12 (from memory)"
    assert "busbar" in found(solar=Array(inverter_kw=5.0), battery={})
    assert "busbar" not in found(battery={"connected_to": "plug_in", "continuous_kw": 20.0})


def test_noise() -> None:
    got = found(generator={"noise_db_a_at_7m": 65.0})["noise"]
    assert "58.4 dB(A) at 15 m" in got.text
    assert got.severity == "note"
    loud = found(generator={"noise_db_a_at_7m": 65.0}, site=Site(boundary_m=14.0, night_limit_db_a=55.0))[
        "noise"
    ]
    assert "59.0 dB(A) at 14 m" in loud.text
    assert loud.severity == "warning"
    with pytest.raises(ValueError, match="distance_m must be above 0, got 0"):
        noise_db_a(65.0, 0.0)


def test_life_support_comes_first_and_is_never_adequate() -> None:
    equipment = Equipment("o", None, generator_set(a_generator(), 0.0, 20.0), None, None)
    first = cautions(equipment, Site(), ("oxygen_concentrator",))[0]
    assert first.code == "life_support"
    assert "No figure here says this option is adequate" in first.text


def test_no_carbon_monoxide_never_reaches_danger() -> None:
    assert math.isinf(co_minutes_to_danger(0.0, 1.0, 100.0))
