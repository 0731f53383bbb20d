"""Which starts a source carries on top of what runs, and in which order it can bring a house back.

Every start is tried with everything running that may run with it, since compressors and pumps start by
themselves at any time. A source has three limits at once: its surge, and at 240 V half of it on each leg.
All figures are kW, or kVA for a set rated so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.fit.inputs import Piece, StartList
from kit.fit.sources import SeenSource

SLACK = 1e-9
EXACT_MOTORS = 10  # more motors than this are grouped one after another, not by trying every grouping
Vector = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Demand:
    """What pieces ask of one source: rows of (whole, leg 1, leg 2) while running and while starting.

    have (3,): the source's limits. served (pieces,): False where it lacks the voltage.
    """

    running: Vector
    starting: Vector
    have: Vector
    served: NDArray[np.bool_]

    @property
    def extra(self) -> Vector:
        """What a start adds to running, (pieces, 3)."""
        return self.starting - self.running

    def fits(self, asked: Vector) -> bool:
        """Whether the source bears it for a moment."""
        return bool(np.all(asked <= self.have + SLACK))


@dataclass(frozen=True)
class StartNeed:
    """One appliance starting in its worst moment.

    need, others: whole source. leg_need: the fuller leg. alone_ok: with nothing else running. soft_frac: the
    share of its starting current that may be left for it to pass, 1 where it passes as it is, None where even
    its running power does not fit.
    """

    slug: str
    start: float
    others: float
    need: float
    leg_need: float
    alone_ok: bool
    ok: bool
    served: bool
    soft_frac: float | None


def demand(source: SeenSource, listed: StartList) -> Demand:
    """The pieces as this source feels them. Legs that the house does not name hold only the start itself."""
    by_kva = source.start_unit == "kVA"
    running, starting = [], []
    for piece in listed.pieces:
        shares = np.array([1.0, *piece.leg_shares])
        known = shares if listed.legs_given else np.array([1.0, 0.0, 0.0])
        runs = (piece.running_va if by_kva else piece.running_w) / 1000.0
        starts = (piece.start_va if by_kva else piece.start_w) / 1000.0
        running.append(known * runs)
        starting.append(shares * starts)
    leg = source.start / 2.0 if source.gives_240v else np.inf
    return Demand(
        running=np.array(running).reshape(-1, 3),
        starting=np.array(starting).reshape(-1, 3),
        have=np.array([source.start, leg, leg]),
        served=np.array([p.voltage_v == 120 or source.gives_240v for p in listed.pieces], dtype=bool),
    )


def start_needs(source: SeenSource, listed: StartList) -> tuple[StartNeed, ...]:
    """Every appliance once, in the order of the list, starting on top of the most that may run with it."""
    asked = demand(source, listed)
    found = []
    for slug in dict.fromkeys(p.slug for p in listed.pieces):
        first = next(i for i, p in enumerate(listed.pieces) if p.slug == slug)
        others = [_others(asked, one, first) for one in listed.together if first in one]
        needs = [other + asked.starting[first] for other in others]
        alone_ok = bool(asked.served[first]) and asked.fits(asked.starting[first])
        found.append(
            StartNeed(
                slug=slug,
                start=float(asked.starting[first, 0]),
                others=max(float(other[0]) for other in others),
                need=max(float(need[0]) for need in needs),
                leg_need=max(float(need[1:].max()) for need in needs),
                alone_ok=alone_ok,
                ok=bool(asked.served[first]) and all(asked.fits(need) for need in needs),
                served=bool(asked.served[first]),
                soft_frac=_soft_frac(asked, first, others),
            )
        )
    return tuple(found)


def _others(asked: Demand, together: Sequence[int], first: int) -> Vector:
    """Running of all that may be on with a piece, loads the source cannot feed left out."""
    rest = [i for i in together if i != first and asked.served[i]]
    return np.asarray(asked.running[rest].sum(axis=0))


def _soft_frac(asked: Demand, first: int, others: Sequence[Vector]) -> float | None:
    """The share of the starting current that fits beside the others on the source and on each leg."""
    start, runs = asked.starting[first], asked.running[first]
    frac = 1.0
    for other in others:
        room = asked.have - other
        if np.any(room + SLACK < runs):
            return None
        limited = start > 0
        frac = min(frac, float(np.min(room[limited] / start[limited])) if limited.any() else 1.0)
    least = float(runs[0] / start[0]) if start[0] > 0 else 0.0
    return None if frac < least - SLACK else max(frac, least)


def restart_order(
    source: SeenSource, listed: StartList, together: Sequence[int]
) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
    """The pieces one after another so that each start is carried, and those that no order brings on.

    Found from the end: what can start with all others running comes last, and so on; fewer running loads
    never make a start harder, so this misses no order. Easy starts come last, hard ones first. Where none
    of the rest can come last, the one with the hardest start is left off.
    """
    asked = demand(source, listed)
    left = [i for i in together if asked.served[i]]
    stuck = [i for i in together if not asked.served[i]]
    backwards: list[int] = []
    while left:
        running = asked.running[left].sum(axis=0)
        last = [i for i in left if asked.fits(running + asked.extra[i])]
        if last:
            # equal starts keep the order of the list
            chosen = min(last, key=lambda i: (asked.extra[i, 0], -i))
            backwards.append(chosen)
        else:
            chosen = max(left, key=lambda i: (asked.extra[i, 0], asked.running[i, 0]))
            stuck.append(chosen)
        left.remove(chosen)
    return (
        tuple(listed.pieces[i] for i in reversed(backwards)),
        tuple(listed.pieces[i] for i in sorted(stuck)),
    )


def restart_groups(
    source: SeenSource, listed: StartList, together: Sequence[int]
) -> tuple[tuple[Piece, ...], ...] | None:
    """The fewest groups that may start at once, one group after another.

    Loads that start as they run are on from the beginning. None where no grouping brings
    everything on. Exact up to EXACT_MOTORS motors, by trying every grouping; above that each group
    takes the hardest starts that still fit.
    """
    asked = demand(source, listed)
    if not all(asked.served[i] for i in together):
        return None
    motors = sorted((i for i in together if asked.extra[i, 0] > SLACK), key=lambda i: -asked.extra[i, 0])
    base = asked.running[[i for i in together if i not in motors]].sum(axis=0)
    found = _fewest(asked, motors, base) if len(motors) <= EXACT_MOTORS else _greedy(asked, motors, base)
    return None if found is None else tuple(tuple(listed.pieces[i] for i in group) for group in found)


def _greedy(asked: Demand, motors: Sequence[int], base: Vector) -> list[list[int]] | None:
    left, running, groups = list(motors), base, []
    while left:
        group: list[int] = []
        for i in left:
            if asked.fits(running + asked.starting[[*group, i]].sum(axis=0)):
                group.append(i)
        if not group:
            return None
        running = running + asked.running[group].sum(axis=0)
        left = [i for i in left if i not in group]
        groups.append(group)
    return groups


def _fewest(asked: Demand, motors: Sequence[int], base: Vector) -> list[list[int]] | None:
    """Breadth first over the sets of motors that run; each step adds one group."""
    if not motors:
        return [] if asked.fits(base) else None
    count = len(motors)
    whole = (1 << count) - 1
    sums = {mask: [i for k, i in enumerate(motors) if mask >> k & 1] for mask in range(whole + 1)}
    runs = np.array([asked.running[members].sum(axis=0) for members in sums.values()])
    starts = np.array([asked.starting[members].sum(axis=0) for members in sums.values()])
    came: dict[int, int] = {0: 0}
    frontier = [0]
    while frontier and whole not in came:
        reached = []
        for mask in frontier:
            rest = whole & ~mask
            group = rest
            while group:
                after = mask | group
                if after not in came and asked.fits(base + runs[mask] + starts[group]):
                    came[after] = group
                    reached.append(after)
                group = (group - 1) & rest
        frontier = reached
    if whole not in came:
        return None
    groups, mask = [], whole
    while mask:
        groups.append(sums[came[mask]])
        mask &= ~came[mask]
    return groups[::-1]
