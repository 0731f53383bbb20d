"""The Atom feed of a Green Button file, streamed: small resources kept, readings packed into arrays.

A year of quarter hours takes about a megabyte in memory, however long its text is. Elements are
known by their local names, whatever prefix a file uses, or none.
"""

from __future__ import annotations

from array import array
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree.ElementTree import ParseError

from kit.house.readings import MeterError

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

KINDS = ("UsagePoint", "MeterReading", "ReadingType", "LocalTimeParameters")
UNSAID = -1  # a time that the file does not give


@dataclass(frozen=True)
class Entry:
    """One resource of the feed and the links that tie it to others."""

    content: Element
    self_link: str
    up_link: str
    related: frozenset[str]


@dataclass
class Block:
    """The readings of one IntervalBlock, as written: -1 for a time not given, nan for a value."""

    start_s: array[int] = field(default_factory=lambda: array("q"))
    length_s: array[int] = field(default_factory=lambda: array("q"))
    value: array[float] = field(default_factory=lambda: array("d"))
    cost: array[float] = field(default_factory=lambda: array("d"))
    interval_start_s: int = UNSAID
    interval_length_s: int = 0
    up_link: str = ""

    def take(self, reading: Element) -> None:
        """Note one IntervalReading."""
        texts = {"start": "", "duration": "", "value": "", "cost": ""}
        for child in reading:
            name = local_name(child)
            if name == "timePeriod":
                texts |= {local_name(part): part.text or "" for part in child}
            elif name in ("value", "cost"):
                texts[name] = child.text or ""
        self.start_s.append(_whole(texts["start"], UNSAID))
        self.length_s.append(_whole(texts["duration"], 0))
        self.value.append(_float(texts["value"]))
        self.cost.append(_float(texts["cost"]))


@dataclass
class Feed:
    """The resources by kind, and the interval blocks."""

    entries: dict[str, list[Entry]] = field(default_factory=lambda: {kind: [] for kind in KINDS})
    blocks: list[Block] = field(default_factory=list)


def read_feed(path: Path) -> Feed:
    """The resources of a Green Button file.

    Raises:
        MeterError: not XML, an entity declared in it, or no Atom feed.
    """
    from defusedxml.common import DefusedXmlException

    try:
        return _streamed(path)
    except DefusedXmlException:
        raise MeterError(path, "refused: it declares XML entities, which a meter file never needs") from None
    except ParseError as error:
        raise MeterError(path, f"not XML: {error}") from None
    except MeterError:
        raise
    except (OSError, ValueError, LookupError) as error:
        raise MeterError(path, f"cannot be read: {error}") from None


def _streamed(path: Path) -> Feed:
    from defusedxml.ElementTree import iterparse

    feed, blocks, block = Feed(), list[Block](), Block()  # blocks of the entry that is being read
    stream = iterparse(path, events=("end",))
    for _, element in stream:
        name = local_name(element)
        if name == "IntervalReading":
            block.take(element)
            element.clear()
        elif name == "IntervalBlock":
            block.interval_start_s = number_of(element, "interval", "start", default=UNSAID)
            block.interval_length_s = number_of(element, "interval", "duration")
            blocks.append(block)
            block = Block()
        elif name == "entry":
            _close(element, feed, blocks)
            blocks = []
            element.clear()
    root: Element = stream.root  # type: ignore[attr-defined]  # its stub leaves it out
    if local_name(root) != "feed":
        what = f"this is a single <{local_name(root)}>"
        raise MeterError(path, f"a Green Button file is an Atom <feed>, {what}")
    feed.blocks += blocks
    return feed


def _close(entry: Element, feed: Feed, blocks: list[Block]) -> None:
    """File the resources of an entry that has been read to its end."""
    links: dict[str, set[str]] = {}
    for link in (e for e in entry if local_name(e) == "link"):
        links.setdefault(link.get("rel", ""), set()).add(link.get("href", "").rstrip("/"))
    self_link, up_link = (min(links.get(rel, {""})) for rel in ("self", "up"))
    for block in blocks:
        block.up_link = up_link
    feed.blocks += blocks
    content = _child(entry, "content")
    for resource in content if content is not None else ():
        if local_name(resource) in feed.entries:
            tied = Entry(resource, self_link, up_link, frozenset(links.get("related", ())))
            feed.entries[local_name(resource)].append(tied)


def local_name(element: Element) -> str:
    """The name of an element without its namespace."""
    return _local(element.tag)


@lru_cache(maxsize=1000)
def _local(tag: str) -> str:
    return str(tag).rpartition("}")[2]


def _child(element: Element, *names: str) -> Element | None:
    """The first descendant along a path of local names."""
    found: Element | None = element
    for name in names:
        found = next((c for c in found if local_name(c) == name), None) if found is not None else None
    return found


def text_of(element: Element, *names: str) -> str:
    """The text of a descendant, '' where it is not there."""
    found = _child(element, *names)
    return (found.text or "").strip() if found is not None else ""


def number_of(element: Element, *names: str, default: int = 0) -> int:
    """The whole number of a descendant, `default` where it is not there or no number."""
    return _whole(text_of(element, *names), default)


def _whole(text: str, default: int) -> int:
    try:
        return int(text)
    except ValueError:
        pass
    try:
        return int(float(text))
    except (ValueError, OverflowError):
        return default


def _float(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        return float("nan")
    return value if abs(value) < float("inf") else float("nan")
