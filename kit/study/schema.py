"""What the models expect at a path: blocks, named blocks, lists, leaves."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from kit.study.part import Part
from kit.units import Conversion, conversion


@dataclass(frozen=True)
class Shape:
    """One expected value.

    `block`: a model; `named`: a mapping of free names to `inner`; `listed`: a list of `inner`;
    `leaf`: a scalar of one of `types` (or one of `choices`). `annotation` is for checking one value.
    """

    kind: Literal["block", "named", "listed", "leaf"]
    annotation: Any
    model: type[Part] | None = None
    inner: Shape | None = None
    types: tuple[type, ...] = ()
    choices: tuple[Any, ...] = ()
    free_names: bool = False  # names are plain text, with no pattern of their own

    @property
    def numeric(self) -> bool:
        return bool({int, float} & set(self.types))

    @property
    def whole(self) -> bool:
        return int in self.types and float not in self.types


def shape_of(annotation: Any) -> Shape:
    """The shape of a type as the models write it. TypeError for one the loader does not know."""
    bare = _bare(annotation)
    if isinstance(bare, type) and issubclass(bare, Part):
        return Shape("block", annotation, model=bare)
    origin, args = get_origin(bare), get_args(bare)
    if origin is dict:
        return Shape("named", annotation, inner=shape_of(args[1]), free_names=args[0] is str)
    if origin in (list, tuple):
        return Shape("listed", annotation, inner=shape_of(args[0]))
    if origin is Literal:
        return Shape("leaf", annotation, types=tuple({type(a) for a in args}), choices=args)
    if origin in (Union, UnionType):
        inner = [shape_of(a) for a in args if a is not NoneType]
        if any(s.kind != "leaf" for s in inner):
            raise TypeError(f"{annotation}: a union of blocks is not a shape the loader reads")
        return Shape("leaf", annotation, types=tuple(t for s in inner for t in s.types))
    if bare in (int, float, bool, str):
        return Shape("leaf", annotation, types=(bare,))
    raise TypeError(f"{annotation}: not a shape the loader reads")


def _bare(annotation: Any) -> Any:
    """Without Annotated, and without None where one type is left."""
    if get_origin(annotation) is Annotated:
        return _bare(get_args(annotation)[0])
    if get_origin(annotation) in (Union, UnionType):
        rest = [a for a in get_args(annotation) if a is not NoneType]
        if len(rest) == 1:
            return _bare(rest[0])
    return annotation


@cache
def fields_of(model: type[Part]) -> dict[str, Shape]:
    """The keys a file may use for a model, in kit units, with what stands under each."""
    shapes = {}
    for name, field in model.model_fields.items():
        whole = Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation
        shapes[field.alias or name] = shape_of(whole)
    return shapes


@cache
def field_for(model: type[Part], key: str) -> tuple[str, Conversion] | None:
    """The field that a file's key gives, with the conversion of its unit; None if there is none."""
    fields = fields_of(model)
    if key in fields:
        return key, Conversion(1.0)
    for field, shape in fields.items():
        number = shape.inner or shape
        found = conversion(key, field) if number.numeric else None
        if found is not None:
            return field, found
    return None
