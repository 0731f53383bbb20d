"""The ageing forms at the papers' points, and the cycle count at the standard's example."""

from __future__ import annotations

import numpy as np
import pytest

from kit.systems.ageing import (
    naumann_cycle_k,
    year_stress,
)


def test_daily_full_cycles_add_up() -> None:
    """365 cycles of depth 0.8 at about mid charge: the cycle part is the paper's own formula."""
    day = np.concatenate(
        [np.linspace(0.1, 0.9, 12, endpoint=False), np.linspace(0.9, 0.1, 12, endpoint=False)]
    )
    stress = year_stress(np.tile(day, 365), 25.0, 1.0)
    k = float(naumann_cycle_k(0.8, 0.8 / 12.0))
    assert 100 * stress.cycle_squared**0.5 == pytest.approx(100 * k * (365 * 0.8) ** 0.5, rel=0.01)
