"""Numbers put into a study's model by path, unchecked and fast: for draws inside ranges that were checked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from kit.study.part import Part

P = TypeVar("P", bound=Part)
Tree = dict[str, Any]


def tree_of(values: Mapping[str, Any]) -> Tree:
    """Dotted paths as nested blocks: {'a.b': 1} -> {'a': {'b': 1}}."""
    tree: Tree = {}
    for path, value in values.items():
        *blocks, last = path.split(".")
        below = tree
        for block in blocks:
            below = below.setdefault(block, {})
        below[last] = value
    return tree


def with_values(part: P, tree: Tree) -> P:
    """The block with the numbers of the tree in their places; blocks it does not name are shared."""
    return part.model_copy(update={name: _placed(getattr(part, name), sub) for name, sub in tree.items()})


def _placed(old: Any, new: Any) -> Any:
    if not isinstance(new, dict):
        return new
    if isinstance(old, Part):
        return with_values(old, new)
    if isinstance(old, dict):
        return old | {name: _placed(old[name], sub) for name, sub in new.items()}
    items = list(old)
    for index, sub in new.items():
        items[int(index)] = _placed(items[int(index)], sub)
    return items
