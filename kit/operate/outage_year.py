"""What the walks of all kinds say together: the expected year and the chance to ride through."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from kit.operate import walk as w
from kit.operate.events import EventKind, event_sums, longest_kind, over_kinds_by_hour
from kit.operate.outages import Backup, KindWalk, walk_kind

NO_WEIGHT = 1e-12
EPS_H = 1e-9
GRID_H = 0.05  # steps in which a set's lifetime is integrated


@dataclass(frozen=True)
class OutageYear:
    """The outage side of one option, expected in a year, and its ride-through curve.

    `fuel` is in the set's unit (L, or m3 of pipeline gas). `drawn_kwh`: stored energy the events
    took, to be charged again. `failed_count`: events with a must-run gap beyond what the loads
    bear; `cut_count`: events that outlast the option at all. `standard_error_frac`: of the
    ride-through at the asked hours, 0 where nothing was drawn.
    """

    walks: tuple[KindWalk, ...]
    outage_h: float
    must_unserved_h: float
    must_unserved_kwh: float
    must_kwh: float
    wanted_unserved_kwh: float
    wanted_kwh: float
    set_run_h: float
    set_kwh: float
    fuel: float
    refuel_count: float
    solar_kwh: float
    drawn_kwh: float
    failed_count: float
    cut_count: float
    longest_unserved_h: float
    hard_h: float

    def ride_through_frac(self, hours: float) -> float:
        """Chance that no gap longer than the must-run loads bear begins within `hours`.

        Over starts weighted by the events that last at least that long, and over failure. Where no
        event of the record lasts that long, all starts count by how often events begin there; where
        the record has no events, its kinds count alike.
        """
        return float(self.ride_through_curve(np.array([hours], dtype=np.float64))[0])

    def ride_through_curve(self, hours: np.ndarray) -> np.ndarray:
        """`ride_through_frac` at many hours (H,)."""
        kept = [_kept_frac(one, hours) for one in self.walks]
        return over_kinds_by_hour([one.kind for one in self.walks], hours, kept)

    @property
    def unserved_error_h(self) -> float:
        """Standard error of must_unserved_h, about, from the draws (one per start); 0 without any."""
        each = [one.kind.events_per_year * one.unserved_error_h for one in self.walks]
        return float(np.sqrt(np.sum(np.square(each))))

    def standard_error_frac(self, hours: float) -> float:
        """Standard error of that chance from the draws (one per start); 0 where the formula serves."""
        variance, bottom = 0.0, 0.0
        for one in self.walks:
            share = one.kind.events_per_year * float(np.asarray(one.kind.law.lasts_frac(hours)))
            bottom += share
            if one.survives is None:
                weight = one.weight
                kept = float(_kept_frac(one, np.array([hours]))[0])
                spread = max(kept * (1.0 - kept), 0.0)  # weights may add to a hair above 1, and so may `kept`
                variance += share**2 * float((weight**2).sum()) * spread
        return float(np.sqrt(variance) / bottom) if bottom > NO_WEIGHT else 0.0


def _kept_frac(one: KindWalk, hours: np.ndarray) -> np.ndarray:
    """Share of one kind's starts (by weight) still on at `hours` (H,), failure included."""
    ends_h, kept_frac = one.kept_from
    kept = kept_frac[np.searchsorted(ends_h, hours - 1e-9)]
    if one.survives is not None:
        start_frac, mttf_h = one.survives
        kept = kept * start_frac * np.exp(-hours / mttf_h)
    return np.asarray(kept)


