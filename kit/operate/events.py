"""Outage events as the walk meets them: where they start, how long they last, what fails with them.

Every start step of the year is one event of each kind. Its attributes (someone at home, pipeline
gas) and the machines' failures are drawn once, keyed by kind and start, for all options alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from kit.calendar import Year
from kit.grid.known import known_classes
from kit.grid.outage_log import OutageDataError
from kit.grid.outages import DurationLaw, start_weights
from kit.operate.keyed import exponential_h, uniform
from kit.study.outage_models import OutageClass, OutageRecord
from kit.systems.reliability import Reliability

ATTEMPTS = 16  # drawn start attempts of one event; the draws repeat after that
LIVES = 4  # drawn run-hour lives of one event
TAIL_FRAC = 1e-3  # share of outage hours beyond the walk
SHARE_FRAC = 1e-4  # of the events that last so long
NO_EVENTS = 1e-12
NEVER_H = np.inf


@dataclass(frozen=True)
class EventKind:
    """One kind of outage on the steps of the study year.

    start_weight (n,) sums to 1. event_h (K,): expected event hours inside each step since the
    start; stops_frac (K,): share of events that end in it; day_frac (K,): share of solar there.
    """

    slug: str
    number: int
    step_h: float
    events_per_year: float
    law: DurationLaw
    start_weight: np.ndarray
    event_h: np.ndarray
    stops_frac: np.ndarray
    day_frac: np.ndarray
    gas_out_frac: float
    attended_frac: float
    resupply_delay_h: float
    followed_frac: float = 0.0
    followed_after_h: float = 12.0
    followed_within_h: float | None = None
    forewarned_frac: float = 0.0
    forewarned_h: float = 0.0
    false_alarms_per_event: float = 0.0

    @property
    def mean_h(self) -> float:
        """Mean duration as capped at the horizon, h."""
        return float(self.law.mean_h)

    @cached_property
    def fade_frac(self) -> np.ndarray:
        """How much fewer events there are late in each step than early, over their mean in it (K,).

        The slope of a straight line: their fall over the step where they end evenly, none where all end at
        its begin or its end, and no more than brings them to none at its end.
        """
        place = self.late_frac / np.maximum(1e-300, self.stops_frac)
        fall = self.stops_frac * self.step_h / np.maximum(1e-300, self.event_h)
        return np.minimum(2.0, fall * 4.0 * place * (1.0 - place))

    @cached_property
    def late_frac(self) -> np.ndarray:
        """Share of events that end in each step, times how far into it, by the hours they last there (K,)."""
        reach_end = 1.0 - np.cumsum(self.stops_frac)
        return np.clip(self.event_h / self.step_h - reach_end, 0.0, self.stops_frac)

    def between_h(self, seed: int, keys: np.ndarray) -> np.ndarray:
        """Hours with power between an event and the one that follows it, drawn a key (S,)."""
        first = np.full(keys.size, self.followed_after_h)
        if self.followed_within_h is None:
            return first
        spread_h = self.followed_within_h - self.followed_after_h
        return np.asarray(first + spread_h * uniform(seed, "between", self.number, keys))


def event_kinds(
    record: OutageRecord, year: Year, reach_h: float, temperature_c: np.ndarray | None = None
) -> tuple[EventKind, ...]:
    """The record's kinds, each walked until what lies beyond matters no more.

    A kind is walked until fewer than 1 in 1,000 of its outage hours lie beyond, and while it is
    still more than 1 in 10,000 of the events that last so long, up to `reach_h`. The hours beyond
    count in the last step, so the outage hours of a year stay rate x mean. temperature_c (n,):
    for classes that start only in cold hours.
    """
    classes = known_classes(record)
    laws = {slug: DurationLaw(block.duration, record.horizon_h) for slug, block in classes.items()}
    hours = np.arange(0.0, np.ceil(reach_h) + 1.0)
    lasting = {
        slug: classes[slug].events_per_year * np.asarray(law.lasts_frac(hours)) for slug, law in laws.items()
    }
    all_lasting = np.sum(list(lasting.values()), axis=0)
    kinds = []
    for number, (slug, block) in enumerate(classes.items()):
        law = laws[slug]
        counts = np.flatnonzero(lasting[slug] > np.maximum(SHARE_FRAC * all_lasting, NO_EVENTS))
        walked_h = hours[counts[-1]] if counts.size else 0.0
        if all_lasting[-1] <= NO_EVENTS:
            walked_h = reach_h  # no event lasts as long as was asked: every kind answers for it
        event_h = np.asarray(law.step_hours(year.step_h), dtype=np.float64)
        beyond_h = event_h.sum() - np.cumsum(event_h)
        steps = 1 + int(np.argmax(beyond_h <= TAIL_FRAC * event_h.sum()))
        steps = max(steps, int(np.ceil(walked_h / year.step_h - 1e-9)))
        by_day = np.asarray(block.solar_frac_by_day, dtype=np.float64)
        day = (np.arange(steps) * year.step_h / 24.0).astype(int)
        edges = np.arange(event_h.size + 1) * year.step_h
        lasts = np.concatenate([[1.0], np.asarray(law.lasts_frac(edges[1:-1]), dtype=np.float64), [0.0]])
        kinds.append(
            EventKind(
                slug=slug,
                number=number,
                step_h=year.step_h,
                events_per_year=block.events_per_year,
                law=law,
                start_weight=_start_weight(slug, block, year, temperature_c),
                event_h=_shortened(event_h, steps),
                stops_frac=_shortened(-np.diff(lasts), steps),
                day_frac=by_day[np.minimum(day, by_day.size - 1)],
                gas_out_frac=block.gas_out_frac,
                attended_frac=block.attended_frac,
                resupply_delay_h=block.resupply_delay_h,
                followed_frac=block.followed_frac,
                followed_after_h=block.followed_after_h,
                followed_within_h=block.followed_within_h,
                forewarned_frac=block.forewarned_frac,
                forewarned_h=block.forewarned_h,
                false_alarms_per_event=block.false_alarms_per_event,
            )
        )
    return tuple(kinds)


def _start_weight(slug: str, block: OutageClass, year: Year, temperature_c: np.ndarray | None) -> np.ndarray:
    """Chance of each start (n,); the class is named where its weights leave none."""
    try:
        return np.asarray(start_weights(block, year, temperature_c), dtype=np.float64)
    except ValueError as error:
        raise OutageDataError(f"outages.classes.{slug}", str(error)) from None


def _shortened(by_step: np.ndarray, steps: int) -> np.ndarray:
    """The first `steps`, padded with zeros; what lies beyond is added to the last."""
    made = np.zeros(steps)
    kept = min(steps, by_step.size)
    made[:kept] = by_step[:kept]
    made[kept - 1] += by_step[kept:].sum()
    return made


def endless(kind: EventKind, steps: int) -> EventKind:
    """The kind, long enough for `steps`, of which none ends an event."""
    day = np.full(max(steps, kind.day_frac.size), kind.day_frac[-1])
    day[: kind.day_frac.size] = kind.day_frac
    return replace(kind, day_frac=day, event_h=np.full(day.size, kind.step_h), stops_frac=np.zeros(day.size))


@dataclass(frozen=True)
class Luck:
    """The draws of one kind at S starts, for one option's machines.

    moment_frac (S,): how much of the start step has passed when the grid goes, for who comes at a set hour.
    """

    moment_frac: np.ndarray
    someone: np.ndarray
    gas_flows: np.ndarray
    set_there: np.ndarray
    start_fails: np.ndarray
    life_h: np.ndarray
    islands: np.ndarray
    inverter_life_h: np.ndarray


def luck(
    seed: int,
    kind: EventKind,
    keys: np.ndarray,
    reliability: Reliability | None,
    fails_to_island_frac: float,
    inverter_mttf_h: float | None,
    attempts: int = ATTEMPTS,
    lives: int = LIVES,
) -> Luck:
    """Draw attributes and failures of one event a key (S,): start steps, or numbers of drawn events.

    `reliability` None: the generator never fails. Draws repeat after `attempts` starts and `lives`.
    """
    count = keys.size

    def below(purpose: str, frac: float, *more: np.ndarray) -> np.ndarray:
        """Draws below a share; where all or none are, nothing is drawn."""
        if frac <= 0.0 or frac >= 1.0:
            return np.full((count, *(one.size for one in more)), frac >= 1.0)
        key = keys.reshape(-1, *(1 for _ in more))
        return np.asarray(uniform(seed, purpose, kind.number, key, *more) < frac)

    someone = below("attended", kind.attended_frac)
    gas = ~below("gas", kind.gas_out_frac)
    islands = ~below("islands", fails_to_island_frac)
    inverter = np.full(count, 1e12)
    if inverter_mttf_h is not None:
        inverter = exponential_h(inverter_mttf_h, uniform(seed, "inverter_life", kind.number, keys))
    there = np.ones(count, dtype=bool)
    fails = np.zeros((count, 1), dtype=bool)
    life = np.full((count, 1), 1e12)
    if reliability is not None:
        there = below("available", reliability.availability_frac)
        fails = below("starts", reliability.fails_to_start_frac, np.arange(attempts))
        drawn = uniform(seed, "set_life", kind.number, keys[:, None], np.arange(lives)[None, :])
        life = exponential_h(reliability.mttf_h, drawn)
    moment = uniform(seed, "moment", kind.number, keys)
    return Luck(moment, someone, gas, there, fails, np.ascontiguousarray(life), islands, inverter)


def sure(kind: EventKind, starts: np.ndarray) -> Luck:
    """Everything works, someone is there, the grid goes as the step begins: for one event and its fuel."""
    count = starts.size
    yes = np.ones(count, dtype=bool)
    return Luck(
        np.zeros(count),
        yes,
        yes,
        yes,
        np.zeros((count, ATTEMPTS), dtype=bool),
        np.full((count, LIVES), 1e12),
        yes,
        np.full(count, 1e12),
    )


def wait_for_someone_h(attended: np.ndarray, step_h: float) -> np.ndarray:
    """Hours from the start of each step (n,) until the next attended step; inf where there is none."""
    if not attended.any():
        return np.full(attended.size, NEVER_H)
    twice = np.concatenate([attended, attended])
    places = np.where(twice, np.arange(twice.size), twice.size * 2)
    following = np.minimum.accumulate(places[::-1])[::-1]
    return (following[: attended.size] - np.arange(attended.size)) * step_h


def waits_h(attended: np.ndarray, step_h: float, starts: np.ndarray, moment_frac: np.ndarray) -> np.ndarray:
    """Hours until someone is up, from outages (S,) that begin some way into their start step."""
    return np.maximum(0.0, wait_for_someone_h(attended, step_h)[starts] - moment_frac * step_h)


def longest_kind(kinds: tuple[EventKind, ...]) -> EventKind:
    """The kind of longest mean among those that happen at all."""
    return max(kinds, key=lambda kind: (kind.events_per_year > 0, kind.mean_h))


@lru_cache(maxsize=4096)
def _lasts_frac(law: DurationLaw, hours: float) -> float:
    """Kept, for every option asks the same laws about the same hours."""
    return float(np.asarray(law.lasts_frac(hours)))


def over_kinds(kinds: Sequence[EventKind], hours: float, kept_frac: Sequence[float]) -> float:
    """Mean of one share a kind, weighted by the events a year that last at least `hours`.

    Where no event lasts that long every kind counts by its rate; where no event happens, alike.
    """
    lasting = [kind.events_per_year * _lasts_frac(kind.law, float(hours)) for kind in kinds]
    weights = lasting if sum(lasting) > NO_EVENTS else [kind.events_per_year for kind in kinds]
    if sum(weights) == 0:
        weights = [1.0] * len(kinds)
    return sum(w * kept for w, kept in zip(weights, kept_frac, strict=True)) / sum(weights)


def over_kinds_by_hour(
    kinds: Sequence[EventKind], hours: np.ndarray, kept_frac: Sequence[np.ndarray]
) -> np.ndarray:
    """`over_kinds` at many hours (H,), with one array of shares (H,) a kind."""
    rates = np.array([kind.events_per_year for kind in kinds], dtype=np.float64)[:, None]
    lasts = {id(kind.law): np.asarray(kind.law.lasts_frac(hours), dtype=np.float64) for kind in kinds}
    lasting = rates * np.stack([lasts[id(kind.law)] for kind in kinds])
    weights = np.where(lasting.sum(axis=0) > NO_EVENTS, lasting, rates)
    weights = np.where(weights.sum(axis=0) > 0.0, weights, 1.0)
    return np.asarray((weights * np.stack(kept_frac)).sum(axis=0) / weights.sum(axis=0))


def event_sums(values: np.ndarray, event_h: np.ndarray) -> np.ndarray:
    """For each start s of the year (n,): sum over k of values[s + k] x event_h[k], the year wrapping."""
    padded = np.zeros(values.size)
    whole = np.zeros(-(-event_h.size // values.size) * values.size)
    whole[: event_h.size] = event_h
    padded += whole.reshape(-1, values.size).sum(axis=0)
    return np.fft.irfft(np.fft.rfft(values) * np.conj(np.fft.rfft(padded)), n=values.size)
