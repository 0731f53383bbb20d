"""Which failure figures are used, and where they come from."""

from __future__ import annotations

import pytest

from kit.systems.reliability import reliability, reliability_findings


def test_a_big_automatic_diesel_is_in_scope() -> None:
    r = reliability("well", fuel="diesel", rated_kw=100.0)
    assert r.in_scope
    assert reliability_findings(r) == ()


@pytest.mark.parametrize(
    ("fuel", "rated_kw", "automatic"),
    [("diesel", 20.0, True), ("propane", 100.0, True), ("diesel", 100.0, False), (None, None, True)],
)
def test_others_are_not(fuel: str | None, rated_kw: float | None, automatic: bool) -> None:
    r = reliability("well", fuel=fuel, rated_kw=rated_kw, automatic=automatic)
    assert not r.in_scope
    (finding,) = reliability_findings(r, "set")
    assert "outside the source's scope" in finding.text
    assert finding.path == "options.set.generator.care"


def test_a_portable_takes_the_assumption() -> None:
    well, poor = (reliability(care, automatic=False) for care in ("well", "poor"))
    assert (well.fails_to_start_frac, poor.fails_to_start_frac) == (0.02, 0.20)
    assert (well.mttf_h, poor.mttf_h) == (1662.0, 61.0)
    assert "assumption, no source" in well.source


def test_a_small_automatic_set_takes_the_assumption_between_the_published_figures() -> None:
    well = reliability("well", fuel="propane", rated_kw=14.0)
    assert (well.availability_frac, well.fails_to_start_frac, well.mttf_h) == (0.9998, 0.0013, 500.0)
    assert reliability("poor", fuel="propane", rated_kw=14.0).mttf_h == 61.0


def test_the_study_replaces_a_figure() -> None:
    r = reliability("poor", None, 0.05, None, fuel="diesel", rated_kw=100.0)
    assert (r.availability_frac, r.fails_to_start_frac, r.mttf_h) == (1.0, 0.05, 61.0)
    assert r.source.startswith("the study gives fails_to_start_frac; the rest:")
    assert not r.in_scope
    assert reliability("well", 0.9, 0.1, 50.0).source == (
        "the study gives availability_frac, fails_to_start_frac, mttf_h"
    )


def test_a_certain_start_is_not_taken_for_absent() -> None:
    assert reliability("poor", fails_to_start_frac=0.0).fails_to_start_frac == 0.0


def test_unknown_care() -> None:
    with pytest.raises(ValueError, match="care must be well or poor, got 'some'"):
        reliability("some")  # type: ignore[arg-type]
