"""What the walks say together: weights of starts, chances, counts of failed outages."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from kit.operate.outage_year import hard_event_h, outage_year
from kit.systems.reliability import Reliability
from kit.systems.transfer import Gap
from tests.unit.operate.outage_cases import (
    FIXED,
    MAJOR,
    ROUTINE,
    SHORT,
    YEAR,
    backup,
    kinds_of,
    plain_battery,
    tireless_set,
)

HOURS = YEAR.hour
HALF = np.where(YEAR.month <= 6, 1.0, 0.1)  # kW: 10 kWh last 10 h until June, 100 h after


def test_starts_count_by_the_events_that_last_so_long():
    """T15: routine events fall in spring, major ones in autumn; at 24 h only the major ones count."""
    spring = [0, 0, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0]
    autumn = [0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 0]
    kinds = kinds_of(
        routine={
            "events_per_year": 3.0,
            "duration": {"kind": "log", "events_h": [12.0]},
            "month_weights": spring,
        },
        major={
            "events_per_year": 1.0,
            "duration": {"kind": "log", "events_h": [48.0]},
            "month_weights": autumn,
        },
    )
    year = outage_year(backup(HALF, plain_battery()), kinds, 1, 336.0)
    assert year.ride_through_frac(24.0) == pytest.approx(1.0)  # 100 h in autumn
    # at 12 h three of four are spring events, which end at 10 h
    assert year.ride_through_frac(12.0) == pytest.approx(1.0 / 4.0)
    assert year.ride_through_frac(9.0) == pytest.approx(1.0)


def test_a_record_of_short_events_still_answers_for_three_days():
    """No event lasts 72 h: all starts count, and the battery's 100 h of the second half carry it."""
    year = outage_year(backup(HALF, plain_battery()), kinds_of(72.0, short=SHORT), 1, 336.0)
    in_second_half = float((HALF == 0.1).mean())
    # a start of late June runs into July: at least those of the second half less its last 72 h
    assert year.ride_through_frac(72.0) == pytest.approx(in_second_half, abs=0.02)


@pytest.mark.parametrize(
    "classes", [{"routine": ROUTINE, "major": MAJOR}, {"short": SHORT}, {"fixed": FIXED}]
)
def test_chances_are_chances(classes):
    figures = Reliability(0.95, 0.05, 61.0, "test figures", False)
    b = backup(HALF, plain_battery(generator_charge_kw=2.0), tireless_set(), reliability=figures)
    year = outage_year(b, kinds_of(**classes), 1, 336.0)
    share = np.array([year.ride_through_frac(h) for h in range(169)])
    assert (share >= 0).all()
    assert (share <= 1 + 1e-12).all()
    kept = year.walks[0]
    by_hours = [float(kept.weight[kept.ends_h >= h].sum()) for h in range(169)]
    assert (np.diff(by_hours) <= 1e-12).all()


def test_no_event_at_all_is_no_crash():
    year = outage_year(backup(0.5), kinds_of(routine=ROUTINE | {"events_per_year": 0.0}), 1, 336.0)
    assert year.outage_h == year.must_unserved_h == year.failed_count == 0.0
    assert 0.0 <= year.ride_through_frac(24.0) <= 1.0
    assert year.standard_error_frac(24.0) == 0.0


@pytest.mark.filterwarnings("error")
def test_weights_that_add_to_a_hair_above_one_have_no_error_to_tell() -> None:
    year = outage_year(backup(0.01, plain_battery()), kinds_of(routine=ROUTINE), 1, 336.0)
    over = tuple(replace(one, weight=one.weight * (1.0 + 1e-15)) for one in year.walks)
    year = replace(year, walks=over)
    assert year.ride_through_frac(24.0) > 1.0  # what rounding can leave
    assert year.standard_error_frac(24.0) == 0.0


# ---- failed outages ------------------------------------------------------------------------------------


@pytest.mark.parametrize("length_h", [8.0, 9.5])
@pytest.mark.parametrize("spare_h", [0.0, 0.5, 5.0])
def test_an_outage_that_ends_before_the_battery_does_is_not_failed(spare_h, length_h):
    """Always as long, and the battery lasts that or longer: only the major events fail."""
    fixed = {"events_per_year": 0.5, "duration": {"kind": "fixed", "mean_h": length_h}}
    rides_h = length_h + spare_h
    b = backup(10.0 / rides_h, plain_battery())
    alone = outage_year(b, kinds_of(length_h, fixed=fixed), 1, 336.0)
    assert alone.failed_count == pytest.approx(0.0, abs=1e-9)
    year = outage_year(b, kinds_of(fixed=fixed, major=MAJOR), 1, 336.0)
    # lognormal: P(D > h) = 1 - Phi(ln(h / 12))
    lasting = 0.5 * math.erfc(math.log(rides_h / 12.0) / math.sqrt(2.0))
    assert year.failed_count == pytest.approx(0.25 * lasting, rel=1e-6)


def test_every_outage_fails_without_a_source():
    year = outage_year(backup(0.5), kinds_of(fixed=FIXED, routine=ROUTINE), 1, 336.0)
    assert year.failed_count == pytest.approx(0.5 + 1.5)


