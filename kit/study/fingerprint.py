"""What a study is, as one number: the same values and the same data give the same sha256."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from kit.study.models import StudyModel
from kit.study.part import Part
from kit.study.schema import Shape, fields_of
from kit.study.sources import Provenance


def file_sha256(file: Path) -> str:
    """sha256 of a file's bytes."""
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def resolved(model: StudyModel, root: Path) -> dict[str, Any]:
    """The whole study as plain values, defaults in; every `file` relative to ROOT."""
    plain: dict[str, Any] = _relative(model.model_dump(by_alias=True), root)
    return plain


def _relative(value: Any, root: Path) -> Any:
    if isinstance(value, dict):
        return {
            key: Path(member).relative_to(root).as_posix()
            if key == "file" and isinstance(member, str)
            else _relative(member, root)
            for key, member in value.items()
        }
    if isinstance(value, list | tuple):
        return [_relative(item, root) for item in value]
    return value


def fingerprint(
    plain: Mapping[str, Any], data_files: Mapping[str, str], provenance: Mapping[str, Provenance]
) -> str:
    """sha256 of canonical JSON: values, ranges (they move the figures of a sweep) and data hashes.

    Sources, dates, notes, file names of parts, key order and units as written do not count.
    """
    ranges = {
        path: [p.low, p.high] for path, p in provenance.items() if p.low is not None or p.high is not None
    }
    whole = {"study": plain, "ranges": ranges, "data": dict(data_files)}
    text = json.dumps(whole, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def defaults_used(model: Part, at: str = "") -> dict[str, object]:
    """Dotted path -> value of every field that no file gave. Blocks left out as a whole are not
    values and do not count; neither does an empty name."""
    found: dict[str, object] = {}
    for name, field in type(model).model_fields.items():
        path = f"{at}.{field.alias or name}".lstrip(".")
        value = getattr(model, name)
        blocks = dict(_blocks(value, path))
        for where, block in blocks.items():
            found |= defaults_used(block, where)
        absent = name not in model.model_fields_set and not blocks and value not in ("", {})
        if absent and not (value is None and _holds_block(fields_of(type(model))[field.alias or name])):
            found[path] = value
    return found


def _blocks(value: Any, path: str) -> list[tuple[str, Part]]:
    if isinstance(value, Part):
        return [(path, value)]
    if isinstance(value, dict):
        return [pair for key, member in value.items() for pair in _blocks(member, f"{path}.{key}")]
    if isinstance(value, list):
        return [pair for i, member in enumerate(value) for pair in _blocks(member, f"{path}.{i}")]
    return []


def _holds_block(shape: Shape) -> bool:
    while shape.inner is not None:
        shape = shape.inner
    return shape.kind == "block"
