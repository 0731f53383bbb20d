"""One option's physics as one row of numbers, outages told apart by kind: the rates are put back later.

The expected year is a sum over kinds of outage: events a year times what one event takes. Kept a kind, the
sums follow any rate exactly (but for the length to which each kind is walked, which leaves out less than
1 in 1,000 of its hours), and differences between two runs can be added up.

An exact run tells its chances at every whole hour up to a week (a told row), so that who asks for other
hours finds the runs of before; what is reckoned with is the row at the asked hours.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kit.disk import kept_each
from kit.operate import walk as w
from kit.operate.events import NO_EVENTS, EventKind
from kit.operate.outage_year import OutageYear
from kit.operate.outages import KindWalk
from kit.stages.losses import lost_load
from kit.stages.outage import REACH_H, OutageSide
from kit.stages.sources import DO_NOTHING, Sources
from kit.stages.year_figures import year_figures
from kit.study import Study
from kit.vary.kept import HOURS_PATH, Stages, option_keys, text_of
from kit.vary.many import ManyFigures

Floats = NDArray[np.float64]
PLAIN = (
    "energy_usd_per_kwh",
    "import_kwh",
    "export_kwh",
    "throughput_kwh",
    "charge_efficiency_frac",
    "life_years",
    "free_count",
    "programme_usd",
    "blink_usd",
    "feasible",
)
OF_KIND = (  # per event of the kind; the last two are shares of events, by hour in a told row
    "run_h",
    "fuel",
    "drawn_kwh",
    "unserved_h",
    "forewarned_usd",
    "losses_usd",
    "kept_frac",
    "lasts_frac",
)
SHARES = slice(OF_KIND.index("kept_frac"), len(OF_KIND))
WHOLE_HOURS = np.arange(1.0, REACH_H + 1.0)
UNREAD = ("chance_frac",)  # of what is asked: no row reads it
TOTALS = {"run_h": w.SET_RUN_H, "fuel": w.FUEL, "drawn_kwh": w.DRAWN_KWH, "unserved_h": w.MUST_OUT_H}


@dataclass(frozen=True)
class Layout:
    """How many years of bills and kinds of outage a row holds, and the hours that were asked for."""

    years: int
    kinds: int
    asked_h: float

    @property
    def plain(self) -> slice:
        return slice(self.years, self.years + len(PLAIN))

    def place(self, name: str) -> int:
        """Where a plain figure stands in a row."""
        return self.years + PLAIN.index(name)

    def by_kind(self, rows: Floats) -> Floats:
        """The last axis of rows as (kinds, OF_KIND), of a told row as (kinds, amounts and chances)."""
        return rows[..., self.years + len(PLAIN) :].reshape(*rows.shape[:-1], self.kinds, -1)

    def at_hours(self, told: Floats, asked_h: float) -> Floats:
        """The row (L,) at some hours asked from a told row."""
        by_kind = self.by_kind(told)
        hours = told_hours(asked_h)
        chances = by_kind[:, SHARES.start :].reshape(self.kinds, -1, hours.size)[:, :, hours == asked_h]
        own = np.concatenate([by_kind[:, : SHARES.start], chances[:, :, 0]], axis=1)
        return np.concatenate([told[: self.plain.stop], own.ravel()])


def told_hours(asked_h: float) -> Floats:
    """Hours at which a run tells its chances (H,): whole ones up to a week, or what else was asked."""
    return WHOLE_HOURS if asked_h in WHOLE_HOURS else np.array([asked_h])


@dataclass(frozen=True, eq=False)
class Known:
    """The likely case: a study, its stages, and the told row of every option.

    walked: long walks by option and kind, kept for outages of other lengths (kit.vary.durations).
    """

    study: Study
    stages: Stages
    layout: Layout
    told: Mapping[str, Floats]
    walked: dict[tuple[str, str], tuple[KindWalk, ...]] = field(default_factory=dict)

    @cached_property
    def rows(self) -> Mapping[str, Floats]:
        """The row (L,) of every option at the asked hours."""
        return {slug: self.layout.at_hours(told, self.layout.asked_h) for slug, told in self.told.items()}

    @cached_property
    def physics_text(self) -> Mapping[str, str]:
        """All that the told row of each option may read."""
        any_hour = told_hours(self.layout.asked_h) is WHOLE_HOURS
        unread = (*UNREAD, "keep_on_h") if any_hour else UNREAD
        return option_keys(self.study, list(self.stages.options), unread)


def rows_kept(
    known: Known,
    name: str,
    settings: Mapping[str, Mapping[str, float]],
    make: Callable[[Collection[str]], Mapping[str, Floats]],
) -> dict[str, Floats]:
    """Rows by option that a change of the likely case gives: from earlier runs, the others made and kept.

    name: of the kind of change; settings: all that it changes for each option whose row is asked for;
    make: told rows of the options given, or of more. Money is read by no row.
    """

    def key(slug: str) -> tuple[str, str]:
        changes = {path: float(value).hex() for path, value in settings[slug].items()}
        return known.physics_text[slug], text_of(changes)

    def arrays(missing: Collection[str]) -> dict[str, dict[str, NDArray[Any]]]:
        return {slug: {"row": row} for slug, row in make(missing).items()}

    found = kept_each("vary", name, {slug: key(slug) for slug in settings}, arrays)
    asked_h = known.layout.asked_h
    return {
        slug: known.layout.at_hours(one["row"], settings[slug].get(HOURS_PATH, asked_h))
        for slug, one in found.items()
    }


def rows_of(study: Study, stages: Stages) -> dict[str, Floats]:
    """The told row of every option of the stages: bills (N,), PLAIN, then every kind (kind_row)."""
    return {slug: _row(study, stages, slug) for slug in stages.options}


def _row(study: Study, stages: Stages, slug: str) -> Floats:
    option, outage = stages.options[slug], stages.outages[slug]
    missed = stages.outages[DO_NOTHING].year
    whole = year_figures(option, stages.daily[slug], outage, missed)
    feasible = slug == DO_NOTHING or stages.fits[slug].feasible
    other = {
        "feasible": float(feasible),
        "blink_usd": _losses_usd(study, stages, option, outage, (), 1.0),
        "life_years": 0.0 if whole.life_years is None else whole.life_years,
        "programme_usd": whole.programme_usd or 0.0,
    }
    plain = [other.get(name, getattr(whole, name, None)) for name in PLAIN]
    kinds = [kind_row(study, stages, slug, kind, outage.year, missed) for kind in stages.kinds]
    return np.concatenate([whole.bill_usd_by_year, np.array(plain, dtype=float), np.concatenate(kinds)])


def kind_row(
    study: Study, stages: Stages, slug: str, kind: EventKind, year: OutageYear, missed: OutageYear
) -> Floats:
    """What one event of a kind takes under one option: amounts, then both chances at every told hour."""
    option, outage = stages.options[slug], stages.outages[slug]
    walks = _per_event(kind, year.walks)
    served = _per_event(kind, missed.walks) if option.unreached else walks
    row = np.zeros(SHARES.start)
    for place, name in enumerate(OF_KIND):
        if name in TOTALS:
            source = served if name == "unserved_h" else walks
            row[place] = sum(one.kind.events_per_year * one.totals[TOTALS[name]] for one in source)
    row[OF_KIND.index("losses_usd")] = _losses_usd(study, stages, option, outage, walks, 0.0)
    if kind.number in outage.forewarned:
        warnings = kind.forewarned_frac * (1.0 + kind.false_alarms_per_event)
        extra_usd = float(kind.start_weight @ outage.forewarned[kind.number].extra_usd)
        row[OF_KIND.index("forewarned_usd")] = warnings * extra_usd
    hours = told_hours(study.model.asked.keep_on_h)
    backed = option.backs_up and not option.unreached
    kept = replace(year, walks=walks).ride_through_curve(hours) if backed else np.zeros(hours.size)
    return np.concatenate([row, kept, np.asarray(kind.law.lasts_frac(hours), dtype=float)])


def _per_event(kind: EventKind, walks: Sequence[KindWalk]) -> tuple[KindWalk, ...]:
    """The walks of one kind, their rates as shares of its events."""
    own = [one for one in walks if one.kind.slug == kind.slug]
    rates = np.array([one.kind.events_per_year for one in own])
    share = rates / rates.sum() if rates.sum() > 0.0 else np.full(len(own), 1.0 / max(len(own), 1))
    return tuple(
        replace(one, kind=replace(one.kind, events_per_year=float(part)))
        for one, part in zip(own, share, strict=True)
    )


def _losses_usd(
    study: Study,
    stages: Stages,
    option: Sources,
    outage: OutageSide,
    walks: tuple[KindWalk, ...],
    blinks: float,
) -> float:
    """Named or published losses of one event (or of one momentary interruption) under an option."""
    record = study.model.outages.model_copy(update={"blinks_per_year": blinks})
    alone = replace(study, model=study.model.model_copy(update={"outages": record}))
    kinds = tuple({one.kind.slug: replace(one.kind, events_per_year=1.0) for one in walks}.values())
    year = replace(outage.year, walks=walks)
    made = lost_load(alone, stages.house.year, option, outage.backup, year, kinds)
    return 0.0 if made is None else made.usd_per_year


def figures_at(rows: Floats, layout: Layout, rates: Floats, blinks: Floats, has_losses: bool) -> ManyFigures:
    """The year figures of rows (n, L) under rates (n, kinds) and momentary interruptions a year (n,)."""
    plain = dict(zip(PLAIN, rows[:, layout.plain].T, strict=True))
    year = dict(zip(OF_KIND, np.einsum("nk,nkf->fn", rates, layout.by_kind(rows)), strict=True))
    losses_usd = year["losses_usd"] + blinks * plain["blink_usd"]
    return ManyFigures(
        bill_usd_by_year=rows[:, : layout.years],
        energy_usd_per_kwh=plain["energy_usd_per_kwh"],
        import_kwh=plain["import_kwh"],
        export_kwh=plain["export_kwh"],
        throughput_kwh=plain["throughput_kwh"],
        life_years=plain["life_years"],
        free_count=np.round(plain["free_count"]),
        programme_usd=plain["programme_usd"],
        run_h=year["run_h"],
        fuel=year["fuel"],
        drawn_kwh=year["drawn_kwh"],
        charge_efficiency_frac=plain["charge_efficiency_frac"],
        unserved_h=year["unserved_h"],
        forewarned_usd=year["forewarned_usd"],
        losses_usd=losses_usd if has_losses else None,
    )


def ride_through_frac(rows: Floats, layout: Layout, rates: Floats) -> Floats:
    """Chance at the asked hours (n,) from rows (n, L) and rates (n, kinds), weighted as the year is."""
    kinds = layout.by_kind(rows)
    kept, lasts = (kinds[..., OF_KIND.index(name)] for name in ("kept_frac", "lasts_frac"))
    weight = rates * lasts
    none = weight.sum(axis=-1, keepdims=True) <= NO_EVENTS
    weight = np.where(none, np.where(rates.sum(axis=-1, keepdims=True) > 0, rates, 1.0), weight)
    return np.asarray((weight * kept).sum(axis=-1) / weight.sum(axis=-1))


def inside(rows: Floats, layout: Layout) -> Floats:
    """Rows that were added up, brought back to what can be: shares 0 to 1, amounts at or above 0."""
    made = rows.copy()
    kinds = layout.by_kind(made)
    lowest = np.array([-np.inf if name == "forewarned_usd" else 0.0 for name in OF_KIND])
    np.maximum(kinds, lowest, out=kinds)
    np.minimum(kinds[..., SHARES], 1.0, out=kinds[..., SHARES])
    plain = made[..., layout.plain]
    np.maximum(plain, [-np.inf if name == "programme_usd" else 0.0 for name in PLAIN], out=plain)
    return made
