"""The shape of a published equipment case: data typed from its source, never computed by kit."""

from __future__ import annotations

from dataclasses import dataclass


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
