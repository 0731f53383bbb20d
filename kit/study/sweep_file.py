"""Read a sweep file: which study, and what to vary in it.

    kit_file: 1
    study: ../studies/metered_house.yaml
    how: full_grid                       # or paired: first values together, second together
    vary:
      rate_plan: {files: ../rates/*.yaml}
      options.battery.battery.unit_count: [1, 2, 3]
      money.discount_rate_frac: {low: 0.01, high: 0.06}    # values with labels of their own

A path is the same as for `--set`. A file is named relative to the sweep file, as everywhere.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from kit.study.names import known_hint, nearest
from kit.study.problems import Place, Problem, StudyError, problem
from kit.study.resolve import READS_KIT_FILE, is_reference
from kit.study.yaml_text import Node, read_tree

KEYS = ("kit_file", "study", "how", "vary")


@dataclass(frozen=True)
class SweepFile:
    """What a sweep file says. `varied`: path -> values, or label -> value; files relative to the study."""

    path: Path
    study: Path
    how: Literal["full_grid", "paired"]
    varied: dict[str, list[Any] | dict[str, Any]]


def read_sweep(path: str | Path) -> SweepFile:
    """Read a sweep file. Raises StudyError with every problem found; the study itself is not read."""
    file, problems = Path(path), list[Problem]()
    if not file.is_file():
        rule = "is not a file" if file.exists() else "no such file"
        raise StudyError([Problem(str(path), 0, 0, "", rule)])
    tree = read_tree(file, problems)
    if tree is None or problems:
        raise StudyError(problems)
    if not isinstance(tree.value, dict):
        raise StudyError([problem(tree.place, "", "a sweep file is a block of keys", tree.value)])
    _check_keys(tree, problems)
    study = _study(tree, file, problems)
    how = _how(tree, problems)
    varied = _varied(tree, file, study, problems)
    if problems:
        raise StudyError(problems)
    return SweepFile(file, study, how, varied)


def _check_keys(tree: Node, problems: list[Problem]) -> None:
    version = tree.value.get("kit_file")
    if version is None or version.value != READS_KIT_FILE:
        place = tree.place if version is None else version.place
        hint = f"Begin the file with `kit_file: {READS_KIT_FILE}`."
        got = ... if version is None else version.value
        rule = "is missing" if version is None else "unknown version"
        problems.append(problem(place, "kit_file", rule, got, hint))
    for key, node in tree.value.items():
        if key not in KEYS:
            close = nearest(key, KEYS)
            hint = f"Did you mean {close}?" if close else known_hint(KEYS)
            problems.append(problem(node.place, key, "is not known here", hint=hint))


def _study(tree: Node, file: Path, problems: list[Problem]) -> Path:
    node = tree.value.get("study")
    if node is None or not isinstance(node.value, str):
        place = tree.place if node is None else node.place
        problems.append(
            problem(place, "study", "must name a study file", None if node is None else node.value)
        )
        return file
    study = file.parent / node.value
    if not study.is_file():
        problems.append(problem(node.place, "study", "no such file", node.value, f"Looked for {study}."))
    return study


def _how(tree: Node, problems: list[Problem]) -> Literal["full_grid", "paired"]:
    node = tree.value.get("how")
    if node is None or node.value == "full_grid":
        return "full_grid"
    if node.value != "paired":
        problems.append(problem(node.place, "how", "must be full_grid or paired", node.value))
    return "paired"


def _varied(
    tree: Node, file: Path, study: Path, problems: list[Problem]
) -> dict[str, list[Any] | dict[str, Any]]:
    node = tree.value.get("vary")
    if node is None or not isinstance(node.value, dict) or not node.value:
        place = tree.place if node is None else node.place
        rule = "must be a block of paths, each with its values"
        problems.append(problem(place, "vary", rule, None if node is None else node.value))
        return {}
    found: dict[str, list[Any] | dict[str, Any]] = {}
    for path, values in node.value.items():
        at = f"vary.{path}"
        if isinstance(values.value, list) and values.value:
            plain = [_plain(n, file, study) for n in values.value]
            named = all(is_reference(v) for v in plain)
            found[path] = {Path(v).stem: v for v in plain} if named else plain
        elif isinstance(values.value, dict) and set(values.value) == {"files"}:
            found[path] = _globbed(values.value["files"], at, file, study, problems)
        elif isinstance(values.value, dict) and values.value:
            found[path] = {label: _plain(n, file, study) for label, n in values.value.items()}
        else:
            rule = "must be a list of values, labels with values, or {files: PATTERN}"
            problems.append(problem(values.place, at, rule, values.value))
    return found


def _globbed(node: Node, at: str, file: Path, study: Path, problems: list[Problem]) -> dict[str, Any]:
    """Every parameter file that matches, by its name without ending."""
    if not isinstance(node.value, str) or Path(node.value).is_absolute():
        problems.append(problem(node.place, at, "files must be a pattern relative to this file", node.value))
        return {}
    pattern = f"{node.value}/*.yaml" if (file.parent / node.value).is_dir() else node.value
    folder = file.parent
    while pattern.startswith("../"):
        folder, pattern = folder / "..", pattern.removeprefix("../")
    matches = sorted(p for p in folder.glob(pattern) if p.is_file())
    if not matches:
        problems.append(problem(node.place, at, "no file matches", node.value, f"Looked in {folder}."))
    return {match.stem: _seen_from(study, match) for match in matches}


def _plain(node: Node, file: Path, study: Path) -> Any:
    """A node as plain values; a text that names a parameter file is seen from the study."""
    value = node.value
    if isinstance(value, dict):
        return {key: _plain(member, file, study) for key, member in value.items()}
    if isinstance(value, list):
        return [_plain(item, file, study) for item in value]
    if is_reference(value):
        name, sign, block = value.partition("#")
        return _seen_from(study, file.parent / name) + sign + block
    return value


def _seen_from(study: Path, target: Path) -> str:
    return Path(os.path.relpath(target.resolve(), study.resolve().parent)).as_posix()


def nowhere(sweep: SweepFile, path: str, rule: str, hint: str) -> Problem:
    """The problem of a path that leads nowhere in the study, told at the sweep file."""
    return problem(Place(sweep.path, 1, 1), f"vary.{path}", rule, hint=hint)
