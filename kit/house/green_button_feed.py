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
from xml.etree.ElementTree import ParseError, TreeBuilder

from kit.house.readings import MeterError

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

KINDS = ("UsagePoint", "MeterReading", "ReadingType", "LocalTimeParameters")
UNSAID = -1  # a time that the file does not give
CHUNK_BYTES = 1 << 16


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

    def take(self, texts: dict[str, str]) -> None:
        """Note one IntervalReading by the texts of its parts, as `_Stream` names them."""
        self.start_s.append(_whole(texts.get("timePeriod/start", ""), UNSAID))
        self.length_s.append(_whole(texts.get("timePeriod/duration", ""), 0))
        self.value.append(_float(texts.get("value", "")))
        self.cost.append(_float(texts.get("cost", "")))


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
    from defusedxml.ElementTree import XMLParser

    stream = _Stream()
    parser = XMLParser(target=stream)
    with path.open("rb") as file:
        while chunk := file.read(CHUNK_BYTES):
            parser.feed(chunk)
    root = parser.close()
    if local_name(root) != "feed":
        what = f"this is a single <{local_name(root)}>"
        raise MeterError(path, f"a Green Button file is an Atom <feed>, {what}")
    stream.feed.blocks += stream.blocks
    return stream.feed


class _Stream:
    """What the parser tells, element by element: a tree in which readings are empty, their texts taken."""

    def __init__(self) -> None:
        self.feed, self.blocks, self.block = Feed(), list[Block](), Block()  # of the entry that is read
        self.tree = TreeBuilder()
        self.inside: list[str] | None = None  # names from the reading down to here; None outside of one
        self.text = ""
        self.texts: dict[str, str] = {}

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        if self.inside is not None:
            self.inside.append(_local(tag))
            self.text = ""
            return
        self.tree.start(tag, attributes)
        if _local(tag) == "IntervalReading":
            self.inside, self.texts = [], {}

    def data(self, text: str) -> None:
        if self.inside is None:
            self.tree.data(text)
        else:
            self.text += text

    def end(self, tag: str) -> None:
        if self.inside:
            self.texts["/".join(self.inside)] = self.text
            self.inside.pop()
            return
        if self.inside is not None:
            self.block.take(self.texts)
            self.inside = None
        self._ended(self.tree.end(tag))

    def close(self) -> Element:
        return self.tree.close()

    def _ended(self, element: Element) -> None:
        name = local_name(element)
        if name == "IntervalBlock":
            self.block.interval_start_s = number_of(element, "interval", "start", default=UNSAID)
            self.block.interval_length_s = number_of(element, "interval", "duration")
            self.blocks.append(self.block)
            self.block = Block()
        elif name == "entry":
            _close(element, self.feed, self.blocks)
            self.blocks = []
            element.clear()


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
