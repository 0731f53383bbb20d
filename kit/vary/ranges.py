"""What a study does not know: every number with a low and a high value, named in words.

A number that several options take from the same piece of equipment is one range: it is drawn once. Ranges
that rise and fall together share one rank: all fuel prices; all installation and permit costs; the
prices of all batteries, of all generators, of all solar, of all transfer equipment; and whatever a
study lists under `together`. Grouping is the study's judgement, no measured correlation.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from kit.study import Study
from kit.study.sources import Provenance
from kit.units import GAL_L, split_name
from kit.vary.kept import moves_money_only

Moves = Literal["money", "rate", "blinks", "physics", "emissions"]
RATE = re.compile(r"outages\.classes\.(\w+)\.events_per_year")
EMISSIONS = ("onsite_nox_g_per_kwh", "onsite_co_g_per_kwh", "embodied_co2e_kg")
APPLIANCES = "house.appliances."
BLINKS = "outages.blinks_per_year"
GROUPS = (
    (re.compile(r"fuels\.\w+\.price_usd_per_\w+"), "fuel prices"),
    (re.compile(r"options\.\w+\.\w+\.cost\.(install|permit)_usd"), "installation costs"),
    (
        re.compile(r"options\.\w+\.battery\.(cost\.(price|replacement)_usd|pack_price_usd)"),
        "battery prices",
    ),
    (re.compile(r"options\.\w+\.generator\.cost\.(price|replacement)_usd"), "generator prices"),
    (re.compile(r"options\.\w+\.solar\.cost\.(price|replacement)_usd"), "solar prices"),
    (re.compile(r"options\.\w+\.transfer\.cost\.(price|replacement)_usd"), "transfer equipment prices"),
)
WORDS = {
    "events_per_year": "outages a year",
    "blinks_per_year": "momentary interruptions a year",
    "scale_frac": "ageing scale",
    "usable_kwh": "usable energy",
    "charge_efficiency_frac": "charging efficiency",
    "life_years": "life in years",
    "mttf_h": "run hours to failure",
    "spread": "spread of durations",
    "median_h": "median duration",
    "mean_h": "mean duration",
    "events_h": "duration",
    "grid_co2e_kg_per_kwh": "grid emissions",
    "price_usd_per_l": "price",
    "price_usd_per_m3": "price",
    "price_usd": "price",
    "install_usd": "installation",
    "permit_usd": "permits",
    "pack_price_usd": "price of a pack",
    "stale_value_frac": "worth of stale fuel",
    "lost_load_usd_per_h": "worth of an outage hour",
}


@dataclass(frozen=True)
class Range:
    """One uncertain number, in the kit's unit of its paths' last name. low <= likely <= high.

    `paths`: every place of the study that takes it. `moves`: what it reaches: money alone, the rate
    of an outage kind, the rate of momentary interruptions, physics, or no cost at all but emissions.
    A bundle has `members` and is itself a place from -1 (all low) to 1 (all high). ValueError for a
    wrong order.
    """

    name: str
    paths: tuple[str, ...]
    low: float
    likely: float
    high: float
    source: str | None
    moves: Moves
    members: tuple[Range, ...] = ()

    def __post_init__(self) -> None:
        if not self.low <= self.likely <= self.high:
            text = f"low {self.low:g}, likely {self.likely:g}, high {self.high:g}"
            raise ValueError(f"{self.paths[0]}: low <= likely <= high does not hold: {text}")

    @property
    def key(self) -> str:
        """The first path stands for all."""
        return self.paths[0]

    @property
    def unit(self) -> str:
        """Suffix of the unit, empty where the number has none."""
        return split_name(self.key.rsplit(".", 1)[-1])[1]

    def at(self, place: float) -> float:
        """The value at a place from -1 (low) over 0 (likely) to 1 (high), straight in between."""
        end = self.high if place > 0 else self.low
        return self.likely + abs(place) * (end - self.likely)

    def settings(self, value: float) -> dict[str, float]:
        """What the study is set to at a value: path -> number."""
        if not self.members:
            return dict.fromkeys(self.paths, value)
        return {path: one.at(value) for one in self.members for path in one.paths}

    def place_of(self, value: float) -> float:
        """The place of a value; the inverse of `at`, beyond -1 and 1 too where that side has a width."""
        end, sign = (self.high, 1.0) if value > self.likely else (self.low, -1.0)
        return 0.0 if end == self.likely else sign * (value - self.likely) / (end - self.likely)


@dataclass(frozen=True)
class Unknown:
    """Ranges that share one rank: a group, or a single range by itself."""

    name: str
    ranges: tuple[Range, ...]


def ranges_of(study: Study) -> tuple[Range, ...]:
    """Every range of a study in the order of its paths; numbers whose low and high are equal have none.

    The appliances' watts and duties are one bundle. What could be bought (`catalogue`) is no option yet.
    """
    places: dict[tuple[object, ...], list[str]] = {}
    for path, origin in study.provenance.items():
        if path.startswith("catalogue.") or (origin.low is None and origin.high is None):
            continue
        blocks = path.split(".")
        if blocks[0] == "options" and blocks[1] not in study.model.options:
            continue  # left out of a study made from a part of another
        value = study.value(path)
        if isinstance(value, int | float) and _ends(origin, value)[0] < _ends(origin, value)[1]:
            places.setdefault(source_of(study, path, origin), []).append(path)
    found = [_range(study, paths) for paths in places.values()]
    loads = tuple(one for one in found if one.key.startswith(APPLIANCES))
    rest = [one for one in found if one not in loads]
    if len(loads) > 1:
        paths = tuple(path for one in loads for path in one.paths)
        name = f"watts and duties of the appliances, {len(loads)} numbers"
        rest.insert(0, Range(name, paths, -1.0, 0.0, 1.0, loads[0].source, "physics", loads))
    return _told_apart(rest if len(loads) > 1 else found)


def source_of(study: Study, path: str, origin: Provenance) -> tuple[object, ...]:
    """What tells one number from another: its path, but in an option the equipment by kind and name.

    So it does not matter how a study is laid out in files: made again in one piece, it has the same ranges.
    """
    blocks = path.split(".")
    if blocks[0] != "options" or len(blocks) < 4 or blocks[1] not in study.model.options:
        return (path,)
    part: Any = getattr(study.model.options[blocks[1]], blocks[2], None)
    name, likely = getattr(part, "name", None), study.value(path)
    return (blocks[2], name, ".".join(blocks[3:]), likely, origin.low, origin.high, origin.source)


def _ends(origin: Provenance, likely: float) -> tuple[float, float]:
    low = likely if origin.low is None else origin.low
    return low, likely if origin.high is None else origin.high


def _range(study: Study, paths: Sequence[str]) -> Range:
    origin, likely = study.provenance[paths[0]], float(study.value(paths[0]))
    low, high = _ends(origin, likely)
    return Range(name_of(study, paths), tuple(paths), low, likely, high, origin.source, _moves(paths))


def _moves(paths: Sequence[str]) -> Moves:
    if paths[0].rsplit(".", 1)[-1] in EMISSIONS:
        return "emissions"
    if all(moves_money_only(path) for path in paths):
        return "money"
    if RATE.fullmatch(paths[0]):
        return "rate"
    return "blinks" if paths[0] == BLINKS else "physics"


def name_of(study: Study, paths: Sequence[str]) -> str:
    """What the number is, in words: the quantity, then whose it is."""
    *blocks, last = paths[0].split(".")
    what = WORDS.get(last) or split_name(last)[0].replace("_", " ")
    if blocks[:1] == ["options"]:
        whose = _equipment(study, blocks)
        return f"{whose}: {what}" if whose else what
    if blocks[:2] == ["outages", "classes"]:
        return f"{what}, {blocks[2].replace('_', ' ')}"
    if blocks[:1] == ["fuels"]:
        return f"{blocks[1].replace('_', ' ')}: {what}"
    if blocks[:1] == ["money"]:
        return what
    return f"{' '.join(b.replace('_', ' ') for b in blocks[-2:])}: {what}" if blocks else what


def _equipment(study: Study, blocks: Sequence[str]) -> str:
    option = study.model.options[blocks[1]]
    part: Any = getattr(option, blocks[2], None) if len(blocks) > 2 else option
    name = str(getattr(part, "name", "") or blocks[1].replace("_", " "))
    below = [b.replace("_", " ") for b in blocks[3:] if b not in ("cost", "service", "ageing")]
    return ", ".join([name, *below])


def _told_apart(found: Sequence[Range]) -> tuple[Range, ...]:
    """Two ranges of one name get the slug of the option or block they stand in as well."""
    names = [one.name for one in found]
    return tuple(
        one
        if names.count(one.name) == 1
        else replace(one, name=f"{one.name} ({one.key.split('.')[1].replace('_', ' ')})")
        for one in found
    )


def unknowns_of(study: Study, ranges: Sequence[Range]) -> tuple[Unknown, ...]:
    """Every rank that is drawn: the groups, and each range that is in none, in the order of the ranges.

    Ranges that move emissions only are not drawn. Raises ValueError where `together` names a path
    without a range, or one path twice.
    """
    asked = _asked(study.model.together, ranges)
    groups: dict[str, list[Range]] = {}
    for one in ranges:
        if one.moves == "emissions":
            continue
        group = asked.get(one.key) or next(
            (words for pattern, words in GROUPS if pattern.fullmatch(one.key)), f"\0{one.key}"
        )
        groups.setdefault(group, []).append(one)
    return tuple(
        Unknown(members[0].name if len(members) == 1 else group.lstrip("\0"), tuple(members))
        for group, members in groups.items()
    )


def _asked(together: Mapping[str, Sequence[str]], ranges: Sequence[Range]) -> dict[str, str]:
    """First path of a range -> the name of its group in the study."""
    by_path = {path: one.key for one in ranges for path in one.paths}
    group_of: dict[str, str] = {}
    for slug, paths in together.items():
        for path in paths:
            if path not in by_path:
                raise ValueError(f"together.{slug}: {path} has no low and high value")
            name = slug.replace("_", " ")
            if group_of.setdefault(by_path[path], name) != name:
                raise ValueError(f"together.{slug}: {path} stands in {group_of[by_path[path]]} already")
    return group_of


def shown(one: Range, value: float, study: Study) -> str:
    """A value of a range with its unit, in the units and the money of the study."""
    if one.members:
        return {-1.0: "all low", 0.0: "all likely", 1.0: "all high"}.get(value, f"place {value:.2f}")
    return printed(value, one.unit, study.model.units == "us", study.model.money.currency)


def printed(value: float, unit: str, us: bool, currency: str) -> str:
    """A value with its unit; prices of a litre by the gallon in a study in US units.

    currency: its code, or its sign, which stands at the figure.
    """
    money = f"{currency} " if currency.isalpha() else currency
    if unit == "usd_per_l" and us:
        return f"{money}{value * GAL_L:,.2f} per gal"
    if unit == "frac":
        return f"{100.0 * value:.3g}%"
    if unit.startswith("usd"):
        digits = 0 if abs(value) >= 100 else 2
        return f"{money}{value:,.{digits}f}{_words(unit.removeprefix('usd'))}"
    if unit == "years" and value == 1.0:
        return "1 year"
    return f"{_three(value)} {_words(unit)}".strip()


def _three(value: float) -> str:
    """Three significant figures, whole numbers in full: 1,524, 36.6, 0.305."""
    digits = 2 - math.floor(math.log10(abs(value))) if value else 0
    text = f"{value:,.{max(0, digits)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _words(unit: str) -> str:
    """A suffix as it reads: kg_per_kwh -> kg per kWh, per_year -> a year."""
    said = unit.replace("per_year", "a year").replace("_", " ")
    return " ".join({"kwh": "kWh", "kw": "kW"}.get(word, word) for word in said.split(" "))
