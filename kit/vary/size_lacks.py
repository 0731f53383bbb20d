"""Why a configuration does not do: the first check it fails, with what is needed and what is there."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from kit.fit import Fit
from kit.operate.events import EventKind
from kit.operate.outage_year import outage_year
from kit.operate.outages import Backup
from kit.operate.single import UNLIMITED, kept_on_frac
from kit.stages.columns import Value
from kit.stages.outage import REACH_H, OutageSide
from kit.stages.sources import Sources
from kit.study import Study
from kit.study.models import Option
from kit.units import chance_text
from kit.vary.kept import Kept, text_of

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


@dataclass(frozen=True)
class Lack:
    """The first check that fails: its name, what is needed, what is there, the unit, and a sentence."""

    fails: str
    need: float
    have: float
    unit: str
    text: str


def less(battery: Collection[str] = (), generator: Collection[str] = ()) -> Any:
    """What to leave out of an option's values: its name, the stored fuel, and these keys of its machines."""
    return {"name": True, "battery": set(battery), "generator": {"fuel_on_site_l", *generator}}


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
    block = option.option
    found = stopped(fitted) or (over_the_law(study, block) if block else None)
    up_front, budget = row["up_front_usd"], study.model.asked.budget_usd
    if found is None and budget is not None and isinstance(up_front, float) and up_front > budget:
        text = f"It costs {up_front:,.0f} up front; the budget is {budget:,.0f}."
        found = Lack("budget", budget, up_front, study.model.money.currency, text)
    return found or _too_short(study, kinds, option, row, outage, kept)


def stopped(fitted: Fit) -> Lack | None:
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


def over_the_law(study: Study, option: Option) -> Lack | None:
    """More stored fuel than `fuels.*.legal_limit_l` allows; None where there is no limit, or it holds."""
    g = option.generator
    terms = study.model.fuels.get(g.fuel) if g else None
    if g is None or terms is None or terms.legal_limit_l is None or g.tank_l is None:
        return None
    stored_l = g.tank_l if g.fuel_on_site_l is None else g.fuel_on_site_l
    if stored_l <= terms.legal_limit_l + 1e-6:
        return None
    text = "More fuel than may be kept at a dwelling; local code and a licensed person decide."
    return Lack("legal fuel", terms.legal_limit_l, stored_l, "L", text)


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
    if chance_of(sure, kinds, study, hours) >= frac:
        falls = f"{chance_text(chance)} of {chance_text(frac)}"
        text = f"Working machines would do; with their failures the chance is {falls}."
        return Lack("failures", frac, chance, "chance", text)
    lasts_h = kept_on_h(study, option, outage)
    if option.generator is None:
        text = f"The battery carries {lasts_h:g} h of {hours:g} h with a chance of {chance_text(frac)}."
        return Lack("energy", hours, lasts_h, "h", text)
    endless = replace(option.generator, fuel_on_site_l=UNLIMITED, tank_l=UNLIMITED)
    piped = option.generator.tank_l is None
    full = sure if piped else replace(sure, generator=endless)
    assert option.option is not None
    any_fuel = option.option.model_dump(exclude=less(generator={"cost"}))
    key = text_of([study.sha256, any_fuel])
    best = kept.one("endless", key, lambda: chance_of(full, kinds, study, hours))
    if best >= frac:
        text = f"The fuel on site carries {lasts_h:g} h of {hours:g} h with a chance of {chance_text(frac)}."
        return Lack("fuel", hours, lasts_h, "h", text)
    text = (
        f"With fuel without end and machines that never fail the chance is still {chance_text(best)} of "
        f"{chance_text(frac)}: nobody is there to start the generator in time, or one source is too weak."
    )
    return Lack("taking over", frac, best, "chance", text)


def chance_of(b: Backup, kinds: tuple[EventKind, ...], study: Study, hours: float) -> float:
    """Chance to ride through `hours` as OutageYear.ride_through_frac, walked no farther than that needs.

    A gap counts from its beginning, so each walk goes on until a gap that begins before `hours` is
    longer than the loads bear. Events that follow others in a cluster need the whole year.
    """
    if any(kind.followed_frac > 0 for kind in kinds):
        return outage_year(b, kinds, study.model.seed, study.model.outages.horizon_h).ride_through_frac(hours)
    return kept_on_frac(b, kinds, study.model.seed, hours)


def never_failing(backup: Backup) -> Backup:
    """The same machines, never out of order."""
    block = backup.battery_block
    sure = block.model_copy(update={"fails_to_island_frac": 0.0, "inverter_mttf_h": None}) if block else None
    return replace(backup, reliability=None, battery_block=sure)
