"""What each configuration of a catalogue comes to: the stages of compare(), and the first check it fails.

`bounded` asks what needs no walk: power, starts, voltage, law, and the least it can cost. `sized` walks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np

from kit.fit import Fit
from kit.house import HouseYear
from kit.operate.events import EventKind
from kit.operate.outages import Backup
from kit.operate.single import UNLIMITED, kept_on_frac
from kit.stages.columns import Value, columns
from kit.stages.daily import Daily, everyday_use
from kit.stages.money import account
from kit.stages.outage import REACH_H, OutageSide, event_side, outage_use
from kit.stages.power import power_check
from kit.stages.sources import DO_NOTHING, Sources, sources
from kit.study import Study
from kit.study.models import Option
from kit.vary.kept import Kept, kept_house, text_of

T = TypeVar("T")

CHECKS = {
    "not allowed": ("allowed here",),
    "not reached": ("must-run loads not reached",),
    "voltage": ("voltage",),
    "power": ("running power",),
    "one leg": ("one 120 V leg",),
    "start": ("hardest start",),
    "start on one leg": ("start on one 120 V leg",),
    "surge time": ("surge time",),
}
ORDER = (*CHECKS, "legal fuel", "budget", "taking over", "energy", "fuel", "failures")
TOLD = (
    "feasible",
    "up_front_usd",
    "lifetime_cost_usd",
    "equivalent_annual_cost_usd",
    "bill_usd_per_year",
    "fuel_usd_per_year",
    "upkeep_usd_per_year",
    "saving_from_solar_usd_per_year",
    "must_run_unserved_h_per_year",
    "generator_run_h_per_year",
    "ride_through_frac_asked",
)


@dataclass(frozen=True)
class Lack:
    """The first check that fails: its name, what is needed, what is there, the unit, and a sentence."""

    fails: str
    need: float
    have: float
    unit: str
    text: str


def bounded(study: Study, kept: Kept) -> list[dict[str, Value]]:
    """One row a configuration (the options of this study), no outage walked.

    Columns: configuration, up_front_usd, least_cost_usd (lifetime cost with no fuel, no run hour and no
    charge spent on outages, so never above what it comes to), and fails, need, have, unit, text of the
    first check failed, None where the walk decides.
    """
    house = kept_house(study, kept)
    options, kinds = sources(study, house), _kinds(study, house, kept)
    fits = _fits(study, house, options, kept)
    daily = _daily(study, house, options, kept)
    nothing = _nothing(study, house, kinds, options, daily, fits, kept)
    accounts = account(study, options, daily, dict.fromkeys(options, nothing))
    made: list[dict[str, Value]] = []
    for slug in study.model.options:
        lack = _stopped(fits[slug]) or _over_the_law(study, options[slug])
        told: dict[str, Value] = {"configuration": slug, "up_front_usd": accounts[slug].flows.up_front_usd}
        told["least_cost_usd"] = accounts[slug].measures.lifetime_cost_usd
        made.append(told | (dict.fromkeys(Lack.__annotations__) if lack is None else vars(lack)))
    return made


def sized(study: Study, kept: Kept) -> list[dict[str, Value]]:
    """One row a configuration (the options of this study): figures of compare(), and why it fails.

    Columns: configuration, those of TOLD, kept_on_h (the longest whole hours with the asked
    chance), reaches (feasible, within the law and the budget, with the asked chance), fails, need,
    have, unit, text (None where it reaches).
    """
    house = kept_house(study, kept)
    options, kinds = sources(study, house), _kinds(study, house, kept)
    fits = _fits(study, house, options, kept)
    daily = _daily(study, house, options, kept)
    backed = {slug: one for slug, one in options.items() if slug != DO_NOTHING}
    outages = {DO_NOTHING: _nothing(study, house, kinds, options, daily, fits, kept)}
    outages |= outage_use(study, house, kinds, backed, daily, fits)
    rows = columns(study, options, fits, daily, outages, account(study, options, daily, outages))
    made: list[dict[str, Value]] = []
    for slug in study.model.options:
        row, outage = rows[slug], outages[slug]
        lack = first_lack(study, kinds, options[slug], fits[slug], row, outage, kept)
        told: dict[str, Value] = {"configuration": slug, **{name: row[name] for name in TOLD}}
        told["kept_on_h"] = kept_on_h(study, options[slug], outage)
        told["reaches"] = lack is None
        made.append(told | (dict.fromkeys(Lack.__annotations__) if lack is None else vars(lack)))
    return made


def _kinds(study: Study, house: HouseYear, kept: Kept) -> tuple[EventKind, ...]:
    return kept.one("kinds", study.sha256, lambda: event_side(study, house))


def _fits(study: Study, house: HouseYear, options: dict[str, Sources], kept: Kept) -> dict[str, Fit]:
    """The power check: packs and fuel change no power, so configurations that differ in them share it.

    Its notes on how much is stored are not those of each; they stop nothing and are not told here.
    """

    def key(option: Option | None) -> str:
        if option is None:
            return ""
        less: Any = {"battery": {"packs_per_unit", "cost"}, "generator": {"fuel_on_site_l", "cost"}}
        return text_of([study.sha256, option.model_dump(exclude={"name": True, **less})])

    return _shared("fit", options, key, kept, lambda few: power_check(study, house, few))


def _daily(study: Study, house: HouseYear, options: dict[str, Sources], kept: Kept) -> dict[str, Daily]:
    """Everyday use: of a generator it knows the standby draw only, so sets and their fuel share it."""

    def key(option: Option | None) -> str:
        if option is None:
            return ""
        g, alone = option.generator, option.battery is None
        parts = [p.model_dump() if p else None for p in (option.battery, option.solar)]
        return text_of(
            [study.sha256, parts, g.standby_w if g else 0.0, g.connected_to if g and alone else ""]
        )

    return _shared("use", options, key, kept, lambda few: everyday_use(study, house, few))


def _shared(
    stage: str,
    options: dict[str, Sources],
    key: Callable[[Option | None], str],
    kept: Kept,
    make: Callable[[dict[str, Sources]], Mapping[str, T]],
) -> dict[str, T]:
    """A stage's result for each option, made once for all that have one key."""
    keys = {slug: key(one.option) for slug, one in options.items()}
    first = {k: slug for slug, k in reversed(keys.items())}
    found = kept.many(
        stage,
        {slug: k for k, slug in first.items()},
        lambda missing: make({slug: options[slug] for slug in missing}),
    )
    return {slug: found[first[k]] for slug, k in keys.items()}


