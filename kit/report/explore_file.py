"""Moves as a study file: the study's own references, with the moved values put in their places."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import yaml

from kit.report.explore_settings import settings
from kit.save import SaveError, write_text
from kit.study import Study, StudyError, read_study

HEAD = "# Written by the explore notebook from {}: its references, with the values that were moved.\n"
_TEXT = "tag:yaml.org,2002:str"
NAME_LIMIT = 200


def write_study(study: Study, changed: Mapping[str, Any]) -> Path:
    """Write the study with PATH -> value changed beside itself, under a name not yet taken.

    Raises SaveError where it cannot be written, or would not read back as the study that was explored.
    """
    tree = _raw(study.path.resolve())
    for path, value in changed.items():
        _put(tree, path.split("."), _node(value))
    _put(tree, ["name"], _node(f"{study.model.name[:NAME_LIMIT]}, as explored"))
    final = _free_name(study.path)
    text = yaml.serialize(tree, allow_unicode=True, width=110)
    write_text(final, HEAD.format(study.path.name) + text)
    try:
        again = read_study(final, root=study.root)
        same = _nameless(again) == _nameless(study.changed(settings(changed)))
    except StudyError as error:
        final.unlink()
        raise SaveError(f"{final}: not kept: {error.problems[0]}") from error
    if not same:
        final.unlink()
        raise SaveError(f"{final}: not kept: it would not be the study that was explored")
    return final


def _nameless(study: Study) -> dict[str, Any]:
    return {**study.resolved, "name": ""}


def _raw(file: Path) -> yaml.MappingNode:
    """A study's text as it stands, references unread; a study it starts `from` is put under it."""
    tree = yaml.compose(file.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
    assert isinstance(tree, yaml.MappingNode)
    base = _member(tree, "from")
    if base is None:
        return tree
    tree.value = [(key, node) for key, node in tree.value if key.value != "from"]
    below = _raw((file.parent / str(base.value)).resolve())
    _over(below, tree)
    return below


def _over(base: yaml.MappingNode, over: yaml.MappingNode) -> None:
    for key, node in over.value:
        old = _member(base, key.value)
        if isinstance(node, yaml.MappingNode) and old is not None:
            _over(_opened(base, key.value), node)
        else:
            _put(base, [key.value], node)


def _member(tree: yaml.MappingNode, name: str) -> Any:
    return next((node for key, node in tree.value if key.value == name), None)


def _opened(tree: yaml.MappingNode, name: str) -> yaml.MappingNode:
    """The block of that name; a reference becomes a block that starts `from` it."""
    node = _member(tree, name)
    if isinstance(node, yaml.MappingNode):
        return node
    start = [(_node("from"), node)] if node is not None and str(node.value).strip() else []
    block = yaml.MappingNode("tag:yaml.org,2002:map", start, flow_style=True)
    _put(tree, [name], block)
    return block


def _put(tree: yaml.MappingNode, path: list[str], new: yaml.Node) -> None:
    for name in path[:-1]:
        tree = _opened(tree, name)
    names = [key.value for key, _ in tree.value]
    if path[-1] in names:
        place = names.index(path[-1])
        tree.value[place] = (tree.value[place][0], new)
    else:
        tree.value.append((_node(path[-1]), new))


def _node(value: Any) -> yaml.Node:
    """A value as YAML; a text is quoted where YAML could take it for something else."""
    text = yaml.safe_dump(value, allow_unicode=True, width=10_000)
    made = yaml.compose(text, Loader=yaml.CSafeLoader)
    assert made is not None, text  # a dumped value is never an empty text
    return made


def _free_name(path: Path) -> Path:
    number = 1
    while (final := path.with_name(f"{path.stem}_explored_{number}.yaml")).exists():
        number += 1
    return final
