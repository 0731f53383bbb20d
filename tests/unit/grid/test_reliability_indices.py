"""Indices of a utility, its major event days, and classes that take their rates from them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError

from kit.grid.known import known_classes, record_split
from kit.grid.outage_log import OutageDataError
from kit.grid.outages import DurationLaw, outage_hours_per_year
from kit.grid.record_findings import outage_findings
from kit.grid.reliability_indices import major_event_threshold, reliability_indices, split_daily
from kit.study.outage_models import DailyReliability, OutageRecord, ServiceIndices

ALL, WITHOUT = (
    {"saifi_per_year": 1.348, "saidi_h_per_year": 6.11},
    {"saifi_per_year": 1.022, "caidi_h": 2.0205},
)
TWO = {
    "routine": {"from_indices": "routine", "duration": {"kind": "exponential"}},
    "major": {"from_indices": "major", "duration": {"kind": "lognormal", "spread": 1.0}},
}


def record(indices: dict[str, Any] | None, **classes: Any) -> OutageRecord:
    given = {"horizon_h": 1440.0, "classes": classes} | ({"indices": indices} if indices else {})
    return OutageRecord.model_validate(given)


def test_indices_by_hand() -> None:
    """1,000 served: 100 for 60 min, 300 for 20 min, 500 for 2 min (momentary).

    SAIFI (100 + 300) / 1000 = 0.4, SAIDI (6000 + 6000) / 1000 = 12 min, CAIDI 30 min, MAIFI 0.5.
    """
    made = reliability_indices([60.0, 20.0, 2.0], [100, 300, 500], 1000)
    assert (made.saifi_per_year, made.saidi_min_per_year, made.caidi_min) == pytest.approx((0.4, 12.0, 30.0))
    assert made.maifi_per_year == 0.5
    assert made.asai_frac == pytest.approx(1 - 12 / 525_600)
    assert reliability_indices([5.0], [10], 10).saifi_per_year == 0.0  # five minutes are momentary
    assert reliability_indices([], [], 10).caidi_min == 0.0


@pytest.mark.parametrize(
    ("minutes", "customers", "served"),
    [([5.0], [1, 2], 10), ([-1.0], [1], 10), ([9.0], [11], 10), ([9.0], [1], 0)],
)
def test_interruptions_that_cannot_be(minutes: list[float], customers: list[int], served: float) -> None:
    with pytest.raises(ValueError, match="customers"):
        reliability_indices(minutes, customers, served)


def test_the_threshold_by_hand() -> None:
    """Logs 20 x 0 and 20 x 2: mean 1, deviation 1 by n, sqrt(40 / 39) by n - 1; days of none left out."""
    daily = [1.0] * 20 + [np.exp(2.0)] * 20 + [0.0] * 10
    made = major_event_threshold(daily, "population")
    assert (made.alpha, made.beta, made.day_count) == (pytest.approx(1.0), pytest.approx(1.0), 40)
    assert made.threshold_min == pytest.approx(np.exp(3.5))
    sample = major_event_threshold(daily)
    assert sample.deviation == "sample"
    assert sample.beta == pytest.approx(np.sqrt(40 / 39))
    assert sample.threshold_min > made.threshold_min


def test_the_choice_of_deviation_hardly_matters_over_five_years() -> None:
    logs = np.random.default_rng(3).normal(-3.35, 1.9, 1800)
    a, b = (major_event_threshold(np.exp(logs), d).threshold_min for d in ("sample", "population"))
    assert 1.0 < a / b < 1.002


def test_a_threshold_needs_days() -> None:
    with pytest.raises(ValueError, match="30 days with an interruption, got 2"):
        major_event_threshold([0.0, 1.0, 2.0])
    with pytest.raises(ValueError, match="at or above 0"):
        major_event_threshold([-1.0] * 40)


def daily_file(tmp_path: Path, *rows: str, head: str = "date,saidi_min,saifi") -> str:
    path = tmp_path / "daily.csv"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return str(path)


def a_year_of_days(tmp_path: Path) -> str:
    """2023, every day 0.3 or 0.4 min at 60 min an interruption, but 10 days without and one of 150 min."""
    days = np.arange("2023-01-01", "2024-01-01", dtype="datetime64[D]")
    saidi = np.where(np.arange(365) % 2 == 0, 0.3, 0.4)
    saidi[100:110], saidi[200] = 0.0, 150.0
    return daily_file(tmp_path, *(f"{d},{m},{m / 60}" for d, m in zip(days, saidi, strict=True)))


def test_days_are_told_apart(tmp_path: Path) -> None:
    made = split_daily(DailyReliability(file=a_year_of_days(tmp_path)))
    assert [str(d) for d in made.major_days] == ["2023-07-20"]
    assert made.threshold.day_count == 355
    years = 365 / 365.2425
    routine_min = 177 * 0.3 + 177 * 0.4  # of 364 days, ten without
    assert made.without_major.saidi_min_per_year * years == pytest.approx(routine_min)
    assert made.all_events.saidi_min_per_year * years == pytest.approx(routine_min + 150.0)
    r = record({"daily": {"file": str(tmp_path / "daily.csv")}}, **TWO)
    known = known_classes(r)
    assert known["major"].events_per_year == pytest.approx(2.5 / years)
    assert known["routine"].duration.mean_h == pytest.approx(1.0)
    text = next(f.text for f in outage_findings(r) if f.code == "major_event_days")
    assert text.startswith("1 major event days in 1.0 years: daily SAIDI above")
    assert "sample deviation, 355 days with interruptions); the standard asks for 5 years" in text


@pytest.mark.parametrize(
    ("rows", "text"),
    [
        (["2023-01-01,1,x"], "line 2: needs a date such as 2025-01-31 and two numbers"),
        (["2023-01-01,1,0.1", "2023-01-01,1,0.1"], "line 3: 2023-01-01 is there twice"),
        (["2023-01-01,-1,0.1"], "line 2: figures are at or above 0"),
        (["2023-01-01,4,0"], "line 2: minutes without an interruption"),
        ([], "no day in it"),
        (["2023-01-01,1,0.1"], "a threshold needs 30 days"),
    ],
)
def test_daily_data_that_cannot_be_used(tmp_path: Path, rows: list[str], text: str) -> None:
    with pytest.raises(OutageDataError, match=text):
        split_daily(DailyReliability(file=daily_file(tmp_path, *rows)))


def test_daily_data_by_customers(tmp_path: Path) -> None:
    head = "date,customer_minutes,customers_interrupted"
    days = np.arange("2023-01-01", "2023-03-01", dtype="datetime64[D]")
    file = daily_file(tmp_path, *(f"{d},{600 + i},10" for i, d in enumerate(days)), head=head)
    made = split_daily(DailyReliability(file=file, customers_served=1000.0))
    assert made.all_events.saifi_per_year * made.years == pytest.approx(59 * 0.01)
    with pytest.raises(OutageDataError, match="needs columns date, saidi_min, saifi"):
        split_daily(DailyReliability(file=file))


def test_classes_take_rates_and_means_once() -> None:
    r = record({"all_events": ALL, "without_major": WITHOUT}, **TWO)
    known = known_classes(r)
    assert known["routine"].events_per_year == 1.022
    assert known["major"].events_per_year == pytest.approx(0.326)
    assert DurationLaw(known["major"].duration, 1e6).mean_h == pytest.approx(
        (6.11 - 1.022 * 2.0205) / 0.326, rel=1e-6
    )
    assert outage_hours_per_year(r) == pytest.approx(6.11, rel=1e-3)  # but for the cap
    whole = record({"all_events": ALL}, any={"from_indices": "all", "duration": {"kind": "exponential"}})
    assert outage_hours_per_year(whole) == pytest.approx(6.11)
    calm = record_split(ServiceIndices.model_validate({"without_major": WITHOUT}))
    assert (calm.routine_events_per_year, calm.major_events_per_year) == (1.022, 0.0)
    held = record(
        {"all_events": ALL, "without_major": WITHOUT},
        major=TWO["major"] | {"events_per_year": 0.5},
    )
    assert known_classes(held)["major"].events_per_year == 0.5


@pytest.mark.parametrize(
    ("indices", "code", "text"),
    [
        (
            {"all_events": {"saifi_per_year": 1.3, "saidi_h_per_year": 400.0}},
            "minutes_as_hours",
            "SAIDI of 400 h a year (1.3 interruptions of 308 h): are these minutes?",
        ),
        (
            {"without_major": {"saifi_per_year": 1.0, "saidi_h_per_year": 124.0}},
            "minutes_as_hours",
            "write saidi_min_per_year: 124",
        ),
        (
            {"without_major": {"saifi_per_year": 1.0, "saidi_h_per_year": 2.0 / 60}},
            "hours_as_minutes",
            "CAIDI of 2 min is not above the 5 min of a sustained interruption",
        ),
    ],
)
def test_slips_of_units_get_a_question(indices: dict[str, Any], code: str, text: str) -> None:
    any_kind = {"events_per_year": 0.1, "duration": {"kind": "fixed", "mean_h": 1.0}}
    found = {f.code: f for f in outage_findings(record(indices, any=any_kind))}
    assert text in found[code].text
    assert found[code].severity == "warning"


def test_usual_indices_get_no_question() -> None:
    codes = {f.code for f in outage_findings(record({"all_events": ALL, "without_major": WITHOUT}, **TWO))}
    assert not codes & {"minutes_as_hours", "hours_as_minutes", "more_than_the_indices"}


def test_more_than_the_indices_is_asked_about() -> None:
    extra = {"events_per_year": 1.0, "duration": {"kind": "fixed", "mean_h": 10.0}}
    r = record({"all_events": ALL, "without_major": WITHOUT}, routine=TWO["routine"], storms=extra)
    found = {f.code: f.text for f in outage_findings(r)}
    assert "the classes add up to 12.1 h a year, more than the 6.1 h" in found["more_than_the_indices"]


@pytest.mark.parametrize(
    ("indices", "classes", "text"),
    [
        (None, {"a": TWO["routine"]}, "no block `indices`"),
        ({"all_events": ALL}, TWO, "from_indices: routine needs indices.without_major"),
        (
            {"without_major": WITHOUT},
            {"m": TWO["major"]},
            "needs indices.all_events and indices.without_major",
        ),
        (
            {"all_events": ALL, "without_major": WITHOUT},
            TWO | {"any": {"from_indices": "all", "duration": {"kind": "exponential"}}},
            "no part may be taken twice",
        ),
        ({"all_events": WITHOUT, "without_major": ALL}, TWO, "swapped?"),
        ({"all_events": {"saifi_per_year": 1.3}}, TWO, "give two of saifi_per_year, saidi_min_per_year"),
        (
            {"all_events": {"saifi_per_year": 1.0, "saidi_h_per_year": 2.0, "caidi_h": 3.0}},
            TWO,
            "CAIDI x SAIFI = 3 h is not SAIDI 2 h",
        ),
        ({"all_events": {"saifi_per_year": 0.0, "saidi_h_per_year": 2.0}}, TWO, "120 minutes a year but no"),
        ({"all_events": ALL, "daily": {"file": "x.csv"}}, TWO, "or daily"),
        (
            {"all_events": ALL, "without_major": WITHOUT},
            {"m": {"from_indices": "major", "duration": {"kind": "exponential", "mean_h": 3.0}}},
            "the mean length comes from the indices",
        ),
        ({"all_events": ALL, "without_major": WITHOUT}, {"m": {"from_indices": "major"}}, "not a shape"),
        (None, {"m": {"duration": {"kind": "fixed", "mean_h": 1.0}}}, "events_per_year is missing"),
        (None, {"m": {"events_per_year": 1.0, "duration": {"kind": "exponential"}}}, "says no length"),
        (
            None,
            {
                "m": {
                    "events_per_year": 1.0,
                    "duration": {"kind": "fixed", "mean_h": 1.0},
                    "gas_out_frac": 1.1,
                }
            },
            "less than or equal to 1",
        ),
        (
            None,
            {
                "m": {
                    "events_per_year": 1.0,
                    "duration": {"kind": "fixed", "mean_h": 1.0},
                    "forewarned_frac": 0.5,
                }
            },
            "forewarned_frac needs forewarned_h",
        ),
    ],
)
def test_records_that_contradict_themselves(
    indices: dict[str, Any] | None, classes: dict[str, Any], text: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        record(indices, **classes)
    assert text in str(caught.value)
