"""Interval energy from a Green Button file.

Source: NAESB REQ.21, Energy Services Provider Interface (ESPI), an Atom feed of usage points,
meter readings, reading types and interval blocks tied by links. Elements are known by their
local names, whatever prefix a file uses.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree.ElementTree import ParseError

import numpy as np

from kit.house.meter_clock import DstRule, MeterClock
from kit.house.readings import MeterError, Readings, in_order

if TYPE_CHECKING:
    from collections.abc import Iterator
    from xml.etree.ElementTree import Element

WATT_HOURS = 72
FORWARD, REVERSE, NOT_SAID = 1, 19, 0
DELTA = 4
ELECTRICITY = (NOT_SAID, 1, 2)  # commodity: secondary or primary metered
SERVICES = {1: "gas", 2: "water", 4: "heat", 5: "refuse", 6: "sewerage", 8: "TV", 9: "internet"}


@dataclass(frozen=True)
class _Entry:
    """One resource of the feed and the links that tie it to others."""

    content: Element
    self_link: str
    up_link: str
    related: frozenset[str]


def read_green_button(path: Path) -> Readings:
    """Energy taken from the grid in each interval, in order of time [Wh].

    Takes reading types of unit 72 (Wh) that accumulate by difference (4, or not said) and flow
    forward (1, or not said); energy sent to the grid (19) is counted and left out. What makes
    the readings unusable is in `problems` of the result.

    Raises:
        MeterError: not XML, an entity declared in it, or no Atom feed.
    """
    root = _root(path)
    if _local(root) != "feed":
        raise MeterError(path, f"a Green Button file is an Atom <feed>, this is a single <{_local(root)}>")
    entries = _entries(root)
    starts: list[int] = []
    lengths: list[int] = []
    energies: list[float] = []
    problems: dict[str, None] = {}
    reverse = left_out = 0
    for block in entries["IntervalBlock"]:
        scale, flow, problem = _meaning(block, entries)
        if problem:
            problems[problem] = None
        for start, length, value in _interval_readings(block.content):
            if flow == REVERSE or value is None:
                reverse += flow == REVERSE
                left_out += 1
                continue
            starts.append(start)
            lengths.append(length)
            energies.append(value * scale)
    if not entries["IntervalBlock"]:
        problems["no interval data: it has no IntervalBlock"] = None
    return in_order(
        Readings(
            start_s=np.array(starts, dtype=np.int64),
            length_s=np.array(lengths, dtype=np.int64),
            energy_wh=np.array(energies, dtype=np.float64),
            clock=_clock(entries["LocalTimeParameters"]),
            left_out_count=left_out,
            reverse_count=reverse,
            problems=list(problems),
        )
    )


def _root(path: Path) -> Element:
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import parse

    try:
        root = parse(path).getroot()
    except DefusedXmlException:
        raise MeterError(path, "refused: it declares XML entities, which a meter file never needs") from None
    except ParseError as error:
        raise MeterError(path, f"not XML: {error}") from None
    except (OSError, ValueError, LookupError) as error:
        raise MeterError(path, f"cannot be read: {error}") from None
    if root is None:
        raise MeterError(path, "not XML: it is empty")
    return root


def _local(element: Element) -> str:
    return str(element.tag).rpartition("}")[2]


def _child(element: Element, *names: str) -> Element | None:
    """The first descendant along a path of local names."""
    found: Element | None = element
    for name in names:
        found = next((c for c in found if _local(c) == name), None) if found is not None else None
    return found


def _text(element: Element, *names: str) -> str:
    found = _child(element, *names)
    return (found.text or "").strip() if found is not None else ""


def _number(element: Element, *names: str, default: int = NOT_SAID) -> int:
    try:
        return int(float(_text(element, *names)))
    except (ValueError, OverflowError):
        return default


def _entries(root: Element) -> dict[str, list[_Entry]]:
    """Every resource of the feed by its kind."""
    kinds = ("UsagePoint", "MeterReading", "ReadingType", "IntervalBlock", "LocalTimeParameters")
    entries: dict[str, list[_Entry]] = {kind: [] for kind in kinds}
    for entry in (e for e in root if _local(e) == "entry"):
        links: dict[str, set[str]] = {}
        for link in (e for e in entry if _local(e) == "link"):
            links.setdefault(link.get("rel", ""), set()).add(link.get("href", "").rstrip("/"))
        tied = (min(links.get("self", {""})), min(links.get("up", {""})), frozenset(links.get("related", ())))
        content = _child(entry, "content")
        for resource in content if content is not None else ():
            if _local(resource) in entries:
                entries[_local(resource)].append(_Entry(resource, *tied))
    return entries


def _tied(to: list[_Entry], by: frozenset[str]) -> _Entry | None:
    """The entry whose own link is among `by`; where links do not tell, the only one there is."""
    found = [entry for entry in to if entry.self_link and entry.self_link in by]
    if found:
        return found[0]
    return to[0] if len(to) == 1 else None


def _meaning(block: _Entry, entries: dict[str, list[_Entry]]) -> tuple[float, int, str]:
    """(Wh per unit of value, flow direction, problem or '') of one interval block."""
    readings = entries["MeterReading"]
    mine = [r for r in readings if block.up_link and block.up_link in r.related]
    reading = mine[0] if mine else _tied(readings, frozenset([block.up_link.removesuffix("/IntervalBlock")]))
    points = entries["UsagePoint"]
    up = reading.up_link if reading else ""
    point = next((p for p in points if up and up in p.related), None)
    point = point or _tied(points, frozenset([up.removesuffix("/MeterReading")]))
    if point is not None:
        service = _number(point.content, "ServiceCategory", "kind")
        if service != NOT_SAID:
            return 1.0, FORWARD, f"it meters {SERVICES.get(service, f'service {service}')}, not electricity"
    kind = _tied(entries["ReadingType"], reading.related if reading else frozenset())
    if kind is None:
        several = len(entries["ReadingType"])
        why = f"{several} reading types and no link that tells which" if several else "no reading type"
        return 1.0, FORWARD, f"no unit: it has {why}, so the values may be anything, gas included"
    return _scale(kind.content)


def _scale(kind: Element) -> tuple[float, int, str]:
    """(Wh per unit of value, flow direction, problem or '') of one reading type."""
    unit, flow = _number(kind, "uom", default=-1), _number(kind, "flowDirection")
    accumulation, commodity = _number(kind, "accumulationBehaviour"), _number(kind, "commodity")
    scale = 10.0 ** _number(kind, "powerOfTenMultiplier")
    if commodity not in ELECTRICITY:
        name = "natural gas" if commodity == 7 else f"commodity {commodity}"
        return scale, flow, f"its readings are of {name}, not of electricity"
    if unit < 0:
        return scale, flow, "no unit: its reading type names none"
    if unit != WATT_HOURS:
        return scale, flow, f"its unit code is {unit}; energy in Wh is 72"
    if accumulation not in (DELTA, NOT_SAID):
        return scale, flow, f"accumulation behaviour {accumulation} is not energy of each interval (4)"
    if flow not in (FORWARD, REVERSE, NOT_SAID):
        return scale, flow, f"flow direction {flow} is neither forward (1) nor reverse (19)"
    return scale, flow, ""


def _interval_readings(block: Element) -> Iterator[tuple[int, int, float | None]]:
    """(start [s], length [s], value or None) of each reading in a block."""
    for reading in block:
        if _local(reading) != "IntervalReading":
            continue
        try:
            value = float(_text(reading, "value"))
        except ValueError:
            value = float("nan")
        yield (
            _number(reading, "timePeriod", "start"),
            _number(reading, "timePeriod", "duration"),
            value if np.isfinite(value) else None,
        )


def _clock(entries: list[_Entry]) -> MeterClock | None:
    """The meter's own clock, or None where the file does not give a sound one."""
    if not entries or not _text(entries[0].content, "tzOffset"):
        return None
    content = entries[0].content
    offset_s = _number(content, "tzOffset")
    try:
        begins, ends = (DstRule.from_hex(_text(content, f"dst{when}Rule")) for when in ("Start", "End"))
    except ValueError:
        return MeterClock(offset_s)
    return MeterClock(offset_s, _number(content, "dstOffset"), begins, ends)
