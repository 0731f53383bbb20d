"""Fits of outage lengths: known parameters are found again, and agree with a reference library."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError
from scipy import integrate, stats

from kit.grid.duration_fits import fit_curve, fit_durations, fit_table, from_percentiles
from kit.grid.outages import DurationLaw
from kit.grid.record_findings import outage_findings
from kit.study.outage_models import Duration, OutageRecord

GRID = (np.arange(4000) + 0.5) / 4000  # even shares: a sample without luck


def block(**keys: Any) -> Duration:
    return Duration.model_validate(keys)


MIXTURE: dict[str, Any] = {
    "kind": "mixture",
    "parts": [
        {"share_frac": 0.8, "median_h": 1.5, "spread": 0.6},
        {"share_frac": 0.2, "median_h": 40.0, "spread": 0.7},
    ],
}


def test_weibull_and_mixture_against_a_reference_library() -> None:
    hours = np.array([0.2, 1.0, 4.0, 20.0, 90.0])
    scale = 6.0 / np.log(2.0) ** (1 / 0.7)
    law = DurationLaw(block(kind="weibull", shape=0.7, median_h=6.0), 1000.0)
    assert law.lasts_frac(hours) == pytest.approx(stats.weibull_min(0.7, scale=scale).sf(hours), rel=1e-12)
    made = DurationLaw(block(**MIXTURE), 1000.0)
    parts = 0.8 * stats.lognorm(0.6, scale=1.5).sf(hours) + 0.2 * stats.lognorm(0.7, scale=40.0).sf(hours)
    assert made.lasts_frac(hours) == pytest.approx(parts, rel=1e-12)
    assert made.hours_at(1.0 - parts) == pytest.approx(hours, rel=1e-9)


@pytest.mark.parametrize("horizon_h", [5.0, 300.0])
def test_means_are_integrals_of_survival(horizon_h: float) -> None:
    for keys in ({"kind": "weibull", "shape": 0.7, "median_h": 6.0}, MIXTURE):
        law = DurationLaw(block(**keys), horizon_h)
        expected, _ = integrate.quad(lambda h, law=law: float(law.lasts_frac(h)), 0.0, horizon_h, limit=300)
        assert law.mean_h == pytest.approx(expected, rel=1e-6)
        assert law.step_hours(0.25).sum() == pytest.approx(law.mean_h, rel=1e-9)


def test_a_mean_places_a_shape() -> None:
    for keys in (
        {"kind": "lognormal", "spread": 1.2, "mean_h": 12.4},
        {"kind": "weibull", "shape": 0.6, "mean_h": 12.4},
    ):
        assert DurationLaw(block(**keys), 1e6).mean_h == pytest.approx(12.4, rel=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_a_lognormal_is_found_again(seed: int) -> None:
    events = stats.lognorm(1.1, scale=5.0).rvs(600, random_state=seed)
    made = fit_durations(events, "lognormal").taken
    assert made.duration.median_h == pytest.approx(5.0, rel=4 * 1.1 / np.sqrt(600))
    assert made.duration.spread == pytest.approx(1.1, rel=4 / np.sqrt(1200))
    shape, _, scale = stats.lognorm.fit(events, floc=0)
    assert (made.duration.spread, made.duration.median_h) == pytest.approx((shape, scale), rel=1e-4)
    assert made.log_likelihood == pytest.approx(
        stats.lognorm(shape, scale=scale).logpdf(events).sum(), rel=1e-7
    )


@pytest.mark.parametrize("shape", [0.6, 1.0, 2.5])
def test_a_weibull_is_found_again(shape: float) -> None:
    events = stats.weibull_min(shape, scale=8.0).rvs(800, random_state=7)
    made = fit_durations(events, "weibull").taken
    found, _, scale = stats.weibull_min.fit(events, floc=0)
    assert made.duration.shape == pytest.approx(found, rel=1e-4)
    assert made.duration.shape == pytest.approx(shape, rel=0.1)
    assert made.log_likelihood == pytest.approx(
        stats.weibull_min(found, scale=scale).logpdf(events).sum(), rel=1e-7
    )
    assert made.heavy_tail == (found < 1.0)


def test_a_mixture_is_found_again() -> None:
    events = DurationLaw(block(**MIXTURE), 1e6).hours_at(GRID)
    made = fit_durations(events)
    assert made.taken.family == "mixture"  # by the lowest AIC
    short, long = made.taken.duration.parts or []
    assert (short.share_frac, short.median_h, short.spread) == pytest.approx((0.8, 1.5, 0.6), rel=0.03)
    assert (long.median_h, long.spread) == pytest.approx((40.0, 0.7), rel=0.05)


@pytest.mark.parametrize("family", ["exponential", "lognormal", "weibull"])
def test_the_choice_is_the_family_that_made_the_events(family: str) -> None:
    keys: dict[str, Any] = {
        "exponential": {"mean_h": 3.0},
        "lognormal": {"median_h": 5.0, "spread": 1.0},
        "weibull": {"median_h": 5.0, "shape": 2.0},
    }[family]
    events = DurationLaw(block(kind=family, **keys), 1e9).hours_at(GRID)
    assert fit_durations(events).taken.family == family


def test_aic_by_hand() -> None:
    """Events 1, 2, 3 h, exponential: mean 2, log likelihood -3 (ln 2 + 1), AIC 2 + 6 (ln 2 + 1) = 12.159."""
    made = next(one for one in fit_durations([1.0, 2.0, 3.0]).families if one.family == "exponential")
    assert made.duration.mean_h == 2.0
    assert made.aic == pytest.approx(2.0 + 6.0 * (np.log(2.0) + 1.0))
    assert made.aic == pytest.approx(12.159, abs=5e-4)


def test_half_over_in_90_min_and_one_in_ten_lasts_8_h() -> None:
    """ln(8 / 1.5) = 1.674 over the normal score 1.2816: spread 1.306."""
    points = [{"over_frac": 0.5, "within_h": 1.5}, {"over_frac": 0.9, "within_h": 8.0}]
    made = from_percentiles(block(kind="percentiles", percentiles=points))
    assert (made.kind, made.median_h) == ("lognormal", pytest.approx(1.5))
    assert made.spread == pytest.approx(1.306, abs=5e-4)
    for family in ("lognormal", "weibull"):
        law = DurationLaw(block(kind="percentiles", family=family, percentiles=points), 1e6)
        assert law.lasts_frac([1.5, 8.0]) == pytest.approx([0.5, 0.1], rel=1e-9)


def test_the_fit_is_shown_beside_the_events() -> None:
    fit = fit_durations([0.5, 1.0, 2.0, 3.0, 30.0])
    table = fit_table(fit, 336.0)
    assert table.family.tolist() == ["the events", "exponential", "lognormal", "weibull"]
    assert table.taken.sum() == 1
    assert table.aic_above_lowest.min() == 0.0
    assert table.set_index("family").lasts_frac_24h["the events"] == pytest.approx(0.2)
    assert table.set_index("family").mean_h["the events"] == pytest.approx(7.3)
    curve = fit_curve(fit, 336.0)
    assert curve[curve.family == "the events"].lasts_frac.tolist() == pytest.approx([0.9, 0.7, 0.5, 0.3, 0.1])
    assert set(curve.family) == set(table.family)


def test_a_heavy_tail_on_few_events_warns() -> None:
    def findings(events_h: list[float]) -> dict[str, Any]:
        duration = {"kind": "fitted", "family": "lognormal", "events_h": events_h}
        made = OutageRecord.model_validate(
            {"classes": {"own": {"events_per_year": 1.0, "duration": duration}}}
        )
        return {f.code: f for f in outage_findings(made)}

    few = findings([0.5, 1.0, 2.0, 3.0, 30.0])
    assert few["tail_from_few_events"].severity == "warning"
    assert "fitted on 5 events, fewer than 20" in few["tail_from_few_events"].text
    assert "lognormal fitted to 5 events (lowest AIC): median 2.46 h" in few["duration_fitted"].text
    many = findings(
        [float(h) for h in DurationLaw(block(kind="exponential", mean_h=3.0), 1e6).hours_at(GRID[::80])]
    )
    assert "tail_from_few_events" not in many


@pytest.mark.parametrize(
    ("events", "family", "text"),
    [
        ([1.0, 2.0], "best", "at least 3 events"),
        ([1.0, 2.0, 0.0], "best", "at least 3 events of more than 0 h"),
        ([2.0, 2.0, 2.0], "best", "all 3 events last 2 h"),
        ([1.0, 2.0, 3.0], "mixture", "a mixture needs at least 12 events, got 3"),
        ([1.0, 2.0, 3.0], "gamma", "families are best"),
    ],
)
def test_what_cannot_be_fitted(events: list[float], family: str, text: str) -> None:
    with pytest.raises(ValueError, match=text):
        fit_durations(events, family)


@pytest.mark.parametrize(
    ("keys", "text"),
    [
        ({"kind": "lognormal", "spread": 1.0, "mean_h": 2.0, "median_h": 1.0}, "takes exactly"),
        ({"kind": "weibull", "median_h": 1.0}, "takes exactly median_h or mean_h and shape"),
        ({"kind": "fixed", "mean_h": 2.0, "spread": 1.0}, "takes exactly mean_h"),
        (
            {"kind": "mixture", "parts": [{"share_frac": 0.5, "median_h": 1.0, "spread": 1.0}] * 3},
            "add up to 1",
        ),
        (
            {
                "kind": "percentiles",
                "percentiles": [{"over_frac": 0.5, "within_h": 8.0}, {"over_frac": 0.9, "within_h": 2.0}],
            },
            "percentiles must rise",
        ),
        ({"kind": "percentiles", "percentiles": [{"over_frac": 1.2, "within_h": 8.0}] * 2}, "less than 1"),
        ({"kind": "exponential", "mean_h": 2.0, "family": "best"}, "takes exactly mean_h"),
    ],
)
def test_durations_that_contradict_themselves(keys: dict[str, Any], text: str) -> None:
    with pytest.raises(ValidationError) as caught:
        block(**keys)
    assert text in str(caught.value)


PICKED: dict[str, dict[str, Any]] = {
    "exponential": {"mean_h": 12.0},
    "lognormal": {"median_h": 10.0, "spread": 1.0},
    "weibull": {"median_h": 10.0, "shape": 0.7},
}


@pytest.mark.parametrize("family", list(PICKED))
def test_events_picked_by_length_give_back_the_law_they_came_from(family: str) -> None:
    """Only events of 8 h or more are seen; fitted as they are, the short ones would be missing."""
    law = DurationLaw(block(kind=family, **PICKED[family]), 1e9)
    whole = law.hours_at((np.arange(8000) + 0.5) / 8000)
    picked = whole[whole >= 8.0]
    made = fit_durations(picked, family, at_least_h=8.0).taken.duration
    for name, value in PICKED[family].items():
        assert getattr(made, name) == pytest.approx(value, rel=0.04)
    again = DurationLaw(made, 1e9)
    assert again.lasts_frac([4.0, 8.0]).tolist() == [1.0, 1.0]
    given = law.lasts_frac([24.0, 72.0]) / law.lasts_frac(8.0)
    assert again.lasts_frac([24.0, 72.0]) == pytest.approx(given, rel=0.03)


def test_a_law_given_a_length() -> None:
    """Means by numeric integration, draws never below the length, all hours kept."""
    made = DurationLaw(block(kind="lognormal", median_h=10.0, spread=1.0, at_least_h=8.0), 300.0)
    expected, _ = integrate.quad(lambda h: float(made.lasts_frac(h)), 0.0, 300.0, limit=300, points=[8.0])
    assert made.mean_h == pytest.approx(expected, rel=1e-6)
    drawn = made.hours_at(GRID)
    assert drawn.min() >= 8.0 - 1e-9
    assert drawn.mean() == pytest.approx(made.mean_h, rel=5e-3)
    assert made.step_hours(1.0)[:8].tolist() == pytest.approx([1.0] * 8)


def test_picked_mixtures_and_what_cannot_be_picked() -> None:
    whole = DurationLaw(block(**MIXTURE), 1e6).hours_at((np.arange(8000) + 0.5) / 8000)
    made = fit_durations(whole[whole >= 1.0], "mixture", at_least_h=1.0).taken.duration
    assert DurationLaw(made, 1e6).lasts_frac(24.0) == pytest.approx(
        float(DurationLaw(block(**MIXTURE), 1e6).lasts_frac(24.0) / (whole >= 1.0).mean()), rel=0.03
    )
    with pytest.raises(ValueError, match="an event of 2 h is below at_least_h 8"):
        fit_durations([2.0, 9.0, 12.0], "lognormal", at_least_h=8.0)