def test_a_gap_that_loads_bear_is_no_failure():
    """Loads bear 4 h: of the routine outages only those above 4 h fail, e^-2 of them."""
    nothing = outage_year(backup(0.5, tolerates_h=4.0), kinds_of(routine=ROUTINE), 1, 336.0)
    assert nothing.failed_count == pytest.approx(1.5 * np.exp(-4.0 / 2.0), rel=1e-9)
    # a battery of 10 h: the gap begins at 10 h and is felt beyond 14 h
    b = backup(1.0, plain_battery(), tolerates_h=4.0)
    year = outage_year(b, kinds_of(routine=ROUTINE), 1, 336.0)
    assert year.failed_count == pytest.approx(1.5 * np.exp(-14.0 / 2.0), rel=1e-6)


def test_failed_outages_of_a_single_run_are_the_integral_of_the_formula():
    """A (1-p) exp(-t/M) against exponential outages of mean m: 1 - A (1-p) M / (M + m)."""
    figures = Reliability(0.95, 0.08, 20.0, "test figures", False)
    b = backup(0.5, generator=tireless_set(), reliability=figures)
    year = outage_year(b, kinds_of(routine=ROUTINE), 1, 336.0)
    expected = 1.0 - 0.95 * 0.92 * 20.0 / (20.0 + 2.0)
    assert year.failed_count == pytest.approx(1.5 * expected, rel=2e-3)


def test_failed_outages_by_draws_agree_with_the_formula():
    figures = Reliability(0.95, 0.08, 20.0, "test figures", False)
    b = backup(0.5, generator=tireless_set(refuel_gap_min=0.5), reliability=figures)
    year = outage_year(b, kinds_of(routine=ROUTINE), 1, 336.0)
    expected = 1.0 - 0.95 * 0.92 * 20.0 / (20.0 + 2.0)
    (walked,) = year.walks
    error = float(np.sqrt((walked.weight**2).sum() * expected * (1 - expected)))
    assert year.failed_count / 1.5 == pytest.approx(expected, abs=4 * error)


# ---- hard events -----------------------------------------------------------------------------------------


def test_hard_event_is_what_one_in_twenty_exceeds():
    # lognormal, median 12 h, spread 1: the 95th percentile is 12 exp(1.645) = 62.2 h
    assert hard_event_h(kinds_of(routine=ROUTINE, major=MAJOR), 336.0) == pytest.approx(63.0)


def test_longest_gap_of_doing_nothing_is_the_hard_event():
    kinds = kinds_of(routine=ROUTINE, major=MAJOR)
    assert outage_year(backup(0.5), kinds, 1, 336.0).longest_unserved_h == pytest.approx(63.0)


def test_longest_gap_behind_a_battery_is_what_it_leaves():
    year = outage_year(backup(0.5, plain_battery()), kinds_of(routine=ROUTINE, major=MAJOR), 1, 336.0)
    assert year.longest_unserved_h == pytest.approx(63.0 - 20.0, abs=1e-6)


def test_a_start_by_hand_is_the_longest_gap_of_a_tireless_set():
    b = backup(0.5, generator=tireless_set(), set_gap=Gap(1800.0, True, "half an hour"), tolerates_h=4.0)
    year = outage_year(b, kinds_of(major=MAJOR), 1, 336.0)
    assert year.longest_unserved_h == pytest.approx(0.5, abs=1e-9)
    # median 12 h, spread 1: the hours of the first half hour are 0.5 P(D > 0.5) + E(D; D < 0.5)
    z = math.log(0.5 / 12.0)
    beyond, before = (0.5 * math.erfc(x / math.sqrt(2.0)) for x in (z, 1.0 - z))
    exact_h = 0.25 * (0.5 * beyond + 12.0 * math.exp(0.5) * before)
    assert year.must_unserved_h == pytest.approx(exact_h, rel=5e-4)


def test_the_curve_is_the_share_of_starts_hour_by_hour():
    """Weighted starts counted one by one, for two kinds, a set that may fail and ties at whole hours."""
    kinds = kinds_of(routine=ROUTINE, major=MAJOR)
    year = outage_year(backup(HALF, plain_battery()), kinds, 1, 336.0)
    hours = np.array([0.0, 4.0, 10.0, 10.5, 72.0, 400.0])
    curve = year.ride_through_curve(hours)
    for place, h in enumerate(hours):
        lasting = [one.kind.events_per_year * float(one.kind.law.lasts_frac(h)) for one in year.walks]
        if sum(lasting) <= 1e-12:
            lasting = [one.kind.events_per_year for one in year.walks]
        kept = [math.fsum(one.weight[one.ends_h >= h - 1e-9]) for one in year.walks]
        expected = sum(a * b for a, b in zip(lasting, kept, strict=True)) / sum(lasting)
        assert curve[place] == pytest.approx(expected, rel=1e-14)
        assert curve[place] == year.ride_through_frac(float(h))
    assert curve[0] == pytest.approx(1.0, rel=1e-14)
    assert curve[0] > curve[3] > curve[4]
