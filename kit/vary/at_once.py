"""One option under a hand that moves: its latched figures at once, the whole comparison at rest.

At once: the chance to stay on, by walks that stop at the first gap, and the money, in which what
outages burn and recharge is that of the last whole walk (`provisional` says when that is so). At
rest: the stages of compare(), an option at a time, so that a new move can come in between. Both
share one Kept, and only the stages that a move touches are done again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from kit.operate import walk as w
from kit.operate.events import EventKind
from kit.operate.forewarned import warned_parts
from kit.operate.outages import Backup, KindWalk, one_run, walk_kind
from kit.operate.single import first_gaps_h
from kit.stages.columns import Value, columns
from kit.stages.daily import everyday_use
from kit.stages.money import account
from kit.stages.outage import OutageSide, backup_of, event_side
from kit.stages.outcome import Comparison, gather
from kit.stages.power import power_check
from kit.stages.sources import DO_NOTHING
from kit.stages.verdict import decide
from kit.study import Study
from kit.vary.kept import HOURS_PATH, Kept, kept_house, kept_sources, option_keys, physics, text_of


@dataclass(frozen=True)
class AtOnce:
    """Summary columns of one option; `provisional`: its outage fuel and recharge are of the last walk."""

    columns: dict[str, Value]
    provisional: bool


class Session:
    """A study and what is kept of its physics. Made settled: `whole` is its comparison."""

    def __init__(self, study: Study) -> None:
        self.study = study
        self._kept = Kept()
        self._sides: dict[str, tuple[str, OutageSide]] = {}
        self.whole: Comparison
        for _ in self.settle(()):
            pass

    def changed(self, settings: Sequence[str]) -> Study:
        """The study with PATH=VALUE settings on top, kept. Raises StudyError."""
        return self._kept.one("studies", "\n".join(settings), lambda: self.study.changed(settings))

    def at_once(self, slug: str, settings: Sequence[str]) -> AtOnce:
        """The summary columns of an option as compare() has them, but for what `provisional` tells."""
        asked = self.changed(settings)
        study = _only(self.changed(_calm(settings)), slug)
        house = kept_house(study, self._kept)
        kinds = self._kept.one(
            "kinds",
            text_of([study.resolved["outages"], study.resolved["house"], study.model.year, study.data_files]),
            lambda: event_side(study, house),
        )
        options = kept_sources(study, house, self._kept)
        fits = power_check(study, house, options)
        keys = option_keys(study, list(options))
        daily = self._kept.many(
            "daily",
            keys,
            lambda missing: everyday_use(study, house, {slug: options[slug] for slug in missing}),
        )
        walks = self._kept.many(
            "latched",
            keys,
            lambda missing: {
                s: latched_walks(
                    backup_of(study, house, kinds, options[s], daily[s], fits[s]), kinds, study.model.seed
                )
                for s in missing
            },
        )
        sides = {s: _with_walks(self._sides[s][1], walks[s]) for s in options}
        wanted = _only(asked, slug)
        accounts = account(wanted, options, daily, sides)
        rows = columns(wanted, options, fits, daily, sides, accounts)
        return AtOnce(rows[slug], any(self._sides[s][0] != keys[s] for s in options))

    def settle(self, settings: Sequence[str]) -> Iterator[str]:
        """Compute the whole comparison, an option at a time (its slug is yielded); then `whole` is new."""
        study, calm = self.changed(settings), self.changed(_calm(settings))
        for slug in study.model.options:
            physics(_only(study, slug), self._kept)
            yield slug
        s = physics(study, self._kept)
        accounts = account(study, s.options, s.daily, s.outages)
        rows = columns(study, s.options, s.fits, s.daily, s.outages, accounts)
        verdict = decide(study, s.options, rows)
        self.whole = gather(study, s.house, s.options, s.fits, s.daily, s.outages, accounts, rows, verdict)
        keys = option_keys(calm, list(s.options))
        self._sides = {slug: (keys[slug], s.outages[slug]) for slug in s.options}


def latched_walks(b: Backup, kinds: tuple[EventKind, ...], seed: int) -> tuple[KindWalk, ...]:
    """The walks of `outage_year` as far as each start's first gap: the same moments, no sums.

    Events that follow others in a cluster find the battery as the whole walk of those leaves it, so
    such kinds are walked whole.
    """
    walks: list[KindWalk] = []
    for kind in kinds:
        sourceless = b.battery is None and b.generator is None
        if sourceless or (kind.followed_frac > 0.0 and b.battery is not None):
            walks += walk_kind(b, kind, seed, 0.0)
            continue
        starts = np.flatnonzero(kind.start_weight > 0)
        walks += [_latched(backup, part, seed, starts) for _, part, backup in warned_parts(b, kind)]
    return tuple(walks)


def _latched(b: Backup, kind: EventKind, seed: int, starts: np.ndarray) -> KindWalk:
    """One kind to its first gaps; a set that runs once has its failure in the formula instead."""
    r, survives = b.reliability, None
    if r is not None and one_run(b):
        survives = (r.availability_frac * (1.0 - r.fails_to_start_frac), r.mttf_h)
        b = replace(b, reliability=None)
    ends_h = first_gaps_h(b, kind, seed, kind.event_h.size * kind.step_h, starts)
    none, weight = np.zeros(starts.size), kind.start_weight[starts]
    return KindWalk(kind, starts, weight, ends_h, none, np.zeros(w.TOTALS), survives)


def _with_walks(side: OutageSide, walks: tuple[KindWalk, ...]) -> OutageSide:
    return replace(side, year=replace(side.year, walks=walks))


def _calm(settings: Sequence[str]) -> list[str]:
    """The settings without the hours: walks reach a week whatever was asked within it."""
    return [text for text in settings if not text.startswith(f"{HOURS_PATH}=")]


def _only(study: Study, slug: str) -> Study:
    """The study with one of its options; its keys in Kept stay what they are."""
    few = {} if slug == DO_NOTHING else {slug: study.model.options[slug]}
    return replace(study, model=study.model.model_copy(update={"options": few}))
