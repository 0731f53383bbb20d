"""What is wrong with a study: one line a problem, with its place and a way out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

SET = "--set"


class Place(NamedTuple):
    """Where a value was written. `file` is None for a value given on the command line."""

    file: Path | None
    line: int = 0
    column: int = 0


@dataclass(frozen=True)
class Problem:
    """One thing to put right. `got` is the value as written, '' where none is worth showing."""

    file: str
    line: int
    column: int
    path: str
    rule: str
    got: str = ""
    hint: str = ""

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        text = f"{self.path}: {self.rule}" if self.path else self.rule
        got = f" (got {self.got})" if self.got else ""
        return f"{where}  {text}{got}" + (f". {self.hint}" if self.hint else "")


class StudyError(Exception):
    """A study cannot be used; `problems` holds everything found, in order of file and line."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        found = sorted(set(problems), key=lambda p: (p.file == SET, p.file, p.line, p.column, p.path, p.rule))
        self.problems = tuple(found)
        super().__init__("\n".join(map(str, self.problems)))

    def __reduce__(self) -> tuple[type[StudyError], tuple[tuple[Problem, ...]]]:
        return StudyError, (self.problems,)


def problem(place: Place, path: str, rule: str, got: object = ..., hint: str = "") -> Problem:
    """A Problem at a place; `got` is shown as it would be written in a file."""
    file = SET if place.file is None else shown(place.file)
    return Problem(file, place.line, place.column, path, rule, "" if got is ... else written(got), hint)


def shown(file: Path) -> str:
    """A file's name as a reader at the prompt would type it."""
    try:
        return file.relative_to(Path.cwd()).as_posix()
    except (ValueError, OSError):
        return str(file)


def written(value: object) -> str:
    """A value as it would stand in a parameter file, shortened."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):  # of values or of nodes
        return "a block" if value else "an empty block"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
