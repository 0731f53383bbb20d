"""The load list as tables of a memo: what it draws, runs together, starts, and what each option carries."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kit.fit.pickup import FirstHour, pickup_findings, pickup_rows
from kit.fit.sources import seen_sources
from kit.fit.start_changes import option_starts, start_findings, start_table
from kit.house import HouseYear
from kit.house.appliances import reaches
from kit.house.coincidence import running_peaks
from kit.house.list_account import list_table, reconcile, tier_table
from kit.house.peaks import worst_starts
from kit.house.pickup import cold_pickup, pickup_table
from kit.house.pieces import StartList, start_list
from kit.stages.sources import Sources, asked_loads
from kit.study import Study
from kit.study.finding import Finding

if TYPE_CHECKING:
    import pandas as pd

DARK_H = 8.0  # hours without power after which the catch-up is told: a night nobody was up


@dataclass(frozen=True, eq=False)
class LoadList:
    """The tables of the list; each function that makes one names its columns.

    loads, tiers: list_table, tier_table. running: running_peaks. starts: worst_starts of the loads asked for.
    option_starts, start_table: what each option's sources carry of the loads asked for that it reaches.
    pickup: pickup_table. option_pickup: pickup_rows after DARK_H. meter: reconcile, empty without a meter.
    findings: changes that let an option start everything, and catch-ups beyond a source; all notes.
    """

    loads: pd.DataFrame
    tiers: pd.DataFrame
    running: pd.DataFrame
    starts: pd.DataFrame
    option_starts: pd.DataFrame
    start_table: pd.DataFrame
    pickup: pd.DataFrame
    option_pickup: pd.DataFrame
    meter: pd.DataFrame
    findings: tuple[Finding, ...]


@dataclass(frozen=True, eq=False)
class Reached:
    """The loads that a connection reaches: as single pieces, and their first hour after DARK_H."""

    listed: StartList
    hour: FirstHour


def load_list(study: Study, house: HouseYear, options: dict[str, Sources]) -> LoadList:
    """All tables of the list. Options without a source of their own are left out of the options' tables."""
    import pandas as pd

    place, lists, year = study.model.house, house.lists, house.year
    start_rows, detail_rows, pickup_parts = [], [], []
    findings: list[Finding] = []
    for slug, option in options.items():
        if not option.backs_up:
            continue
        seen = seen_sources(option.battery, option.generator, option.path)
        listed = option_list(study, house, option)
        hour = first_hour(study, house, option)
        usable_kwh = option.battery.usable_kwh if option.battery else None
        start_rows.append(option_starts(slug, seen, listed))
        detail_rows.append(start_table(slug, seen, listed))
        pickup_parts.append(pickup_rows(slug, seen, hour, usable_kwh))
        findings += list_notes(study, house, option)

    def whole(parts: list[pd.DataFrame]) -> pd.DataFrame:
        return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()

    return LoadList(
        loads=list_table(place, lists, year),
        tiers=tier_table(place, lists, year),
        running=running_peaks(place, lists),
        starts=worst_starts(place, lists, asked_loads(study)),
        option_starts=whole(start_rows),
        start_table=whole(detail_rows),
        pickup=pickup_table(place, lists, year),
        option_pickup=whole(pickup_parts),
        meter=reconcile(lists, year),
        findings=tuple(findings),
    )


def list_notes(
    study: Study, house: HouseYear, option: Sources, reached: dict[tuple[str, ...], Reached] | None = None
) -> list[Finding]:
    """What would let an option's sources start everything asked for, and the catch-up that exceeds them.

    reached: of the options before, by the loads they reach; filled here. Most options reach the same.
    """
    if not option.backs_up:
        return []
    seen = seen_sources(option.battery, option.generator, option.path)
    usable_kwh = option.battery.usable_kwh if option.battery else None
    known = {} if reached is None else reached
    slugs = tuple(_reached(study, option))
    if slugs not in known:
        known[slugs] = Reached(option_list(study, house, option), first_hour(study, house, option))
    return [
        *start_findings(option.slug, seen, known[slugs].listed),
        *pickup_findings(option.slug, seen, known[slugs].hour, usable_kwh),
    ]


def option_list(study: Study, house: HouseYear, option: Sources) -> StartList:
    """The loads asked for that the option reaches, as single pieces."""
    return start_list(study.model.house, house.lists, _reached(study, option))


def first_hour(study: Study, house: HouseYear, option: Sources) -> FirstHour:
    """The worst first hour of those loads after DARK_H without power."""
    found = cold_pickup(study.model.house, house.lists, house.year, _reached(study, option), DARK_H)
    return FirstHour(
        slugs=found.slugs,
        off_h=DARK_H,
        running_kw=float(found.running_w.max()) / 1000.0,
        surge_kw=float(found.surge_w.max()) / 1000.0,
        extra_kwh=float(found.extra_kwh.max()),
    )


def _reached(study: Study, option: Sources) -> list[str]:
    source = option.battery or option.generator
    where = source.connected_to if source else None
    pieces = study.model.house.appliances
    return [slug for slug in asked_loads(study) if reaches(pieces[slug], where)]
