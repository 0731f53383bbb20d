"""One way to name a value: `options.big_pack.battery.price_usd`, through references and records."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from kit.study.names import key_hint, known_hint, nearest
from kit.study.problems import Place, Problem, problem
from kit.study.schema import Shape, field_for, fields_of
from kit.study.sources import RECORD, push_sources
from kit.study.yaml_text import Broken, Node, parse, scalar
from kit.units import conversion

NOWHERE = Place(None)


class PathError(ValueError):
    """A path that leads nowhere; the text is rule and hint."""

    def __init__(self, rule: str, hint: str = "") -> None:
        super().__init__(f"{rule}. {hint}".rstrip(". ") + ".")
        self.rule, self.hint = rule, hint


def read_setting(text: str, problems: list[Problem]) -> tuple[str, Node] | None:
    """Split PATH=VALUE and read VALUE as a file would: a scalar, or [..], {..}, quoted text."""
    path, sign, value = text.partition("=")
    path, value = path.strip(), value.strip()
    if not sign or not path:
        rule = f"{text!r} is not PATH=VALUE"
        problems.append(problem(NOWHERE, "", rule, hint="Example: --set asked.keep_on_h=24"))
        return None
    if value[:1] in ("[", "{", "'", '"'):
        found: list[Problem] = []
        node = parse(value, None, found)
        node = None if node is None else push_sources(_placed(node), found, path=path)
        problems += [replace(p, path=path, line=0, column=0) for p in found]
        return None if node is None else (path, node)
    try:
        return path, Node(scalar(value), NOWHERE)
    except ValueError as error:
        problems.append(problem(NOWHERE, path, str(error), value))
        return None


def _placed(node: Node) -> Node:
    value = node.value
    if isinstance(value, dict):
        value = {key: _placed(member) for key, member in value.items()}
    elif isinstance(value, list):
        value = [_placed(item) for item in value]
    return replace(node, value=value, place=NOWHERE)


def put(tree: Node, shape: Shape, path: str, new: Node) -> Node:
    """The tree with `new` at `path`. The old tree stays as it is. PathError for an unknown path.

    A block that the models know is made where it is absent; an option or another free name only
    when its whole block is given. A bare number onto a record replaces its `likely`.
    """
    return _put(tree, shape, path.split("."), new)


def _put(node: Node | None, shape: Shape, rest: list[str], new: Node) -> Node:
    if not rest:
        return new
    if node is not None and isinstance(node.value, Broken):  # its problem is noted already
        return node
    if shape.kind == "block":
        return _put_in_block(node, shape, rest, new)
    if shape.kind == "listed":
        return _put_in_list(node, shape, rest, new)
    members = node.value if node is not None and isinstance(node.value, dict) else {}
    if shape.kind == "named" and shape.inner is not None:
        name = rest[0]
        whole = len(rest) == 1 and (shape.inner.kind == "leaf" or isinstance(new.value, dict | list))
        if name not in members and not whole:
            raise PathError(f"there is no {name!r} here", _like(name, members))
        below = _put(members.get(name), shape.inner, rest[1:], new)
        return Node({**members, name: below}, node.place if node else NOWHERE)
    raise PathError(f"a path ends at a number or text, before {rest[0]!r}")


def _put_in_block(node: Node | None, shape: Shape, rest: list[str], new: Node) -> Node:
    assert shape.model is not None
    found = field_for(shape.model, rest[0])
    if found is None:
        raise PathError(f"there is no {rest[0]!r} here", key_hint(rest[0], fields_of(shape.model))[0])
    name = found[0]
    members = dict(node.value) if node is not None and isinstance(node.value, dict) else {}
    old_keys = [key for key in members if (f := field_for(shape.model, key)) and f[0] == name]
    inner = fields_of(shape.model)[name]
    old = members[old_keys[0]] if old_keys else None
    if inner.kind == "leaf":
        if len(rest) > 2 or (len(rest) == 2 and not (inner.numeric and rest[1] in RECORD)):
            raise PathError(f"a path ends at a number or text, before {rest[1]!r}")
        old_key = old_keys[0] if old_keys else rest[0]
        below = _number(old, old_key, rest, new)
        key = old_key if below is not new else rest[0]
    else:
        below, key = _put(old, inner, rest[1:], new), name if old is None else old_keys[0]
    for other in old_keys:
        if other != key:
            del members[other]
    members[key] = below
    return Node(members, node.place if node else NOWHERE, node.source if node else None)


def _number(old: Node | None, old_key: str, rest: list[str], new: Node) -> Node:
    """A number onto a number or a record; the record keeps its key, its unit and, if it fits, its range."""
    record = dict(old.value) if old is not None and isinstance(old.value, dict) else None
    part = rest[1] if len(rest) == 2 else "likely"
    if record is None and (len(rest) == 1 or part == "likely"):
        return new
    if isinstance(new.value, dict):
        return new
    convert = conversion(rest[0], old_key)
    value = new.value
    if convert is not None and rest[0] != old_key and isinstance(value, int | float):
        value = convert(value)
    record = record if record is not None else ({"likely": old} if old is not None else {})
    record[part] = replace(new, value=value)
    if part == "likely" and not _holds(record):  # the set value lies outside: its range went with the old
        return Node({"likely": record["likely"]}, old.place if old else NOWHERE)
    return Node(record, old.place if old else NOWHERE)


def _holds(record: dict[str, Node]) -> bool:
    values = [record[key].value for key in ("low", "likely", "high") if key in record]
    return all(isinstance(v, int | float) for v in values) and values == sorted(values)


def _put_in_list(node: Node | None, shape: Shape, rest: list[str], new: Node) -> Node:
    items = list(node.value) if node is not None and isinstance(node.value, list) else []
    index = _index(rest[0], len(items))
    assert shape.inner is not None
    assert node is not None
    items[index] = _put(items[index], shape.inner, rest[1:], new)
    return replace(node, value=items)


def _index(text: str, count: int) -> int:
    if not text.isdecimal() or int(text) >= count:
        raise PathError(f"there is no item {text!r} here", f"Items are 0 to {count - 1}." if count else "")
    return int(text)


def _like(name: str, known: Any) -> str:
    close = nearest(name, known)
    return f"Did you mean {close}?" if close else known_hint(known)


def value_at(model: Any, shape: Shape, path: str) -> Any:
    """The value at `path` of a read study, in the unit the path asks for. PathError if there is none."""
    value, convert = model, None
    for token in path.split("."):
        if shape.kind == "leaf" and token == "likely" and shape.numeric:
            continue
        if shape.kind == "block" and shape.model is not None and value is not None:
            found = field_for(shape.model, token)
            if found is None:
                hint = key_hint(token, fields_of(shape.model))[0]
                raise PathError(f"there is no {token!r} here", hint)
            convert = conversion(found[0], token)
            name = next(n for n, f in shape.model.model_fields.items() if (f.alias or n) == found[0])
            value, shape = getattr(value, name), fields_of(shape.model)[found[0]]
        elif shape.kind == "named" and shape.inner is not None and token in (value or {}):
            value, shape = value[token], shape.inner
        elif shape.kind == "listed" and shape.inner is not None:
            value, shape = value[_index(token, len(value or ()))], shape.inner
        else:
            hint = _like(token, value) if isinstance(value, dict) else ""
            raise PathError(f"there is no {token!r} here", hint)
    changed = convert is not None and isinstance(value, float) and convert.factor != 1.0
    return convert(value) if changed and convert is not None else value
