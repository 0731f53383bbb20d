"""Lines of the calculated load, by hand."""

from __future__ import annotations

import pytest

from kit.fit.dwelling_load import (
    cooking_demand_va,
    heat_or_cool_va,
    lighting_demand_va,
    optional_method,
    standard_method,
)
from kit.study.dwelling_models import Dwelling, FixedAppliance, Heating

FLOOR = 1500 * 0.09290304


def test_lighting_demand_has_three_bands() -> None:
    assert lighting_demand_va(2500.0) == 2500.0
    assert lighting_demand_va(9000.0) == pytest.approx(3000 + 0.35 * 6000)
    assert lighting_demand_va(130_000.0) == pytest.approx(3000 + 0.35 * 117_000 + 0.25 * 10_000)


@pytest.mark.parametrize(
    ("cooking_kva", "va"),
    [
        ([], 0.0),
        ([1.5], 1500.0),  # up to 1 3/4 kW the table does not apply
        ([3.0], 0.80 * 3000),
        ([8.0], 0.80 * 8000),
        ([12.0], 8000.0),
        ([12.4], 8000.0),  # less than the major part of a kW
        ([14.0], 8000.0 * 1.10),
        ([9.0, 16.0], 11_000.0 * 1.10),  # (12 + 16) / 2 = 14
        ([3.0, 12.0], 0.80 * 3000 + 8000),
    ],
)
def test_cooking_table(cooking_kva: list[float], va: float) -> None:
    assert cooking_demand_va(cooking_kva) == pytest.approx(va)


def test_cooking_beyond_the_table() -> None:
    with pytest.raises(ValueError, match="more than five"):
        cooking_demand_va([4.0] * 6)
    with pytest.raises(ValueError, match="27 kW"):
        cooking_demand_va([28.0])


def test_four_fixed_appliances_count_three_quarters() -> None:
    three = Dwelling(floor_area_m2=FLOOR, fixed={"heater": FixedAppliance(nameplate_kva=2.0, count=3)})
    four = Dwelling(floor_area_m2=FLOOR, fixed={"heater": FixedAppliance(nameplate_kva=2.0, count=4)})
    assert standard_method(three).total_va == pytest.approx(5100 + 6000)
    assert standard_method(four).total_va == pytest.approx(5100 + 0.75 * 8000)


def test_small_dryer_and_charger_count_their_least() -> None:
    house = Dwelling(floor_area_m2=FLOOR, dryer_kva=4.0, vehicle_charger_kva=3.3, largest_motor_kva=1.0)
    assert standard_method(house).total_va == pytest.approx(5100 + 5000 + 7200 + 250)
    assert optional_method(house).total_va == pytest.approx(10_000 + 0.4 * (9000 + 4000 + 3300 - 10_000))


@pytest.mark.parametrize(
    ("heating", "cooling_kva", "va"),
    [
        (Heating(resistance_kva=10.0, separate_controls_count=3), 0.0, 6500.0),
        (Heating(resistance_kva=10.0, separate_controls_count=4), 0.0, 4000.0),
        (Heating(resistance_kva=10.0, separate_controls_count=4), 4.5, 4500.0),
        (Heating(heat_pump_kva=4.0, resistance_kva=10.0), 4.0, 10_500.0),
        (Heating(heat_pump_kva=4.0, resistance_kva=10.0, supplement_with_heat_pump=False), 4.0, 6500.0),
    ],
)
def test_heat_or_cool(heating: Heating, cooling_kva: float, va: float) -> None:
    assert heat_or_cool_va(Dwelling(floor_area_m2=FLOOR, heating=heating, cooling_kva=cooling_kva))[
        2
    ] == pytest.approx(va)


def test_lines_name_their_section() -> None:
    lines = standard_method(Dwelling(floor_area_m2=FLOOR, cooking_kva=[12.0])).lines
    assert lines["section"].str.len().min() > 4
    assert lines["counted_va"].sum() == pytest.approx(5100 + 8000)
