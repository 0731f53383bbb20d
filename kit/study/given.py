"""A study as it was given, in one piece: references resolved, units, ranges and sources kept.

Written to one file and read again it is the same study: same values, same ranges, same sources,
same defaults, same sha256, as long as its data files stand at the same names below ROOT.
"""

from __future__ import annotations

from typing import Any

import yaml

from kit.study.models import StudyModel
from kit.study.read import Study
from kit.study.schema import Shape, field_for, fields_of
from kit.study.sources import RECORD
from kit.study.yaml_text import Node


def given(study: Study) -> dict[str, Any]:
    """The whole study as plain values in the order and the units of its files.

    A number with a source becomes a record {likely, low, high, source, as_of}; every `file` is
    relative to ROOT. Only JSON types.
    """
    whole = Shape("block", StudyModel, model=StudyModel)
    found: dict[str, Any] = _plain(study.tree, whole, study)
    return {"kit_file": found.pop("kit_file"), **found}


def _plain(node: Node, shape: Shape, study: Study, key: str = "") -> Any:
    raw = node.value
    if isinstance(raw, dict):
        if shape.kind == "leaf":
            return _record({k: raw[k].value for k in RECORD if k in raw}, node)
        return {k: _plain(member, _below(shape, k), study, k) for k, member in raw.items()}
    if isinstance(raw, list):
        return [_plain(item, shape.inner or shape, study) for item in raw]
    if key == "file" and isinstance(raw, str):
        holder = node.place.file or study.path.resolve()
        return (holder.parent / raw).resolve().relative_to(study.root).as_posix()
    number = isinstance(raw, int | float) and not isinstance(raw, bool)
    return _record({"likely": raw}, node) if number and shape.numeric and node.source else raw


def _below(shape: Shape, key: str) -> Shape:
    """What stands under one key of a block or of a mapping of names."""
    if shape.kind == "named":
        assert shape.inner is not None
        return shape.inner
    assert shape.model is not None
    found = field_for(shape.model, key)
    assert found is not None, f"{key}: a study that was read has no unknown key"
    return fields_of(shape.model)[found[0]]


def _record(numbers: dict[str, Any], node: Node) -> dict[str, Any]:
    dated = {"as_of": node.as_of} if node.as_of else {}
    return {**numbers, **({"source": node.source} if node.source else {}), **dated}


class _Quoted(yaml.SafeDumper):
    """Writes every text in quotes, so that none can be taken for a number or a word of YAML."""


_Quoted.add_representer(
    str, lambda dumper, text: dumper.represent_scalar("tag:yaml.org,2002:str", text, style='"')
)


def study_text(values: dict[str, Any]) -> str:
    """The values of `given` as the text of one study file."""
    return str(yaml.dump(values, Dumper=_Quoted, sort_keys=False, allow_unicode=True, width=1_000_000))
