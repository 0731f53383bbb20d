"""Outages of other lengths from one walk: what happens in an event does not depend on when it will end.

One walk, long enough, keeps what each step of the event takes. How many events reach and end in each
step is the law's part, so any law of durations is a sum over those steps.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from kit.operate import walk as w
from kit.operate.events import EventKind
from kit.operate.outages import Backup, KindWalk, walk_kind


def long_walk(b: Backup, kind: EventKind, seed: int) -> tuple[KindWalk, ...] | None:
    """Every start of one kind walked as far as it reaches, to be read by `of_law`.

    None where the walk itself depends on the law: followers in a cluster find what the last event left.
    """
    if kind.followed_frac > 0.0 and b.battery is not None:
        return None
    return walk_kind(b, kind, seed, 0.0, by_step=True)


def of_law(walks: tuple[KindWalk, ...], b: Backup, kind: EventKind, seed: int) -> tuple[KindWalk, ...]:
    """The walks of a kind that differs from the walked one by its law; what needs its starts is left at 0.

    Raises ValueError for a kind that is longer.
    """
    if walks[0].by_step is None:  # no source at all: sums without a walk
        return walk_kind(b, kind, seed, 0.0)
    return tuple(_of_law(one, kind) for one in walks)


def _of_law(one: KindWalk, kind: EventKind) -> KindWalk:
    assert one.by_step is not None
    steps = kind.event_h.size
    if steps > one.by_step.shape[0]:
        raise ValueError(f"the kind has {steps} steps, the walk {one.by_step.shape[0]}")
    taken, early = np.hsplit(one.by_step[:steps], 2)
    there = kind.event_h / kind.step_h
    totals = there @ taken + (there * kind.fade_frac) @ early
    totals[w.DRAWN_KWH] = kind.stops_frac @ taken[:, w.DRAWN_KWH] + kind.late_frac @ early[:, w.DRAWN_KWH]
    law = replace(kind, events_per_year=one.kind.events_per_year, number=one.kind.number)
    ends_h = np.minimum(one.ends_h, steps * kind.step_h)
    none = np.zeros_like(ends_h)
    return replace(one, kind=law, ends_h=ends_h, longest_h=none, totals=totals, unserved_error_h=0.0)
