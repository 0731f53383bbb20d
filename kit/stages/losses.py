"""What an option's outages cost the household: named losses, or published damage values."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from kit.account.lost_load import MEAN_LOAD_KW, PRINTED_TO_H, REFUSED_BEYOND_H, SOURCE, damage_nodes
from kit.calendar import Year
from kit.house import HouseYear
from kit.operate.events import EventKind
from kit.operate.gaps import Gaps
from kit.operate.outage_year import OutageYear
from kit.operate.outages import Backup, KindWalk, walk_kind
from kit.stages.sources import DO_NOTHING, Sources
from kit.study import Study
from kit.study.finding import Finding
from kit.study.loss_models import EventLoss

SEAMLESS_S = 0.02 + 1e-9  # a gap that equipment rides over: ITI curve 2000, 0 V for 20 ms
WORTH_SAYING_H = 0.01  # hours a year without a value
FAR_FROM_MEAN = 2.0  # a house that many times above or below the values' mean load


@dataclass(frozen=True)
class LossLine:
    """One loss in a year: how often it happens and what it comes to [1/year, usd/year]."""

    name: str
    events_per_year: float
    usd_per_year: float


@dataclass(frozen=True)
class LostLoad:
    """What a year's outages cost under one option [usd/year], line by line.

    unvalued_h: hours a year of gaps beyond what the published values reach.
    """

    usd_per_year: float
    lines: tuple[LossLine, ...]
    unvalued_h: float = 0.0


def lost_load(
    study: Study,
    year: Year,
    option: Sources,
    backup: Backup,
    walked: OutageYear,
    kinds: tuple[EventKind, ...],
) -> LostLoad | None:
    """The year's losses of one option; None where the study values an hour, or nothing.

    A load that no circuit of the option reaches is without power for every whole event, as under
    doing nothing; so is all of the house where published values are used.
    """
    money, seed = study.model.money, study.model.seed
    if money.lost_load is None and not money.event_losses:
        return None
    dark = Gaps(backup, _dark_walks(backup, kinds, seed), seed)
    kept = Gaps(backup, walked.walks, seed)
    if money.event_losses:
        lines = tuple(
            _named(loss, year, dark if loss.needs_load in option.unreached else kept)
            for loss in money.event_losses
        )
        return LostLoad(sum(line.usd_per_year for line in lines), lines)
    assert money.lost_load is not None
    waits_s = [gap.gap_s for gap in (backup.battery_gap, backup.set_gap) if gap is not None]
    if waits_s and min(waits_s) <= SEAMLESS_S and not option.unreached:
        return _published(kept, kept.events_per_year(0.0), 0.0, money.lost_load.deflator)
    events = sum(kind.events_per_year for kind in kinds)
    blinks = study.model.outages.blinks_per_year
    return _published(dark if option.unreached else kept, events, blinks, money.lost_load.deflator)


def _dark_walks(backup: Backup, kinds: tuple[EventKind, ...], seed: int) -> tuple[KindWalk, ...]:
    """The walks of the same loads without any source."""
    bare = replace(backup, battery=None, generator=None, forewarned_kwh={})
    return tuple(one for kind in kinds for one in walk_kind(bare, kind, seed, 0.0))


def _named(loss: EventLoss, year: Year, gaps: Gaps) -> LossLine:
    months = np.isin(year.month, loss.months)
    count = gaps.events_per_year(loss.after_h, None if months.all() else months)
    return LossLine(loss.name, count, count * loss.usd)


def _published(gaps: Gaps, felt: float, blinks: float, deflator: float) -> LostLoad:
    """Damage per event, linear between the printed hours, over the longest gap of each event."""
    hours, usd = damage_nodes(deflator)
    lines = [LossLine("momentary", blinks, blinks * usd[0])]
    total = felt * usd[0]
    for a, b, low, high in zip(hours[:-1], hours[1:], usd[:-1], usd[1:], strict=True):
        total += (high - low) / (b - a) * gaps.hours_per_year(float(a), float(b))
    lines.append(LossLine(f"outages, up to {REFUSED_BEYOND_H:g} h each", felt, float(total)))
    unvalued_h = gaps.hours_per_year(REFUSED_BEYOND_H, np.inf)
    return LostLoad(sum(line.usd_per_year for line in lines), tuple(lines), unvalued_h)


def loss_findings(study: Study, house: HouseYear, slug: str, made: LostLoad | None) -> tuple[Finding, ...]:
    """The limits of published values, and the lines of named ones."""
    money = study.model.money
    if made is None:
        return ()
    if money.lost_load is None:
        parts = "; ".join(
            f"{line.name} {line.events_per_year:.2g} times a year, {line.usd_per_year:,.0f}"
            for line in made.lines
        )
        return (
            Finding("event_losses", slug, "money.event_losses", f"Losses of a year: {parts}.", None, "note"),
        )
    if slug != DO_NOTHING:
        return ()
    found = []
    if made.unvalued_h > WORTH_SAYING_H:
        text = (
            f"Published damage values are refused beyond {REFUSED_BEYOND_H:g} h (printed up to "
            f"{PRINTED_TO_H:g} h): with nothing installed {made.unvalued_h:.2g} h a year of longer gaps "
            "count at nothing, so the value is a lower bound; name losses instead (event_losses)."
        )
        found.append(Finding("lost_load_beyond_values", None, "money.lost_load", text, SOURCE))
    mean_kw = float(house.load_kw.mean())
    if not 1.0 / FAR_FROM_MEAN <= mean_kw / MEAN_LOAD_KW <= FAR_FROM_MEAN:
        text = (
            f"The published values are of customers of {MEAN_LOAD_KW} kW on average; this house draws "
            f"{mean_kw:.2f} kW. They are used per event and not scaled."
        )
        found.append(Finding("lost_load_other_customer", None, "money.lost_load", text, SOURCE))
    return tuple(found)
