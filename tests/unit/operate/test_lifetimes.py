"""Drawn lifetimes against the exact expectation, and against themselves in another order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.operate.events import EventKind
from kit.operate.lifetimes import draw_events, live_through
from kit.operate.outage_year import outage_year
from tests.unit.operate.outage_cases import MAJOR, ROUTINE, backup, kinds_of, plain_battery

YEARS = 20
LIFETIMES = 1000


@pytest.fixture(scope="module")
def two_kinds() -> tuple[EventKind, ...]:
    return kinds_of(routine=ROUTINE, major=MAJOR)


def test_outage_hours_are_rate_times_mean(two_kinds):
    expected_h = YEARS * sum(k.events_per_year * k.mean_h for k in two_kinds)
    for seed in range(5):
        drawn = draw_events(seed, two_kinds, YEARS, LIFETIMES)
        hours = live_through(backup(), drawn, seed, YEARS, LIFETIMES).event_h
        assert abs(hours.mean() - expected_h) < 4 * hours.std() / np.sqrt(LIFETIMES)


def test_the_mean_is_the_exact_expectation_for_twenty_seeds(two_kinds):
    machine = backup(battery=plain_battery())
    exact_h = YEARS * outage_year(machine, two_kinds, 1, 336.0).must_unserved_h
    for seed in range(20):
        drawn = draw_events(seed, two_kinds, YEARS, LIFETIMES)
        dark_h = live_through(machine, drawn, seed, YEARS, LIFETIMES).dark_h
        assert abs(dark_h.mean() - exact_h) < 4 * dark_h.std() / np.sqrt(LIFETIMES)


def test_a_lifetime_does_not_depend_on_how_many_there_are(two_kinds):
    machine = backup(battery=plain_battery())
    few = live_through(machine, draw_events(3, two_kinds, YEARS, 50), 3, YEARS, 50)
    many = live_through(machine, draw_events(3, two_kinds, YEARS, 400), 3, YEARS, 400)
    assert np.array_equal(few.dark_h_by_year, many.dark_h_by_year[:50])
    backwards = draw_events(3, tuple(reversed(two_kinds)), YEARS, 50)
    again = live_through(machine, backwards, 3, YEARS, 50)
    assert again.dark_h == pytest.approx(few.dark_h, abs=1e-9)


def test_no_source_is_dark_for_every_outage_hour(two_kinds):
    lived = live_through(backup(), draw_events(1, two_kinds, YEARS, 200), 1, YEARS, 200)
    assert lived.dark_h == pytest.approx(lived.event_h, abs=1e-6)


def test_events_of_a_cluster_keep_the_rate(two_kinds):
    clustered = tuple(replace(k, followed_frac=0.5, followed_after_h=6.0) for k in two_kinds)
    expected_h = YEARS * sum(k.events_per_year * k.mean_h for k in clustered)
    lived = live_through(
        backup(battery=plain_battery()), draw_events(1, clustered, YEARS, 3000), 1, YEARS, 3000
    )
    assert abs(lived.event_h.mean() - expected_h) < 4 * lived.event_h.std() / np.sqrt(3000)
    apart = live_through(
        backup(battery=plain_battery()), draw_events(1, two_kinds, YEARS, 3000), 1, YEARS, 3000
    )
    assert lived.dark_h.mean() > apart.dark_h.mean()  # the second event finds the battery low
