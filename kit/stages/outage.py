"""A year of outages for each option, one hard outage hour by hour, and the fuel that lengths take."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from kit.calendar import share_in_hours
from kit.fit import Fit
from kit.house import HouseYear, OutageLoads, outage_loads
from kit.operate.events import EventKind, event_kinds, longest_kind
from kit.operate.forewarned import Forewarned
from kit.operate.outage_year import OutageYear, outage_year
from kit.operate.outages import Backup
from kit.operate.single import fuel_need, kept_on_frac, one_outage
from kit.stages.ageing import Wear, aged
from kit.stages.daily import Daily, use_of
from kit.stages.forewarning import forewarned_charge, forewarned_usd, forewarning_findings
from kit.stages.losses import LostLoad, lost_load
from kit.stages.sources import Sources
from kit.study import Study
from kit.study.finding import Finding
from kit.systems.reliability import Reliability, reliability
from kit.systems.transfer import battery_gap, generator_gap

REACH_H = 168.0  # ride-through is told up to a week
FUEL_HOURS = (24.0, 72.0, 168.0)
POWERLESS = ("cannot_carry", "cannot_start", "needs_240v")
HARD_START_HOUR = 2.0  # the hard outage begins at night, when nobody is up


@dataclass(frozen=True, eq=False)
class OutageSide:
    """The outages of one option. `hard` is the trace of the hard outage (steps, TRACES)."""

    backup: Backup
    year: OutageYear
    hard: np.ndarray
    fuel_hours: tuple[float, ...]
    fuel_need: np.ndarray
    reliability: Reliability | None
    hard_start: int
    aged_frac: float | None
    forewarned: dict[int, Forewarned]
    forewarned_usd: float
    forewarned_findings: tuple[Finding, ...]
    lost_load: LostLoad | None


def event_side(study: Study, house: HouseYear) -> tuple[EventKind, ...]:
    """The study's outage kinds on its year, walked far enough for what was asked."""
    reach = max(REACH_H, study.model.asked.keep_on_h)
    return event_kinds(study.model.outages, house.year, reach, house.temperature_c)


def outage_use(
    study: Study,
    house: HouseYear,
    kinds: tuple[EventKind, ...],
    options: dict[str, Sources],
    daily: dict[str, Daily],
    fits: dict[str, Fit],
) -> dict[str, OutageSide]:
    """Walk every option through the same outages, on as many threads as there are cores.

    The walk holds no lock and no option sees another, so the figures do not depend on the threads.
    """
    attended = (
        share_in_hours(house.year, study.model.house.attended_hours, study.model.house.attended_hours) > 0.5
    )
    everything = outage_loads(study.model.house, house.lists, "whole_house")
    start = hard_start(house, everything.must_run_kw, kinds)
    hardest = longest_kind(kinds)

    def side(slug: str) -> OutageSide:
        option = options[slug]
        backup, set_figures = _backup(study, house, option, daily[slug], fits[slug], attended, everything)
        warned = forewarned_charge(house, option, daily[slug].use, backup.battery, kinds)
        backup = replace(backup, forewarned_kwh={number: one.stored_kwh for number, one in warned.items()})
        hours = FUEL_HOURS if option.generator else ()
        year = outage_year(backup, kinds, study.model.seed, study.model.outages.horizon_h)
        return OutageSide(
            backup=backup,
            year=year,
            hard=one_outage(backup, hardest, start, hard_hours(study)),
            fuel_hours=hours,
            fuel_need=fuel_need(backup, hardest, hours) if hours else np.zeros(0),
            reliability=set_figures,
            hard_start=start,
            aged_frac=_aged_frac(study, house, kinds, option, backup, daily[option.slug].wear),
            forewarned=warned,
            forewarned_usd=forewarned_usd(kinds, warned),
            forewarned_findings=forewarning_findings(kinds, option, warned, backup.stored_kwh),
            lost_load=lost_load(study, house.year, option, backup, year, kinds),
        )

    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        return dict(zip(options, pool.map(side, options), strict=True))


def backup_of(
    study: Study,
    house: HouseYear,
    kinds: tuple[EventKind, ...],
    option: Sources,
    daily: Daily,
    fitted: Fit,
) -> Backup:
    """What the walk sees of one option, charge ahead of forecast outages included: as outage_use makes it."""
    hours = study.model.house.attended_hours
    attended = share_in_hours(house.year, hours, hours) > 0.5
    everything = outage_loads(study.model.house, house.lists, "whole_house")
    backup, _ = _backup(study, house, option, daily, fitted, attended, everything)
    warned = forewarned_charge(house, option, daily.use, backup.battery, kinds)
    return replace(backup, forewarned_kwh={number: one.stored_kwh for number, one in warned.items()})


