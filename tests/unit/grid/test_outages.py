"""Durations, starts and rates of outages."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError
from scipy import integrate, stats

from kit.grid.outage_rates import rate_from_log, split_indices
from kit.grid.outages import (
    DurationLaw,
    class_ride_weights,
    interruptions_per_year,
    outage_hours_per_year,
    ride_weights,
    start_weights,
)
from kit.grid.record_findings import outage_findings, rate_text
from kit.study.outage_models import Duration, OutageClass, OutageRecord
from tests.unit.grid.plans import year

LAWS: dict[str, dict[str, Any]] = {
    "fixed": {"kind": "fixed", "mean_h": 5.5},
    "exponential": {"kind": "exponential", "mean_h": 2.06},
    "lognormal": {"kind": "lognormal", "median_h": 7.5, "spread": 1.0},
    "log": {"kind": "log", "events_h": [0.5, 3.0, 3.0, 90.0]},
}


def law(name: str, horizon_h: float = 336.0) -> DurationLaw:
    return DurationLaw(Duration.model_validate(LAWS[name]), horizon_h)


def kind(**keys: Any) -> OutageClass:
    keys.setdefault("events_per_year", 1.0)
    keys.setdefault("duration", LAWS["exponential"])
    return OutageClass.model_validate(keys)


def record(horizon_h: float = 336.0, blinks: float = 0.0, **classes: dict[str, Any]) -> OutageRecord:
    return OutageRecord.model_validate(
        {"horizon_h": horizon_h, "blinks_per_year": blinks, "classes": classes}
    )


def test_chance_of_lasting_against_a_reference_library() -> None:
    hours = np.array([0.5, 2.0, 8.0, 24.0, 100.0])
    assert law("exponential").lasts_frac(hours) == pytest.approx(stats.expon(scale=2.06).sf(hours), rel=1e-12)
    assert law("lognormal").lasts_frac(hours) == pytest.approx(
        stats.lognorm(1.0, scale=7.5).sf(hours), rel=1e-12
    )


@pytest.mark.parametrize("horizon_h", [6.0, 50.0, 336.0])
def test_mean_is_the_integral_of_survival(horizon_h: float) -> None:
    for name, survival in (
        ("exponential", stats.expon(scale=2.06).sf),
        ("lognormal", stats.lognorm(1.0, scale=7.5).sf),
    ):
        expected, _ = integrate.quad(survival, 0.0, horizon_h, limit=200)
        assert law(name, horizon_h).mean_h == pytest.approx(expected, rel=1e-7)


def test_a_log_lasts_as_its_events_did() -> None:
    assert law("log").lasts_frac([0.0, 0.5, 0.6, 3.0, 3.1, 90.0, 90.1]).tolist() == [
        1,
        1,
        0.75,
        0.75,
        0.25,
        0.25,
        0,
    ]
    assert law("log").mean_h == pytest.approx((0.5 + 3 + 3 + 90) / 4)
    assert law("log", 24.0).mean_h == pytest.approx((0.5 + 3 + 3 + 24) / 4)


def test_a_fixed_event_fills_its_last_step_in_part() -> None:
    hours = law("fixed").step_hours(1.0)
    assert hours[:7].tolist() == [1, 1, 1, 1, 1, 0.5, 0]
    assert law("fixed").lasts_frac([5.5, 5.51]).tolist() == [1.0, 0.0]


def test_steps_of_a_log() -> None:
    # all four last the first half hour, three to hour 3, one on
    assert law("log").step_hours(0.5)[:8] == pytest.approx(
        [0.5, 0.375, 0.375, 0.375, 0.375, 0.375, 0.125, 0.125]
    )


def test_whole_hours_would_overstate_short_outages() -> None:
    """Exponential, mean 2.06 h, rounded up: 1 / (1 - exp(-1 / 2.06)) = 2.60 h, 26 % too long."""
    rounded_up_h = 1 / (1 - np.exp(-1 / 2.06))
    assert law("exponential").step_hours(1.0).sum() == pytest.approx(2.06, rel=1e-9)
    assert rounded_up_h / 2.06 == pytest.approx(1.26, abs=0.01)


def test_the_horizon_caps_and_says_so() -> None:
    capped = law("lognormal", 24.0)
    assert capped.lasts_frac(24.0) == pytest.approx(stats.lognorm(1.0, scale=7.5).sf(24.0))
    assert capped.lasts_frac(24.01) == 0.0
    assert capped.capped_frac == pytest.approx(0.1224, abs=5e-4)
    assert law("log", 90.0).capped_frac == 0.0
    found = outage_findings(record(24.0, storm={"events_per_year": 0.25, "duration": LAWS["lognormal"]}))
    assert [f.code for f in found] == ["outage_capped", "outage_return_period"]
    assert "storm: 12 % of events would last beyond the horizon of 24 h" in found[0].text
    assert "storm: one event in 4.0 years" in found[1].text
    assert outage_findings(record(quiet={"events_per_year": 0.0, "duration": LAWS["fixed"]})) == ()


def test_draws_follow_the_law() -> None:
    shares = (np.arange(20_000) + 0.5) / 20_000
    for name in LAWS:
        drawn = law(name).hours_at(shares)
        assert drawn.mean() == pytest.approx(law(name).mean_h, rel=5e-3)
        assert (drawn >= 3.0).mean() == pytest.approx(float(law(name).lasts_frac(3.0)), abs=1e-3)
    assert law("lognormal", 24.0).hours_at(shares).max() == 24.0


@pytest.mark.parametrize(
    ("keys", "text"),
    [
        ({"kind": "fixed", "mean_h": 0.0}, "greater than 0"),
        ({"kind": "exponential", "mean_h": -2.0}, "greater than 0"),
        ({"kind": "log", "events_h": [3.0, 0.0]}, "greater than 0"),
        (
            {"kind": "lognormal", "median_h": 4.0},
            "kind lognormal takes exactly median_h or mean_h and spread",
        ),
    ],
)
def test_bad_durations_are_refused_on_reading(keys: dict[str, Any], text: str) -> None:
    with pytest.raises(ValidationError) as caught:
        Duration.model_validate(keys)
    assert text in str(caught.value)


@pytest.mark.parametrize(
    ("keys", "text"),
    [
        ({"kind": "fixed", "mean_h": 0.0}, "mean_h must be above 0, got 0.0"),
        ({"kind": "exponential", "mean_h": -2.0}, "mean_h must be above 0, got -2.0"),
        ({"kind": "log", "events_h": []}, "events_h names no event"),
    ],
)
def test_bad_durations_are_refused_by_the_law_itself(keys: dict[str, Any], text: str) -> None:
    with pytest.raises(ValueError) as caught:
        DurationLaw(Duration.model_construct(**keys), 100.0)
    assert str(caught.value) == text
    with pytest.raises(ValueError, match="horizon_h must be above 0"):
        DurationLaw(Duration.model_validate(LAWS["fixed"]), 0.0)


def test_starts_follow_month_and_hour_weights() -> None:
    y = year()
    hours = [0.0] * 24
    hours[3], hours[15] = 1.0, 3.0
    weights = start_weights(kind(month_weights=[2.0] + [0.0] * 10 + [6.0], hour_weights=hours), y)
    assert weights.sum() == pytest.approx(1.0, abs=1e-12)
    assert weights[y.month == 1].sum() == pytest.approx(0.25)
    assert weights[y.month == 12].sum() == pytest.approx(0.75)
    assert weights[y.hour == 15].sum() == pytest.approx(0.75)
    assert set(np.unique(y.hour[weights > 0])) == {3.0, 15.0}


def test_a_short_month_keeps_its_share() -> None:
    y = year()
    weights = start_weights(kind(month_weights=[1.0, 1.0] + [0.0] * 10), y)
    assert weights[y.month == 2].sum() == pytest.approx(0.5)
    assert weights[y.month == 1].max() == pytest.approx(0.5 / 744)


def test_starts_without_weights_are_even() -> None:
    y = year(15)
    assert start_weights(kind(), y) == pytest.approx(np.full(y.n, 1 / y.n))


@pytest.mark.parametrize(("key", "count"), [("month_weights", 12), ("hour_weights", 24)])
def test_weights_all_zero_are_refused(key: str, count: int) -> None:
    with pytest.raises(ValueError, match=f"{key} are all zero"):
        start_weights(kind(**{key: [0.0] * count}), year())


def test_rides_count_the_classes_that_last() -> None:
    y = year()
    winter, summer = [1.0] + [0.0] * 11, [0.0] * 6 + [1.0] + [0.0] * 5
    r = record(
        ice={"events_per_year": 0.5, "duration": {"kind": "fixed", "mean_h": 60.0}, "month_weights": winter},
        storm={
            "events_per_year": 3.0,
            "duration": {"kind": "exponential", "mean_h": 4.0},
            "month_weights": summer,
        },
    )
    at_4h = ride_weights(r, y, 4.0)
    assert at_4h[y.month == 1].sum() == pytest.approx(0.5 / (0.5 + 3.0 * np.exp(-1.0)))
    at_48h = class_ride_weights(r, y, 48.0)
    assert at_48h["ice"].sum() == pytest.approx(0.5 / (0.5 + 3.0 * np.exp(-12.0)))
    beyond = class_ride_weights(r, y, 400.0)  # none lasts so long: shares of all events
    assert beyond["ice"].sum() == pytest.approx(0.5 / 3.5)
    none = record(ice={"events_per_year": 0.0, "duration": LAWS["fixed"]})
    assert ride_weights(none, y, 4.0).sum() == pytest.approx(1.0)


def test_hours_and_interruptions_of_a_year() -> None:
    r = record(
        blinks=4.0,
        a={"events_per_year": 2.0, "duration": LAWS["fixed"]},
        b={"events_per_year": 0.5, "duration": LAWS["log"]},
    )
    assert outage_hours_per_year(r) == pytest.approx(2.0 * 5.5 + 0.5 * 24.125)
    assert interruptions_per_year(r) == pytest.approx(6.5)
    assert rate_text(2.0) == "2.0 events a year"


def test_rates_from_a_log_against_a_reference_library() -> None:
    made = rate_from_log(4, 6.0)
    assert made.likely == pytest.approx(4.5 / 6)
    assert (made.low, made.high) == pytest.approx(stats.gamma(4.5, scale=1 / 6).ppf([0.05, 0.95]))
    for count, years in ((-1, 3.0), (2, 0.0)):
        with pytest.raises(ValueError, match="a log has 0 or more events in more than 0 years"):
            rate_from_log(count, years)


@pytest.mark.parametrize(
    ("figures", "text"),
    [
        ((1.0, 100.0, 1.2, 90.0), "swapped?"),
        ((1.0, 100.0, 0.8, 120.0), "swapped?"),
        ((1.0, 300.0, 1.0, 90.0), "210 minutes a year but no interruption"),
        ((1.0, 300.0, -0.1, 90.0), "at or above 0"),
    ],
)
def test_indices_that_cannot_be(figures: tuple[float, float, float, float], text: str) -> None:
    with pytest.raises(ValueError) as caught:
        split_indices(*figures)
    assert text in str(caught.value)


def test_indices_without_a_major_event() -> None:
    made = split_indices(1.0, 120.0, 1.0, 120.0)
    assert (made.routine_mean_h, made.major_events_per_year, made.major_mean_h) == (2.0, 0.0, 0.0)
    assert made.major_return_years is None
