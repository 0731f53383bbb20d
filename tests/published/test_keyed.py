"""The keyed draws rest on SplitMix64: its output function against the generator's known stream.

Steele, Lea, Flood, 'Fast splittable pseudorandom number generators' (OOPSLA 2014); the first
three outputs of the sequential generator at seed 1234567 are the vectors that implementations
of it are commonly tried against (from memory).
"""

from __future__ import annotations

import numpy as np

from kit.operate.keyed import GAMMA, mix64

SEED = 1234567
FIRST_THREE = (6457827717110365317, 3203168211198807973, 9817491932198370423)


def test_the_output_function_gives_the_known_stream() -> None:
    with np.errstate(over="ignore"):
        states = np.uint64(SEED) + GAMMA * np.arange(1, 4, dtype=np.uint64)
    assert tuple(int(word) for word in mix64(states)) == FIRST_THREE
