"""Read a study: files to one checked model, with a memory of where each value came from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from kit.study.cross import cross_problems
from kit.study.explain import explain
from kit.study.fingerprint import defaults_used, file_sha256, fingerprint, resolved
from kit.study.models import StudyModel
from kit.study.paths import NOWHERE, PathError, put, read_setting, value_at
from kit.study.problems import Place, Problem, StudyError, problem
from kit.study.quantities import Reading
from kit.study.resolve import Resolver, root_of
from kit.study.schema import Shape
from kit.study.sources import Provenance
from kit.study.yaml_text import Node

_WHOLE = Shape("block", StudyModel, model=StudyModel)


@dataclass(frozen=True, eq=False)
class Study:
    """A study that holds together.

    In `model` every number is in the unit its name ends in and every `file` is absolute.
    `provenance`: dotted path -> where a given number came from. `defaults_used`: dotted path ->
    value of what was not given. `data_files`: path below ROOT -> sha256. `resolved`: the whole
    study as plain values, `file` relative to ROOT. `sha256` changes with any value or data file.
    """

    model: StudyModel
    path: Path
    root: Path
    sha256: str
    provenance: dict[str, Provenance]
    defaults_used: dict[str, object]
    data_files: dict[str, str]
    resolved: dict[str, Any]
    tree: Node = field(repr=False)

    def changed(self, set_values: Sequence[str]) -> Study:
        """The same study with PATH=VALUE settings on top, files not read again. Raises StudyError."""
        return _checked(self.tree, self.path, self.root, set_values, [])

    def value(self, path: str) -> Any:
        """The value at a dotted path, defaults included, in the unit the path's last name ends in.

        Raises PathError (a ValueError) with a suggestion where the path leads nowhere.
        """
        return value_at(self.model, _WHOLE, path)


def read_study(
    path: str | Path, set_values: Sequence[str] = (), root: Path | None = None, near: Path | None = None
) -> Study:
    """Read a study and every file it refers to. Raises StudyError with all problems found.

    `set_values`: texts PATH=VALUE, applied in order. `root`: no reference may lead outside it;
    default: the parent of the study's folder when that is named studies, else the study's folder.
    A relative `path` is tried from the current folder, then from the folder `near`.
    """
    problems: list[Problem] = []
    file = _located(Path(path), near)
    top = root_of(file, Path(root) if root is not None else None)
    tree = Resolver(top, problems).study(file)
    if tree is None:
        raise StudyError(problems)
    return _checked(tree, file, top, set_values, problems)


def _located(path: Path, near: Path | None) -> Path:
    if not path.is_file() and not path.is_absolute() and near is not None and (near / path).is_file():
        path = near / path
    if not path.exists():
        raise StudyError([Problem(str(path), 0, 0, "", "no such file")])
    if not path.is_file():
        raise StudyError([Problem(str(path), 0, 0, "", "is not a file")])
    return path.absolute()


def _checked(tree: Node, file: Path, root: Path, set_values: Sequence[str], problems: list[Problem]) -> Study:
    resolver = Resolver(root, problems)
    folder = file.resolve().parent
    tree = _with_settings(tree, set_values, resolver, folder, problems)
    reading = Reading(resolver, folder, problems)
    plain = reading.value(tree, _WHOLE, (), "")
    model = None
    try:
        model = StudyModel.model_validate(plain)
        problems += cross_problems(model, reading)
    except ValidationError as error:
        problems += explain(error, reading)
    data_files = _hashes(reading, problems)
    if problems or model is None:
        raise StudyError(problems)
    values = resolved(model, root)
    sha256 = fingerprint(values, data_files, reading.provenance)
    defaults = defaults_used(model)
    return Study(model, file, root, sha256, reading.provenance, defaults, data_files, values, tree)


def _with_settings(
    tree: Node, set_values: Sequence[str], resolver: Resolver, folder: Path, problems: list[Problem]
) -> Node:
    for text in set_values:
        setting = read_setting(text, problems)
        if setting is None:
            continue
        path, node = setting
        try:
            tree = put(tree, _WHOLE, path, resolver.node(node, folder, path, path.split(".")[-1]))
        except PathError as error:
            problems.append(problem(NOWHERE, path, error.rule, hint=error.hint))
    return tree


def _hashes(reading: Reading, problems: list[Problem]) -> dict[str, str]:
    found = {}
    for name, file in sorted(reading.data.items()):
        try:
            found[name] = file_sha256(file)
        except OSError as error:
            problems.append(problem(Place(file, 1, 1), "", f"cannot be read: {error.strerror}"))
    return found
