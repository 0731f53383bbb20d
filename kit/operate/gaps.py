"""How long must-run loads stay without power on end: events a year, and hours between two lengths.

An event leaves a gap of at least g where it outlasts the first gap of that length on the option's
path: the walk finds where that gap begins, the law says how likely the event still lasts g hours on.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from kit.operate import walk as w
from kit.operate.events import endless, luck
from kit.operate.outage_year import after_gap, outlasts_frac
from kit.operate.outages import Backup, KindWalk, option_numbers, run_walk


class Gaps:
    """The gaps of one option's outages. Walks are kept: one a kind and length of gap."""

    def __init__(self, b: Backup, walks: tuple[KindWalk, ...], seed: int) -> None:
        self._b, self._walks, self._seed = b, walks, seed
        self._known: dict[float, tuple[KindWalk, ...]] = {}

    def events_per_year(self, at_least_h: float, in_step: np.ndarray | None = None) -> float:
        """Events a year with a gap of at least so many hours on end [1/year].

        in_step (n,): the steps of the year in which events that count begin; all where absent.
        """

        def tail(one: KindWalk) -> Callable[[np.ndarray], np.ndarray]:
            return lambda hours: outlasts_frac(one, hours + at_least_h)

        return sum(
            one.kind.events_per_year * _among(one, in_step, tail(one)) for one in self._from(at_least_h)
        )

    def hours_per_year(self, from_h: float, to_h: float) -> float:
        """Hours a year that the longest gaps of events spend between two lengths: E[min(G, to) - from]+.

        Exact where a gap of `from_h` goes on to `to_h` unless the grid returns; where power comes and
        goes, the mean of the two bounds that the beginnings of both gaps give (the upper one where to_h
        is infinite).
        """

        def within(one: KindWalk) -> Callable[[np.ndarray], np.ndarray]:
            law = one.kind.law
            return lambda hours: law.mean_within_h(hours + to_h) - law.mean_within_h(hours + from_h)

        bounds = [self._from(from_h)] if np.isinf(to_h) else [self._from(from_h), self._from(to_h)]
        return sum(
            one.kind.events_per_year * after_gap(one, within(one)) for walks in bounds for one in walks
        ) / len(bounds)

    def _from(self, gap_h: float) -> tuple[KindWalk, ...]:
        """The walks with ends_h where the first gap longer than gap_h begins."""
        if gap_h not in self._known:
            self._known[gap_h] = tuple(self._walked(one, gap_h) for one in self._walks)
        return self._known[gap_h]

    def _walked(self, one: KindWalk, gap_h: float) -> KindWalk:
        b = self._b
        if one.stored_kwh is None:  # no source: dark from the start
            return one
        number = option_numbers(b, one.kind.resupply_delay_h, 0.0)
        number[w.LATCHED], number[w.TOLERATES_H] = 1.0, gap_h
        block = b.battery_block
        islands = block.fails_to_island_frac if block else 0.0
        sure = one.survives is not None  # failures of a single run are in the formula
        drawn = luck(
            self._seed,
            one.kind,
            one.starts,
            None if sure else b.reliability,
            islands,
            block.inverter_mttf_h if block else None,
        )
        steps = one.kind.event_h.size + int(np.ceil(gap_h / b.step_h))  # a gap may end beyond the walk
        none, kind = np.zeros(one.starts.size), endless(one.kind, steps)
        made = run_walk(b, number, kind, one.starts, drawn, one.stored_kwh, steps, none, np.zeros(steps))
        return replace(one, ends_h=made.ends_h)


def _among(one: KindWalk, in_step: np.ndarray | None, tail: Callable[[np.ndarray], np.ndarray]) -> float:
    """The chance over the starts that count, as a share of all."""
    if in_step is None:
        return after_gap(one, tail)
    weight = one.weight * in_step[one.starts]
    counted = float(weight.sum())
    return counted * after_gap(replace(one, weight=weight / counted), tail) if counted > 0.0 else 0.0
