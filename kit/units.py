"""The one table of units: what a name's ending means, how it prints, how it converts.

A name ends in its unit, `price_usd_per_kwh`, `tank_l`, `idle_at_c`. Inside, the kit works in
kWh, kW, h, L (standard m3 for pipeline gas), kg, m and degrees C; a parameter file may use any
unit of the table that measures the same thing, and is converted once, on reading.

Factors are exact by definition unless said: NIST SP 811 (2008) appendix B for the foot, the
pound, the US gallon and the degree Fahrenheit; 1 kWh = 3412.14 Btu is the rounded figure that
US heat contents are published with.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from itertools import product
from math import floor

FT_M = 0.3048
LB_KG = 0.45359237
GAL_L = 3.785411784
FT3_M3 = 0.028316846592
BTU_PER_KWH = 3412.14
HP_KW = 0.7457  # as published, four digits; mechanical, so it never converts into electrical kW


@dataclass(frozen=True)
class Unit:
    """One suffix. `factor` and `offset` lead to the kit's unit: kit = value * factor + offset."""

    label: str
    dimension: tuple[tuple[str, int], ...]
    factor: float = 1.0
    offset: float = 0.0


def _of(dimension: str, **units: tuple[str, float]) -> dict[str, Unit]:
    return {suffix: Unit(label, ((dimension, 1),), factor) for suffix, (label, factor) in units.items()}


_POWER = (("energy", 1), ("time", -1))

UNITS: dict[str, Unit] = {
    "kw": Unit("kW", _POWER),
    "w": Unit("W", _POWER, 0.001),
    "mw": Unit("MW", _POWER, 1000.0),
    **_of("energy", kwh=("kWh", 1.0), wh=("Wh", 0.001), mwh=("MWh", 1000.0)),
    **_of("energy", btu=("Btu", 1 / BTU_PER_KWH), mmbtu=("MMBtu", 1e6 / BTU_PER_KWH)),
    **_of("energy", therm=("therm", 1e5 / BTU_PER_KWH), mj=("MJ", 1 / 3.6)),
    **_of("time", h=("h", 1.0), min=("min", 1 / 60), minutes=("min", 1 / 60), s=("s", 1 / 3600)),
    **_of("days", days=("days", 1.0), day=("day", 1.0)),  # apart from h: run hours are not days
    **_of("calendar", years=("years", 1.0), months=("months", 1 / 12)),
    **_of("calendar", year=("year", 1.0), y=("years", 1.0), month=("month", 1 / 12)),
    **_of("liquid", l=("L", 1.0), gal=("gal", GAL_L)),
    **_of("gas", m3=("m³", 1.0), ft3=("ft³", FT3_M3), ccf=("ccf", 100 * FT3_M3)),
    **_of("area", m2=("m²", 1.0), ft2=("ft²", FT_M**2)),
    **_of("mass", kg=("kg", 1.0), g=("g", 0.001), t=("t", 1000.0), lb=("lb", LB_KG)),
    **_of("length", m=("m", 1.0), km=("km", 1000.0), ft=("ft", FT_M), mi=("mi", 5280 * FT_M)),
    "c": Unit("°C", (("temperature", 1),)),
    "f": Unit("°F", (("temperature", 1),), 5 / 9, -160 / 9),
    **_of("voltage", v=("V", 1.0), kv=("kV", 1000.0)),
    **_of("current", a=("A", 1.0)),
    **_of("apparent power", kva=("kVA", 1.0), va=("VA", 0.001)),
    **_of("mechanical power", hp=("hp", HP_KW)),
    **_of("angle", deg=("°", 1.0)),
    **_of("sound level", dba=("dB(A)", 1.0)),
    **_of("money", usd=("USD", 1.0)),
    **_of("share", frac=("", 1.0)),
    **_of("count", count=("", 1.0)),
}

