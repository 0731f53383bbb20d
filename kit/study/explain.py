"""The models' errors in plain words, at the place where the value was written."""

from __future__ import annotations

import re
from typing import Any

from pydantic import ValidationError

from kit.study.names import nearest
from kit.study.problems import Place, Problem, problem
from kit.study.quantities import Path_, Reading, Spot

_BOUNDS = {
    "greater_than": ("gt", "must be above"),
    "greater_than_equal": ("ge", "must be at least"),
    "less_than": ("lt", "must be below"),
    "less_than_equal": ("le", "must be at most"),
}
_RULES = {
    "missing": "is missing",
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "bool_type": "must be true or false",
    "string_type": "must be text",
    "list_type": "must be a list",
    "tuple_type": "must be a list",
    "dict_type": "must be a block of names",
    "model_type": "must be a block of keys",
    "model_attributes_type": "must be a block of keys",
    "finite_number": "must be a finite number",
    "extra_forbidden": "unknown key",
}
_NO_OPTIONS = "no option is given: name at least one, such as options: {small_set: {generator: ...}}"
_QUANTITY = re.compile(r"\s*([-+]?[0-9][0-9,_ ]*(?:\.[0-9]+)?)\s*([^0-9]*)")


def explain(error: ValidationError, reading: Reading) -> list[Problem]:
    """One Problem for each error that is not the consequence of one noted before."""
    found = []
    for item in error.errors(include_url=False):
        loc = tuple(str(part) for part in item["loc"] if part != "[key]")
        if not _noted(loc, str(item["type"]), reading.broken):
            found.append(_problem(dict(item), loc, spot_of(loc, reading)))
    return found


def _noted(loc: Path_, kind: str, broken: set[Path_]) -> bool:
    if any(loc[: len(path)] == path for path in broken):
        return True
    whole = kind in ("value_error", "too_short")  # said of a block of which a piece is broken
    return whole and any(path[: len(loc)] == loc for path in broken)


def spot_of(loc: Path_, reading: Reading) -> Spot:
    """Where the nearest written value stands, with the path carried on to the very end."""
    for end in range(len(loc), -1, -1):
        if loc[:end] in reading.spots:
            spot = reading.spots[loc[:end]]
            path = ".".join(part for part in (spot.path, *loc[end:]) if part)
            return Spot(spot.place, path, spot.value)
    return Spot(Place(None), ".".join(loc), None)


def _problem(item: dict[str, Any], loc: Path_, spot: Spot) -> Problem:
    kind, ctx, name = str(item["type"]), item.get("ctx") or {}, loc[-1] if loc else ""
    if kind == "value_error":
        return problem(spot.place, spot.path, str(ctx.get("error", item["msg"])))
    if kind == "missing":
        return problem(spot.place, spot.path, "is missing")
    if name == "options" and len(loc) == 1 and not spot.value:
        return problem(spot.place, "options", _NO_OPTIONS)
    if kind in _BOUNDS:
        key, words = _BOUNDS[kind]
        as_field = "" if spot.path.endswith(name) else f" as {name}"
        rule = f"{words} {ctx[key]:g}{as_field}"
        return problem(spot.place, spot.path, rule, spot.value, _share_hint(name, spot.value))
    if kind == "literal_error":
        return _choice(item, spot)
    if kind in ("too_short", "too_long"):
        least = kind == "too_short"
        count = ctx["min_length"] if least else ctx["max_length"]
        rule = f"must have {'at least' if least else 'at most'} {count} {'item' if count == 1 else 'items'}"
        return problem(spot.place, spot.path, rule, spot.value)
    if kind == "string_pattern_mismatch":
        return problem(spot.place, spot.path, f"must match {ctx['pattern']}", spot.value)
    rule = _RULES.get(kind) or item["msg"].replace("Input should", "should")
    return problem(spot.place, spot.path, rule, spot.value, _type_hint(kind, spot.value))


def _choice(item: dict[str, Any], spot: Spot) -> Problem:
    expected = item["ctx"]["expected"].replace("'", "")
    choices = re.split(r", | or ", expected)
    close = nearest(spot.value, choices) if isinstance(spot.value, str) else None
    hint = f"Did you mean {close}?" if close else ""
    if isinstance(spot.value, bool):
        hint = "Put it in quotes if it is a name."
    elif isinstance(spot.value, str) and spot.value in choices:
        hint = f"Write {spot.value} without quotes."
    return problem(spot.place, spot.path, f"must be {expected}", spot.value, hint)


def _share_hint(name: str, value: Any) -> str:
    share = name.endswith("frac") or "_frac_" in name
    if share and isinstance(value, int | float) and 1 < value <= 100:
        return f"Write {value / 100:g} for {value:g} %."
    return ""


def _type_hint(kind: str, value: Any) -> str:
    if kind == "bool_type" and isinstance(value, str) and value.lower() in ("yes", "no", "on", "off"):
        return f"Write {'true' if value.lower() in ('yes', 'on') else 'false'}."
    if kind == "string_type" and isinstance(value, int | float):
        return "Put it in quotes."
    if kind in ("float_type", "int_type") and isinstance(value, str):
        return _number_hint(value)
    return ""


def _number_hint(text: str) -> str:
    match = _QUANTITY.fullmatch(text)
    if match is None:
        return ""
    number, unit = re.sub("[,_ ]", "", match[1]), match[2].strip()
    if unit == "%":
        return f"Write {float(number) / 100:g} for {number} %."
    if unit:
        return f"Write {number}; the unit stands in the key's name."
    return f"Write {number}" + (" without quotes." if number == text.strip() else ".")
