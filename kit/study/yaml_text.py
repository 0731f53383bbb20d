"""Strict YAML: text to a tree of nodes that know their place.

The C parser reads the structure; the scalar rules are the core schema of YAML 1.2 (section 10.3
of its specification), with one narrowing: digits behind a leading zero stay text, so a postal
code keeps its zero. What parsers commonly guess at is refused instead: duplicate keys, keys that
are not text, anchors, aliases, merge keys, tags, several documents, numbers that are not finite.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

import yaml

from kit.study.problems import Place, Problem, problem

LARGEST_FILE_BYTES = 5_000_000
DEEPEST = 60

_INTEGER = re.compile(r"[-+]?(0|[1-9][0-9]*)")
_BASED = re.compile(r"0o[0-7]+|0x[0-9a-fA-F]+")
_DECIMAL = re.compile(r"[-+]?(\.[0-9]+|(0|[1-9][0-9]*)(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")
_WORDS = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}


@dataclass(frozen=True, slots=True)
class Node:
    """A value with its place: a dict of nodes, a list of nodes, or a scalar.

    A member of a mapping has the place of its key. `source` and `as_of` are filled in later.
    """

    value: Any
    place: Place
    source: str | None = None
    as_of: str | None = None


class Broken:
    """Stands where a value or a part could not be read; its problem is noted already."""

    def __repr__(self) -> str:
        return "unreadable"


def scalar(text: str) -> str | int | float | bool | None:
    """A plain scalar by the core schema. ValueError, in plain words, for .nan, .inf and overflow."""
    if text in _WORDS:
        return _WORDS[text]
    if _NOT_FINITE.fullmatch(text):
        raise ValueError("must be a finite number")
    if len(text) > 300 and (_INTEGER.fullmatch(text) or _DECIMAL.fullmatch(text)):
        raise ValueError("must be a number of fewer digits")
    if _INTEGER.fullmatch(text):
        return int(text)
    if _BASED.fullmatch(text):
        return int(text, 0)
    if _DECIMAL.fullmatch(text):
        number = float(text)
        if not isfinite(number):
            raise ValueError("must be a finite number")
        return number
    return text


def read_tree(file: Path, problems: list[Problem]) -> Node | None:
    """The tree of a file; None, with at least one problem added, where it cannot be read."""
    top = Place(file, 1, 1)
    try:
        if not file.is_file():
            problems.append(problem(top, "", "is not a file"))
            return None
        data = file.read_bytes()
    except OSError as error:
        problems.append(problem(top, "", f"cannot be read: {error.strerror}"))
        return None
    if len(data) > LARGEST_FILE_BYTES:
        problems.append(problem(top, "", "is too large for a parameter file", hint="Data goes to `file:`."))
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        problems.append(problem(Place(file, line, 1), "", "is not UTF-8 text", hint="Save it as UTF-8."))
        return None
    return parse(text, file, problems)


def parse(text: str, file: Path | None, problems: list[Problem]) -> Node | None:
    """The tree of a text; None, with at least one problem added, where it is not a tree at all."""
    try:
        if ("&" in text or "!" in text) and _refuse_shorthand(text, file, problems):
            return None
        root = yaml.compose(text, Loader=yaml.CSafeLoader)
    except yaml.YAMLError as error:
        problems.append(_syntax(error, text, file))
        return None
    if root is None:
        problems.append(problem(Place(file, 1, 1), "", "the file is empty"))
        return None
    return _node(root, Place(file, *_at(root)), "", 0, problems)


def _at(thing: Any) -> tuple[int, int]:
    return thing.start_mark.line + 1, thing.start_mark.column + 1


def _refuse_shorthand(text: str, file: Path | None, problems: list[Problem]) -> bool:
    """Anchors, aliases and tags: found on the event stream, where they are still visible."""
    before = len(problems)
    for event in yaml.parse(text, Loader=yaml.CSafeLoader):
        place = Place(file, *_at(event))
        anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
        if anchor is not None:
            sign = "*" if isinstance(event, yaml.AliasEvent) else "&"
            rule = f"anchors and aliases are not used here (got {sign}{anchor})"
            problems.append(problem(place, "", rule, hint="Write it out or use a reference."))
        if tag is not None:
            hint = "Remove it; put quotes round a number that is text."
            problems.append(problem(place, "", "tags are not used here", tag, hint))
    return len(problems) > before


def _syntax(error: yaml.YAMLError, text: str, file: Path | None) -> Problem:
    mark = getattr(error, "problem_mark", None)
    if mark is None:  # a control character; the error knows only its offset
        before = text[: getattr(error, "position", 0)]
        place = Place(file, before.count("\n") + 1, len(before) - before.rfind("\n"))
        return problem(place, "", f"not YAML: {getattr(error, 'reason', 'unreadable character')}")
    place = Place(file, mark.line + 1, mark.column + 1)
    what = str(getattr(error, "problem", None) or "unreadable")
    if "another document" in what:
        return problem(place, "", "a file holds one document", hint="Remove the line `---`.")
    lines = text.splitlines()
    if "\t" in (lines[mark.line] if mark.line < len(lines) else ""):
        return problem(place, "", f"not YAML: {what}", hint="Indent with spaces, not tabs.")
    context = getattr(error, "context", None)
    return problem(place, "", f"not YAML: {what}" + (f" {context}" if context else ""))


def _node(node: yaml.Node, place: Place, path: str, depth: int, problems: list[Problem]) -> Node:
    if depth > DEEPEST:
        problems.append(problem(place, path, f"is nested deeper than {DEEPEST} levels"))
        return Node(Broken(), place)
    if isinstance(node, yaml.MappingNode):
        return Node(_mapping(node, place, path, depth, problems), place)
    if isinstance(node, yaml.SequenceNode):
        items = [
            _node(item, Place(place.file, *_at(item)), _join(path, str(i)), depth + 1, problems)
            for i, item in enumerate(node.value)
        ]
        return Node(items, place)
    if isinstance(node, yaml.ScalarNode) and node.style in ("'", '"', "|", ">"):
        return Node(node.value, place)
    try:
        return Node(scalar(node.value), place)
    except ValueError as error:
        problems.append(problem(place, path, str(error), node.value))
        return Node(Broken(), place)


def _mapping(
    node: yaml.MappingNode, place: Place, path: str, depth: int, problems: list[Problem]
) -> dict[str, Node]:
    members: dict[str, Node] = {}
    for key_node, value_node in node.value:
        here = Place(place.file, *_at(key_node))
        key = key_node.value
        if not isinstance(key_node, yaml.ScalarNode) or not _is_text(key_node):
            hint = "Begin it with a letter, or put it in quotes."
            problems.append(problem(here, path, "a key must be text", key, hint))
        elif key == "<<" and not key_node.style:
            problems.append(problem(here, path, "merge keys are not used here", "<<", "Use `from: FILE`."))
        elif key in members:
            first = members[key].place.line
            problems.append(problem(here, _join(path, key), f"is given twice, first on line {first}"))
        else:
            members[key] = _node(value_node, here, _join(path, key), depth + 1, problems)
    return members


def _is_text(key: yaml.ScalarNode) -> bool:
    if key.style in ("'", '"'):
        return True
    try:
        return isinstance(scalar(key.value), str)
    except ValueError:
        return False


def _join(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key
