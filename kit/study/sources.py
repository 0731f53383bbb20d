"""Where numbers come from: `source`, `as_of` and `note` on any block of a file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from kit.study.problems import Problem, problem
from kit.study.yaml_text import Broken, Node

KEYS = ("source", "as_of", "note")
RECORD = ("likely", "low", "high")


@dataclass(frozen=True)
class Provenance:
    """Where one number was given. `low` and `high` are in the kit's unit; `file` is relative to ROOT.

    `file` is '--set' and `line` 0 for a number given on the command line.
    """

    source: str | None
    as_of: str | None
    low: float | None
    high: float | None
    file: str
    line: int


def push_sources(
    node: Node, problems: list[Problem], source: str | None = None, as_of: str | None = None, path: str = ""
) -> Node:
    """Take the three keys off every block and hand source and date down to the values below it.

    The nearest block with a source covers a value; a source stands with its own date only. Done
    file by file, so a block never lends its source to what it takes from another file.
    """
    if isinstance(node.value, list):
        items = [push_sources(n, problems, source, as_of, f"{path}.{i}") for i, n in enumerate(node.value)]
        return replace(node, value=items)
    if not isinstance(node.value, dict):
        return replace(node, source=source, as_of=as_of)
    own = {key: node.value[key] for key in KEYS if key in node.value}
    if "source" in own:
        source, as_of = _source(own["source"], problems, path), None
    if "as_of" in own:
        as_of = _as_of(own["as_of"], problems, path)
    members = {
        key: push_sources(member, problems, source, as_of, f"{path}.{key}" if path else key)
        for key, member in node.value.items()
        if key not in KEYS
    }
    return Node(members, node.place, source, as_of)


def _source(node: Node, problems: list[Problem], path: str) -> str | None:
    if isinstance(node.value, str) and node.value.strip():
        return node.value.strip()
    if isinstance(node.value, Broken):
        return None
    problems.append(problem(node.place, f"{path}.source".strip("."), "must be text", node.value))
    return None


def _as_of(node: Node, problems: list[Problem], path: str) -> str | None:
    if isinstance(node.value, Broken):
        return None
    text = str(node.value) if isinstance(node.value, int) else node.value
    try:
        parts = text.split("-")
        if len(parts) > 3 or [len(p) for p in parts] != [4, 2, 2][: len(parts)]:
            raise ValueError
        date(*(int(p) for p in (*parts, "01", "01")[:3]))
    except (AttributeError, ValueError):
        hint = "Write 2026, 2026-05 or 2026-05-01."
        problems.append(problem(node.place, f"{path}.as_of".strip("."), "must be a date", node.value, hint))
        return None
    return str(text)
