"""Fuel curves, derating, power path, noise and carbon monoxide against printed figures."""

from __future__ import annotations

import pytest

from kit.study.equipment_models import FuelPoint
from kit.systems.generator import fuel_per_h
from tests.published import generator_cases as cases
from tests.published.generator_checks import L_PER_GAL, by_gallon, the_set


def test_between_chart_points_the_curve_is_straight() -> None:
    """20 kW set at 12 kW: 0.9 + (12 - 10) / 5 x 0.4 = 1.06 gal/h."""
    gs = by_gallon("diesel", 20.0, cases.DIESEL_CHART[20])
    assert fuel_per_h(gs, 12.0) / L_PER_GAL == pytest.approx(1.06, abs=1e-9)


def test_points_at_no_load_and_the_unit_of_gas_are_known() -> None:
    assert by_gallon("propane", 25.0, cases.PROPANE_25_GAL_PER_H).no_load_known
    assert not by_gallon("diesel", 8.0, cases.DIESEL_CHART[8]).no_load_known
    points = [FuelPoint(output_kw=0.0, heat_kw=20.0), FuelPoint(output_kw=10.0, heat_kw=60.0)]
    assert the_set("natural_gas", 10.0, points).unit == "m3"
