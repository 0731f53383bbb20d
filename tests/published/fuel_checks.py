"""The kit's fuel facts at the places of fuel_cases.py."""

from __future__ import annotations

from kit.report.checks import Check
from kit.systems.fuels import FUELS, KWH_PER_BTU, fuel_facts, fuel_volume_per_h
from tests.published import fuel_cases as cases
from tests.published.equipment_case import EquipmentCase, checks_of, number

SUBJECT = "Fuels: heat and carbon"
L_PER_GAL = 3.785412
M3_PER_FT3 = 0.02831685
KG_PER_LB = 0.45359237
BTU_PER_KWH = 3412.14


def fuel(case: EquipmentCase) -> str:
    return str(case.inputs["fuel"])


def co2_kg_per_gal(case: EquipmentCase) -> float:
    return fuel_facts(fuel(case)).co2_fossil_kg_per_unit * L_PER_GAL


def co2_kg_per_therm(case: EquipmentCase) -> float:
    m3_per_therm = fuel_volume_per_h(fuel(case), heat_kw=100_000 / BTU_PER_KWH)
    return fuel_facts(fuel(case)).co2_fossil_kg_per_unit * m3_per_therm


def co2_kg_per_l(case: EquipmentCase) -> float:
    return fuel_facts(fuel(case)).co2_fossil_kg_per_unit


def co2e_kg_per_mmbtu(case: EquipmentCase) -> float:
    facts = fuel_facts(fuel(case))
    return facts.co2e_kg_per_unit * (1e6 / BTU_PER_KWH / facts.hhv_kwh_per_unit)


def co2e_kg_per_gal(case: EquipmentCase) -> float:
    return fuel_facts(fuel(case)).co2e_kg_per_unit * L_PER_GAL


def e10_lb_per_gal(case: EquipmentCase) -> float:
    facts = fuel_facts("gasoline")
    biogenic = facts.co2_biogenic_kg_per_unit if case.inputs["biogenic"] else 0.0
    return (facts.co2_fossil_kg_per_unit + biogenic) * L_PER_GAL / KG_PER_LB


def btu_kwh(case: EquipmentCase) -> float:
    return number(case, "btu") * KWH_PER_BTU


def gallon_kwh(case: EquipmentCase) -> float:
    return fuel_facts(fuel(case)).hhv_kwh_per_unit * L_PER_GAL


def heat_btu(case: EquipmentCase) -> float:
    facts = fuel_facts(fuel(case))
    return facts.hhv_kwh_per_unit * (L_PER_GAL if facts.unit == "l" else M3_PER_FT3) * BTU_PER_KWH


def own_factor(case: EquipmentCase) -> float:
    """CO2 over heat gives back each body's own factor: no fuel mixes heat and carbon of two bodies."""
    facts = FUELS[fuel(case)]
    return facts.co2_fossil_kg_per_unit / facts.hhv_kwh_per_unit / BTU_PER_KWH * 1e6


def cylinder_h(case: EquipmentCase) -> float:
    heat_kw = (
        number(case, "engine_hp") * number(case, "load_frac") * number(case, "btu_per_hp_h") / BTU_PER_KWH
    )
    cylinder_l = number(case, "cylinder_btu") / BTU_PER_KWH / fuel_facts("propane").hhv_kwh_per_unit
    return cylinder_l / fuel_volume_per_h("propane", heat_kw=heat_kw)


CHECKS: list[Check] = [
    *checks_of(cases, "CO2_KG_PER_GAL", SUBJECT, "fossil CO2 of a gallon", "kg/gal", co2_kg_per_gal),
    *checks_of(cases, "CO2_KG_PER_THERM", SUBJECT, "fossil CO2 of a therm", "kg/therm", co2_kg_per_therm),
    *checks_of(cases, "CO2_KG_PER_L", SUBJECT, "fossil CO2 of a litre", "kg/L", co2_kg_per_l),
    *checks_of(cases, "CO2_KG_PER_MMBTU", SUBJECT, "CO2 over heat", "kg/mmBtu", own_factor),
    *checks_of(cases, "CO2E_KG_PER_MMBTU", SUBJECT, "CO2e of heat", "kg/mmBtu", co2e_kg_per_mmbtu),
    *checks_of(cases, "CO2E_KG_PER_GAL", SUBJECT, "CO2e of a gallon", "kg/gal", co2e_kg_per_gal),
    *checks_of(cases, "E10_LB_PER_GAL", SUBJECT, "CO2 of a gallon of E10", "lb/gal", e10_lb_per_gal),
    *checks_of(cases, "BTU_KWH", SUBJECT, "Btu as kWh", "kWh", btu_kwh),
    *checks_of(cases, "E10_KWH", SUBJECT, "heat of a gallon", "kWh/gal", gallon_kwh),
    *checks_of(cases, "OTHER_BODY_HEAT_BTU", SUBJECT, "heat, other body", "Btu", heat_btu, relative=True),
    *checks_of(cases, "CYLINDER_H", SUBJECT, "hours of fuel", "h", cylinder_h),
]
