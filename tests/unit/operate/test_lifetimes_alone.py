"""Events that nothing charges in: the short loop against the walk, a minute-by-minute twin, and by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from kit.calendar import calendar_year
from kit.operate import lifetimes
from kit.operate.lifetimes import DrawnEvents, Lived, draw_events, live_through, only_falls
from kit.operate.outages import Backup
from kit.systems.transfer import Gap
from tests.twins.outage import follow
from tests.unit.operate.outage_cases import (
    FIXED,
    MAJOR,
    ROUTINE,
    SHORT,
    backup,
    kinds_of,
    plain_battery,
    tireless_set,
)

YEARS, LIFETIMES = 15, 60
YEAR_OF = {step_min: calendar_year(2025, "America/New_York", step_min) for step_min in (60, 30, 15)}


def by_the_walk(monkeypatch: pytest.MonkeyPatch, *told: Any) -> Lived:
    with monkeypatch.context() as patch:
        patch.setattr(lifetimes, "only_falls", lambda b: False)
        return live_through(*told)


def agree(one: Lived, other: Lived) -> None:
    assert one.dark_h_by_year == pytest.approx(other.dark_h_by_year, abs=1e-9)
    assert one.dark_kwh == pytest.approx(other.dark_kwh, abs=1e-9)
    assert one.event_h == pytest.approx(other.event_h, abs=1e-9)
    assert np.array_equal(one.failed_count, other.failed_count)


def any_load_kw(rng: np.random.Generator, n: int, mean_kw: float) -> np.ndarray:
    """Lumpy, with steps of none, and some of round numbers."""
    load = rng.gamma(1.5, mean_kw / 1.5, n) * (rng.random(n) < rng.choice([0.6, 0.95, 1.0]))
    return np.round(load, int(rng.choice([1, 3, 12])))


def any_backup(rng: np.random.Generator, step_min: int) -> Backup:
    """A battery, or none, of any habit that does not charge it in an outage."""
    year = YEAR_OF[step_min]
    battery = plain_battery(
        usable_kwh=float(rng.choice([2.0, 10.0, 12.3456])),
        continuous_kw=float(rng.choice([0.5, 1.5, 5.0])),
        discharge_efficiency_frac=float(rng.choice([1.0, 0.9])),
        idle_w=float(rng.choice([0.0, 25.0])),
        reserve_frac=0.2,
        outage_floor_frac=float(rng.choice([0.0, 0.1])),
        wanted_above_frac=float(rng.choice([0.2, 0.5, 0.9])),
        fails_to_island_frac=float(rng.choice([0.0, 0.0, 0.2])),
        inverter_mttf_h=rng.choice([None, None, 40.0]),
    )
    given = {
        "must_kw": any_load_kw(rng, year.n, float(rng.choice([0.05, 0.4, 1.2]))),
        "wanted_kw": any_load_kw(rng, year.n, 0.5) * (rng.random() < 0.7),
        "attended": rng.random(year.n) < 0.7,
        "tolerates_h": float(rng.choice([0.0, 0.0, 0.25, 3.0])),
        "battery_gap": [Gap(0.0, False, ""), Gap(20.0, False, ""), Gap(900.0, True, ""), None][
            rng.integers(4)
        ],
        "solar_kw": np.full(year.n, 2.0),  # on a roof whose inverter stops with the grid
    }
    if rng.random() < 0.1:
        return backup(year=year, **given)
    made = backup(battery=battery, year=year, **given)
    assert made.battery is not None
    low_kwh = made.battery.floor_kwh * rng.choice([0.5, 1.0])
    stored_kwh = low_kwh + (made.battery.usable_kwh - low_kwh) * rng.random(year.n) ** rng.choice([0.01, 1.0])
    return replace(made, stored_kwh=stored_kwh)


@pytest.mark.parametrize("case", range(150))
def test_any_backup_lives_as_the_walk_says(case: int, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(case)
    step_min = (60, 60, 30, 15)[case % 4]
    b = any_backup(rng, step_min)
    kinds = kinds_of(year=YEAR_OF[step_min], routine=ROUTINE, major=MAJOR, short=SHORT, fixed=FIXED)
    kinds = tuple(
        replace(
            k,
            attended_frac=float(rng.choice([1.0, 0.5])),
            followed_frac=float(rng.choice([0.0, 0.6])),
            followed_after_h=1.5,
            followed_within_h=rng.choice([None, 40.0]),
            forewarned_frac=float(rng.choice([0.0, 0.5])),
        )
        for k in kinds
    )
    if b.battery is not None and rng.random() < 0.5:
        warned_kwh = np.minimum(b.stored_kwh + 1.0, b.battery.usable_kwh)
        b = replace(b, forewarned_kwh={kinds[1].number: warned_kwh})
    told = b, draw_events(case, kinds, YEARS, LIFETIMES), case, YEARS, LIFETIMES
    assert only_falls(b)
    lived = live_through(*told)
    agree(lived, by_the_walk(monkeypatch, *told))
    assert lived.event_h.sum() > 0.0


def hand_drawn(start: list[int], lasts_h: list[float]) -> DrawnEvents:
    """One event a lifetime, all in its first year."""
    (kind,) = kinds_of(routine=ROUTINE)
    count, never = len(start), np.zeros(len(start), dtype=bool)
    steps = np.array(start, dtype=np.int32)
    return DrawnEvents(
        kind, np.ones(count, dtype=np.int64), np.zeros(count, dtype=np.int16), steps,
        np.array(lasts_h), never, never,
    )  # fmt: skip


def test_minute_by_minute_it_is_the_same() -> None:
    rng = np.random.default_rng(8)
    n = YEAR_OF[60].n
    wanted_kw, must_kw = (
        rng.choice([0.0, 0.3, 0.6], n),
        rng.choice([0.0, 0.6, 1.2, 9.0], n, p=[0.1, 0.5, 0.35, 0.05]),
    )
    b = backup(
        battery=plain_battery(discharge_efficiency_frac=0.8, idle_w=30.0, wanted_above_frac=0.5),
        must_kw=must_kw,
        wanted_kw=wanted_kw,
    )
    events = hand_drawn([0, 17, 8755, 400, 5000], [5.0, 30.0, 48.0, 12.0, 3.0])
    lived = live_through(b, (events,), 1, 1, 5)
    house = dict(must_kw=must_kw, wanted_kw=wanted_kw, solar_kw=np.zeros(n), attended=b.attended, step_h=1.0)
    battery = dict(
        stored_kwh=10.0, full_kwh=10.0, floor_kwh=0.0, restart_kwh=1.0, wanted_kwh=5.0, kw=5.0,
        solar_charge_kw=0.0, set_charge_kw=0.0, charge_eff=1.0, discharge_eff=0.8, idle_kw=0.03,
        start_kwh=0.0, stop_kwh=0.0,
    )  # fmt: skip
    machines = dict(
        battery=battery, tolerates_h=0.0, solar_charges=False, solar_beside_set=False, resupply_delay_h=0.0
    )
    for one, (start, lasts_h) in enumerate(zip(events.start, events.lasts_h, strict=True)):
        told = follow(house, machines, int(start), lasts_h)
        # a happening lies inside a minute, and the battery empties once
        assert lived.dark_h[one] == pytest.approx(told["out_h"], abs=2.0 / 60.0)
        assert lived.dark_kwh[one] == pytest.approx(told["out_kwh"], abs=9.0 * 2.0 / 60.0)
    assert (lived.dark_h > 1.0).sum() >= 2
    assert (lived.dark_h < 1.0).any()


def test_by_hand_ten_kwh_at_six_tenths_of_a_kw() -> None:
    # 10 kWh x 0.9 / 0.6 kW = 15 h; of 20.5 h the last 5.5 h are dark, 3.3 kWh; of 15 h and 4 h none is
    b = backup(must_kw=0.6, battery=plain_battery(discharge_efficiency_frac=0.9))
    lived = live_through(b, (hand_drawn([3, 8750, 77], [20.5, 15.0, 4.0]),), 1, 1, 3)
    assert lived.dark_h == pytest.approx([5.5, 0.0, 0.0], abs=1e-9)
    assert lived.dark_kwh == pytest.approx([3.3, 0.0, 0.0], abs=1e-9)
    assert lived.failed_count.tolist() == [1.0, 0.0, 0.0]
    assert lived.event_h.tolist() == [20.5, 15.0, 4.0]


def test_round_numbers_end_on_the_hour() -> None:
    # 10 kWh at 0.1 kW last 100 h to the hour
    b = backup(must_kw=0.1, battery=plain_battery())
    lived = live_through(b, (hand_drawn([0, 0, 8700], [100.0, 101.0, 150.0]),), 1, 1, 3)
    assert lived.dark_h == pytest.approx([0.0, 1.0, 50.0], abs=1e-9)
    assert lived.failed_count.tolist() == [0.0, 1.0, 1.0]


def test_a_step_beyond_its_power_is_dark_and_the_next_is_not() -> None:
    must_kw = np.full(YEAR_OF[60].n, 0.5)
    must_kw[12] = 6.0
    b = backup(must_kw=must_kw, battery=plain_battery())
    lived = live_through(b, (hand_drawn([10, 10], [5.0, 2.25]),), 1, 1, 2)
    assert lived.dark_h == pytest.approx([1.0, 0.25], abs=1e-9)


def test_a_step_without_load_is_not_dark_for_an_empty_battery() -> None:
    must_kw = np.full(YEAR_OF[60].n, 2.0)
    must_kw[7] = 0.0
    b = backup(must_kw=must_kw, battery=plain_battery())
    lived = live_through(b, (hand_drawn([0], [10.0]),), 1, 1, 1)
    assert lived.dark_h == pytest.approx([4.0], abs=1e-9)  # 5 h served, hour 7 needs nothing


def test_who_charges_in_an_outage_is_walked() -> None:
    solar_kw = np.full(YEAR_OF[60].n, 1.0)
    assert only_falls(backup(battery=plain_battery(), solar_kw=solar_kw))
    assert not only_falls(backup(battery=plain_battery(), solar_kw=solar_kw, solar_charges=True))
    assert not only_falls(backup(battery=plain_battery(), solar_kw=solar_kw, solar_beside_set=True))
    assert not only_falls(backup(battery=plain_battery(), generator=tireless_set()))
    assert only_falls(backup(battery=plain_battery(), solar_charges=True))


@pytest.mark.parametrize("short", [True, False])
def test_by_hand_the_second_of_a_cluster_comes_after_the_gap_that_charged(
    short: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    # 9 h at 1 kW leave 1 of 10 kWh; 6.25 h at 0.5 kW make 4.125; the second begins 15.25 h on, at step
    # 25: 3 kWh go in its first hour, 1.125 in as many hours, and the rest of its 9.5 h is dark
    must_kw = np.full(YEAR_OF[60].n, 1.0)
    must_kw[25] = 3.0
    b = backup(must_kw=must_kw, battery=plain_battery())
    assert b.battery is not None
    b = replace(b, battery=replace(b.battery, charge_kw=0.5))
    (kind,) = kinds_of(fixed=FIXED)
    kind = replace(kind, followed_frac=0.5, followed_after_h=6.25)
    led = replace(hand_drawn([10, 10], [9.0, 9.5]), kind=kind, followed=np.array([True, False]))
    told = b, (led,), 1, 1, 2
    lived = live_through(*told) if short else by_the_walk(monkeypatch, *told)
    assert lived.dark_h == pytest.approx([7.375, 0.0], abs=1e-9)
    assert lived.dark_kwh == pytest.approx([7.375, 0.0], abs=1e-9)
    assert lived.event_h == pytest.approx([18.5, 9.5], abs=1e-9)
    assert lived.failed_count.tolist() == [1.0, 0.0]


@pytest.mark.parametrize("short", [True, False])
def test_by_hand_the_charge_between_a_cluster_loses_its_part(
    short: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    # 9 h at 1 kW leave 1 of 10 kWh; 6.25 h at 0.5 kW from the grid bring 3.125 kWh, of which 0.8 is stored:
    # 3.5 kWh. They carry 1 kW for 3.5 h of the second event's 9.5 h, the other 6 h are dark
    b = backup(must_kw=1.0, battery=plain_battery(charge_efficiency_frac=0.8))
    assert b.battery is not None
    b = replace(b, battery=replace(b.battery, charge_kw=0.5))
    (kind,) = kinds_of(fixed=FIXED)
    kind = replace(kind, followed_frac=0.5, followed_after_h=6.25)
    led = replace(hand_drawn([10], [9.0]), kind=kind, followed=np.array([True]))
    told = b, (led,), 1, 1, 1
    lived = live_through(*told) if short else by_the_walk(monkeypatch, *told)
    assert lived.dark_h == pytest.approx([6.0], abs=1e-9)
    assert lived.dark_kwh == pytest.approx([6.0], abs=1e-9)


@pytest.mark.parametrize("short", [True, False])
def test_by_hand_an_event_ends_inside_its_last_step(short: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    # 10 kWh carry 4 kW for 2.5 h: of 2.75 h a quarter is dark, of 2.25 h nothing, of 5.25 h 2.75 h
    b = backup(4.0, plain_battery(idle_w=0.0), tolerates_h=0.0)
    told = b, (hand_drawn([100, 300, 300], [2.75, 2.25, 5.25]),), 1, 1, 3
    lived = live_through(*told) if short else by_the_walk(monkeypatch, *told)
    assert lived.dark_h == pytest.approx([0.25, 0.0, 2.75], abs=1e-9)
    assert lived.dark_kwh == pytest.approx([1.0, 0.0, 11.0], abs=1e-9)
    assert lived.failed_count.tolist() == [1.0, 0.0, 1.0]
