"""Whole stays of outages, drawn thousands of times: how dark could it get, and how likely is never?

A lifetime is a compound Poisson process: each kind of event comes at its own rate, starts where
its weights say, and lasts as its law says; a share of events is followed by another. All options
live through the same lifetimes. A draw depends on (lifetime, event, purpose) alone, not on order.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any

import numpy as np

from kit.operate import alone
from kit.operate import walk as w
from kit.operate.drawing import MOST_EVENTS, draw
from kit.operate.events import EventKind, endless, luck, waits_h
from kit.operate.keyed import uniform, word
from kit.operate.outages import FOLLOWERS, WRITABLE, Backup, option_numbers, run_walk

ATTEMPTS, LIVES = 4, 2
FOREVER_H = 1e12
PIECE = 1 << 13  # events whose hours are computed at a time, to stay in the processor's cache
ALONE = (  # the walk's numbers that a battery alone has, in the order of `kit.operate.alone`
    *(w.STEP_H, w.FULL_KWH, w.FLOOR_KWH, w.WANTED_KWH),
    *(w.BATTERY_KW, w.DISCHARGE_EFF, w.IDLE_KW, w.TOLERATES_H),
)
DRAWN = ("event_year", "event_start", "event_lasts")  # purposes, in the order of the compiled loop


@dataclass(frozen=True)
class DrawnEvents:
    """Events of one kind over all lifetimes, those of a lifetime together, in order; arrays (E,).

    counts (L,): events of each lifetime. year: 0 .. years - 1. start: step of the year. lasts_h: capped
    at the record's horizon. followed: whether a second event comes after it. forewarned: whether it was
    forecast. led_by: for events that follow others, the keys of these.
    """

    kind: EventKind
    counts: np.ndarray
    year: np.ndarray
    start: np.ndarray
    lasts_h: np.ndarray
    followed: np.ndarray
    forewarned: np.ndarray
    led_by: np.ndarray | None = None

    @cached_property
    def lifetime(self) -> np.ndarray:
        """Whose each event is (E,)."""
        return np.repeat(np.arange(self.counts.size), self.counts)

    @cached_property
    def key(self) -> np.ndarray:
        """Of the draws of each event (E,): the lifetime and the place in it."""
        if self.led_by is not None:
            return self.led_by
        place = np.arange(self.start.size) - np.repeat(np.cumsum(self.counts) - self.counts, self.counts)
        return self.lifetime * MOST_EVENTS + place


@dataclass(frozen=True)
class Lived:
    """What each lifetime (L,) met under one option: hours and kWh dark, outages beyond tolerance.

    dark_h_by_year: (L, years), for money of each year. event_h: hours of outage, option or not.
    """

    dark_h_by_year: np.ndarray
    dark_kwh: np.ndarray
    failed_count: np.ndarray
    event_h: np.ndarray

    @property
    def dark_h(self) -> np.ndarray:
        """Must-run hours without power in each lifetime (L,)."""
        return np.asarray(self.dark_h_by_year.sum(axis=1))


def draw_events(
    seed: int, kinds: tuple[EventKind, ...], years: int, lifetimes: int
) -> tuple[DrawnEvents, ...]:
    """Draw every event of every lifetime, for all options."""
    drawn = []
    for kind in kinds:
        leading = kind.events_per_year / (1.0 + kind.followed_frac)
        counts = _poisson(leading * years, uniform(seed, "event_count", kind.number, np.arange(lifetimes)))
        size = int(counts.sum())
        year, start, lasts = np.empty(size, np.int16), np.empty(size, np.int32), np.empty(size)
        words = (np.uint64(word(seed, purpose, kind.number)) for purpose in DRAWN)
        told: tuple[Any, ...] = (counts, *words, years, np.cumsum(kind.start_weight), year, start, lasts)
        with np.errstate(over="ignore"):  # for plain Python; compiled words wrap anyway
            draw(*told)
        for begin in range(0, size, PIECE):
            piece = lasts[begin : begin + PIECE]  # shares of the law, and in their place the hours
            piece[:] = kind.law.hours_at(piece)
        never = np.zeros(size, dtype=bool)
        events = DrawnEvents(kind, counts, year, start, lasts, followed=never, forewarned=never)
        if kind.followed_frac > 0.0:
            chosen = uniform(seed, "followed", kind.number, events.key) < kind.followed_frac
            events = replace(events, followed=chosen)
        if kind.forewarned_frac > 0.0:
            chosen = uniform(seed, "forewarned", kind.number, events.key) < kind.forewarned_frac
            events = replace(events, forewarned=chosen)
        drawn.append(events)
    return tuple(drawn)


def _poisson(mean: float, draws: np.ndarray) -> np.ndarray:
    """Poisson counts by inverting the distribution at uniform draws."""
    from scipy.special import pdtr  # the distribution function; scipy.stats takes a second to import

    most = int(np.ceil(mean + 12.0 * np.sqrt(mean) + 30.0))  # beyond it no double tells the tail from 0
    table = pdtr(np.arange(most + 1), mean) if mean > 0 else np.ones(1)
    return np.searchsorted(table, draws, side="right")


def live_through(b: Backup, drawn: tuple[DrawnEvents, ...], seed: int, years: int, lifetimes: int) -> Lived:
    """Walk every drawn event of every lifetime with one option's machines.

    Where nothing charges in an outage (no generator, no solar that serves then) by the short loop of
    `kit.operate.alone`, else by the walk that every start of the year takes.
    """
    # np.full, not np.zeros: the sums' memory is touched once and in order, not where events happen to fall
    lived = Lived(np.full((lifetimes, years), 0.0), *np.full((3, lifetimes), 0.0))
    add = partial(_live_alone, _falls(b, drawn)) if only_falls(b) else _walk_events
    for events in drawn:
        begins_kwh = None
        if events.kind.number in b.forewarned_kwh:
            raised_kwh = b.forewarned_kwh[events.kind.number][events.start]
            begins_kwh = np.where(events.forewarned, raised_kwh, b.stored_kwh[events.start])
        left_kwh = add(b, events, seed, begins_kwh, lived)
        if events.kind.followed_frac > 0.0 and events.followed.any():
            after = _followers(events, b.must_kw.size, seed)
            back_h = events.kind.between_h(seed, events.key[events.followed])
            charge = b.battery.charge_kw * b.battery.charge_efficiency_frac if b.battery else 0.0
            refilled = left_kwh[events.followed] + charge * back_h
            add(b, after, seed, np.minimum(b.stored_kwh[after.start], refilled), lived)
    return lived


def only_falls(b: Backup) -> bool:
    """Whether nothing charges in an outage: no generator, and no solar that serves then."""
    lit = (b.solar_charges or b.solar_beside_set) and bool(np.any(b.solar_kw))
    return b.generator is None and not lit


def _followers(events: DrawnEvents, n: int, seed: int) -> DrawnEvents:
    """The second events of clusters, each after its leader and the hours with power in between."""
    those = events.followed
    kind = replace(events.kind, number=events.kind.number + FOLLOWERS)
    key, never = events.key[those], np.zeros(np.count_nonzero(those), dtype=bool)
    lasts_h = kind.law.hours_at(uniform(seed, "event_lasts", kind.number, key))
    between_h = events.kind.between_h(seed, key)
    ahead = np.round((events.lasts_h[those] + between_h) / kind.step_h).astype(np.int64)
    start = ((events.start[those] + ahead) % n).astype(np.int32)
    counts = np.bincount(events.lifetime[those], minlength=events.counts.size)
    return DrawnEvents(kind, counts, events.year[those], start, lasts_h, never, never, led_by=key)


def _falls(b: Backup, drawn: tuple[DrawnEvents, ...]) -> tuple[np.ndarray, ...]:
    """What `kit.operate.alone` reads of the option: numbers, loads, fall of the charge, running sums."""
    number = option_numbers(b, 0.0, 0.0)
    must_kw = np.require(b.must_kw, np.float64, WRITABLE)
    strong = must_kw <= number[w.BATTERY_KW] + alone.EPS
    wanted_kw = np.where(strong, np.minimum(b.wanted_kw, number[w.BATTERY_KW] - must_kw), 0.0)
    if not wanted_kw.any():
        number[w.WANTED_KWH] = np.inf  # nothing changes at that level
    net_kw = [kw + number[w.IDLE_KW] for kw in (must_kw, must_kw + wanted_kw)]
    change_kwh = [np.where(strong, -kw / number[w.DISCHARGE_EFF] * b.step_h, -np.inf) for kw in net_kw]
    falls_kwh = [np.maximum(kwh, -number[w.FULL_KWH] - 1.0) for kwh in change_kwh]
    longest_h = max((events.kind.law.horizon_h for events in drawn), default=0.0)
    steps = np.arange(must_kw.size + int(np.ceil(longest_h / b.step_h))) % must_kw.size
    reach = np.zeros((steps.size + 1, 4))
    each = (*falls_kwh, (must_kw > 0.0) * b.step_h, must_kw * b.step_h)
    np.cumsum(np.column_stack(each)[steps], axis=0, out=reach[1:])
    return number[list(ALONE)], must_kw, wanted_kw, np.array(change_kwh), reach


def _live_alone(
    falls: tuple[np.ndarray, ...],
    b: Backup,
    events: DrawnEvents,
    seed: int,
    stored_kwh: np.ndarray | None,
    lived: Lived,
) -> np.ndarray:
    """Add what a battery alone, or no source, meets in the events; charge left (E,) where one is followed.

    stored_kwh (E,): at their begin; None: that of any day.
    """
    left_kwh = np.empty(events.start.size)
    told: tuple[Any, ...] = (
        *falls,
        events.counts,
        events.year,
        events.start,
        events.lasts_h,
        events.followed if events.kind.followed_frac > 0.0 else events.followed[:0],
        stored_kwh is None,
        np.require(b.stored_kwh if stored_kwh is None else stored_kwh, np.float64, WRITABLE),
        *_serves(b, events, seed),
        lived.dark_h_by_year,
        lived.dark_kwh,
        lived.failed_count,
        lived.event_h,
        left_kwh,
    )
    alone.live(*told)
    return left_kwh


def _serves(b: Backup, events: DrawnEvents, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Hours until the battery serves, and of its service until it fails: (E,), or (1,) for all alike."""
    block, gap = b.battery_block, b.battery_gap
    if b.battery is None or gap is None:
        return np.array([np.inf]), np.array([0.0])
    ready_h, serves_h = np.array([gap.gap_s / 3600.0]), np.array([FOREVER_H])
    fails = block is not None and (block.fails_to_island_frac > 0.0 or block.inverter_mttf_h is not None)
    if not fails and not gap.needs_person:
        return ready_h, serves_h
    islands, mttf_h = (block.fails_to_island_frac, block.inverter_mttf_h) if block else (0.0, None)
    fate = luck(seed, events.kind, events.key, None, islands, mttf_h)
    if gap.needs_person:
        wait_h = waits_h(b.attended, b.step_h, events.start, fate.moment_frac)
        ready_h = np.where(fate.someone, wait_h + gap.gap_s / 3600.0, np.inf)
    return ready_h, np.where(fate.islands, fate.inverter_life_h, 0.0)


