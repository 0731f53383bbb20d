"""The compiled draw of whole lifetimes: event by event against a plain twin, and against numpy's search."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.operate.drawing import GUIDES, _guides, _start
from kit.operate.keyed import PURPOSES, uniform
from kit.operate.lifetimes import DRAWN, _followers, draw_events, live_through
from kit.operate.outages import FOLLOWERS
from tests.twins import drawn as twin
from tests.unit.operate.outage_cases import MAJOR, ROUTINE, backup, kinds_of

WEIGHTS = {
    "alike": np.full(8760, 1.0 / 8760),
    "one step a quarter of an hour": np.random.default_rng(4).random(35_040) ** 8,
    "some steps never": np.r_[np.zeros(99), 1.0, 0.0, 3.0, np.zeros(9)],
    "the last alone": np.r_[np.zeros(50), 1e-3],
    "one step": np.ones(1),
}


@pytest.mark.parametrize("seed", [0, 7, 2**63 + 5])
def test_each_event_is_that_of_the_twin(seed: int) -> None:
    weights = np.random.default_rng(seed).random(8760) ** 3
    weights[:700] = 0.0
    kinds = tuple(
        replace(k, start_weight=weights / weights.sum()) for k in kinds_of(routine=ROUTINE, major=MAJOR)
    )
    purposes = [PURPOSES.index(purpose) for purpose in DRAWN]
    for kind, events in zip(kinds, draw_events(seed, kinds, 20, 12), strict=True):
        assert events.start.size == events.counts.sum() > 12
        told = [
            twin.one_event(seed, purposes, kind.number, lifetime, place, 20, kind.start_weight)
            for lifetime, count in enumerate(events.counts)
            for place in range(count)
        ]
        years, starts, shares = map(np.array, zip(*told, strict=True))
        assert np.array_equal(events.year, years)
        assert np.array_equal(events.start, starts)
        assert events.lasts_h == pytest.approx(kind.law.hours_at(shares), rel=1e-14)


def test_what_happens_with_a_chance_is_keyed_by_the_event() -> None:
    (kind,) = kinds_of(major=MAJOR)
    often = replace(kind, followed_frac=0.4, forewarned_frac=0.7, events_per_year=1.4 * kind.events_per_year)
    (plain,), (events,) = draw_events(3, (kind,), 20, 300), draw_events(3, (often,), 20, 300)
    assert np.array_equal(plain.start, events.start)  # as many leaders, and the same ones
    assert not plain.followed.any()
    assert not plain.forewarned.any()
    assert np.array_equal(events.followed, uniform(3, "followed", kind.number, events.key) < 0.4)
    assert np.array_equal(events.forewarned, uniform(3, "forewarned", kind.number, events.key) < 0.7)
    assert 0.3 < events.followed.mean() < 0.5
    assert 0.6 < events.forewarned.mean() < 0.8


@pytest.mark.parametrize("name", WEIGHTS)
def test_starts_are_those_of_a_whole_search(name: str) -> None:
    reach = np.cumsum(WEIGHTS[name])
    edges = np.arange(GUIDES) / GUIDES
    at_sums = reach / reach[-1]
    draws = np.r_[np.random.default_rng(1).random(20_000), edges, at_sums, np.nextafter(at_sums, 0.0)]
    draws = np.r_[draws[draws < 1.0], 1.0 - 2.0**-53]
    first = _guides(reach)
    found = [_start(share, reach, first) for share in draws]
    whole = np.minimum(np.searchsorted(reach, draws * reach[-1], side="right"), reach.size - 1)
    assert np.array_equal(found, whole)


def test_the_second_of_a_cluster_is_drawn_by_its_leaders_key() -> None:
    (kind,) = kinds_of(major=MAJOR)
    kind = replace(kind, followed_frac=0.4, events_per_year=1.4)
    (events,) = draw_events(3, (kind,), 20, 40)
    event_h = live_through(backup(), (events,), 3, 20, 40).event_h
    purpose, number = PURPOSES.index("event_lasts"), kind.number + FOLLOWERS
    told = [twin.share(3, purpose, number, int(key)) for key in events.key[events.followed]]
    expected_h = np.bincount(events.lifetime, events.lasts_h, minlength=40)
    np.add.at(expected_h, events.lifetime[events.followed], kind.law.hours_at(np.array(told)))
    assert len(told) > 100
    assert np.array_equal(_followers(events, 8760, 3).key, events.key[events.followed])  # so is its luck
    assert event_h == pytest.approx(expected_h, rel=1e-12)
