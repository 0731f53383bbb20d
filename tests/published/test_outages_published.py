"""Outage statistics against published indices."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from kit.grid.known import known_classes
from kit.grid.outage_rates import rate_from_log, split_indices
from kit.grid.outages import outage_hours_per_year
from kit.grid.reliability_indices import MajorEventThreshold, indices_from, major_event_threshold
from kit.study.outage_models import OutageRecord
from tests.published import outage_cases as cases
from tests.unit.grid.records import shipped_record


def test_all_rows_are_there() -> None:
    assert len(cases.ROWS) == 10 + 2 * 15


@pytest.mark.parametrize("row", cases.ROWS, ids=lambda row: row[0])
def test_mean_event_is_the_printed_caidi(row: cases.Row) -> None:
    """CAIDI = SAIDI / SAIFI (IEEE Std 1366), for routine events and for all events taken as one class."""
    _, saifi_all, saidi_all, caidi_all, saifi_without, saidi_without, caidi_without = row
    made = split_indices(saifi_all, saidi_all, saifi_without, saidi_without)
    assert made.routine_mean_h * 60 == pytest.approx(caidi_without, rel=cases.CAIDI_WITHIN)
    whole = split_indices(saifi_all, saidi_all, saifi_all, saidi_all)
    assert whole.routine_mean_h * 60 == pytest.approx(caidi_all, rel=cases.CAIDI_WITHIN)


@pytest.mark.parametrize("row", cases.ROWS, ids=lambda row: row[0])
def test_a_record_from_the_split_gives_back_saidi(row: cases.Row) -> None:
    """Routine and major together are all events, once: hours a year equal the printed SAIDI."""
    _, saifi_all, saidi_all, _, saifi_without, saidi_without, _ = row
    made = split_indices(saifi_all, saidi_all, saifi_without, saidi_without)
    record = OutageRecord.model_validate(
        {
            "horizon_h": 1440.0,
            "classes": {
                "routine": {
                    "events_per_year": made.routine_events_per_year,
                    "duration": {"kind": "fixed", "mean_h": made.routine_mean_h},
                },
                "major": {
                    "events_per_year": made.major_events_per_year,
                    "duration": {"kind": "exponential", "mean_h": made.major_mean_h},
                },
            },
        }
    )
    assert outage_hours_per_year(record) * 60 == pytest.approx(saidi_all, rel=1e-9)


def test_major_events_of_2023() -> None:
    _, *figures = next(row for row in cases.ROWS if row[0] == "US 2023")
    made = split_indices(figures[0], figures[1], figures[3], figures[4])
    assert made.major_events_per_year == pytest.approx(cases.MAJOR_2023_PER_YEAR, abs=0.0005)
    assert made.major_mean_h == pytest.approx(cases.MAJOR_2023_H, abs=0.05)
    assert made.major_return_years == pytest.approx(3.1, abs=0.05)


def test_index_example_of_the_standard() -> None:
    made = split_indices(cases.IEEE_SAIFI, cases.IEEE_SAIDI_MIN, cases.IEEE_SAIFI, cases.IEEE_SAIDI_MIN)
    assert made.routine_mean_h * 60 == pytest.approx(cases.IEEE_CAIDI_MIN, abs=0.05)
    out_h = made.routine_events_per_year * made.routine_mean_h
    assert 1 - out_h / 8760 == pytest.approx(cases.IEEE_ASAI_FRAC, abs=5e-7)


def test_no_event_in_three_years() -> None:
    made = rate_from_log(0, 3.0)
    likely, low, high = cases.NO_EVENT_IN_3_YEARS
    assert made.likely == pytest.approx(likely, abs=0.005)
    assert made.low == pytest.approx(low, abs=0.0005)
    assert made.high == pytest.approx(high, abs=0.005)
    assert made.low == pytest.approx(cases.CHI_SQUARE_1_LOW / 6, rel=2e-3)
    assert made.high == pytest.approx(cases.CHI_SQUARE_1_HIGH / 6, rel=2e-4)


def test_major_event_day_threshold_of_the_standard() -> None:
    made = MajorEventThreshold.of(cases.IEEE_ALPHA, cases.IEEE_BETA)
    assert made.threshold_min == pytest.approx(cases.IEEE_THRESHOLD_MIN, rel=cases.IEEE_THRESHOLD_WITHIN)
    # five years of days that follow the printed law exactly
    share = (np.arange(1826) + 0.5) / 1826
    daily = stats.lognorm(cases.IEEE_BETA, scale=np.exp(cases.IEEE_ALPHA)).ppf(share)
    found = major_event_threshold(daily)
    assert found.threshold_min == pytest.approx(cases.IEEE_THRESHOLD_MIN, rel=cases.IEEE_THRESHOLD_WITHIN)
    assert (found.alpha, found.beta) == pytest.approx((cases.IEEE_ALPHA, cases.IEEE_BETA), abs=0.01)


def test_all_indices_of_the_standard() -> None:
    made = indices_from(cases.IEEE_SAIFI, cases.IEEE_SAIDI_MIN)
    assert made.caidi_min == pytest.approx(cases.IEEE_CAIDI_MIN, abs=0.05)
    assert made.asai_frac == pytest.approx(cases.IEEE_ASAI_FRAC, abs=5e-7)


@pytest.mark.parametrize("row", cases.ROWS, ids=lambda row: row[0])
def test_a_record_written_with_the_printed_indices(row: cases.Row) -> None:
    """Minutes as printed, two classes from the indices: the hours of all events, routine CAIDI as printed."""
    _, saifi_all, saidi_all, _, saifi_without, saidi_without, caidi_without = row
    sides = {"all_events": (saifi_all, saidi_all), "without_major": (saifi_without, saidi_without)}
    record = OutageRecord.model_validate(
        {
            "horizon_h": 1440.0,
            "indices": {
                name: {"saifi_per_year": count, "saidi_h_per_year": minutes / 60}
                for name, (count, minutes) in sides.items()
            },
            "classes": {
                "routine": {"from_indices": "routine", "duration": {"kind": "exponential"}},
                "major": {"from_indices": "major", "duration": {"kind": "weibull", "shape": 0.9}},
            },
        }
    )
    assert outage_hours_per_year(record) * 60 == pytest.approx(saidi_all, rel=2e-3)
    routine = known_classes(record)["routine"].duration.mean_h
    assert routine is not None
    assert routine * 60 == pytest.approx(caidi_without, rel=cases.CAIDI_WITHIN)


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