def after_gap(one: KindWalk, tail: Callable[[np.ndarray], np.ndarray]) -> float:
    """Mean over starts of `tail` at the moment at which the walk's first gap begins; 0 where none does.

    tail(hours): what follows, in the mean over events, once the loads are lost `hours` after the start.
    A set that runs once may also die before its fuel does: its lifetime is integrated over the event.
    """
    walked_h = one.kind.event_h.size * one.kind.step_h
    ends_h, place = one.distinct_ends_h
    outlasts = np.where(ends_h < walked_h - EPS_H, tail(ends_h), 0.0)[place]
    if one.survives is None:
        return float(one.weight @ outlasts)
    start_frac, mttf_h = one.survives
    hours = np.linspace(0.0, walked_h, 1 + round(walked_h / GRID_H))
    dies = np.exp(-hours / mttf_h) / mttf_h * tail(hours)
    died = np.concatenate([[0.0], np.cumsum(0.5 * (dies[1:] + dies[:-1]) * np.diff(hours))])
    runs = np.interp(one.ends_h, hours, died) + np.exp(-one.ends_h / mttf_h) * outlasts
    never = float(tail(np.array([0.0]))[0])
    return (1.0 - start_frac) * never + start_frac * float(one.weight @ runs)


def _failed_frac(one: KindWalk, borne_h: float) -> float:
    """Chance that one event of the kind outlasts the option by more than the loads bear.

    A gap that begins at ends_h is felt by events longer than ends_h + borne_h.
    """
    return after_gap(one, lambda hours: outlasts_frac(one, hours + borne_h))


def outlasts_frac(one: KindWalk, hours: np.ndarray) -> np.ndarray:
    """Chance that an event of the kind lasts longer than each of the hours."""
    return np.asarray(one.kind.law.lasts_frac(hours + EPS_H), dtype=np.float64)


def hard_event_h(kinds: tuple[EventKind, ...], horizon_h: float) -> float:
    """The length that one event in twenty of the longest kind exceeds, in whole hours."""
    longest = longest_kind(kinds)
    hours = np.arange(1.0, np.ceil(horizon_h) + 1.0)
    lasts = np.asarray(longest.law.lasts_frac(hours), dtype=np.float64)
    beyond = np.flatnonzero(lasts <= 0.05)
    return float(hours[beyond[0]]) if beyond.size else float(horizon_h)


def outage_year(b: Backup, kinds: tuple[EventKind, ...], seed: int, horizon_h: float) -> OutageYear:
    """Walk every start of every kind and add up a year: sums per event times events per year."""
    hard_h = hard_event_h(kinds, horizon_h)
    walks = tuple(one for kind in kinds for one in walk_kind(b, kind, seed, hard_h))
    year = sum((one.kind.events_per_year * one.totals for one in walks), start=np.zeros(w.TOTALS))
    longest = max(walks, key=lambda one: one.kind.mean_h)
    return OutageYear(
        walks=walks,
        outage_h=float(year[w.EVENT_H]),
        must_unserved_h=float(year[w.MUST_OUT_H]),
        must_unserved_kwh=float(year[w.MUST_OUT_KWH]),
        must_kwh=float(year[w.MUST_KWH]),
        wanted_unserved_kwh=float(year[w.WANTED_OUT_KWH]),
        wanted_kwh=sum(one.kind.events_per_year * _wanted_kwh(b, one) for one in walks),
        set_run_h=float(year[w.SET_RUN_H]),
        set_kwh=float(year[w.SET_KWH]),
        fuel=float(year[w.FUEL]),
        refuel_count=float(year[w.REFUELS]),
        solar_kwh=float(year[w.SOLAR_KWH]),
        drawn_kwh=float(year[w.DRAWN_KWH]),
        failed_count=sum(one.kind.events_per_year * _failed_frac(one, b.tolerates_h) for one in walks),
        cut_count=sum(one.kind.events_per_year * _failed_frac(one, 0.0) for one in walks),
        longest_unserved_h=_upper(longest),
        hard_h=hard_h,
    )


def _wanted_kwh(b: Backup, one: KindWalk) -> float:
    """Wanted energy that the option's circuits ask for in one event of the kind, kWh."""
    return float(one.weight @ event_sums(b.wanted_kw, one.kind.event_h)[one.starts])


def _upper(one: KindWalk) -> float:
    """The longest must-run gap that 95 in 100 starts stay within, h."""
    order = np.argsort(one.longest_h)
    share = np.cumsum(one.weight[order])
    place = min(int(np.searchsorted(share, 0.95)), order.size - 1)
    return float(one.longest_h[order[place]])