def _nothing(
    study: Study,
    house: HouseYear,
    kinds: tuple[EventKind, ...],
    options: dict[str, Sources],
    daily: dict[str, Daily],
    fits: dict[str, Fit],
    kept: Kept,
) -> OutageSide:
    """Doing nothing in the same outages."""
    idle = {DO_NOTHING: options[DO_NOTHING]}
    return kept.one(
        "nothing", study.sha256, lambda: outage_use(study, house, kinds, idle, daily, fits)[DO_NOTHING]
    )


def kept_on_h(study: Study, option: Sources, outage: OutageSide) -> float:
    """The longest whole hours, to a week or what was asked, ridden through with the asked chance."""
    if option.unreached:
        return 0.0
    year, frac = outage.year, study.model.asked.chance_frac
    hours = np.arange(reach_h(study), 0, -1)
    return next((float(h) for h in hours if year.ride_through_frac(float(h)) >= frac), 0.0)


def reach_h(study: Study) -> int:
    """The longest hours asked about: a week, or what was asked."""
    return int(max(REACH_H, study.model.asked.keep_on_h))


def first_lack(
    study: Study,
    kinds: tuple[EventKind, ...],
    option: Sources,
    fitted: Fit,
    row: dict[str, Value],
    outage: OutageSide,
    kept: Kept,
) -> Lack | None:
    """The first check that fails, in the order of ORDER; None where the target is reached."""
    found = _stopped(fitted) or _over_the_law(study, option)
    up_front, budget = row["up_front_usd"], study.model.asked.budget_usd
    if found is None and budget is not None and isinstance(up_front, float) and up_front > budget:
        text = f"It costs {up_front:,.0f} up front; the budget is {budget:,.0f}."
        found = Lack("budget", budget, up_front, study.model.money.currency, text)
    return found or _too_short(study, kinds, option, row, outage, kept)