_ONLY_BELOW = {"year", "month", "day", "y"}  # 'price_year' is a date, 'usd_per_year' a rate
_ONLY_ABOVE = {"years", "months", "days", "minutes", "frac", "count", "usd", "deg", "dba"}
_NUMBERED = re.compile(r"(\d+)(?:p(\d+))?([a-z]+)")  # 300m, 24h, 5p6c (5.6 degrees C)
_QUALIFIER = re.compile(r"(.+?)_(\d+h|by_day|life_mean|at_\d+m)")


@dataclass(frozen=True)
class Conversion:
    """`value * factor + offset` turns a value of the file's unit into the field's."""

    factor: float
    offset: float = 0.0

    def __call__(self, value: float) -> float:
        return value * self.factor + self.offset


@dataclass(frozen=True)
class Measure:
    """A parsed ending: units over units, as written."""

    above: tuple[str, ...]
    below: tuple[str, ...]

    @property
    def suffix(self) -> str:
        return "_".join((*self.above, *(("per", *self.below) if self.below else ())))

    def dimension(self) -> dict[str, int]:
        total: dict[str, int] = {}
        for terms, sign in ((self.above, 1), (self.below, -1)):
            for term in terms:
                for name, power in _term(term)[1].dimension:
                    total[name] = total.get(name, 0) + sign * power
        return {name: power for name, power in total.items() if power}

    def factor(self) -> float:
        value = 1.0
        for terms, sign in ((self.above, 1), (self.below, -1)):
            for term in terms:
                many, unit = _term(term)
                value *= (many * unit.factor) ** sign
        return value

    def offset(self) -> float:
        return _term(self.above[0])[1].offset if self.above and not self.below else 0.0


def _term(token: str) -> tuple[float, Unit]:
    """`300m` -> (300, metre); `kwh` -> (1, kilowatt-hour). KeyError for anything else."""
    if token in UNITS:
        return 1.0, UNITS[token]
    match = _NUMBERED.fullmatch(token)
    if match is None:
        raise KeyError(token)
    whole, part, suffix = match.groups()
    return float(f"{whole}.{part or 0}"), UNITS[suffix]


def _measure(tokens: list[str]) -> Measure | None:
    """Read `usd per kwh`, `per year`, `usd per kw month`; None where it is no unit."""
    above = tokens[: tokens.index("per")] if "per" in tokens else tokens
    below = tokens[len(above) + 1 :]
    if len(above) > 1 or (not below and (not above or len(tokens) > 1)):
        return None
    if any(token not in UNITS or token in _ONLY_BELOW for token in above):
        return None
    try:
        for token in below:
            _term(token)
    except KeyError:
        return None
    return None if _ONLY_ABOVE & set(below) else Measure(tuple(above), tuple(below))


@cache
def _parse(name: str) -> tuple[str, Measure | None, str]:
    """Stem, measure, qualifier: `ride_through_frac_24h` -> ride_through, frac, 24h."""
    tokens = name.replace("_db_a", "_dba").split("_")
    for first in range(len(tokens)):
        measure = _measure(tokens[first:])
        if measure is not None:
            return "_".join(tokens[:first]), measure, ""
    match = _QUALIFIER.fullmatch(name)
    if match:
        stem, measure, inner = _parse(match[1])
        if measure is not None:
            return stem, measure, f"{inner}_{match[2]}".strip("_")
    return name, None, ""


def split_name(name: str) -> tuple[str, str]:
    """Stem and unit suffix of a name: 'price_usd_per_kwh' -> ('price', 'usd_per_kwh').

    The suffix is '' where the name carries no unit. A qualifier behind the unit is left out:
    'ride_through_frac_24h' -> ('ride_through', 'frac').
    """
    stem, measure, _ = _parse(name)
    return stem, measure.suffix if measure else ""


