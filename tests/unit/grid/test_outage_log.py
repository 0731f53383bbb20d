"""A household's log: clocks, overlaps, what it covers, and the rate it tells."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError
from scipy import stats

from kit.grid.known import class_hours, known_classes, log_rates
from kit.grid.outage_log import OutageDataError, read_log
from kit.grid.outages import DurationLaw
from kit.grid.record_findings import outage_findings
from kit.study.outage_models import Duration, OutageLog, OutageRecord

NEW_YORK = "America/New_York"


def written(tmp_path: Path, *rows: str, head: str = "start,end") -> str:
    path = tmp_path / "own_log.csv"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return str(path)


def log(file: str, **keys: Any) -> OutageLog:
    if "from_date" not in keys:
        keys.setdefault("years", 3.0)
    return OutageLog.model_validate({"file": file} | keys)


def record(**classes: Any) -> OutageRecord:
    return OutageRecord.model_validate({"classes": classes})


def test_lengths_in_order_of_time(tmp_path: Path) -> None:
    file = written(tmp_path, "2024-05-01T10:00,2024-05-01T12:30", "2023-01-01 22:00,2023-01-02 04:00")
    made = read_log(log(file))
    assert made.hours == (6.0, 2.5)
    assert made.years == 3.0


def test_a_night_of_25_hours(tmp_path: Path) -> None:
    """1 November 2025, 23:00, to 03:00: the clock went back in between, five hours passed."""
    file = written(tmp_path, "2025-11-01T23:00,2025-11-02T03:00")
    assert read_log(log(file, time_zone=NEW_YORK)).hours == (5.0,)
    assert read_log(log(file)).hours == (4.0,)  # no zone: the hours that were written


def test_an_offset_tells_the_hour_that_comes_twice(tmp_path: Path) -> None:
    file = written(tmp_path, "2025-11-02T00:30-04:00,2025-11-02T01:15-05:00")
    assert read_log(log(file, time_zone=NEW_YORK)).hours == (1.75,)


def test_only_one_reading_makes_sense(tmp_path: Path) -> None:
    file = written(tmp_path, "2025-11-02T01:50,2025-11-02T01:20")
    assert read_log(log(file, time_zone=NEW_YORK)).hours == (0.5,)


@pytest.mark.parametrize(
    ("rows", "keys", "text"),
    [
        (
            ["2024-05-01T10:00,2024-05-01T09:00"],
            {},
            "own_log.csv: line 2: the end 2024-05-01T09:00 is not after",
        ),
        (["2024-05-01T10:00,2024-05-01T10:00"], {}, "line 2: the end 2024-05-01T10:00 is not after"),
        (
            ["2024-05-01T10:00,2024-05-03T10:00", "2024-05-02T10:00,2024-05-04T10:00"],
            {},
            "line 3: begins before the outage of line 2 has ended; merge them",
        ),
        (
            ["2025-11-02T00:30,2025-11-02T01:15"],
            {"time_zone": NEW_YORK},
            "the clock showed 2025-11-02T00:30 or 2025-11-02T01:15 twice that night; write the offset",
        ),
        (["2025-03-09T02:30,2025-03-09T05:00"], {"time_zone": NEW_YORK}, "does not exist on the clock of"),
        (["2024-05-01T10:00,noon"], {}, "line 2: end 'noon' is no ISO time"),
        (["2024-05-01T10:00,"], {}, "line 2: end '' is no ISO time"),
        (["2024-05-01T10:00+00:00,2024-05-01T12:00"], {}, "one has an offset from UTC, one has none"),
        (
            ["2024-05-01T10:00,2024-05-01T12:00", "2024-05-02T10:00Z,2024-05-02T12:00Z"],
            {},
            "some times have an offset from UTC and some have none",
        ),
        (["2020-05-01T10:00,2020-05-01T12:00", "2024-05-01T10:00,2024-05-01T12:00"], {}, "span 4.00 years"),
        (
            ["2020-05-01T10:00,2020-05-01T12:00"],
            {"from_date": "2021-01-01", "to_date": "2023-12-31"},
            "lies outside the time covered, 2021-01-01 to 2023-12-31",
        ),
        (["2024-05-01T10:00,2024-05-01T12:00"], {"time_zone": "Mars/Olympus"}, "unknown time_zone"),
    ],
)
def test_logs_that_cannot_be_used(tmp_path: Path, rows: list[str], keys: dict[str, Any], text: str) -> None:
    with pytest.raises(OutageDataError) as caught:
        read_log(log(written(tmp_path, *rows), **keys))
    assert text in str(caught.value)


def test_files_that_are_no_log(tmp_path: Path) -> None:
    with pytest.raises(OutageDataError, match="needs columns start and end, got begin, end"):
        read_log(log(written(tmp_path, head="begin,end")))
    with pytest.raises(OutageDataError, match="cannot be read"):
        read_log(log(str(tmp_path / "none.csv")))


@pytest.mark.parametrize(
    ("keys", "text"),
    [
        ({}, "say what time the log covers"),
        ({"years": 2.0, "from_date": "2021-01-01", "to_date": "2021-02-01"}, "say what time the log covers"),
        (
            {"from_date": "2021-02-01", "to_date": "2021-01-01"},
            "to_date 2021-01-01 is before from_date 2021-02-01",
        ),
        ({"from_date": "spring", "to_date": "2021-01-01"}, "written 2021-01-31"),
        ({"years": 1.0, "at_least_h": 4.0, "below_h": 2.0}, "below_h 2 must be above at_least_h 4"),
    ],
)
def test_what_a_log_must_say(keys: dict[str, Any], text: str) -> None:
    with pytest.raises(ValidationError) as caught:
        OutageLog.model_validate({"file": "x.csv"} | keys)
    assert text in str(caught.value)


def test_no_outage_in_three_years_is_a_rate(tmp_path: Path) -> None:
    """Gamma(0.5, 3): 0.17 a year, 90 % range 0.001 to 0.64."""
    file = written(tmp_path)
    covered = {"file": file, "from_date": "2022-01-01", "to_date": "2024-12-31"}
    own = {"log": covered, "duration": {"kind": "exponential", "mean_h": 3.0}}
    made = log_rates(record(own=own))["own"]
    assert (made.likely, made.low, made.high) == pytest.approx((0.17, 0.001, 0.64), abs=0.005)
    assert known_classes(record(own=own))["own"].events_per_year == made.likely
    text = next(f.text for f in outage_findings(record(own=own)) if f.code == "outage_rate_from_log")
    assert "no outage in 3.0 years: the rate lies between 0.000655 and 0.64 a year with 90 % chance" in text
    with pytest.raises(OutageDataError, match="no outage of this class in the log: give its duration"):
        known_classes(record(own={"log": covered}))


def test_a_log_is_split_by_length_and_momentary_ones_left_out(tmp_path: Path) -> None:
    rows = [
        "2023-01-01T00:00,2023-01-01T00:03",
        "2023-02-01T00:00,2023-02-01T02:00",
        "2023-03-01T00:00,2023-03-02T00:00",
    ]
    file = written(tmp_path, *rows)
    short = {"log": {"file": file, "years": 4.0, "below_h": 8.0}}
    long = {"log": {"file": file, "years": 4.0, "at_least_h": 8.0}, "events_per_year": 0.1}
    known = known_classes(record(short=short, long=long))
    assert known["short"].duration.events_h == [2.0]
    assert known["short"].events_per_year == pytest.approx(1.5 / 4.0)
    assert known["long"].events_per_year == 0.1  # given: it stands beside the log
    assert known["long"].duration.events_h == [24.0]
    found = [f for f in outage_findings(record(short=short)) if f.code == "momentary_in_log"]
    assert "0.25 outages a year in the log last 5 min or less; they are momentary" in found[0].text


def test_a_fit_to_picked_outages_says_so(tmp_path: Path) -> None:
    rows = [f"2023-0{m}-01T00:00,2023-0{m}-0{1 + m % 4}T{9 + m}:00" for m in range(1, 8)]
    picked = {"log": {"file": written(tmp_path, *rows), "years": 4.0, "at_least_h": 8.0}}
    made = record(storm=picked | {"duration": {"kind": "fitted"}})
    assert known_classes(made)["storm"].duration.at_least_h == 8.0
    text = next(f.text for f in outage_findings(made) if f.code == "duration_fitted")
    assert "given that they last 8 h" in text
    below = {"log": {"file": "x.csv", "years": 4.0, "below_h": 8.0}, "duration": {"kind": "fitted"}}
    with pytest.raises(ValidationError, match="a fit would run past below_h"):
        record(short=below)


def test_from_record_to_log_and_back(tmp_path: Path) -> None:
    """200 years of a known record written as a log: rate and length are found again."""
    rng = np.random.default_rng(11)
    hours = stats.lognorm(0.9, scale=4.0).rvs(size=rng.poisson(1.5 * 200), random_state=rng)
    starts = np.sort(rng.uniform(0.0, 200 * 365.2425 * 24.0 - 500.0, hours.size))
    hours = np.minimum(hours, np.append(np.diff(starts), np.inf) * 0.99)
    zero = np.datetime64("1800-01-01T00:00:00")
    rows = [
        f"{zero + np.timedelta64(round(s * 3600), 's')},{zero + np.timedelta64(round((s + h) * 3600), 's')}"
        for s, h in zip(starts, hours, strict=True)
    ]
    block = {"file": written(tmp_path, *rows), "years": 200.0}
    made = record(own={"log": block, "duration": {"kind": "fitted"}})
    own = known_classes(made)["own"]
    assert own.events_per_year == pytest.approx(1.5, rel=3 / np.sqrt(300))
    assert sorted(class_hours(OutageLog.model_validate(block))) == pytest.approx(
        sorted(h for h in hours if h > 1 / 12), abs=1 / 1800
    )
    law = DurationLaw(own.duration, 336.0)
    known = DurationLaw(Duration(kind="lognormal", median_h=4.0, spread=0.9), 336.0)
    assert law.mean_h == pytest.approx(known.mean_h, rel=0.2)
    assert law.lasts_frac([2.0, 8.0]) == pytest.approx(known.lasts_frac([2.0, 8.0]), abs=0.08)
