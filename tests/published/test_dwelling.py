"""The calculated load against the examples of the code, and the boil-off rule against a printed table."""

from __future__ import annotations

import pytest

from kit.fit.dwelling_load import cooking_demand_va, optional_method, standard_method
from kit.fit.gas_supply import boil_off_kw
from kit.study.dwelling_models import PropaneTank
from tests.published import dwelling_cases as cases

METHODS = {"standard": standard_method, "optional": optional_method}


@pytest.mark.parametrize("case", [cases.D1A, cases.D2A, cases.D2B, cases.D2C], ids=lambda c: c.name)
def test_annex_d(case: cases.DwellingCase) -> None:
    load = METHODS[case.method](case.dwelling)
    assert load.total_va == pytest.approx(case.total_va, abs=case.within)
    assert load.smallest_service_a == case.smallest_service_a
    if case.neutral_va is not None:
        assert load.neutral_va == pytest.approx(case.neutral_va, abs=case.within)


def test_neutral_of_d2a() -> None:
    neutral_va = standard_method(cases.D2A_DWELLING).neutral_va
    assert neutral_va == pytest.approx(cases.D2A_NEUTRAL_VA, abs=0.5)


def test_cooking_of_d2b() -> None:
    assert cooking_demand_va([4.0, 4.0, 5.1]) == pytest.approx(cases.D2B_COOKING_VA, abs=50.0)


def test_tank_table_of_a_manual() -> None:
    diameter_in, length_in = cases.TANK_1000_GAL_IN
    tank = PropaneTank(diameter_m=diameter_in * 0.0254, length_m=length_in * 0.0254)
    minus_10_f_in_c = (-10.0 - 32.0) / 1.8
    btu_per_h = boil_off_kw(tank, 0.30, minus_10_f_in_c) * 3412.14
    assert btu_per_h == pytest.approx(cases.TANK_1000_GAL_BTU_PER_H, rel=0.005)
