"""Outage events: hours a year, how far they are walked, and what is drawn for them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kit.calendar import calendar_year
from kit.grid.outages import outage_hours_per_year
from kit.operate.events import ATTEMPTS, LIVES, event_kinds, luck, sure, wait_for_someone_h
from kit.operate.keyed import PURPOSES
from kit.systems.reliability import Reliability
from tests.twins.drawn import share
from tests.unit.operate.outage_cases import FIXED, MAJOR, REACH_H, ROUTINE, SHORT, YEAR, kinds_of, record

QUARTERS = calendar_year(2025, "America/New_York", 15)
RECORDS = {
    "routine and major": {"routine": ROUTINE, "major": MAJOR},
    "short only": {"short": SHORT},
    "fixed and short": {"fixed": FIXED, "short": SHORT},
    "all": {"routine": ROUTINE, "major": MAJOR, "short": SHORT, "fixed": FIXED},
    "never": {"routine": ROUTINE | {"events_per_year": 0.0}},
}


@pytest.mark.parametrize("year", [YEAR, QUARTERS], ids=["hours", "quarters"])
@pytest.mark.parametrize("reach_h", [1.0, 24.0, REACH_H])
@pytest.mark.parametrize("classes", RECORDS.values(), ids=RECORDS)
def test_outage_hours_stay_rate_times_mean(classes, reach_h, year):
    """However short the walk, the hours of a year are those of the record (T14)."""
    kinds = event_kinds(record(**classes), year, reach_h)
    walked = sum(kind.events_per_year * kind.event_h.sum() for kind in kinds)
    assert walked == pytest.approx(outage_hours_per_year(record(**classes)), rel=1e-9, abs=1e-12)


def test_outage_hours_by_hand():
    kinds = kinds_of(short=SHORT, fixed=FIXED)
    # 2 x (0.5 + 1.25 + 3.0) / 3 + 0.5 x 9.5
    walked = sum(kind.events_per_year * kind.event_h.sum() for kind in kinds)
    assert walked == pytest.approx(2 * 4.75 / 3 + 0.5 * 9.5, rel=1e-12)


@pytest.mark.parametrize("classes", RECORDS.values(), ids=RECORDS)
def test_shares_and_weights_add_to_one(classes):
    for kind in kinds_of(**classes):
        assert kind.stops_frac.sum() == pytest.approx(1.0, abs=1e-12)
        assert kind.start_weight.sum() == pytest.approx(1.0, abs=1e-12)
        assert kind.event_h.size == kind.stops_frac.size == kind.day_frac.size
        assert (kind.event_h >= 0).all()
        assert (kind.stops_frac >= -1e-15).all()


def test_events_end_where_their_lengths_say():
    (short,) = kinds_of(short=SHORT)
    # 0.5 h ends in the first hour, 1.25 h in the second; 3.0 h is still there as the third hour ends
    assert short.stops_frac[:2] == pytest.approx([1 / 3, 1 / 3])
    # hour 1: (0.5 + 1 + 1) / 3, hour 2: (0 + 0.25 + 1) / 3, hour 3: 1 / 3
    assert short.event_h[:4] == pytest.approx([2.5 / 3, 1.25 / 3, 1 / 3, 0.0], abs=1e-12)


def test_a_record_of_short_events_is_walked_as_far_as_was_asked():
    (short,) = kinds_of(72.0, short=SHORT)
    assert short.event_h.size == 72


def test_a_kind_that_carries_long_events_is_walked_as_far_as_was_asked():
    routine, major = kinds_of(routine=ROUTINE, major=MAJOR)
    assert major.event_h.size >= REACH_H
    assert routine.event_h.size < 40  # an exponential of 2 h: e^-20 beyond


@pytest.mark.parametrize("classes", RECORDS.values(), ids=RECORDS)
def test_little_lies_beyond_the_walk(classes):
    for kind in kinds_of(**classes):
        beyond_h = kind.event_h.size * kind.step_h
        whole = kind.law.step_hours(kind.step_h)
        assert whole[kind.event_h.size :].sum() <= 1e-3 * kind.mean_h + 1e-12, (kind.slug, beyond_h)


def test_solar_of_the_days_repeats_its_last():
    (major,) = kinds_of(major=MAJOR | {"solar_frac_by_day": [0.25, 0.6, 1.0]})
    assert major.day_frac[:24] == pytest.approx(0.25)
    assert major.day_frac[24:48] == pytest.approx(0.6)
    assert (major.day_frac[48:] == 1.0).all()


def test_draws_follow_their_figures():
    (major,) = kinds_of(major=MAJOR | {"attended_frac": 0.7, "gas_out_frac": 0.1})
    starts = np.arange(YEAR.n)
    drawn = luck(1, major, starts, Reliability(0.9, 0.2, 61.0, "none", False), 0.05, 500.0)

    def near(share: float, expected: float, count: int = YEAR.n) -> None:
        assert share == pytest.approx(expected, abs=4 * np.sqrt(expected * (1 - expected) / count))

    near(drawn.someone.mean(), 0.7)
    near(drawn.gas_flows.mean(), 0.9)
    near(drawn.set_there.mean(), 0.9)
    near(drawn.islands.mean(), 0.95)
    near(drawn.start_fails.mean(), 0.2, YEAR.n * ATTEMPTS)
    assert drawn.life_h.mean() == pytest.approx(61.0, abs=4 * 61.0 / np.sqrt(drawn.life_h.size))
    assert drawn.inverter_life_h.mean() == pytest.approx(500.0, abs=4 * 500.0 / np.sqrt(YEAR.n))


def test_every_life_of_a_set_is_a_draw_of_its_own():
    """Life by life from a draw keyed by kind, start and number of the life: -mean x ln(1 - draw)."""
    _, major = kinds_of(routine=ROUTINE, major=MAJOR)
    starts = np.array([5, 700, 8000])
    drawn = luck(3, major, starts, Reliability(1.0, 0.0, 50.0, "none", False), 0.0, None)
    purpose = PURPOSES.index("set_life")
    told = [
        [-50.0 * math.log(1.0 - share(3, purpose, 1, int(start), life)) for life in range(4)]
        for start in starts
    ]
    assert major.number == 1
    assert LIVES == 4
    assert drawn.life_h == pytest.approx(np.array(told), rel=1e-9)
    assert np.unique(drawn.life_h).size == 3 * 4


def test_an_event_keeps_its_attributes_whatever_the_option():
    """Someone at home and gas in the pipe belong to the event, not to the machine (T11)."""
    (major,) = kinds_of(major=MAJOR | {"attended_frac": 0.5, "gas_out_frac": 0.5})
    starts = np.arange(1000)
    bare = luck(1, major, starts, None, 0.0, None)
    poor = luck(1, major, starts, Reliability(0.5, 0.5, 10.0, "none", False), 0.5, 10.0)
    assert np.array_equal(bare.someone, poor.someone)
    assert np.array_equal(bare.gas_flows, poor.gas_flows)
    assert bare.set_there.all()
    assert not bare.start_fails.any()


def test_fewer_starts_move_no_draw():
    (major,) = kinds_of(major=MAJOR | {"attended_frac": 0.5})
    few = np.array([5, 700, 8000])
    figures = Reliability(0.9, 0.3, 61.0, "none", False)
    all_drawn = luck(1, major, np.arange(YEAR.n), figures, 0.1, 100.0)
    drawn = luck(1, major, few, figures, 0.1, 100.0)
    for name in ("someone", "gas_flows", "set_there", "start_fails", "life_h", "islands", "inverter_life_h"):
        assert np.array_equal(getattr(drawn, name), getattr(all_drawn, name)[few]), name


def test_sure_is_sure():
    (major,) = kinds_of(major=MAJOR | {"attended_frac": 0.0, "gas_out_frac": 1.0})
    drawn = sure(major, np.arange(3))
    assert drawn.someone.all()
    assert drawn.gas_flows.all()
    assert drawn.set_there.all()
    assert drawn.islands.all()
    assert not drawn.start_fails.any()


def test_waiting_for_someone():
    attended = np.array([True, False, False, True, False])
    assert wait_for_someone_h(attended, 0.5).tolist() == [0.0, 1.0, 0.5, 0.0, 0.5]  # the year wraps
    assert np.isinf(wait_for_someone_h(np.zeros(4, dtype=bool), 1.0)).all()
