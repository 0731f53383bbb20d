"""The keyed draws rest on SplitMix64: its output function at the places of keyed_cases.py."""

from __future__ import annotations

from functools import partial

import numpy as np

from kit.operate.keyed import GAMMA, mix64
from kit.report.checks import Check
from tests.published import keyed_cases as cases


def word(place: int) -> str:
    """The output number `place` (from 1) of the sequential generator, as text: 64 bits fit no float."""
    with np.errstate(over="ignore"):
        states = np.uint64(cases.SEED) + GAMMA * np.arange(place, place + 1, dtype=np.uint64)
    return str(int(mix64(states)[0]))


CHECKS: list[Check] = [
    Check(
        "Random numbers",
        f"output {place} at seed {cases.SEED}",
        "64-bit word",
        cases.SPLITMIX,
        "memory",
        str(expected),
        0.0,
        "exact",
        partial(word, place),
        "keyed_cases.FIRST_THREE",
    )
    for place, expected in enumerate(cases.FIRST_THREE, start=1)
]
