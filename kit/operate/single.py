"""Outages one at a time: a single event hour by hour, the first gap alone, the fuel a length takes."""

from __future__ import annotations

from math import gcd

import numpy as np

from kit.operate import walk as w
from kit.operate.events import EventKind, endless, luck, over_kinds, sure
from kit.operate.forewarned import warned_parts
from kit.operate.outages import Backup, option_numbers, run_walk

UNLIMITED = 1e12  # litres, where supply is not to be the limit
LONGEST_BORNE_H = 72.0  # a load that bears more is walked no farther


def one_outage(b: Backup, kind: EventKind, start: int, hours: float) -> np.ndarray:
    """Follow one event from `start`, machines working and someone there at attended hours.

    Returns (steps, TRACES), means over each step (places in kit.operate.walk).
    """
    steps = int(np.ceil(hours / b.step_h))
    starts = np.array([start])
    number = option_numbers(b, kind.resupply_delay_h, hours)
    long = endless(kind, steps)
    walked = run_walk(
        b,
        number,
        long,
        starts,
        sure(kind, starts),
        b.stored_kwh[starts],
        steps,
        np.ones(1),
        np.full(steps, b.step_h),
        steps,
    )
    return walked.trace


def first_gaps_h(
    b: Backup, kind: EventKind, seed: int, hours: float, starts: np.ndarray | None = None
) -> np.ndarray:
    """Hours until the first must-run gap beyond its tolerance, from each start, up to `hours`.

    From every step of the year (n,), or from the steps `starts` (S,) only. The latched figure
    alone: each walk stops there. Failures are drawn as in `walk_kind`.
    """
    starts = np.arange(b.must_kw.size) if starts is None else starts
    number = option_numbers(b, kind.resupply_delay_h, hours)
    number[w.LATCHED] = 1.0
    block = b.battery_block
    islands = block.fails_to_island_frac if block else 0.0
    drawn = luck(seed, kind, starts, b.reliability, islands, block.inverter_mttf_h if block else None)
    steps = round(hours / b.step_h)
    kept, weight, event_h = endless(kind, steps), np.zeros(starts.size), np.zeros(steps)
    return run_walk(b, number, kept, starts, drawn, b.stored_kwh[starts], steps, weight, event_h).ends_h


def told_by_h(b: Backup, hours: float) -> float:
    """How far to walk to tell whether `hours` are ridden through.

    A gap counts from its beginning, so the walk goes on until one that begins before `hours` is longer
    than the loads bear.
    """
    return hours + min(b.tolerates_h, LONGEST_BORNE_H) + b.step_h


def kept_on_frac(b: Backup, kinds: tuple[EventKind, ...], seed: int, hours: float) -> float:
    """Chance to ride through `hours`, as OutageYear.ride_through_frac, by the first gaps alone.

    Events that follow others in a cluster would need the whole year: they are taken as events alone.
    """
    end_h = told_by_h(b, hours)
    kept = [
        sum(
            share * float(part.start_weight[first_gaps_h(backup, part, seed, end_h) >= hours - 1e-9].sum())
            for share, part, backup in warned_parts(b, kind)
        )
        for kind in kinds
    ]
    return over_kinds(kinds, hours, kept)


def fuel_need(b: Backup, kind: EventKind, hours: tuple[float, ...]) -> np.ndarray:
    """Mean fuel (L, or m3 of pipeline gas) that outages of the given hours take, supply unlimited.

    Over a spread of about 400 starts of the kind, at every clock time of the steps, machines working.
    """
    likely = np.flatnonzero(kind.start_weight > 0)
    apart, day_steps = max(1, likely.size // 400), round(24.0 / b.step_h)
    while gcd(apart, day_steps) > 1:
        apart += 1
    starts = likely[::apart]
    weight = kind.start_weight[starts] / kind.start_weight[starts].sum()
    number = option_numbers(b, 0.0, 0.0)
    number[w.TANK] = number[w.ON_SITE] = UNLIMITED
    need = []
    for h in hours:
        steps = max(1, round(h / b.step_h))
        kept = endless(kind, steps)
        totals = run_walk(
            b,
            number,
            kept,
            starts,
            sure(kind, starts),
            b.stored_kwh[starts],
            steps,
            weight,
            np.full(steps, b.step_h),
        ).totals
        need.append(float(totals[:, w.FUEL].sum()))
    return np.array(need)
