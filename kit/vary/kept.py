"""The physics that a case does not change is computed once: `summary_rows` gives what compare() gives.

A stage's result is kept under the values it may read: the whole resolved study less what is known
to move money only. A value this file does not know counts as physics, so nothing stale is served.
Options are compared as they stand in the model, the rest by the study's `resolved`: change that by
`Study.changed` only.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from kit.fit import Fit
from kit.house import HouseYear, house_year
from kit.operate.events import EventKind
from kit.stages.columns import Value, columns
from kit.stages.daily import Daily, everyday_use
from kit.stages.money import account
from kit.stages.outage import OutageSide, event_side, outage_use
from kit.stages.power import power_check
from kit.stages.sources import DO_NOTHING, Sources, sources
from kit.study import Study
from kit.study.names import option_names

MONEY_BLOCKS = frozenset(
    {"name", "prepared", "units", "money", "grid_co2e_kg_per_kwh", "export_credit_frac", "lifetime_count"}
    | {"catalogue", "draw_count", "draw_shape", "draw_points", "together"}
)
LOSSES = frozenset({"lost_load", "event_losses"})  # of money, but valued along the outage walk
MONEY_KEYS = frozenset(
    {"cost", "name", "pack_price_usd", "service", "break_in_h", "break_in_usd", "life_h", "exercise"}
    | {"onsite_nox_g_per_kwh", "onsite_co_g_per_kwh"}
)  # of a machine; a battery's and an array's life in years stay, since their ageing reads them
MONEY_OF_PART = {"generator": MONEY_KEYS | {"life_years"}}
MONEY_OF_FUEL = frozenset(
    {"price_usd_per_l", "price_usd_per_m3", "fixed_usd_per_year", "delivery_usd", "keeps_months"}
    | {"stale_value_frac", "l_per_trip", "trip_usd", "trip_h"}
)
HOURS_PATH = "asked.keep_on_h"
MONEY_ASKED = frozenset({"budget_usd", "judged_by"})
MOST_KEPT = 64  # results of each stage; about 2 MB each with hourly steps

T = TypeVar("T")


class Kept:
    """Results of earlier cases in this process. Not for threads; each worker has its own."""

    def __init__(self) -> None:
        self._stages: dict[str, OrderedDict[str, Any]] = {}

    def one(self, stage: str, key: str, make: Callable[[], T]) -> T:
        """The result kept under `key`, else made and kept."""
        return self.many(stage, {"": key}, lambda _: {"": make()})[""]

    def many(
        self, stage: str, keys: Mapping[str, str], make: Callable[[Collection[str]], Mapping[str, T]]
    ) -> dict[str, T]:
        """One result a slug: kept ones, the missing made in one call, in the order of `keys`."""
        kept = self._stages.setdefault(stage, OrderedDict())
        missing = [slug for slug, key in keys.items() if key not in kept]
        made = make(missing) if missing else {}
        found: dict[str, T] = {}
        for slug, key in keys.items():
            found[slug] = made[slug] if slug in made else kept[key]
            kept[key] = found[slug]
            kept.move_to_end(key)
        while len(kept) > max(MOST_KEPT, len(keys)):
            kept.popitem(last=False)
        return found


@dataclass(frozen=True, eq=False)
class Stages:
    """One study as far as the outages: everything before money, in the order of compare()."""

    house: HouseYear
    kinds: tuple[EventKind, ...]
    options: dict[str, Sources]
    fits: dict[str, Fit]
    daily: dict[str, Daily]
    outages: dict[str, OutageSide]


def physics(study: Study, kept: Kept) -> Stages:
    """The stages of compare() before money, taking from `kept` what earlier studies share with this one."""
    house = kept_house(study, kept)
    kinds = event_side(study, house)
    options = kept_sources(study, house, kept)
    fits = power_check(study, house, options)
    keys = option_keys(study, list(options))
    daily = kept.many(
        "daily", keys, lambda missing: everyday_use(study, house, {slug: options[slug] for slug in missing})
    )
    outages = kept.many(
        "outages",
        keys,
        lambda missing: outage_use(study, house, kinds, {s: options[s] for s in missing}, daily, fits),
    )
    return Stages(house, kinds, options, fits, daily, outages)


def summary_rows(study: Study, kept: Kept) -> list[dict[str, Value]]:
    """The summary of a study as compare() gives it: one row an option, `option` first."""
    s = physics(study, kept)
    accounts = account(study, s.options, s.daily, s.outages)
    rows = columns(study, s.options, s.fits, s.daily, s.outages, accounts)
    return [{"option": slug, **row} for slug, row in rows.items()]


def kept_house(study: Study, kept: Kept) -> HouseYear:
    """The house in its year; `house_year` reads nothing else of a study."""
    return kept.one("house", _house_key(study), lambda: house_year(study.model.house, study.model.year))


def kept_with(study: Study, house: HouseYear) -> Kept:
    """Nothing kept yet but this study's house."""
    kept = Kept()
    kept.one("house", _house_key(study), lambda: house)
    return kept


