"""Short outages in long steps: what happens inside a step meets the events that are still there."""

from __future__ import annotations

import math

import pytest

from kit.operate.lengths import long_walk, of_law
from kit.operate.outage_year import outage_year
from kit.systems.transfer import Gap
from tests.unit.operate.outage_cases import (
    FIXED,
    ROUTINE,
    YEAR,
    backup,
    kinds_of,
    plain_battery,
    tireless_set,
)

BY_HAND = Gap(1800.0, True, "half an hour of set-up")


def test_a_delay_meets_the_events_that_still_last():
    """Exponential, mean 2 h: of 1.5 a year, the first half hour holds 1.5 x 2 (1 - exp(-0.25)) hours."""
    b = backup(0.5, generator=tireless_set(), set_gap=BY_HAND, tolerates_h=4.0)
    year = outage_year(b, kinds_of(routine=ROUTINE), 1, 336.0)
    exact_h = 1.5 * 2.0 * (1.0 - math.exp(-0.25))
    assert year.must_unserved_h == pytest.approx(exact_h, rel=1e-3)
    assert year.must_unserved_kwh == pytest.approx(0.5 * exact_h, rel=1e-3)
    assert year.set_run_h == pytest.approx(1.5 * 2.0 - exact_h, rel=1e-3)  # the rest of the 3 h a year


def test_a_battery_that_ends_inside_a_step_ends_for_the_events_that_reach_it():
    """10 kWh at 4 kW: dark from 2.5 h on, which 1.5 x 2 exp(-1.25) hours a year lie beyond."""
    b = backup(4.0, plain_battery(), tolerates_h=0.0)
    year = outage_year(b, kinds_of(routine=ROUTINE), 1, 336.0)
    assert year.must_unserved_h == pytest.approx(1.5 * 2.0 * math.exp(-1.25), rel=2e-3)


def test_what_an_event_draws_is_counted_to_its_end():
    """Events of mean 2 h at 0.5 kW that a 10 kWh battery outlasts: 1.5 x 2 h x 0.5 kW a year."""
    year = outage_year(backup(0.5, plain_battery(idle_w=0.0)), kinds_of(routine=ROUTINE), 1, 336.0)
    assert year.drawn_kwh == pytest.approx(1.5, rel=2e-3)


@pytest.mark.parametrize("lasts_h", [0.75, 2.9, 8.0, 2.25])
def test_events_of_one_length_draw_to_their_end(lasts_h: float) -> None:
    """Two a year at 1 kW from a battery that outlasts them: their hours are the kWh, whole or not."""
    fixed = {"events_per_year": 2.0, "duration": {"kind": "fixed", "mean_h": lasts_h}}
    year = outage_year(backup(1.0, plain_battery(idle_w=0.0)), kinds_of(fixed=fixed), 1, 336.0)
    assert year.drawn_kwh == pytest.approx(2.0 * lasts_h, rel=1e-9)


def test_a_gap_at_the_begin_is_whole_where_no_event_ends_before_it() -> None:
    """Events of 3 h, begun by hand after half an hour: half an hour dark each, not less."""
    fixed = {"events_per_year": 2.0, "duration": {"kind": "fixed", "mean_h": 3.0}}
    b = backup(0.5, generator=tireless_set(), set_gap=BY_HAND, tolerates_h=4.0)
    assert outage_year(b, kinds_of(fixed=fixed), 1, 336.0).must_unserved_h == pytest.approx(1.0, rel=1e-9)


def test_another_law_reads_the_same_steps_as_a_walk_of_its_own():
    b = backup(4.0, plain_battery(), tireless_set(), set_gap=BY_HAND, tolerates_h=0.0)
    longer = ROUTINE | {"duration": {"kind": "exponential", "mean_h": 3.0}}
    kept = long_walk(b, kinds_of(routine=longer)[0], 1)
    assert kept is not None
    kind = kinds_of(routine=ROUTINE)[0]
    read = sum(one.totals for one in of_law(kept, b, kind, 1))
    fresh = sum(one.totals for one in outage_year(b, (kind,), 1, 336.0).walks)
    assert read == pytest.approx(fresh, rel=1e-12)


def test_who_comes_at_a_set_hour_comes_sooner_to_an_outage_late_in_the_step():
    """Nobody is up from three to four; set-up takes a quarter hour, the loads bear three quarters.

    An outage before half past three waits too long, a later one does not: 23.5 starts of 24 are kept.
    """
    b = backup(
        0.5,
        generator=tireless_set(),
        set_gap=Gap(900.0, True, "a quarter hour of set-up"),
        attended=YEAR.hour != 3,
        tolerates_h=0.75,
    )
    kept = outage_year(b, kinds_of(fixed=FIXED), 1, 336.0).ride_through_frac(8.0)
    spread = math.sqrt(0.25 / 365) / 24  # of 365 starts at three, each kept by a fair draw
    assert kept == pytest.approx(23.5 / 24.0, abs=4.0 * spread)