def _walk_events(
    b: Backup, events: DrawnEvents, seed: int, stored_kwh: np.ndarray | None, lived: Lived
) -> np.ndarray:
    """Add what any option meets in the events, by the walk; charge left at the end of each (E,).

    stored_kwh (E,): at their begin; None: that of any day.
    """
    kind, block = events.kind, b.battery_block
    islands = block.fails_to_island_frac if block else 0.0
    mttf_h = block.inverter_mttf_h if block else None
    fate = luck(seed, kind, events.key, b.reliability, islands, mttf_h, ATTEMPTS, LIVES)
    steps = max(1, int(np.ceil(events.lasts_h.max(initial=0.0) / b.step_h)))
    last = np.maximum(np.ceil(events.lasts_h / b.step_h).astype(np.int64) - 1, 0)
    made = run_walk(
        b,
        option_numbers(b, kind.resupply_delay_h, 0.0),
        endless(kind, steps),
        events.start,
        fate,
        b.stored_kwh[events.start] if stored_kwh is None else stored_kwh,
        steps,
        np.ones(events.start.size),
        np.full(steps, b.step_h),
        mark_step=last,
        lasts_h=events.lasts_h,
    )
    whose, years = events.lifetime, lived.dark_h_by_year.shape[1]
    beyond = made.ends_h + b.tolerates_h < events.lasts_h - 1e-9
    for sums, of, each in (
        (lived.dark_h_by_year.reshape(-1), whose * years + events.year, made.totals[:, w.MUST_OUT_H]),
        (lived.dark_kwh, whose, made.totals[:, w.MUST_OUT_KWH]),
        (lived.event_h, whose, events.lasts_h),
        (lived.failed_count, whose, beyond),
    ):
        sums += np.bincount(of, weights=each, minlength=sums.size)
    return made.left_kwh
