"""The calculated load and the boil-off rule at the places of dwelling_cases.py."""

from __future__ import annotations

from functools import partial

from kit.fit.dwelling_load import cooking_demand_va, optional_method, standard_method
from kit.fit.gas_supply import boil_off_kw
from kit.report.checks import Check, Provenance
from kit.study.dwelling_models import PropaneTank
from tests.published import dwelling_cases as cases

SUBJECT = "Calculated load of a dwelling, propane boil-off"
METHODS = {"standard": standard_method, "optional": optional_method}
INCH_M = 0.0254
BTU_PER_KWH = 3412.14
WHOLE = "volt-amperes are printed whole"


def figure_of(case: cases.DwellingCase, figure: str) -> float:
    return float(getattr(METHODS[case.method](case.dwelling), figure))


def neutral_of_d2a() -> float:
    return float(standard_method(cases.D2A_DWELLING).neutral_va)


def cooking_of_d2b() -> float:
    return cooking_demand_va([4.0, 4.0, 5.1])


def tank_btu_per_h() -> float:
    diameter_in, length_in = cases.TANK_1000_GAL_IN
    tank = PropaneTank(diameter_m=diameter_in * INCH_M, length_m=length_in * INCH_M)
    return boil_off_kw(tank, 0.30, (-10.0 - 32.0) / 1.8) * BTU_PER_KWH


def check(
    name: str,
    unit: str,
    source: str,
    expected: float,
    within: float,
    why: str,
    compute: partial[float],
    data: str,
    provenance: Provenance = "seen",
) -> Check:
    return Check(
        SUBJECT, name, unit, source, provenance, expected, within, why, compute, f"dwelling_cases.{data}"
    )


def of_example(name: str) -> list[Check]:
    case: cases.DwellingCase = getattr(cases, name)
    figures = [("total load", "VA", "total_va", case.total_va, case.within, WHOLE)]
    figures.append(
        (
            "smallest service",
            "A",
            "smallest_service_a",
            float(case.smallest_service_a),
            0.0,
            "a standard size",
        )
    )
    if case.neutral_va is not None:
        figures.append(("neutral", "VA", "neutral_va", case.neutral_va, case.within, WHOLE))
    return [
        check(
            f"{case.name}: {what}",
            unit,
            case.source,
            value,
            within,
            why,
            partial(figure_of, case, field),
            name,
        )
        for what, unit, field, value, within, why in figures
    ]


TANK = Check(
    SUBJECT,
    "1,000 gal tank, 30 % full, -10 F: heat it can feed",
    "Btu/h",
    "tank table of a heater manual (figure seen; outer size of such a tank from memory)",
    "memory",
    cases.TANK_1000_GAL_BTU_PER_H,
    0.005,
    "the tank's outer size is rounded to the inch",
    tank_btu_per_h,
    "dwelling_cases.TANK_1000_GAL_BTU_PER_H",
    relative=True,
)
CHECKS: list[Check] = [
    *(check for name in ("D1A", "D2A", "D2B", "D2C") for check in of_example(name)),
    check(
        "D2(a): neutral",
        "VA",
        cases.D2A.source,
        cases.D2A_NEUTRAL_VA,
        0.5,
        WHOLE,
        partial(neutral_of_d2a),
        "D2A_NEUTRAL_VA",
    ),
    check(
        "D2(b): cooking",
        "VA",
        cases.D2B.source,
        cases.D2B_COOKING_VA,
        50.0,
        "printed to the nearest 100",
        partial(cooking_of_d2b),
        "D2B_COOKING_VA",
    ),
    TANK,
]
