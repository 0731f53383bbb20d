"""The account stage against published values of engineering economy."""

from __future__ import annotations

import pytest

from kit.account.measures import (
    npv_usd,
)
from tests.published.economics_checks import table_of


def test_a_first_flow_in_year_one_is_another_convention() -> None:
    """TRAP: a spreadsheet discounts the first figure by a year; here year 0 is not discounted."""
    flows = (-10_000.0, 3_000.0, 4_200.0, 6_800.0)
    assert npv_usd(table_of(flows), 0.10) == pytest.approx(1_188.44 * 1.10, abs=0.006)
