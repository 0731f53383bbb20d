"""Results of costly functions, kept while one process makes many memos of alike studies.

Off by default. A result is kept under the whole content of what went in, so a study that differs in
anything the function reads computes its own.
"""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")

_kept: dict[bytes, Any] | None = None


@contextmanager
def recalling() -> Iterator[None]:
    """While it lasts, functions marked `recalled` give what they gave before for the same inputs."""
    global _kept
    before, _kept = _kept, {}
    try:
        yield
    finally:
        _kept = before


def recall(name: str, key: Any, make: Callable[[], T]) -> T:
    """What `make` gave before under a name and a key: all that it is made from, in values that pickle."""
    if _kept is None:
        return make()
    place = hashlib.sha256(pickle.dumps((name, key), protocol=5)).digest()
    if place not in _kept:
        _kept[place] = make()
    found: T = _kept[place]
    return found


def recalled(function: Callable[P, T]) -> Callable[P, T]:
    """Mark a function without side effects, whose result nobody changes, as one whose results may be kept."""

    @wraps(function)
    def asked(*args: P.args, **kwargs: P.kwargs) -> T:
        name = f"{function.__module__}.{function.__qualname__}"
        return recall(name, (args, kwargs), lambda: function(*args, **kwargs))

    return asked
