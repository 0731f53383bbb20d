"""The ageing forms at the papers' points, and the cycle count at the standard's example."""

from __future__ import annotations

import numpy as np
import pytest
import rainflow

from kit.systems.ageing import (
    anode_potential_v,
    counted_cycles,
    held_full,
    naumann_cycle_k,
    schimpe_calendar_k,
    year_stress,
)
from tests.published import ageing_cases as cases

LAST_DIGIT = 0.0006  # half of the last printed digit of a loss in per cent, rounded up


@pytest.mark.parametrize("place", cases.NAUMANN_CALENDAR, ids=str)
def test_naumann_calendar(place: tuple[float, float]) -> None:
    temperature_c, charge = place
    one, ten = cases.NAUMANN_CALENDAR[place]
    stress = held_full(temperature_c, charge_frac=charge)
    assert 100 * stress.loss_frac(1.0) == pytest.approx(one, abs=LAST_DIGIT), cases.NAUMANN_2018
    assert 100 * stress.loss_frac(10.0) == pytest.approx(ten, abs=0.006), cases.NAUMANN_2018


@pytest.mark.parametrize("place", cases.NAUMANN_CYCLE, ids=str)
def test_naumann_cycle(place: tuple[float, float, float]) -> None:
    rate, depth, full_cycles = place
    loss = 100 * float(naumann_cycle_k(depth, rate)) * full_cycles**0.5
    assert loss == pytest.approx(cases.NAUMANN_CYCLE[place], abs=LAST_DIGIT), cases.NAUMANN_2020


@pytest.mark.parametrize("charge", cases.SCHIMPE_CALENDAR)
def test_schimpe_calendar(charge: float) -> None:
    loss = 100 * float(schimpe_calendar_k(25.0, charge)) * 8760**0.5
    assert loss == pytest.approx(cases.SCHIMPE_CALENDAR[charge], abs=LAST_DIGIT), cases.SCHIMPE_2018


def test_schimpe_anode() -> None:
    for charge, volts in cases.SCHIMPE_ANODE_V.items():
        assert float(anode_potential_v(charge)) == pytest.approx(volts, abs=0.6e-5)


@pytest.mark.parametrize("charge", [0.5, 1.0])
def test_two_papers_agree(charge: float) -> None:
    """Two teams, two cells: within a tenth of each other at 25 C after a year."""
    one = held_full(25.0, "naumann", charge).loss_frac(1.0)
    other = held_full(25.0, "schimpe", charge).loss_frac(1.0)
    assert other == pytest.approx(one, rel=cases.PAPERS_AGREE_WITHIN)


def test_rainflow_of_the_standard() -> None:
    """The library we count with, and our own use of it, on the series of the standard."""
    assert dict(rainflow.count_cycles(cases.ASTM_SERIES)) == cases.ASTM_RANGES
    low, high = min(cases.ASTM_SERIES), max(cases.ASTM_SERIES)
    path = (np.array(cases.ASTM_SERIES) - low) / (high - low)
    cycles = counted_cycles(path, 1.0)
    found: dict[float, float] = {}
    for depth, count in zip(cycles.depth_frac, cycles.count, strict=True):
        swing = round(float(depth) * (high - low), 9)
        found[swing] = found.get(swing, 0.0) + float(count)
    assert found == cases.ASTM_RANGES


def test_daily_full_cycles_add_up() -> None:
    """365 cycles of depth 0.8 at about mid charge: the cycle part is the paper's own formula."""
    day = np.concatenate(
        [np.linspace(0.1, 0.9, 12, endpoint=False), np.linspace(0.9, 0.1, 12, endpoint=False)]
    )
    stress = year_stress(np.tile(day, 365), 25.0, 1.0)
    k = float(naumann_cycle_k(0.8, 0.8 / 12.0))
    assert 100 * stress.cycle_squared**0.5 == pytest.approx(100 * k * (365 * 0.8) ** 0.5, rel=0.01)
