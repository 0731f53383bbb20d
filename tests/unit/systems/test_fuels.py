"""Fuel flows given one way come back in the fuel's own unit."""

from __future__ import annotations

import pytest

from kit.systems.fuels import FUELS, fuel_facts, fuel_volume_per_h


def test_units() -> None:
    units = {name: facts.unit for name, facts in FUELS.items()}
    assert units == {
        "gasoline": "l",
        "gasoline_e0": "l",
        "diesel": "l",
        "propane": "l",
        "natural_gas": "m3",
    }


def test_each_fuel_names_its_source() -> None:
    assert all("40 CFR" in facts.source for facts in FUELS.values())
    assert "EIA" in fuel_facts("gasoline").source


def test_only_ethanol_is_biogenic() -> None:
    assert [name for name, facts in FUELS.items() if facts.co2_biogenic_kg_per_unit > 0] == ["gasoline"]


def test_heat_and_volume_of_the_same_flow_agree() -> None:
    """1 gal/h of diesel is 138,000 Btu/h = 40.4438 kW."""
    assert fuel_volume_per_h("diesel", heat_kw=40.4438) == pytest.approx(3.785412, rel=1e-5)
    assert fuel_volume_per_h("diesel", l_per_h=2.5) == 2.5
    assert fuel_volume_per_h("natural_gas", m3_per_h=4.0) == 4.0


@pytest.mark.parametrize(
    ("name", "flow", "says"),
    [
        ("wood", {"l_per_h": 1.0}, "unknown fuel 'wood': known are gasoline"),
        ("natural_gas", {"l_per_h": 1.0}, "natural_gas is a gas: give m3 or heat, not litres"),
        ("diesel", {"m3_per_h": 1.0}, "diesel is a liquid: give litres or heat, not m3"),
        ("diesel", {}, "give exactly one"),
        ("diesel", {"l_per_h": 1.0, "heat_kw": 1.0}, "give exactly one"),
    ],
)
def test_bad_flows(name: str, flow: dict[str, float], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        fuel_volume_per_h(name, **flow)
