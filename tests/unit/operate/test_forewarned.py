"""Charge before a forecast outage, against a plain loop; and clusters whose gaps spread over days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.operate.events import EventKind
from kit.operate.everyday import clock
from kit.operate.forewarned import raised_charge, warned_parts
from kit.operate.lifetimes import draw_events, live_through
from kit.operate.outage_year import outage_year
from kit.operate.single import kept_on_frac
from kit.systems.battery import BatterySystem, battery_system
from tests.unit.operate.outage_cases import FIXED, MAJOR, ROUTINE, YEAR, backup, kinds_of, plain_battery

N = YEAR.n


def battery(**changes: object) -> BatterySystem:
    return battery_system(plain_battery(**changes))


def plainly(start: int, stored: np.ndarray, most: np.ndarray, warned_steps: int, raised: float) -> float:
    """One start by hand: from the warning on, at least everyday use, else up to the raised reserve."""
    at = (start - warned_steps) % stored.size
    charge = stored[at]
    for _ in range(warned_steps):
        after = stored[(at + 1) % stored.size]
        charge = max(after, min(raised, charge + most[at]))
        at = (at + 1) % stored.size
    return float(charge)


def test_by_hand() -> None:
    """2 kWh stored, 1.5 kW at 90 %: 1.35 kWh an hour; 4 h ahead 7.4 kWh, 7 h ahead the raised 9 kWh."""
    b = battery(charge_kw=1.5, charge_efficiency_frac=0.9)
    stored, none, may, price = np.full(N, 2.0), np.zeros(N), np.ones(N, dtype=bool), np.full(N, 0.3)
    for hours, held in ((4.0, 7.4), (7.0, 9.0), (0.0, 2.0)):
        made = raised_charge(stored, none, b, may, hours, 9.0, 1.0, price, 0.3)
        assert made.stored_kwh == pytest.approx(np.full(N, held))
        assert made.extra_usd == pytest.approx(np.zeros(N), abs=1e-12)  # bought now or later, at one price
    dear = raised_charge(stored, none, b, may, 4.0, 9.0, 1.0, price, 0.1)
    assert dear.extra_usd == pytest.approx(np.full(N, 4 * 1.5 * (0.3 - 0.1)))  # 6 kWh at the difference


def test_against_a_plain_loop() -> None:
    rng = np.random.default_rng(5)
    b = battery(charge_kw=1.0, charge_efficiency_frac=0.92, discharge_efficiency_frac=0.95)
    stored = 5.0 + 4.0 * np.sin(2 * np.pi * YEAR.hour / 24) + rng.uniform(-0.5, 0.5, N)
    charge = np.maximum(np.diff(stored, append=stored[0]), 0.0) / 0.92
    may = rng.random(N) > 0.1
    made = raised_charge(stored, charge, b, may, 9.0, 8.0, 1.0, np.full(N, 0.2), 0.2)
    most = np.maximum(1.0 * may, charge) * 0.92
    for start in [0, 1, 8, *rng.integers(0, N, 200)]:
        assert made.stored_kwh[start] == pytest.approx(plainly(start, stored, most, 9, 8.0), abs=1e-12)
    assert (made.stored_kwh >= stored - 1e-12).all()
    assert (made.stored_kwh <= np.maximum(stored, 8.0) + 1e-12).all()


def test_no_grid_charge_keeps_what_everyday_use_would_have_spent() -> None:
    """Solar only: 6 kWh at four in the afternoon, spent by nine, unless a warning came at four."""
    b = replace(battery(), grid_charge_allowed=False)
    stored = np.where(YEAR.hour <= 16.0, 6.0, np.maximum(1.0, 6.0 - (YEAR.hour - 16.0)))
    may = np.ones(N, dtype=bool)
    made = raised_charge(stored, np.zeros(N), b, may, 5.0, 10.0, 1.0, np.full(N, 0.4), 0.1)
    nine = YEAR.hour == 21.0
    assert stored[nine] == pytest.approx(np.full(nine.sum(), 1.0))
    assert made.stored_kwh[nine] == pytest.approx(np.full(nine.sum(), 6.0))
    assert made.extra_usd[nine] == pytest.approx(np.full(nine.sum(), 5.0 * (0.4 - 0.1)))  # not served at 0.4


def test_the_clock_holds_what_the_definition_says() -> None:
    """A warning that stands all year: the clock with the raised reserve, charging every hour."""
    b = battery(charge_kw=2.0, charge_efficiency_frac=0.9, reserve_frac=0.2)
    load, none = np.full(N, 1.0), np.zeros(N)
    evening, night = (YEAR.hour >= 17) & (YEAR.hour < 22), YEAR.hour < 4
    may = np.ones(N, dtype=bool)
    calm = clock(load, load, none, 0.0, b, night, evening, may, 1.0)
    raised = replace(b, reserve_kwh=10.0)
    always = clock(load, load, none, 0.0, raised, np.ones(N, dtype=bool), evening, may, 1.0)
    made = raised_charge(calm.stored_kwh, calm.charge_kwh, b, may, 24.0, 10.0, 1.0, np.full(N, 0.2), 0.2)
    assert made.stored_kwh == pytest.approx(always.stored_kwh)


def test_what_cannot_be() -> None:
    with pytest.raises(ValueError, match="at or above 0"):
        raised_charge(np.zeros(N), np.zeros(N), battery(), np.ones(N, bool), -1.0, 1.0, 1.0, np.zeros(N), 0.0)


def forecast(kind: EventKind, share: float) -> EventKind:
    return replace(kind, forewarned_frac=share, forewarned_h=12.0)


def test_the_expected_year_mixes_both_charges_by_the_share() -> None:
    (kind,) = kinds_of(major=MAJOR)
    low, high = np.full(N, 3.0), np.full(N, 9.0)
    unwarned = backup(battery=plain_battery(), stored_kwh=low)
    warned = backup(battery=plain_battery(), stored_kwh=high)
    both = replace(unwarned, forewarned_kwh={kind.number: high})
    a, b = (outage_year(one, (kind,), 1, 336.0) for one in (unwarned, warned))
    mixed = outage_year(both, (forecast(kind, 0.3),), 1, 336.0)
    assert mixed.outage_h == pytest.approx(a.outage_h)
    assert mixed.must_unserved_h == pytest.approx(0.7 * a.must_unserved_h + 0.3 * b.must_unserved_h)
    for hours in (4.0, 8.0, 16.0):
        expected = 0.7 * a.ride_through_frac(hours) + 0.3 * b.ride_through_frac(hours)
        assert mixed.ride_through_frac(hours) == pytest.approx(expected)
        assert kept_on_frac(both, (forecast(kind, 0.3),), 1, hours) == pytest.approx(expected)
    assert len(tuple(warned_parts(both, forecast(kind, 1.0)))) == 1
    assert len(tuple(warned_parts(both, kind))) == 1
    sure = outage_year(both, (forecast(kind, 1.0),), 1, 336.0)
    assert sure.must_unserved_h == pytest.approx(b.must_unserved_h)


def test_drawn_lives_agree_with_the_expected_year() -> None:
    kinds = tuple(forecast(k, 0.6) for k in kinds_of(major=MAJOR))
    both = backup(
        battery=plain_battery(),
        stored_kwh=np.full(N, 2.0),
        forewarned_kwh={kinds[0].number: np.full(N, 10.0)},
    )
    exact_h = 20 * outage_year(both, kinds, 1, 336.0).must_unserved_h
    for seed in range(6):
        dark_h = live_through(both, draw_events(seed, kinds, 20, 1000), seed, 20, 1000).dark_h
        assert abs(dark_h.mean() - exact_h) < 4 * dark_h.std() / np.sqrt(1000)


def test_clusters_within_days_keep_rate_and_hours() -> None:
    kinds = tuple(
        replace(k, followed_frac=0.5, followed_after_h=6.0, followed_within_h=72.0)
        for k in kinds_of(routine=ROUTINE, major=MAJOR)
    )
    expected_h = sum(k.events_per_year * k.mean_h for k in kinds)
    for machine in (backup(), backup(battery=plain_battery())):
        made = outage_year(machine, kinds, 1, 336.0)
        assert made.outage_h == pytest.approx(expected_h, rel=1e-9)
        assert sum(one.kind.events_per_year for one in made.walks) == pytest.approx(
            sum(k.events_per_year for k in kinds), rel=1e-12
        )
    lived = live_through(backup(), draw_events(2, kinds, 20, 3000), 2, 20, 3000)
    assert abs(lived.event_h.mean() - 20 * expected_h) < 4 * lived.event_h.std() / np.sqrt(3000)


def test_gaps_spread_evenly_between_their_ends() -> None:
    (kind,) = kinds_of(fixed=FIXED)
    spread = replace(kind, followed_after_h=6.0, followed_within_h=54.0)
    gaps = spread.between_h(3, np.arange(5000))
    assert gaps.min() >= 6.0
    assert gaps.max() < 54.0
    assert gaps.mean() == pytest.approx(30.0, abs=0.8)
    assert replace(kind, followed_after_h=6.0).between_h(3, np.arange(3)).tolist() == [6.0, 6.0, 6.0]


def test_a_later_follower_finds_more_charge() -> None:
    """Slow charging, 0.1 kW: after 6 h the second event finds little, after three days all of it."""
    (kind,) = kinds_of(fixed=FIXED)
    slow = backup(0.9, battery=plain_battery(charge_kw=0.1))
    soon, late, apart = (
        outage_year(slow, (one,), 1, 336.0).must_unserved_h
        for one in (
            replace(kind, followed_frac=0.5, followed_after_h=6.0),
            replace(kind, followed_frac=0.5, followed_after_h=6.0, followed_within_h=72.0),
            kind,
        )
    )
    assert soon > late > apart - 1e-9