def _stopped(fitted: Fit) -> Lack | None:
    """The first check of the power table that some source fails.

    Stricter than `feasible`, which asks for one source that can: each serves alone at some time of an
    outage (a generator with a battery stated to run in parallel counts with it), so each must start and
    carry the loads here.
    """
    rows = [r for r in fitted.rows.to_dict("records") if not r["ok"]]
    for name, heads in CHECKS.items():
        lacks = [r for r in rows if str(r["check"]).startswith(heads)]
        if lacks:
            r = min(lacks, key=lambda r: r["have"] / r["need"] if r["need"] else 0.0)
            return Lack(name, float(r["need"]), float(r["have"]), str(r["unit"]), str(r["text"]))
    stops = [f.text for f in fitted.findings if f.severity == "stop"]
    return Lack("not allowed", 1.0, 0.0, "yes/no", stops[0]) if stops else None


def _over_the_law(study: Study, option: Sources) -> Lack | None:
    g = option.generator
    terms = study.model.fuels.get(g.fuel) if g else None
    if g is None or terms is None or terms.legal_limit_l is None or not g.fuel_on_site_l:
        return None
    if g.fuel_on_site_l <= terms.legal_limit_l + 1e-6:
        return None
    text = "More fuel than may be kept at a dwelling; local code and a licensed person decide."
    return Lack("legal fuel", terms.legal_limit_l, g.fuel_on_site_l, "L", text)


def _too_short(
    study: Study,
    kinds: tuple[EventKind, ...],
    option: Sources,
    row: dict[str, Value],
    outage: OutageSide,
    kept: Kept,
) -> Lack | None:
    """Why the loads are not kept on for the asked hours with the asked chance.

    Machines that never fail are walked again: where these do not reach it either, it is the energy,
    the fuel (where fuel without end would do), or the time that someone needs to take over.
    """
    asked, chance = study.model.asked, row["ride_through_frac_asked"]
    assert isinstance(chance, float)
    if chance >= asked.chance_frac:
        return None
    hours, frac = asked.keep_on_h, asked.chance_frac
    sure = never_failing(outage.backup)
    if kept_on_frac(sure, kinds, study.model.seed, hours) >= frac:
        text = f"Working machines would do; with their failures the chance is {_down(chance)} of {frac:.0%}."
        return Lack("failures", frac, chance, "chance", text)
    lasts_h = kept_on_h(study, option, outage)
    if option.generator is None:
        text = f"The battery carries {lasts_h:g} h of {hours:g} h with a chance of {frac:.0%}."
        return Lack("energy", hours, lasts_h, "h", text)
    endless = replace(option.generator, fuel_on_site_l=UNLIMITED, tank_l=UNLIMITED)
    piped = option.generator.tank_l is None
    full = sure if piped else replace(sure, generator=endless)
    assert option.option is not None
    any_fuel = option.option.model_dump(exclude={"name": True, "generator": {"fuel_on_site_l", "cost"}})
    key = text_of([study.sha256, any_fuel])
    best = kept.one("endless", key, lambda: kept_on_frac(full, kinds, study.model.seed, hours))
    if best >= frac:
        text = f"The fuel on site carries {lasts_h:g} h of {hours:g} h with a chance of {frac:.0%}."
        return Lack("fuel", hours, lasts_h, "h", text)
    text = (
        f"Even with fuel without end and machines that never fail the chance is {_down(best)} of {frac:.0%}: "
        "nobody is there to start the generator in time, or one source cannot carry the loads by itself."
    )
    return Lack("taking over", frac, best, "chance", text)


def _down(frac: float) -> str:
    """A share rounded down, since what is called enough must be reached."""
    return f"{math.floor(frac * 1000 + 1e-9) / 10:g}%"


def never_failing(backup: Backup) -> Backup:
    """The same machines, never out of order."""
    block = backup.battery_block
    sure = block.model_copy(update={"fails_to_island_frac": 0.0, "inverter_mttf_h": None}) if block else None
    return replace(backup, reliability=None, battery_block=sure)