def unit_label(name: str, currency: str = "USD") -> str:
    """The unit of a name as it prints: 'load_kw' -> 'kW', 'price_usd_per_kwh' -> 'USD/kWh'.

    '' for shares, counts and names without a unit. `currency` stands where the name says usd.
    """
    _, measure, qualifier = _parse(name)
    if measure is None:
        return ""

    def text(token: str) -> str:
        if token == "usd":
            return currency
        many, unit = _term(token)
        return unit.label if many == 1.0 else f"{many:g} {unit.label}"

    above = " ".join(text(token) for token in measure.above)
    below = "/".join(text(token) for token in measure.below)
    place = f" at {qualifier[3:-1]} m" if qualifier.startswith("at_") else ""
    if not below:
        return above + place
    return f"{above}/{below}" if above else f"per {below}"


def share_text(share_frac: float) -> str:
    """A share as percent, to the nearest tenth, and never rounded to a false 0 or 100."""
    return _percent(share_frac, round(100.0 * share_frac, 1))


def chance_text(chance_frac: float) -> str:
    """A chance as percent, rounded DOWN to a tenth: what is printed is reached, whatever is asked for.

    The one way a chance to stay on is printed, in sentences, tables, charts and pages.
    """
    return _percent(chance_frac, floor(1000.0 * chance_frac + 1e-6) / 10.0)


def _percent(frac: float, rounded: float) -> str:
    percent = 100.0 * frac
    if 1e-7 < percent < 0.1:  # below is what sums of fractions leave, no figure
        return "<0.1%"
    if 99.9 < percent < 100.0 - 1e-7:
        return ">99.9%"
    sign = "\N{MINUS SIGN}" if rounded < 0 else ""
    return f"{sign}{abs(rounded):.1f}".removesuffix(".0") + "%"


def conversion(key: str, field: str) -> Conversion | None:
    """How a value written under `key` becomes the value of `field`; None if it is another quantity.

    Stems and qualifiers must be the same, and the units must measure the same thing. A
    temperature converts with its offset, a rate per degree without.
    """
    if key == field:
        return Conversion(1.0)
    key_stem, key_unit, key_qualifier = _parse(key)
    stem, unit, qualifier = _parse(field)
    if key_unit is None or unit is None or (key_stem, key_qualifier) != (stem, qualifier):
        return None
    if key_unit.dimension() != unit.dimension():
        return None
    factor = key_unit.factor() / unit.factor()
    return Conversion(factor, (key_unit.offset() - unit.offset()) / unit.factor())


@cache
def allowed_names(field: str) -> tuple[str, ...]:
    """Every name under which a file may give `field`, the field itself first."""
    stem, unit, qualifier = _parse(field)
    if unit is None:
        return (field,)
    above = [[s for s in UNITS if UNITS[s].dimension == _term(t)[1].dimension] for t in unit.above]
    below = [
        [s for s in UNITS if UNITS[s].dimension == _term(t)[1].dimension] if t in UNITS else [t]
        for t in unit.below
    ]
    names = [field]
    for choice in product(*above, *below):
        split = len(unit.above)
        suffix = Measure(choice[:split], choice[split:]).suffix
        name = "_".join(part for part in (stem, suffix, qualifier) if part)
        if name not in names and conversion(name, field) is not None:
            names.append(name)
    if unit.suffix in ("kw", "w"):
        names.append("_".join(part for part in (stem, "btu_per_h", qualifier) if part))
    return tuple(names)


_RARE = {"mw", "mwh", "btu", "mmbtu", "mj", "therm", "y", "minutes", "va", "kv", "km", "mi", "t", "ccf"}


def usual_names(field: str) -> tuple[str, ...]:
    """The few of `allowed_names` that a person would write, for hints."""
    names = [n for n in allowed_names(field) if n == field or not _RARE & set(n.split("_"))]
    if split_name(field)[1] in ("kw", "w") and split_name(field)[0].split("_")[-1] == "heat":
        names.append(f"{split_name(field)[0]}_btu_per_h")
    return tuple(names[:4])
