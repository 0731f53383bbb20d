"""The shape of a published equipment case: data typed from its source, never computed by kit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from types import ModuleType

from kit.report.checks import Check, Provenance, Value


@dataclass(frozen=True)
class EquipmentCase:
    """One published row. `within` is half of the last printed digit unless `why` says otherwise.

    `seen` is false for rows typed from memory: the source was not opened again.
    """

    name: str
    source: str
    inputs: dict[str, object]
    expected: float
    within: float
    seen: bool = True
    why: str = "half of the last printed digit"


def checks_of(
    cases: ModuleType,
    list_name: str,
    subject: str,
    what: str,
    unit: str,
    compute: Callable[[EquipmentCase], Value],
    *,
    relative: bool = False,
) -> list[Check]:
    """The checks of one list of cases (or of one case): `compute` takes a case and gives the kit's value."""
    rows = getattr(cases, list_name)
    return [
        Check(
            subject,
            f"{what}: {case.name}",
            unit,
            case.source,
            provenance_of(case),
            case.expected,
            case.within,
            case.why,
            partial(compute, case),
            f"{cases.__name__.rpartition('.')[2]}.{list_name}",
            relative,
        )
        for case in (rows if isinstance(rows, list) else [rows])
    ]


def provenance_of(case: EquipmentCase) -> Provenance:
    """How the expected value came here, by what the case says of its source."""
    if not case.seen or "from memory" in case.source:
        return "memory"
    if "common practice" in case.source:
        return "practice"
    return "worked" if "recomputed" in case.source or "arithmetic" in case.source else "seen"


def number(case: EquipmentCase, key: str) -> float:
    """An input of a case as a number."""
    return float(str(case.inputs[key]))
