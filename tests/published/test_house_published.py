"""The house against published values: see house_cases.py for their sources."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from kit.house.meter import describe_meter
from kit.house.readings import MeterError
from tests.published.house_cases import (
    DAILY_COUNTS,
    WINDOW_FAN,
)
from tests.published.meter_checks import daily_readings, metered_year

ROOT = Path(__file__).parents[2]


def test_daily_values_are_refused() -> None:
    with pytest.raises(MeterError, match="values are daily: too coarse"):
        describe_meter(ROOT / "tests/data/meter/std_daily_15months_dst_23h_25h.xml", "America/New_York")


def test_the_gas_export_is_refused_with_its_duplicates() -> None:
    # 36 blocks with one start time, no unit: 35 duplicates.
    with pytest.raises(MeterError) as caught:
        describe_meter(ROOT / "tests/data/meter/gas_utility_36mo_same_start.xml", "America/New_York")
    text = str(caught.value)
    assert "\n" not in text
    assert "35 duplicates" in text
    assert "no unit" in text
    assert "gas" in text


def test_the_metered_year_needs_no_mapping() -> None:
    year, load_kw, report = metered_year()
    assert not report.mapped
    assert len(load_kw) == year.n == 8760


def test_every_daily_reading_starts_at_local_midnight() -> None:
    """By the file's own rules of daylight saving."""
    readings = daily_readings()
    assert readings.clock is not None
    assert np.all(readings.clock.local_s(readings.start_s) % 86_400 == 0)
    assert set(readings.length_s.tolist()) == set(DAILY_COUNTS)


def test_the_months_of_the_window_fan_have_its_days() -> None:
    assert sum(pd.Period(f"2025-{m:02}").days_in_month for m in (2, 6, 7, 8)) == WINDOW_FAN["days"]
