"""Fuel curves, derating, power path, noise and carbon monoxide at the places of generator_cases.py."""

from __future__ import annotations

from functools import partial
from typing import Any

from kit.fit.hazards import co_minutes_to_danger, noise_db_a
from kit.report.checks import Check
from kit.study.equipment_models import Cost, FuelPoint, Generator, Transfer
from kit.systems.fuels import fuel_volume_per_h
from kit.systems.generator import GeneratorSet, derate_frac, efficiency_frac, fuel_per_h, generator_set
from kit.systems.transfer import path_power, power_path
from tests.published import generator_cases as cases
from tests.published.equipment_case import EquipmentCase, checks_of, number

SUBJECT = "Generators: fuel, derating, noise, carbon monoxide"
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


def chart_gal_per_h(rated: int, output_kw: float) -> float:
    gs = by_gallon("diesel", float(rated), cases.DIESEL_CHART[rated])
    return float(fuel_per_h(gs, output_kw)) / L_PER_GAL


def diesel_efficiency(case: EquipmentCase) -> float:
    rated = int(number(case, "rated"))
    gs = by_gallon("diesel", float(rated), cases.DIESEL_CHART[rated])
    return float(efficiency_frac(gs, number(case, "output_kw"))) * 100


def propane_gal_per_h(case: EquipmentCase) -> float:
    return float(fuel_per_h(propane_by_heat(), number(case, "output_kw"))) / L_PER_GAL


def near_no_load_gal_per_h(case: EquipmentCase) -> float:
    gs = by_gallon("propane", 25.0, cases.PROPANE_25_GAL_PER_H)
    return float(fuel_per_h(gs, number(case, "output_kw"))) / L_PER_GAL


def propane_efficiency(case: EquipmentCase) -> float:
    return float(efficiency_frac(propane_by_heat(), number(case, "output_kw"))) * 100


def vapour_gal_per_h(case: EquipmentCase) -> float:
    return fuel_volume_per_h("propane", m3_per_h=number(case, "ft3_per_h") * M3_PER_FT3) / L_PER_GAL


def gas_efficiency(case: EquipmentCase) -> float:
    rated, heat_kw = number(case, "rated"), number(case, "btu_per_h") / BTU_PER_KWH
    points = [FuelPoint(output_kw=0.0, heat_kw=heat_kw / 3), FuelPoint(output_kw=rated, heat_kw=heat_kw)]
    return float(efficiency_frac(the_set("natural_gas", rated, points), rated)) * 100


def derated(case: EquipmentCase) -> float:
    inputs: dict[str, Any] = dict(case.inputs)
    return derate_frac(**inputs)


def alternator(case: EquipmentCase) -> float:
    inputs: dict[str, Any] = dict(case.inputs)
    table: dict[str, Any] = {"altitude_frac_per_300m": cases.PER_500M, "altitude_above_m": 1000.0}
    heat: dict[str, Any] = {"heat_frac_per_5p6c": cases.PER_5C, "heat_above_c": 40.0}
    return derate_frac(**inputs, **table, **heat)


def inlet_kw(case: EquipmentCase) -> float:
    path = power_path(Transfer(kind="manual", inlet_a=30.0, voltage_v=240, cost=Cost(price_usd=1.0)))
    power = path_power(20.0, 25.0, path, inlet=True)
    return float(getattr(power, str(case.inputs["figure"])))


def noise(case: EquipmentCase) -> float:
    return noise_db_a(number(case, "db"), number(case, "m"))


def garage_min(case: EquipmentCase) -> float:
    return co_minutes_to_danger(
        number(case, "co_g_per_kwh"), number(case, "output_kw"), number(case, "room_m3")
    )


CURVES = [
    Check(
        SUBJECT,
        f"fuel of a diesel set: {rated} kW at {output_kw:g} kW",
        "gal/h",
        cases.CHART,
        "seen",
        gal,
        1e-12,
        "the points are the kit's input: it must give back each",
        partial(chart_gal_per_h, rated, output_kw),
        "generator_cases.DIESEL_CHART",
        relative=True,
    )
    for rated, points in cases.DIESEL_CHART.items()
    for output_kw, gal in points
]
CHECKS: list[Check] = [
    *CURVES,
    *checks_of(cases, "DIESEL_EFFICIENCY", SUBJECT, "efficiency of a diesel set", "%", diesel_efficiency),
    *checks_of(cases, "PROPANE_25_FUEL", SUBJECT, "propane of a 25 kW set", "gal/h", propane_gal_per_h),
    *checks_of(
        cases, "PROPANE_25_AT_HALF_KW", SUBJECT, "propane near no load", "gal/h", near_no_load_gal_per_h
    ),
    *checks_of(
        cases, "PROPANE_25_EFFICIENCY", SUBJECT, "efficiency on propane, 25 kW", "%", propane_efficiency
    ),
    *checks_of(cases, "PROPANE_25_VAPOUR", SUBJECT, "vapour as liquid", "gal/h", vapour_gal_per_h),
    *checks_of(cases, "NATURAL_GAS_EFFICIENCY", SUBJECT, "efficiency on natural gas", "%", gas_efficiency),
    *checks_of(cases, "DERATING", SUBJECT, "engine, left of rating", "share", derated),
    *checks_of(cases, "ALTERNATOR", SUBJECT, "alternator, left of rating", "share", alternator),
    *checks_of(cases, "INLET", SUBJECT, "through an inlet", "kW", inlet_kw),
    *checks_of(cases, "NOISE", SUBJECT, "noise", "dB(A)", noise),
    *checks_of(cases, "CO_GARAGE", SUBJECT, "minutes to danger", "min", garage_min),
]
