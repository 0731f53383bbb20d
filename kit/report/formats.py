"""How a figure is printed: ONE function, `figure`, for tables, charts and sentences.

Values come in the kit's own units; the unit is the suffix of the name. A study in US
units sees gallons, feet and degrees F; emissions stay in kg and g in both.
"""

from __future__ import annotations

import math
from typing import Literal

from kit.units import FT3_M3, FT_M, GAL_L, chance_text, share_text

Units = Literal["us", "metric"]

CHANCE = "chance"  # a share that a target asks for: rounded down, so that no missed target is printed as met
DASH = "\N{EN DASH}"
MINUS = "\N{MINUS SIGN}"
NBSP = "\N{NO-BREAK SPACE}"

_SYMBOLS = {"USD": "$", "EUR": "€", "GBP": "£"}

# suffix -> (symbol printed, factor) for a study in US units; metric prints the kit's own unit
_US: dict[str, tuple[str, float]] = {
    "l": ("gal", 1 / GAL_L),
    "l_per_h": ("gal/h", 1 / GAL_L),
    "m3": ("ft³", 1 / FT3_M3),
    "m3_per_h": ("ft³/h", 1 / FT3_M3),
    "m": ("ft", 1 / FT_M),
}
_OWN: dict[str, str] = {
    "kw": "kW",
    "kwh": "kWh",
    "kva": "kVA",
    "w": "W",
    "a": "A",
    "v": "V",
    "h": "h",
    "s": "s",
    "min": "min",
    "years": "years",
    "l": "L",
    "l_per_h": "L/h",
    "m3": "m³",
    "m3_per_h": "m³/h",
    "m": "m",
    "kg": "kg",
    "g": "g",
    "count": "",
    "db_a": "dB(A)",
}


def unit_symbol(unit: str, units: Units = "us", currency: str = "USD") -> str:
    """Symbol printed for a unit suffix, e.g. 'l' -> 'gal' in a study in US units."""
    if unit in ("frac", CHANCE):
        return "%"
    if unit == "usd":
        return _SYMBOLS.get(currency, currency)
    if units == "us" and unit in _US:
        return _US[unit][0]
    return _OWN.get(unit, unit)


def convert(value: float, unit: str, units: Units = "us") -> float:
    """The value in the unit that `unit_symbol` names; fractions become percent."""
    if unit in ("frac", CHANCE):
        return value * 100
    if units == "us" and unit in _US:
        return value * _US[unit][1]
    return value


def figure(
    value: float | bool | str | None,
    unit: str,
    units: Units = "us",
    currency: str = "USD",
    with_unit: bool = True,
    more: int = 0,
) -> str:
    """Print one figure, with `more` digits than usual (quantities only).

    Money has no cents from 100 up, shares are percent and never round to a false 0 or 100, a
    CHANCE to stay on is percent rounded down, other quantities keep three significant figures at
    most; None (and NaN) is an en dash.
    """
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return DASH
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if unit == "frac":
        return share_text(float(value))
    if unit == CHANCE:
        return chance_text(float(value))
    if unit == "usd":
        return _money(float(value), currency)
    if unit == "h" and with_unit and 0 < abs(value) < 0.0995:
        return _short_time(float(value))
    text = _plain(convert(float(value), unit, units), more)
    symbol = unit_symbol(unit, units, currency) if with_unit else ""
    return f"{text}{NBSP}{symbol}" if symbol else text


def digits_apart(need: float, have: float, unit: str = "", units: Units = "us") -> int:
    """How many digits more than usual keep two unequal figures from printing alike."""
    for more in range(7):
        if need == have or figure(need, unit, units, more=more) != figure(have, unit, units, more=more):
            return more
    return 0


def whole_money(value: float, currency: str = "USD") -> str:
    """Money in a table of large sums: no cents at all."""
    return _signed(f"{_prefix(currency)}{abs(value):,.0f}", value)


def unit_price(value: float, unit: str, currency: str = "USD") -> str:
    """A price of one unit, to a tenth of a cent: $0.261 per kWh."""
    return f"{_signed(f'{_prefix(currency)}{abs(value):,.3f}', value)} per {_OWN.get(unit, unit)}"


def short_money(value: float, currency: str = "USD") -> str:
    """Money for a chart label: thousands as 12.3k."""
    if abs(value) < 1000:
        return _money(value, currency)
    thousands = value / 1000
    digits = 0 if abs(thousands) >= 100 else 1
    return _signed(f"{_prefix(currency)}{abs(thousands):,.{digits}f}k", value)


def _short_time(hours: float) -> str:
    """A small part of an hour in minutes or seconds."""
    seconds = hours * 3600
    if abs(seconds) >= 59.5:
        return f"{_plain(seconds / 60)}{NBSP}min"
    return f"{_plain(seconds)}{NBSP}s"


def _money(value: float, currency: str) -> str:
    digits = 0 if abs(value) >= 100 or abs(value) < 0.005 else 2
    return _signed(f"{_prefix(currency)}{abs(value):,.{digits}f}", value)


def _prefix(currency: str) -> str:
    symbol = _SYMBOLS.get(currency)
    return symbol if symbol else f"{currency}{NBSP}"


def _plain(value: float, more: int = 0) -> str:
    size = abs(value)
    if math.isinf(value):
        return "no end" if value > 0 else f"{MINUS}no end"
    if size >= 99.95 or value == 0:
        digits = 0
    elif size >= 0.995:
        digits = 1
    elif size >= 0.0995:
        digits = 2
    elif size >= 0.000995:
        return _signed(f"{size:.{2 + more}g}", value)
    else:
        return "<0.001" if value > 0 else f"{MINUS}0.001 to 0"
    text = f"{size:,.{digits + more}f}"
    if digits + more == 1 and text.endswith(".0"):
        text = text[:-2]
    return _signed(text, value)


def _signed(text: str, value: float) -> str:
    shows_nothing = not any(c in "123456789" for c in text)
    return f"{MINUS}{text}" if value < 0 and not shows_nothing else text
