"""Reliability figures and curve against the paper's."""

from __future__ import annotations

from typing import Any

import pytest

from kit.systems.reliability import Reliability, reliability, serves_frac
from tests.published import reliability_cases as cases
from tests.published.equipment_case import EquipmentCase


def of(rows: list[EquipmentCase]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("case", rows, ids=lambda case: case.name)


def figures(case: EquipmentCase) -> Reliability:
    care: Any = case.inputs["care"]
    return reliability(care)


@of(cases.CURVE)
def test_serves_through(case: EquipmentCase) -> None:
    got = serves_frac(figures(case), float(str(case.inputs["run_h"])))
    assert got == pytest.approx(case.expected, abs=case.within)


@of(cases.ABSTRACT)
def test_failing_share_of_the_abstract(case: EquipmentCase) -> None:
    got = 1 - serves_frac(figures(case), float(str(case.inputs["run_h"])))
    assert got == pytest.approx(case.expected, abs=case.within)


@of(cases.FAILS_TO_START)
def test_fails_to_start(case: EquipmentCase) -> None:
    assert figures(case).fails_to_start_frac == pytest.approx(case.expected, abs=case.within)


def test_fourteen_starts() -> None:
    case = cases.MANY_STARTS
    once = 1 - reliability("poor").fails_to_start_frac
    assert once ** int(str(case.inputs["starts"])) == pytest.approx(case.expected, abs=case.within)
