"""Emissions and exercise fuel against published values."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from kit.account.cash import fuel_usd
from kit.account.emissions import (
    co2e_kg_per_kwh_generated,
    delivered_factor_kg_per_kwh,
    fuel_co2e_kg,
    grid_co2e_kg,
    kg_per_kwh_from_lb_per_mwh,
    onsite_g,
)
from kit.account.upkeep import exercise_run
from kit.study.equipment_models import Exercise
from tests.published.economics_cases import Case
from tests.published.emissions_cases import CASES

CALLS: dict[str, Callable[..., float]] = {
    "lb_per_mwh": kg_per_kwh_from_lb_per_mwh,
    "delivered": delivered_factor_kg_per_kwh,
    "grid": grid_co2e_kg,
    "fuel": fuel_co2e_kg,
    "intensity": co2e_kg_per_kwh_generated,
    "limit_high": lambda **inputs: onsite_g(**inputs).high,
    "exercise": lambda runs_per_year, minutes, fuel_per_h: (
        exercise_run(Exercise(runs_per_year=runs_per_year, minutes=minutes), 10.0, fuel_per_h).fuel
    ),
    "fuel_money": lambda **inputs: float(fuel_usd(**inputs)),
}


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.call} {case.place}")
def test_published_value(case: Case) -> None:
    assert CALLS[case.call](**case.inputs) == pytest.approx(case.expected, abs=case.tolerance, rel=0), (
        f"{case.source}, {case.place} ({case.provenance}); tolerance: {case.why}"
    )
