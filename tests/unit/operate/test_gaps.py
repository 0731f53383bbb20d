"""Gaps of must-run loads on end: exact where the law alone decides, and against plain drawn events."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.operate.gaps import Gaps
from kit.operate.outage_year import outage_year
from kit.operate.outages import Backup
from kit.operate.single import one_outage
from tests.unit.operate.outage_cases import (
    FIXED,
    MAJOR,
    NEVER_FAILS,
    ROUTINE,
    YEAR,
    backup,
    kinds_of,
    plain_battery,
    tireless_set,
)

N = YEAR.n


def gaps(b: Backup, kinds: tuple) -> Gaps:
    return Gaps(b, outage_year(b, kinds, 1, 336.0).walks, 1)


def test_doing_nothing_is_dark_for_the_whole_event() -> None:
    kinds = kinds_of(routine=ROUTINE, major=MAJOR)
    made = gaps(backup(), kinds)
    for hours in (0.5, 4.0, 24.0):
        expected = sum(k.events_per_year * float(k.law.lasts_frac(hours)) for k in kinds)
        assert made.events_per_year(hours) == pytest.approx(expected, rel=1e-6)
    whole = sum(k.events_per_year * k.mean_h for k in kinds)
    assert made.hours_per_year(0.0, np.inf) == pytest.approx(whole, rel=1e-6)
    parts = made.hours_per_year(0.0, 8.0) + made.hours_per_year(8.0, np.inf)
    assert parts == pytest.approx(whole, rel=1e-6)


def test_only_the_months_named() -> None:
    (kind,) = kinds_of(routine=ROUTINE | {"month_weights": [3.0] + [0.0] * 10 + [1.0]})
    made = gaps(backup(), (kind,))
    december = made.events_per_year(2.0, YEAR.month == 12)
    assert december == pytest.approx(0.25 * made.events_per_year(2.0))
    assert made.events_per_year(2.0, YEAR.month == 7) == 0.0


def test_a_battery_puts_the_gap_off_by_the_hours_it_lasts() -> None:
    """10 kWh at 1 kW, no recharge: dark from the tenth hour; a gap of 4 h needs an event of 14."""
    kinds = kinds_of(routine=ROUTINE, major=MAJOR)
    made = gaps(backup(1.0, battery=plain_battery()), kinds)
    for hours in (0.5, 4.0, 24.0):
        expected = sum(k.events_per_year * float(k.law.lasts_frac(10.0 + hours)) for k in kinds)
        assert made.events_per_year(hours) == pytest.approx(expected, rel=1e-6)
    within = sum(
        k.events_per_year * float(k.law.mean_within_h(18.0) - k.law.mean_within_h(14.0)) for k in kinds
    )
    assert made.hours_per_year(4.0, 8.0) == pytest.approx(within, rel=1e-6)


def test_a_set_that_may_not_start() -> None:
    """Availability 0.9, starts with 0.8, never dies: in 28 of 100 events dark for all of it."""
    kinds = kinds_of(major=MAJOR)
    weak = replace(NEVER_FAILS, availability_frac=0.9, fails_to_start_frac=0.2)
    made = gaps(backup(generator=tireless_set(), reliability=weak), kinds)
    (kind,) = kinds
    expected = 0.28 * kind.events_per_year * float(kind.law.lasts_frac(6.0))
    assert made.events_per_year(6.0) == pytest.approx(expected, rel=1e-6)
    half = made.events_per_year(6.0, YEAR.month <= 6)
    assert half == pytest.approx(expected * (YEAR.month <= 6).mean(), rel=1e-6)


def longest_gap_h(out_kw: np.ndarray) -> float:
    longest = run = 0.0
    for out in out_kw > 1e-9:
        run = run + 1.0 if out else 0.0
        longest = max(longest, run)
    return longest


def test_gaps_that_come_and_go_against_traces() -> None:
    """Solar brings a small battery back every morning: fixed events of 72 h, every 97th start traced."""
    (kind,) = kinds_of(fixed=FIXED | {"duration": {"kind": "fixed", "mean_h": 72.0}})
    solar = 3.0 * np.maximum(0.0, np.sin(np.pi * (YEAR.hour - 6.0) / 12.0))
    b = backup(1.0, battery=plain_battery(), solar_kw=solar, solar_charges=True)
    starts = np.arange(0, N, 97)
    lengths = np.array([longest_gap_h(one_outage(b, kind, int(s), 72.0)[:, 5]) for s in starts])
    assert lengths.max() > 3.0
    weight = np.zeros(N)
    weight[starts] = 1.0 / starts.size
    some = replace(kind, start_weight=weight)
    made = gaps(b, (some,))
    for hours in (0.0, 2.0, 5.0):
        share = made.events_per_year(hours) / some.events_per_year
        assert (lengths > hours + 1.0).mean() - 1e-9 <= share <= (lengths > hours - 1.0).mean() + 1e-9
    told = made.hours_per_year(0.0, 24.0) / some.events_per_year
    assert made.hours_per_year(0.0, 24.0) >= made.hours_per_year(4.0, 24.0) >= 0.0
    assert told <= lengths.max() + 24.0


def test_longer_gaps_are_never_more() -> None:
    kinds = kinds_of(routine=ROUTINE, major=MAJOR)
    made = gaps(backup(1.0, battery=plain_battery(), generator=tireless_set(tank_l=20.0)), kinds)
    counts = [made.events_per_year(h) for h in (0.0, 0.5, 1.0, 4.0, 8.0, 24.0)]
    assert counts == sorted(counts, reverse=True)