def _aged_frac(
    study: Study,
    house: HouseYear,
    kinds: tuple[EventKind, ...],
    option: Sources,
    new: Backup,
    wear: Wear | None,
) -> float | None:
    """Chance at the asked hours in the last year of the stay, or of the battery's life if that is shorter.

    None for options without a battery that fades.
    """
    if new.battery is None or wear is None or not wear.fades:
        return None
    asked = study.model.asked
    age = int(min(asked.stay_years, np.ceil(wear.life_years))) - 1
    use = use_of(house, option, age, wear)
    old = aged(new.battery, wear.left_frac(age))
    warned = forewarned_charge(house, option, use, old, kinds)
    backup = replace(
        new,
        battery=old,
        stored_kwh=np.minimum(use.stored_kwh, old.usable_kwh),
        forewarned_kwh={number: np.minimum(one.stored_kwh, old.usable_kwh) for number, one in warned.items()},
    )
    return kept_on_frac(backup, kinds, study.model.seed, asked.keep_on_h)


def hard_hours(study: Study) -> float:
    """Length of the hard outage that the memo draws: what was asked, three days at least, a week at most."""
    return float(np.clip(study.model.asked.keep_on_h, 72.0, REACH_H))


def hard_start(house: HouseYear, must_kw: np.ndarray, kinds: tuple[EventKind, ...]) -> int:
    """The step at 2 in the morning before the three days of most must-run energy, where major events fall."""
    steps = round(72.0 / house.year.step_h)
    wrapped = np.concatenate([[0.0], np.cumsum(np.concatenate([must_kw, must_kw[:steps]]))])
    ahead = wrapped[steps : steps + must_kw.size] - wrapped[: must_kw.size]
    hardest = longest_kind(kinds)
    likely = (house.year.hour == HARD_START_HOUR) & (hardest.start_weight >= hardest.start_weight.max() * 0.5)
    if not likely.any():
        likely = house.year.hour == HARD_START_HOUR
    return int(np.argmax(np.where(likely, ahead, -1.0)))


def _backup(
    study: Study,
    house: HouseYear,
    option: Sources,
    daily: Daily,
    fitted: Fit,
    attended: np.ndarray,
    everything: OutageLoads,
) -> tuple[Backup, Reliability | None]:
    """What the walk sees of an option. One that cannot carry or start the must-run loads serves none."""
    block = option.option
    works = option.backs_up and not any(f.code in POWERLESS for f in fitted.findings if f.severity == "stop")
    battery = option.battery if works else None
    generator = option.generator if works else None
    figures = None
    if generator is not None and block is not None and block.generator is not None:
        g = block.generator
        figures = reliability(
            g.care,
            g.availability_frac,
            g.fails_to_start_frac,
            g.mttf_h,
            fuel=g.fuel,
            rated_kw=g.running_kw,
            automatic=g.start == "automatic",
        )
    solar = block.solar if block else None
    loads = option.loads
    must_kw, wanted_kw = loads.must_run_kw, loads.wanted_kw
    if not option.backs_up:
        must_kw, wanted_kw = everything.must_run_kw, everything.wanted_kw
    if study.model.asked.loads == "wanted":
        must_kw, wanted_kw = must_kw + wanted_kw, np.zeros(house.year.n)
    backup = Backup(
        step_h=house.year.step_h,
        must_kw=must_kw,
        wanted_kw=wanted_kw,
        solar_kw=option.solar_kw,
        attended=attended,
        may_charge=option.may_charge,
        stored_kwh=daily.use.stored_kwh,
        tolerates_h=min(loads.tolerates_gap_s / 3600.0, 1e6),
        battery=battery,
        battery_block=block.battery if block and battery else None,
        battery_gap=battery_gap(battery) if battery else None,
        generator=generator,
        generator_block=block.generator if block and generator else None,
        set_gap=generator_gap(generator, option.path) if generator else None,
        set_kw=option.set_kw,
        battery_kw=option.battery_kw,
        reliability=figures,
        solar_charges=bool(battery and solar and solar.charges_battery_in_outage),
        solar_beside_set=bool(battery and solar and solar.allowed_with_generator),
    )
    return backup, figures
