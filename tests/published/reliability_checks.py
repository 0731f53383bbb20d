"""The kit's reliability of generators at the places of reliability_cases.py."""

from __future__ import annotations

from typing import Any

from kit.report.checks import Check
from kit.systems.reliability import Reliability, reliability, serves_frac
from tests.published import reliability_cases as cases
from tests.published.equipment_case import EquipmentCase, checks_of, number

SUBJECT = "Reliability of generators"


def figures(case: EquipmentCase) -> Reliability:
    care: Any = case.inputs["care"]
    return reliability(care)


def serves(case: EquipmentCase) -> float:
    return serves_frac(figures(case), number(case, "run_h"))


def fails(case: EquipmentCase) -> float:
    return 1 - serves(case)


def fails_to_start(case: EquipmentCase) -> float:
    return figures(case).fails_to_start_frac


def all_starts(case: EquipmentCase) -> float:
    return float((1 - reliability("poor").fails_to_start_frac) ** int(number(case, "starts")))


CHECKS: list[Check] = [
    *checks_of(cases, "CURVE", SUBJECT, "chance to serve through", "share", serves),
    *checks_of(cases, "ABSTRACT", SUBJECT, "failing share", "share", fails),
    *checks_of(cases, "FAILS_TO_START", SUBJECT, "fails to start", "share", fails_to_start),
    *checks_of(cases, "MANY_STARTS", SUBJECT, "all starts succeed", "share", all_starts),
]
