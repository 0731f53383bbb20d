"""From a tree of nodes to plain values in the kit's units, with what is known about each number."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import TypeAdapter, ValidationError

from kit.study.names import key_hint, nearest
from kit.study.problems import SET, Place, Problem, problem
from kit.study.resolve import Resolver
from kit.study.schema import Shape, field_for, fields_of
from kit.study.sources import RECORD, Provenance
from kit.study.yaml_text import Broken, Node
from kit.units import Conversion

Path_ = tuple[str, ...]  # a path in the models' own names
_SLUG = re.compile(r"[a-z][a-z0-9_]*")


class Spot(NamedTuple):
    """How a value was written: its place, its path in the file's own names, the value itself."""

    place: Place
    path: str
    value: Any


@dataclass
class Reading:
    """One pass over a resolved tree. `broken` are paths whose problem is noted already."""

    resolver: Resolver
    folder: Path
    problems: list[Problem]
    spots: dict[Path_, Spot] = field(default_factory=dict)
    provenance: dict[str, Provenance] = field(default_factory=dict)
    data: dict[str, Path] = field(default_factory=dict)
    broken: set[Path_] = field(default_factory=set)

    def value(self, node: Node, shape: Shape, at: Path_, path: str, convert: Conversion | None = None) -> Any:
        """The plain value of a node. Types and bounds are left to the models."""
        raw = node.value
        self.spots[at] = Spot(node.place, path, raw)
        if isinstance(raw, Broken):
            self.broken.add(at)
            return None
        if isinstance(raw, dict):
            if shape.kind == "block":
                return self._block(node, shape, at, path)
            if shape.kind == "named":
                return self._named(node, shape, at, path, convert)
            if shape.kind == "leaf" and shape.numeric:
                return self._record(node, shape, at, path, convert)
            return _scalar(raw)
        if isinstance(raw, list) and shape.kind == "listed" and shape.inner is not None:
            return [
                self.value(item, shape.inner, (*at, str(i)), f"{path}.{i}", convert)
                for i, item in enumerate(raw)
            ]
        if shape.kind == "leaf" and at[-1] == "file" and isinstance(raw, str):
            return self._file(node, at, path)
        if shape.kind == "leaf" and shape.numeric and _is_number(raw):
            number = _converted(raw, convert, shape)
            self._note(node, at, None, None)
            return number
        return _scalar(raw)

    def _block(self, node: Node, shape: Shape, at: Path_, path: str) -> dict[str, Any]:
        assert shape.model is not None
        fields = fields_of(shape.model)
        plain: dict[str, Any] = {}
        given: dict[str, str] = {}
        for key, member in node.value.items():
            here = f"{path}.{key}" if path else key
            found = field_for(shape.model, key)
            if found is None:
                hint, meant = key_hint(key, fields)
                self.problems.append(problem(member.place, here, "unknown key", hint=hint))
                self.broken |= {(*at, key), (*at, meant or key)}
                continue
            name, convert = found
            if name in given:
                rule = f"{given[name]} and {key} give the same quantity twice"
                self.problems.append(problem(member.place, here, rule, hint="Keep one of them."))
                self.broken.add((*at, name))
                continue
            given[name] = key
            plain[name] = self.value(member, fields[name], (*at, name), here, convert)
        return plain

    def _named(
        self, node: Node, shape: Shape, at: Path_, path: str, convert: Conversion | None
    ) -> dict[str, Any]:
        assert shape.inner is not None
        plain = {}
        for key, member in node.value.items():
            here = f"{path}.{key}" if path else key
            if shape.free_names and not _SLUG.fullmatch(key):
                slug = re.sub(r"[^a-z0-9]+", "_", key.lower()).strip("_")
                hint = "Use small letters, digits and _, a letter first" + (f": {slug}." if slug else ".")
                self.problems.append(problem(member.place, here, "not a name for a path", key, hint))
            plain[key] = self.value(member, shape.inner, (*at, key), here, convert)
        return plain

    def _record(self, node: Node, shape: Shape, at: Path_, path: str, convert: Conversion | None) -> Any:
        """A number with its range: {likely, low, high}. Source and date sit on the nodes already."""
        record: dict[str, Node] = node.value
        before = len(self.problems)
        for key in record.keys() - set(RECORD):
            close = nearest(key, (*RECORD, "source", "as_of"))
            hint = f"Did you mean {close}?" if close else "A record holds likely, low, high, source, as_of."
            self.problems.append(problem(record[key].place, f"{path}.{key}", "unknown key", hint=hint))
        if "likely" not in record:
            hint = "A number is plain, or {likely: 2.6, low: 2.3, high: 3.0, source: ...}."
            self.problems.append(problem(node.place, f"{path}.likely", "is missing", hint=hint))
        elif (shape.whole or shape.choices) and {"low", "high"} & record.keys():
            self.problems.append(
                problem(node.place, path, "a count takes no range", hint="Give likely only.")
            )
        for key in ("low", "high"):
            if key in record and not _is_number(record[key].value):
                place, got = record[key].place, _scalar(record[key].value)
                self.problems.append(problem(place, f"{path}.{key}", "must be a number", got))
        if len(self.problems) > before:
            self.broken.add(at)
            return None
        likely = record["likely"]
        self.spots[at] = Spot(likely.place, path, likely.value)
        if not _is_number(likely.value):
            return _scalar(likely.value)
        low, high = (
            _converted(record[k].value, convert, shape) if k in record else None for k in ("low", "high")
        )
        number = _converted(likely.value, convert, shape)
        self._range(node, shape, at, path, (low, number, high))
        self._note(likely, at, low, high)
        return number

    def _range(self, node: Node, shape: Shape, at: Path_, path: str, ends: tuple[Any, Any, Any]) -> None:
        low, _, high = ends
        values = [v for v in ends if v is not None]
        if values != sorted(values):
            got = ", ".join(f"{k} {n.value}" for k, n in node.value.items())
            self.problems.append(problem(node.place, path, f"low <= likely <= high does not hold: {got}"))
            self.broken.add(at)
            return
        for key, value in (("low", low), ("high", high)):
            if value is None:
                continue
            try:
                _adapter(shape.annotation).validate_python(value)
            except ValidationError as error:
                got = node.value[key].value
                rule = error.errors(include_url=False)[0]["msg"].replace("Input should", "should")
                self.problems.append(problem(node.value[key].place, f"{path}.{key}", rule, got))

    def _file(self, node: Node, at: Path_, path: str) -> str | None:
        holder = node.place.file
        folder = self.folder if holder is None else holder.parent
        target = self.resolver.locate(node.value, folder, node.place, path)
        if target is None:
            self.broken.add(at)
            return None
        self.data[target.relative_to(self.resolver.root).as_posix()] = target
        return str(target)

    def _note(self, node: Node, at: Path_, low: float | None, high: float | None) -> None:
        file = node.place.file
        name = SET if file is None else _relative(file, self.resolver.root)
        self.provenance[".".join(at)] = Provenance(node.source, node.as_of, low, high, name, node.place.line)


@cache
def _relative(file: Path, root: Path) -> str:
    return file.relative_to(root).as_posix() if file.is_relative_to(root) else file.name


@cache
def _adapter(annotation: Any) -> TypeAdapter[Any]:
    return TypeAdapter(annotation)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _converted(value: Any, convert: Conversion | None, shape: Shape) -> Any:
    if convert is None or convert == Conversion(1.0):
        return value
    try:
        number = convert(value)
    except OverflowError:  # an integer too large for a float
        return value
    if shape.whole and abs(number - round(number)) < 1e-9 * max(1.0, abs(number)):
        return round(number)
    return number


def _scalar(raw: Any) -> Any:
    """A scalar as it is; an empty block or list where the models expect neither, so they say so."""
    if isinstance(raw, dict):
        return {}
    if isinstance(raw, list):
        return []
    return None if isinstance(raw, Broken) else raw
