"""Exact runs of a study with some physical numbers moved, and straight lines between them."""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kit.operate.events import EventKind
from kit.operate.outage_year import outage_year
from kit.stages.daily import everyday_use
from kit.stages.outage import OutageSide, backup_of, event_side, outage_use
from kit.stages.power import power_check
from kit.study import Study, StudyError
from kit.vary.durations import DURATION, rows_of_lengths
from kit.vary.kept import Kept, Stages, kept_house, kept_sources, kept_with
from kit.vary.parts import Known, rows_kept, rows_of

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Axis:
    """Exact runs of one number: places (P,) rising, 0 (likely) among them; rows by option (P, L)."""

    places: Floats
    rows: Mapping[str, Floats]

    def change(self, slug: str, place: Floats) -> Floats | float:
        """Rows less the likely ones at places (n,) -> (n, L); straight beyond the ends."""
        if slug not in self.rows or self.places.size < 2:
            return 0.0
        rows, at = self.rows[slug], self.places
        change = rows - rows[int(np.flatnonzero(at == 0.0)[0])]
        k = np.clip(np.searchsorted(at, place) - 1, 0, at.size - 2)
        share = (place - at[k]) / (at[k + 1] - at[k])
        return np.asarray(change[k] + share[:, None] * (change[k + 1] - change[k]))


def exact_rows(known: Known, settings: Mapping[str, float], kept: Kept | None = None) -> dict[str, Floats]:
    """Rows of the options that the settings (path -> value) reach.

    Raises ValueError for a value that the study may not take.
    """
    heads = {path: path.split(".")[1] if path.startswith("options.") else "" for path in settings}
    reached = [slug for slug in known.rows if "" in heads.values() or slug in heads.values()]
    told = {
        slug: {path: value for path, value in settings.items() if heads[path] in ("", slug)}
        for slug in reached
    }
    return rows_kept(known, "exact", told, lambda missing: _run(known, settings, kept, missing))


def _run(
    known: Known, settings: Mapping[str, float], kept: Kept | None, only: Collection[str]
) -> dict[str, Floats]:
    try:
        changed = known.study.changed([f"{path}={float(value)!r}" for path, value in settings.items()])
    except StudyError as error:
        told = ", ".join(f"{path} {value:g}" for path, value in settings.items())
        raise ValueError(f"the range leads outside what is allowed ({told}): {error}") from None
    if settings and all(DURATION.fullmatch(path) for path in settings):
        slugs = {path.split(".")[2] for path in settings}
        told_kinds = tuple(kind for kind in event_side(changed, known.stages.house) if kind.slug in slugs)
        return rows_of_lengths(known, changed, told_kinds, only)
    few = {slug: option for slug, option in changed.model.options.items() if slug in only}
    changed = replace(changed, model=changed.model.model_copy(update={"options": few}))
    kept = kept_with(known.study, known.stages.house) if kept is None else kept
    return rows_of(changed, walked_again(known, changed, kept))


def walked_again(known: Known, changed: Study, kept: Kept) -> Stages:
    """The stages of a changed study as far as rows read them; what no row reads stays as it was."""
    house = kept_house(changed, kept)
    kinds = event_side(changed, house)
    options = kept_sources(changed, house, kept)
    fits = power_check(changed, house, options)
    daily = everyday_use(changed, house, options)
    sides = known.stages.outages
    warned = [slug for slug in options if sides[slug].forewarned or kinds_warn(kinds)]
    outages = (
        outage_use(changed, house, kinds, {s: options[s] for s in warned}, daily, fits) if warned else {}
    )

    def side(slug: str) -> OutageSide:
        if slug in outages:
            return outages[slug]
        backup = backup_of(changed, house, kinds, options[slug], daily[slug], fits[slug])
        year = outage_year(backup, kinds, changed.model.seed, changed.model.outages.horizon_h)
        return replace(sides[slug], backup=backup, year=year)  # a row values its losses anew

    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        return Stages(
            house, kinds, options, fits, daily, dict(zip(options, pool.map(side, options), strict=True))
        )


def kinds_warn(kinds: tuple[EventKind, ...]) -> bool:
    """Whether any kind of outage is forecast: its warnings are walked by the whole stage."""
    return any(kind.forewarned_frac > 0.0 for kind in kinds)
