"""The head of a utility's table: which column is the time, which the energy, and in what unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from kit.house.table_time import read_clock

Flow = Literal["taken", "sent", "net"]
WH_PER = {"kwh": 1000.0, "wh": 1.0, "kw": 1000.0, "w": 1.0}  # of power: per hour
POWER = ("kw", "w")

_UNIT = re.compile(
    r"(?<![a-z])(k?wh|kw|kilowatt[- ]?hours?|watt[- ]?hours?|kilowatts?|watts?|mwh)(?![a-z])", re.IGNORECASE
)
_LONG_UNITS = {"kilowatthour": "kwh", "watthour": "wh", "kilowatt": "kw", "watt": "w"}
_TIME = re.compile(r"\b(date|time|datetime|timestamp|period|hour|day|start|end|begin|interval|from|to)\b")
_BOTH = re.compile(r"date\s*[/&]?\s*(and )?time|datetime|timestamp|period|interval")
_DAY, _TIME_OF_DAY = re.compile(r"\b(date|day)\b"), re.compile(r"\btime\b")
_END = re.compile(r"\b(end|ending|ended|ends|to|until|stop)\b")
_START = re.compile(r"\b(start|starts|starting|begin|begins|beginning|from)\b")
_NO_TIME = re.compile(r"\b(zone|length|duration|minutes?|min|status|type|number|count)\b")
_ENERGY = re.compile(
    r"\b(usage|use|consumption|consumed|energy|import|imported|delivered|received|export|exported|"
    r"value|reading|load|demand|net|quantity|amount used)\b"
)
_SENT = re.compile(r"\b(export|exported|received|sent|returned|surplus|fed|feed-in|to grid)\b")
_MADE = re.compile(r"\b(generation|generated|produced|production|solar)\b")
_COST = re.compile(r"\b(cost|charge|charges|price|bill amount)\b|\$")
_GAS = re.compile(r"\b(therms?|ccf|mcf|cubic feet|m3|natural gas)\b", re.IGNORECASE)
SLOT_COUNTS = {24: 1.0, 25: 1.0, 48: 0.5, 50: 0.5, 96: 0.25, 100: 0.25}


@dataclass(frozen=True)
class Column:
    """A column of energy or power. unit: '' where the head does not say."""

    place: int
    name: str
    flow: Flow
    unit: str


@dataclass(frozen=True)
class Head:
    """What a head says. Places of columns count from 0; None where there is none.

    day: a date, or date and time together. clock: the time of day beside it. label: the end of the
    interval that they name. slots: places of the columns of one day, of slot_h hours each, in a
    table with a row a day; total: the column with their sum.
    """

    day: int
    clock: int | None
    label: Literal["start", "end"]
    columns: tuple[Column, ...]
    cost: int | None = None
    unit: int | None = None
    slots: tuple[int, ...] = ()
    slot_h: float = 0.0
    total: int | None = None


def unit_in(text: str) -> str:
    """kwh, wh, kw or w where a text names exactly one of them, else ''."""
    units = {_short(match[1]) for match in _UNIT.finditer(text)}
    return units.pop() if len(units) == 1 else ""


def _short(unit: str) -> str:
    plain = unit.lower().replace(" ", "").replace("-", "").removesuffix("s")
    return _LONG_UNITS.get(plain, plain)


def names_gas(text: str) -> bool:
    """Whether a text names gas or its units."""
    return bool(_GAS.search(text))


def flow_in(text: str) -> Flow:
    """Which way the energy flows that a text names; from the grid where it does not say."""
    if re.search(r"\bnet\b", text.lower()):
        return "net"
    return "sent" if _SENT.search(text.lower()) else "taken"


def read_head(cells: list[str]) -> Head | None:
    """What a row says as a head, or None where it is none."""
    names = [cell.lower().replace("_", " ") for cell in cells]
    if wide := _wide(names):
        return wide
    columns: list[Column] = []
    days, clocks, ends = list[int](), list[int](), list[int]()
    cost = unit = None
    for place, name in enumerate(names):
        said = unit_in(name)
        if _COST.search(name):
            cost = place if cost is None and not said else cost
        elif said or (_ENERGY.search(name) and not _TIME.search(name)):
            if not _MADE.search(name) or _SENT.search(name):
                columns.append(Column(place, cells[place], flow_in(name), said))
        elif name in ("unit", "units", "uom"):
            unit = place
        elif _TIME.search(name) and not _NO_TIME.search(name):
            _sort_time(name, place, days, clocks, ends)
    if not columns or not (days or clocks or ends):
        return None
    return _with_times(days, clocks, ends, tuple(columns), cost, unit)


def _sort_time(name: str, place: int, days: list[int], clocks: list[int], ends: list[int]) -> None:
    """File a column of time by its name: the date (or both), the time of day, the end."""
    if _END.search(name) and not _START.search(name):
        ends.append(place)
    elif _BOTH.search(name) or _DAY.search(name) or (_START.search(name) and not _TIME_OF_DAY.search(name)):
        days.append(place)
    else:
        clocks.append(place)


def _with_times(
    days: list[int],
    clocks: list[int],
    ends: list[int],
    columns: tuple[Column, ...],
    cost: int | None,
    unit: int | None,
) -> Head:
    if days and clocks:
        return Head(days[0], clocks[0], "start", columns, cost, unit)
    if days and ends and len(days) == 1:
        # A start beside the end, or a date with only an end: the reader tells by what stands there.
        return Head(days[0], ends[0], "end", columns, cost, unit)
    if days:
        return Head(days[0], None, "start", columns, cost, unit)
    if clocks:
        return Head(clocks[0], None, "start", columns, cost, unit)
    return Head(ends[0], None, "end", columns, cost, unit)


def _wide(names: list[str]) -> Head | None:
    """A table with a row a day: its head is a day's worth of times or numbers."""
    slots = [i for i, name in enumerate(names) if _slot(name)]
    if len(slots) < 24 or len(slots) not in SLOT_COUNTS or slots != list(range(slots[0], slots[-1] + 1)):
        return None
    others = [i for i in range(len(names)) if i not in slots]
    day = next((i for i in others if re.search(r"\b(date|day)\b", names[i])), None)
    if day is None:
        return None
    total = next((i for i in others if "total" in names[i]), None)
    unit = next((i for i in others if names[i] in ("unit", "units", "uom")), None)
    heads = " ".join(names[i] for i in others)
    column = Column(slots[0], heads, "taken", unit_in(heads + " " + names[slots[0]]))
    return Head(day, None, "start", (column,), None, unit, tuple(slots), SLOT_COUNTS[len(slots)], total)


def _slot(name: str) -> bool:
    """Whether a name is a time of day or the number of an interval: 00:30, 1:00 AM, HE 5, hour 5, 17."""
    plain = _UNIT.sub("", name).strip(" ()[]-")
    plain = re.sub(r"^(interval|period|slot|value|half[- ]hour)\s*", "", plain)
    first = re.split(r"\s*[-–]\s*|\s+to\s+", plain, maxsplit=1)[0]
    return bool(re.fullmatch(r"\d{1,3}", plain)) or read_clock(first) is not None
