"""Read a study, check it, remember where each value came from.

Reading order: `yaml_text` (text to nodes), `sources` (who covers which value), `resolve`
(references), `paths` (one way to name a value), `schema` and `quantities` (units, records),
`explain` and `cross` (what is wrong, in words), `fingerprint`, and `read`, which runs them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kit.study.problems import Problem, StudyError

if TYPE_CHECKING:
    from kit.study.read import Study, read_study
    from kit.study.sources import Provenance

__all__ = ["Problem", "Provenance", "Study", "StudyError", "read_study"]

_HOME = {"Study": "read", "read_study": "read", "Provenance": "sources"}


def __getattr__(name: str) -> Any:
    """Load the models only when a study is read."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
