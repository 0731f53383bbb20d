"""Fuel facts against the printed figures of two bodies."""

from __future__ import annotations

import pytest

from kit.systems.fuels import FUELS, KWH_PER_BTU, fuel_facts, fuel_volume_per_h
from tests.published import fuel_cases as cases
from tests.published.equipment_case import EquipmentCase

L_PER_GAL = 3.785412
M3_PER_FT3 = 0.02831685
KG_PER_LB = 0.45359237
BTU_PER_KWH = 3412.14


def of(rows: list[EquipmentCase]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("case", rows, ids=lambda case: case.name)


def fuel(case: EquipmentCase) -> str:
    return str(case.inputs["fuel"])


@of(cases.CO2_KG_PER_GAL)
def test_fossil_co2_of_a_gallon(case: EquipmentCase) -> None:
    got = fuel_facts(fuel(case)).co2_fossil_kg_per_unit * L_PER_GAL
    assert got == pytest.approx(case.expected, abs=case.within)


@of(cases.CO2_KG_PER_THERM)
def test_fossil_co2_of_a_therm(case: EquipmentCase) -> None:
    facts = fuel_facts(fuel(case))
    m3_per_therm = fuel_volume_per_h(fuel(case), heat_kw=100_000 / BTU_PER_KWH)
    assert facts.co2_fossil_kg_per_unit * m3_per_therm == pytest.approx(case.expected, abs=case.within)


@of(cases.CO2_KG_PER_L)
def test_fossil_co2_of_a_litre(case: EquipmentCase) -> None:
    assert fuel_facts(fuel(case)).co2_fossil_kg_per_unit == pytest.approx(case.expected, abs=case.within)


@of(cases.CO2E_KG_PER_MMBTU)
def test_co2e_of_heat(case: EquipmentCase) -> None:
    facts = fuel_facts(fuel(case))
    units_per_mmbtu = 1e6 / BTU_PER_KWH / facts.hhv_kwh_per_unit
    assert facts.co2e_kg_per_unit * units_per_mmbtu == pytest.approx(case.expected, abs=case.within)


@of(cases.CO2E_KG_PER_GAL)
def test_co2e_of_a_gallon(case: EquipmentCase) -> None:
    got = fuel_facts(fuel(case)).co2e_kg_per_unit * L_PER_GAL
    assert got == pytest.approx(case.expected, abs=case.within)


@of(cases.E10_LB_PER_GAL)
def test_e10_tells_fossil_from_biogenic(case: EquipmentCase) -> None:
    facts = fuel_facts("gasoline")
    kg_per_l = facts.co2_fossil_kg_per_unit
    if case.inputs["biogenic"]:
        kg_per_l += facts.co2_biogenic_kg_per_unit
    assert kg_per_l * L_PER_GAL / KG_PER_LB == pytest.approx(case.expected, abs=case.within)


@of(cases.BTU_KWH)
def test_btu_become_kwh(case: EquipmentCase) -> None:
    assert float(str(case.inputs["btu"])) * KWH_PER_BTU == pytest.approx(case.expected, abs=case.within)


def test_e10_holds_what_eia_prints() -> None:
    assert fuel_facts("gasoline").hhv_kwh_per_unit * L_PER_GAL == pytest.approx(35.23, abs=0.005)


@of(cases.OTHER_BODY_HEAT_BTU)
def test_heat_content_agrees_with_the_other_body(case: EquipmentCase) -> None:
    facts = fuel_facts(fuel(case))
    us_unit = L_PER_GAL if facts.unit == "l" else M3_PER_FT3
    assert facts.hhv_kwh_per_unit * us_unit * BTU_PER_KWH == pytest.approx(case.expected, rel=case.within)


def test_no_fuel_mixes_the_heat_of_one_body_with_the_carbon_of_the_other() -> None:
    """CO2 over heat gives back each body's own per-mmBtu factor: 73.96 for diesel, never 73.16."""
    own = {"gasoline_e0": 70.22, "diesel": 73.96, "propane": 62.87, "natural_gas": 53.06}
    for name, kg_per_mmbtu in own.items():
        facts = FUELS[name]
        got = facts.co2_fossil_kg_per_unit / facts.hhv_kwh_per_unit / BTU_PER_KWH * 1e6
        assert got == pytest.approx(kg_per_mmbtu, abs=0.005), name


def test_hours_of_a_cylinder() -> None:
    case = cases.CYLINDER_H
    given = {key: float(str(value)) for key, value in case.inputs.items()}
    heat_kw = given["engine_hp"] * given["load_frac"] * given["btu_per_hp_h"] / BTU_PER_KWH
    hhv = fuel_facts("propane").hhv_kwh_per_unit
    cylinder_l = given["cylinder_btu"] / BTU_PER_KWH / hhv
    got = cylinder_l / fuel_volume_per_h("propane", heat_kw=heat_kw)
    assert got == pytest.approx(case.expected, abs=case.within)