def _house_key(study: Study) -> str:
    return text_of([study.resolved["house"], study.model.year, study.data_files])


def kept_sources(study: Study, house: HouseYear, kept: Kept) -> dict[str, Sources]:
    """All options, doing nothing first; prices are always those of this study."""
    blocks = {DO_NOTHING: None, **study.model.options}

    def make(missing: Collection[str]) -> dict[str, Sources]:
        few = {slug: option for slug, option in study.model.options.items() if slug in missing}
        return sources(replace(study, model=study.model.model_copy(update={"options": few})), house)

    found = kept.many("sources", option_keys(study, list(blocks)), make)
    names = {DO_NOTHING: found[DO_NOTHING].name, **option_names(study.model.options)}
    return {slug: replace(one, option=blocks[slug], name=names[slug]) for slug, one in found.items()}


def option_keys(study: Study, slugs: Sequence[str], unread: Collection[str] = ()) -> dict[str, str]:
    """All that each option's physics may read, as text: alike in two studies, so are the results.

    unread: what is asked that the caller does not read either.
    """
    whole = study.resolved
    dropped = MONEY_BLOCKS | {"options", "fuels", "asked"}
    common: dict[str, Any] = {name: value for name, value in whole.items() if name not in dropped}
    common["asked"] = _less(whole["asked"], MONEY_ASKED | set(unread))
    common["losses"] = {name: whole["money"][name] for name in LOSSES}
    common["fuels"] = {fuel: _less(terms, MONEY_OF_FUEL) for fuel, terms in whole["fuels"].items()}
    common["data"] = study.data_files
    shared = text_of(common)
    blocks = {slug: option.model_dump() for slug, option in study.model.options.items() if slug in slugs}
    return {slug: shared + text_of([slug, _machines(blocks.get(slug, {}))]) for slug in slugs}


def moves_money_only(path: str) -> bool:
    """Whether no stage before account() reads the value at a path: its rule is that of `option_keys`."""
    blocks = path.split(".")
    if blocks[0] in MONEY_BLOCKS:
        return len(blocks) < 2 or blocks[1] not in LOSSES
    if blocks[0] == "options" and len(blocks) > 3:
        return blocks[2] != "rate_plan" and blocks[3] in MONEY_OF_PART.get(blocks[2], MONEY_KEYS)
    if blocks[0] == "fuels" and len(blocks) > 2:
        return blocks[2] in MONEY_OF_FUEL
    return blocks[0] == "asked" and blocks[1:2] in ([name] for name in MONEY_ASKED)


def _machines(option: Mapping[str, Any]) -> dict[str, Any]:
    """An option's blocks without what money alone reads; a rate plan whole."""
    return {
        part: _less(block, MONEY_OF_PART.get(part, MONEY_KEYS))
        if isinstance(block, dict) and part != "rate_plan"
        else block
        for part, block in option.items()
    }


def _less(block: Mapping[str, Any], keys: Collection[str]) -> dict[str, Any]:
    return {name: value for name, value in block.items() if name not in keys}


def text_of(value: Any) -> str:
    """Plain values as one text, to keep results under."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"))
