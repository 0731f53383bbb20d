"""Outage statistics against published indices."""

from __future__ import annotations

import pytest

from kit.grid.known import known_classes
from kit.grid.outages import outage_hours_per_year
from tests.published import outage_cases as cases
from tests.unit.grid.records import shipped_record


def test_all_rows_are_there() -> None:
    assert len(cases.ROWS) == 10 + 2 * 15


@pytest.mark.parametrize("name", ["mild_suburb", "quiet_city_feeder"])
def test_calm_places_stay_in_the_national_band(name: str) -> None:
    """US averages 2014-2023, all events: 209 to 506 min and 1.26 to 1.44 interruptions a year.

    A mild or quiet place lies between a tenth of the least and the most (band: common practice, no source).
    """
    record = shipped_record(name)
    minutes = [row[2] for row in cases.ROWS if row[0].startswith("US")]
    counts = [row[1] for row in cases.ROWS if row[0].startswith("US")]
    assert 0.1 * min(minutes) < outage_hours_per_year(record) * 60 < max(minutes)
    rate = sum(c.events_per_year for c in known_classes(record).values())
    assert 0.1 * min(counts) < rate <= max(counts)
