"""Whole stays of outages, drawn thousands of times: how dark could it get, and how likely is never?

A lifetime is a compound Poisson process: each kind of event comes at its own rate, starts where
its weights say, and lasts as its law says; a share of events is followed by another. All options
live through the same lifetimes. A draw depends on (lifetime, event, purpose) alone, not on order.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from kit.operate import walk as w
from kit.operate.events import EventKind, luck
from kit.operate.keyed import uniform
from kit.operate.outages import FOLLOWERS, Backup, option_numbers, run_walk

MOST_EVENTS = 1 << 20  # of one kind in one lifetime: the key of an event is lifetime x MOST_EVENTS + number
ATTEMPTS, LIVES = 4, 2
GUIDES = 1 << 15  # shares of [0, 1) for which the first start is kept


@dataclass(frozen=True)
class DrawnEvents:
    """Events of one kind over all lifetimes; arrays (E,), one entry an event.

    lifetime: whose. key: of its draws. year: 0 .. years - 1. start: step of the year. lasts_h:
    capped at the record's horizon. followed: whether a second event comes after it. forewarned:
    whether it was forecast.
    """

    kind: EventKind
    lifetime: np.ndarray
    key: np.ndarray
    year: np.ndarray
    start: np.ndarray
    lasts_h: np.ndarray
    followed: np.ndarray
    forewarned: np.ndarray


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
        lifetime = np.repeat(np.arange(lifetimes), counts)
        place = np.arange(lifetime.size) - np.repeat(np.cumsum(counts) - counts, counts)
        key = lifetime * MOST_EVENTS + place
        drawn.append(
            DrawnEvents(
                kind=kind,
                lifetime=lifetime,
                key=key,
                year=(uniform(seed, "event_year", kind.number, key) * years).astype(np.int64),
                start=_starts(kind.start_weight, uniform(seed, "event_start", kind.number, key)),
                lasts_h=kind.law.hours_at(uniform(seed, "event_lasts", kind.number, key)),
                followed=uniform(seed, "followed", kind.number, key) < kind.followed_frac,
                forewarned=uniform(seed, "forewarned", kind.number, key) < kind.forewarned_frac,
            )
        )
    return tuple(drawn)


def _starts(weight: np.ndarray, draws: np.ndarray) -> np.ndarray:
    """Start steps by inverting their weights (n,) at uniform draws.

    The search for a draw begins where that for the draws of its share of [0, 1) does: a table of a power
    of two of shares, so that no rounding puts a draw below its own, and then step by step.
    """
    reach = np.cumsum(weight)
    first = np.searchsorted(reach, np.arange(GUIDES) / GUIDES * reach[-1], side="right")
    place = first[(draws * GUIDES).astype(np.int64)]
    draws = draws * reach[-1]
    behind = np.flatnonzero(reach[place] <= draws)
    while behind.size:
        place[behind] += 1
        behind = behind[place[behind] < reach.size - 1]
        behind = behind[reach[place[behind]] <= draws[behind]]
    return np.minimum(place, reach.size - 1)


def _poisson(mean: float, draws: np.ndarray) -> np.ndarray:
    """Poisson counts by inverting the distribution at uniform draws."""
    from scipy.special import pdtr  # the distribution function; scipy.stats takes a second to import

    most = int(np.ceil(mean + 12.0 * np.sqrt(mean) + 30.0))  # beyond it no double tells the tail from 0
    table = pdtr(np.arange(most + 1), mean) if mean > 0 else np.ones(1)
    return np.searchsorted(table, draws, side="right")


def live_through(b: Backup, drawn: tuple[DrawnEvents, ...], seed: int, years: int, lifetimes: int) -> Lived:
    """Walk every drawn event of every lifetime with one option's machines."""
    dark_h = np.zeros(lifetimes * years)
    dark_kwh, failed, event_h = np.zeros(lifetimes), np.zeros(lifetimes), np.zeros(lifetimes)

    def add(events: DrawnEvents, stored_kwh: np.ndarray) -> np.ndarray:
        ends_h, left_kwh, totals = _walk_events(b, events, seed, stored_kwh)
        place, whose = events.lifetime * years + events.year, events.lifetime
        beyond = ends_h + b.tolerates_h < events.lasts_h - 1e-9
        for sums, of, each in (
            (dark_h, place, totals[:, w.MUST_OUT_H]),
            (dark_kwh, whose, totals[:, w.MUST_OUT_KWH]),
            (event_h, whose, events.lasts_h),
            (failed, whose, beyond),
        ):
            sums += np.bincount(of, weights=each, minlength=sums.size)
        return left_kwh

    for events in drawn:
        begins_kwh = b.stored_kwh[events.start]
        if events.kind.number in b.forewarned_kwh:
            raised_kwh = b.forewarned_kwh[events.kind.number][events.start]
            begins_kwh = np.where(events.forewarned, raised_kwh, begins_kwh)
        left_kwh = add(events, begins_kwh)
        if events.followed.any():
            after = _followers(events, b.must_kw.size, seed)
            back_h = events.kind.between_h(seed, events.key[events.followed])
            charge = b.battery.charge_kw * b.battery.charge_efficiency_frac if b.battery else 0.0
            refilled = left_kwh[events.followed] + charge * back_h
            add(after, np.minimum(b.stored_kwh[after.start], refilled))
    return Lived(dark_h.reshape(lifetimes, years), dark_kwh, failed, event_h)


def _followers(events: DrawnEvents, n: int, seed: int) -> DrawnEvents:
    """The second events of clusters, each after its leader and the hours with power in between."""
    those = events.followed
    kind = replace(events.kind, number=events.kind.number + FOLLOWERS)
    key = events.key[those]
    between_h = events.kind.between_h(seed, key)
    ahead = np.round((events.lasts_h[those] + between_h) / kind.step_h).astype(np.int64)
    return DrawnEvents(
        kind=kind,
        lifetime=events.lifetime[those],
        key=key,
        year=events.year[those],
        start=(events.start[those] + ahead) % n,
        lasts_h=kind.law.hours_at(uniform(seed, "event_lasts", kind.number, key)),
        followed=np.zeros(key.size, dtype=bool),
        forewarned=np.zeros(key.size, dtype=bool),
    )


def _walk_events(
    b: Backup, events: DrawnEvents, seed: int, stored_kwh: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Moments of the first gap (E,), charge left at the end (E,), sums of each event (E, TOTALS)."""
    kind, block = events.kind, b.battery_block
    islands = block.fails_to_island_frac if block else 0.0
    mttf_h = block.inverter_mttf_h if block else None
    fate = luck(seed, kind, events.key, b.reliability, islands, mttf_h, ATTEMPTS, LIVES)
    steps = max(1, int(np.ceil(events.lasts_h.max(initial=0.0) / b.step_h)))
    extra = max(0, steps - kind.day_frac.size)
    day = np.concatenate([kind.day_frac, np.full(extra, kind.day_frac[-1])])
    long = replace(kind, day_frac=day, stops_frac=np.zeros(steps))
    last = np.maximum(np.ceil(events.lasts_h / b.step_h).astype(np.int64) - 1, 0)
    made = run_walk(
        b,
        option_numbers(b, kind.resupply_delay_h, 0.0),
        long,
        events.start,
        fate,
        stored_kwh,
        steps,
        np.ones(events.start.size),
        np.full(steps, b.step_h),
        mark_step=last,
        lasts_h=events.lasts_h,
    )
    return made.ends_h, made.left_kwh, made.totals
