"""Fuel curves, derating, power path, noise and carbon monoxide against printed figures."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from kit.fit.hazards import co_minutes_to_danger, noise_db_a
from kit.study.equipment_models import Cost, FuelPoint, Generator, Transfer
from kit.systems.fuels import fuel_volume_per_h
from kit.systems.generator import GeneratorSet, derate_frac, efficiency_frac, fuel_per_h, generator_set
from kit.systems.transfer import path_power, power_path
from tests.published import generator_cases as cases
from tests.published.equipment_case import EquipmentCase

L_PER_GAL = 3.785412
M3_PER_FT3 = 0.02831685
BTU_PER_KWH = 3412.14


def the_set(fuel: str, rated_kw: float, points: list[FuelPoint]) -> GeneratorSet:
    fields: dict[str, Any] = {"fuel": fuel, "running_kw": rated_kw, "starting_kw": rated_kw}
    fields |= {"fuel_points": points, "tank_l": None if fuel == "natural_gas" else 100.0}
    fields |= {"onsite_nox_g_per_kwh": 1.0, "onsite_co_g_per_kwh": 1.0, "cost": Cost(price_usd=1.0)}
    return generator_set(Generator(**fields), altitude_m=0.0, temperature_c=25.0)


def by_gallon(fuel: str, rated_kw: float, points: list[tuple[float, float]]) -> GeneratorSet:
    return the_set(
        fuel, rated_kw, [FuelPoint(output_kw=kw, fuel_l_per_h=gal * L_PER_GAL) for kw, gal in points]
    )


def propane_by_heat() -> GeneratorSet:
    points = [FuelPoint(output_kw=kw, heat_kw=btu / BTU_PER_KWH) for kw, btu in cases.PROPANE_25_BTU_PER_H]
    return the_set("propane", 25.0, points)


def of(rows: list[EquipmentCase]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("case", rows, ids=lambda case: case.name)


def number(case: EquipmentCase, key: str) -> float:
    return float(str(case.inputs[key]))


@pytest.mark.parametrize("rated", cases.DIESEL_CHART)
def test_the_curve_passes_through_the_chart(rated: int) -> None:
    points = cases.DIESEL_CHART[rated]
    gs = by_gallon("diesel", float(rated), points)
    got = fuel_per_h(gs, [kw for kw, _ in points]) / L_PER_GAL
    np.testing.assert_allclose(got, [gal for _, gal in points], rtol=1e-12)


def test_between_chart_points_the_curve_is_straight() -> None:
    """20 kW set at 12 kW: 0.9 + (12 - 10) / 5 x 0.4 = 1.06 gal/h."""
    gs = by_gallon("diesel", 20.0, cases.DIESEL_CHART[20])
    assert fuel_per_h(gs, 12.0) / L_PER_GAL == pytest.approx(1.06, abs=1e-9)


@of(cases.DIESEL_EFFICIENCY)
def test_diesel_efficiency(case: EquipmentCase) -> None:
    rated = int(number(case, "rated"))
    gs = by_gallon("diesel", float(rated), cases.DIESEL_CHART[rated])
    got = float(efficiency_frac(gs, number(case, "output_kw"))) * 100
    assert got == pytest.approx(case.expected, abs=case.within)


@of(cases.PROPANE_25_FUEL)
def test_heat_points_become_gallons(case: EquipmentCase) -> None:
    got = fuel_per_h(propane_by_heat(), number(case, "output_kw")) / L_PER_GAL
    assert got == pytest.approx(case.expected, abs=case.within)


def test_near_no_load_decides_the_fuel() -> None:
    case = cases.PROPANE_25_AT_HALF_KW
    gs = by_gallon("propane", 25.0, cases.PROPANE_25_GAL_PER_H)
    assert gs.no_load_known
    got = fuel_per_h(gs, number(case, "output_kw")) / L_PER_GAL
    assert got == pytest.approx(case.expected, abs=case.within)


@of(cases.PROPANE_25_EFFICIENCY)
def test_propane_efficiency(case: EquipmentCase) -> None:
    got = float(efficiency_frac(propane_by_heat(), number(case, "output_kw"))) * 100
    assert got == pytest.approx(case.expected, abs=case.within)


def test_propane_vapour_becomes_liquid() -> None:
    case = cases.PROPANE_25_VAPOUR
    got = fuel_volume_per_h("propane", m3_per_h=number(case, "ft3_per_h") * M3_PER_FT3) / L_PER_GAL
    assert got == pytest.approx(case.expected, abs=case.within)


@of(cases.NATURAL_GAS_EFFICIENCY)
def test_natural_gas_efficiency(case: EquipmentCase) -> None:
    rated, heat_kw = number(case, "rated"), number(case, "btu_per_h") / BTU_PER_KWH
    points = [FuelPoint(output_kw=0.0, heat_kw=heat_kw / 3), FuelPoint(output_kw=rated, heat_kw=heat_kw)]
    gs = the_set("natural_gas", rated, points)
    assert gs.unit == "m3"
    assert float(efficiency_frac(gs, rated)) * 100 == pytest.approx(case.expected, abs=case.within)


@of(cases.DERATING)
def test_derating_rule(case: EquipmentCase) -> None:
    inputs: dict[str, Any] = dict(case.inputs)
    assert derate_frac(**inputs) == pytest.approx(case.expected, abs=case.within)


@of(cases.ALTERNATOR)
def test_alternator_table(case: EquipmentCase) -> None:
    inputs: dict[str, Any] = dict(case.inputs)
    table: dict[str, Any] = {"altitude_frac_per_300m": cases.PER_500M, "altitude_above_m": 1000.0}
    heat: dict[str, Any] = {"heat_frac_per_5p6c": cases.PER_5C, "heat_above_c": 40.0}
    assert derate_frac(**inputs, **table, **heat) == pytest.approx(case.expected, abs=case.within)


def test_alternator_multipliers_compound() -> None:
    """The manuals: multipliers compound, 2,000 m and 50 C is 0.94 x 0.94."""
    got = derate_frac(
        2000.0,
        50.0,
        altitude_frac_per_300m=cases.PER_500M,
        altitude_above_m=1000.0,
        heat_frac_per_5p6c=cases.PER_5C,
        heat_above_c=40.0,
    )
    assert got == pytest.approx(0.94 * 0.94, abs=1e-9)


def test_inlet() -> None:
    path = power_path(Transfer(kind="manual", inlet_a=30.0, voltage_v=240, cost=Cost(price_usd=1.0)))
    power = path_power(20.0, 25.0, path, inlet=True)
    assert power.peak_kw == pytest.approx(cases.INLET.expected, abs=cases.INLET.within)
    assert power.continuous_kw == pytest.approx(cases.INLET_CONTINUOUS_KW, abs=1e-9)


def test_noise() -> None:
    case = cases.NOISE
    got = noise_db_a(number(case, "db"), number(case, "m"))
    assert got == pytest.approx(case.expected, abs=case.within)


def test_carbon_monoxide_in_a_garage() -> None:
    case = cases.CO_GARAGE
    got = co_minutes_to_danger(
        number(case, "co_g_per_kwh"), number(case, "output_kw"), number(case, "room_m3")
    )
    assert got == pytest.approx(case.expected, abs=case.within)
