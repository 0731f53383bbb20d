"""What each configuration of a catalogue comes to: the stages of compare(), and the first check it fails.

`bounded` asks what needs no walk: power, starts, voltage, law, and the least it can cost. `sized` walks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, TypeVar

from kit.fit import Fit
from kit.house import HouseYear
from kit.operate.events import EventKind
from kit.stages.columns import Value, columns
from kit.stages.daily import Daily, everyday_use
from kit.stages.money import account
from kit.stages.outage import OutageSide, event_side, outage_use
from kit.stages.power import power_check
from kit.stages.sources import DO_NOTHING, Sources, sources
from kit.study import Study
from kit.study.models import Option
from kit.vary.kept import Kept, kept_house, text_of
from kit.vary.size_lacks import Lack, first_lack, kept_on_h, less, over_the_law, stopped

T = TypeVar("T")

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


def bounded(study: Study, kept: Kept) -> list[dict[str, Value]]:
    """One row a configuration (the options of this study), no outage walked.

    Columns: configuration, up_front_usd, least_cost_usd (lifetime cost with no fuel, no run hour and no
    charge spent on outages, and of several amounts of stored fuel that of the least dear, so never above
    what it comes to), and fails, need, have, unit, text of the first check failed, None where the walk
    decides.
    """
    alike = _fuel_apart(study.model.options)
    few = {slug: study.model.options[slug] for slug in alike.values()}
    apart = replace(study, model=study.model.model_copy(update={"options": few}))
    house = kept_house(study, kept)
    options, kinds = sources(apart, house), _kinds(study, house, kept)
    fits = _fits(study, house, options, kept)
    daily = _daily(study, house, options, kept)
    nothing = _nothing(study, house, kinds, options, daily, fits, kept)
    accounts = account(apart, options, daily, dict.fromkeys(options, nothing))
    made: list[dict[str, Value]] = []
    for slug, option in study.model.options.items():
        like = alike[slug]
        lack = stopped(fits[like]) or over_the_law(study, option)
        up_front = accounts[like].flows.up_front_usd + _holds_usd(option) - _holds_usd(few[like])
        told: dict[str, Value] = {"configuration": slug, "up_front_usd": up_front}
        told["least_cost_usd"] = accounts[like].measures.lifetime_cost_usd
        made.append(told | (dict.fromkeys(Lack.__annotations__) if lack is None else vars(lack)))
    return made


def _fuel_apart(options: Mapping[str, Option]) -> dict[str, str]:
    """For each configuration the one that differs in stored fuel alone and pays least to hold it."""
    fuel: Any = {"name": True, "generator": {"fuel_on_site_l": True, "cost": {"install_usd": True}}}
    keys = {slug: text_of(option.model_dump(exclude=fuel)) for slug, option in options.items()}
    least: dict[str, str] = {}
    for slug, key in keys.items():
        if key not in least or _holds_usd(options[slug]) < _holds_usd(options[least[key]]):
            least[key] = slug
    return {slug: least[key] for slug, key in keys.items()}


def _holds_usd(option: Option) -> float:
    """The installation of the generator, which holds what stores its fuel."""
    return option.generator.cost.install_usd if option.generator else 0.0


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
        left_out = less({"packs_per_unit", "cost"}, {"cost"})
        return text_of([study.sha256, option.model_dump(exclude=left_out)])

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
