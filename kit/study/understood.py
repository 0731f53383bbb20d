"""What a study was understood to say, for a reader at the prompt."""

from __future__ import annotations

from kit.study.models import Option
from kit.study.outage_models import OutageClass
from kit.study.rate_models import RatePlan
from kit.study.read import Study

_NOT_FACTS = ("kit_file", "year", "seed", "asked.", "money.price_year")


def understood(study: Study) -> str:
    """A short account: what was asked, the house, the plan, the outages, the options, the sources."""
    model = study.model
    asked = model.asked
    loads = asked.loads.replace("_", "-")
    lines = [
        f"{model.name}" + (" (invented)" if model.invented else ""),
        f"  asked     keep {loads} loads on for {asked.keep_on_h:g} h, in {asked.chance_frac:.0%} of such "
        f"outages, over {asked.stay_years} years" + _budget(study),
        f"  house     {_house(study)}",
        f"  rates     {_rates(study)}",
        f"  outages   {_outages(study)}",
        *(f"  option    {slug}: {_option(option)}" for slug, option in model.options.items()),
        *(f"  data      {name}" for name in study.data_files),
        f"  numbers   {_sources(study)}",
        f"  sha256    {study.sha256}",
    ]
    return "\n".join(lines)


def _budget(study: Study) -> str:
    budget = study.model.asked.budget_usd
    return "" if budget is None else f", for at most {budget:,.0f} {study.model.money.currency}"


def _house(study: Study) -> str:
    house = study.model.house
    tiers = [a.tier for a in house.appliances.values()]
    counts = ", ".join(f"{tiers.count(t)} {t}" for t in ("must_run", "wanted", "can_wait") if t in tiers)
    load = "meter data" if house.meter else "no meter data"
    name = f"{house.name}, " if house.name else ""
    return f"{name}{house.time_zone}, {load}, {_many(len(tiers), 'appliance')} ({counts})"


def _rates(study: Study) -> str:
    plan = study.model.rate_plan
    name = f"{plan.name}, " if plan.name else ""
    more = [text for text, there in _besides(plan).items() if there]
    return ", ".join([f"{name}{_many(len(plan.seasons), 'season')}, periods {', '.join(plan.energy)}", *more])


def _besides(plan: RatePlan) -> dict[str, bool]:
    """What a plan has besides prices by period, as words -> whether it has it."""
    cycle, later = plan.billing_cycle, plan.followed_by
    begins = (cycle.begins_on_day or "stated days") if cycle else ""
    return {
        "tiers": bool(plan.tiers or plan.season_tiers or any(p.tiers for p in plan.energy.values())),
        _many(len(plan.demand), "demand charge"): bool(plan.demand),
        _many(len(plan.critical_peaks), "critical peak") + " on stated days": bool(plan.critical_peaks),
        "a price series": plan.series is not None,
        f"export {plan.export.kind.replace('_', ' ')}": plan.export.kind != "none",
        f"bills begin on {'day ' if cycle and cycle.begins_on_day else ''}{begins}": cycle is not None,
        f"another plan from {later.starts if later else ''}": later is not None,
    }


def _outages(study: Study) -> str:
    return "; ".join(f"{slug} {_rate(kind)}" for slug, kind in study.model.outages.classes.items())


def _rate(kind: OutageClass) -> str:
    """Where the rate of a class comes from, and the kind of its duration."""
    shape = kind.duration.kind if kind.duration else "log"
    if kind.events_per_year is not None:
        return f"{kind.events_per_year:g} a year, {shape}"
    return f"{'from indices' if kind.from_indices else 'from its log'}, {shape}"


def _option(option: Option) -> str:
    parts = []
    if option.battery is not None:
        b = option.battery
        usable = b.unit_count * (b.usable_kwh + b.packs_per_unit * b.pack_usable_kwh)
        power = b.unit_count * b.continuous_kw
        parts.append(f"battery {usable:g} kWh usable ({b.usable_basis}), {power:g} kW")
    if option.generator is not None:
        g = option.generator
        parts.append(f"generator {g.running_kw:g} kW running, {g.fuel.replace('_', ' ')}, {g.start} start")
    if option.solar is not None:
        parts.append(f"solar {option.solar.size_kw:g} kW")
    if option.transfer is not None:
        parts.append(f"{option.transfer.kind} transfer")
    if option.rate_plan is not None:
        parts.append(f"its own rate plan {option.rate_plan.name}".rstrip())
    return ", ".join(parts)


def _sources(study: Study) -> str:
    facts = {k: p for k, p in study.provenance.items() if not k.startswith(_NOT_FACTS)}
    sourced = sum(p.source is not None for p in facts.values())
    ranged = sum(p.low is not None or p.high is not None for p in facts.values())
    defaults = sum(value is not None for value in study.defaults_used.values())
    return (
        f"{sourced} with a source, {len(facts) - sourced} without, {ranged} with a range, "
        f"{_many(defaults, 'default')} used"
    )


def _many(count: int, thing: str) -> str:
    return f"{count} {thing}" + ("" if count == 1 else "s")
