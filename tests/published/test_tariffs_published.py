"""Bills against worked bills in print."""

from __future__ import annotations

import numpy as np
import pytest

from kit.calendar import Year, calendar_year
from kit.grid.bill import bill
from kit.study.rate_models import RatePlan
from tests.published import tariff_cases as cases


@pytest.fixture(scope="module")
def year() -> Year:
    return calendar_year(2025, "America/New_York", 60)


def test_the_trap_of_rounding_the_total_only(year: Year) -> None:
    """Unrounded lines give 95.68, a cent below the printed bill."""
    import_kwh = np.zeros(year.n)
    import_kwh[0] = 1050.0
    made = bill(RatePlan.model_validate(cases.INCLINING | {"rounding": "none"}), year, import_kwh)
    assert round(made.total_usd, 2) == 95.68
