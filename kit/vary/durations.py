"""Outages of other lengths: rows of every option under other laws, from one long walk a kind."""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kit.grid.known import known_classes
from kit.operate.events import EventKind
from kit.operate.lengths import long_walk, of_law
from kit.operate.outage_year import OutageYear
from kit.operate.outages import KindWalk, walk_kind
from kit.stages.outage import event_side
from kit.stages.sources import DO_NOTHING
from kit.study import Study
from kit.study.outage_models import Duration
from kit.vary.parts import Known, kind_row

Floats = NDArray[np.float64]
DURATION = re.compile(r"outages\.classes\.(\w+)\.duration\..+")
LONGEST = 2.0  # how many times as long outages are searched for


def scaled_kinds(known: Known, factor: float) -> tuple[Study, tuple[EventKind, ...]]:
    """The study with every length of every class times a factor, and its kinds."""
    record = known.study.model.outages
    classes = {
        slug: block.model_copy(update={"duration": scaled(block.duration, factor)})
        for slug, block in known_classes(record).items()
    }
    model = known.study.model.model_copy(update={"outages": record.model_copy(update={"classes": classes})})
    changed = replace(known.study, model=model)
    return changed, event_side(changed, known.stages.house)


def walk_long(known: Known, kinds: Sequence[EventKind], only: Collection[str] | None = None) -> None:
    """Walk every option through each kind, unless it was walked as far before."""
    seed = known.study.model.seed

    def reach(slug: str, kind: EventKind) -> int:
        walks = known.walked.get((slug, kind.slug), ())
        return min((one.kind.event_h.size for one in walks), default=0)

    todo = [
        (slug, kind)
        for slug in _wanted(known, only)
        for kind in kinds
        if kind.event_h.size > reach(slug, kind)
    ]

    def walked(slug: str, kind: EventKind) -> tuple[KindWalk, ...] | None:
        return long_walk(known.stages.outages[slug].backup, kind, seed)

    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        for (slug, kind), walks in zip(todo, pool.map(lambda one: walked(*one), todo), strict=True):
            if walks is not None:
                known.walked[slug, kind.slug] = walks


def rows_of_lengths(
    known: Known, changed: Study, kinds: tuple[EventKind, ...], only: Collection[str] | None = None
) -> dict[str, Floats]:
    """Told rows where only the lengths of some kinds differ; all else is as it was."""
    stages, seed = known.stages, changed.model.seed
    numbers = [kind.slug for kind in stages.kinds]
    longest = scaled_kinds(known, LONGEST)[1]
    walk_long(known, [one for one in longest if one.slug in {kind.slug for kind in kinds}], only)
    walk_long(known, kinds, only)
    slugs = _wanted(known, only)

    def year(slug: str) -> OutageYear:
        backup = stages.outages[slug].backup
        walks: list[KindWalk] = []
        for kind in kinds:
            long = known.walked.get((slug, kind.slug))
            walks += walk_kind(backup, kind, seed, 0.0) if long is None else of_law(long, backup, kind, seed)
        return replace(stages.outages[slug].year, walks=tuple(walks))  # a row reads nothing but the walks

    years = {slug: year(slug) for slug in slugs}
    made = {}
    for slug in slugs:
        row = known.told[slug].copy()
        by_kind = known.layout.by_kind(row).copy()
        for kind in kinds:
            by_kind[numbers.index(kind.slug)] = kind_row(
                changed, stages, slug, kind, years[slug], years[DO_NOTHING]
            )
        row[known.layout.plain.stop :] = by_kind.ravel()
        made[slug] = row
    return made


def _wanted(known: Known, only: Collection[str] | None) -> list[str]:
    return [slug for slug in known.rows if only is None or slug in only or slug == DO_NOTHING]


def scaled(duration: Duration, factor: float) -> Duration:
    """A duration with every length times the factor; its shape stays."""
    update: dict[str, Any] = {
        name: getattr(duration, name) * factor
        for name in ("mean_h", "median_h", "at_least_h")
        if getattr(duration, name) is not None
    }
    for name, inner in (("parts", "median_h"), ("percentiles", "within_h")):
        if getattr(duration, name):
            update[name] = [
                part.model_copy(update={inner: getattr(part, inner) * factor})
                for part in getattr(duration, name)
            ]
    if duration.events_h:
        update["events_h"] = [hours * factor for hours in duration.events_h]
    return duration.model_copy(update=update)
