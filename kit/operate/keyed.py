"""Random numbers that do not depend on order: splitmix64 keyed by what they are drawn for.

A draw is a function of (seed, purpose, event, attempt) alone, so two options with the same
machine meet the same failures, and adding an option moves no draw of another.

Source: Steele, Lea, Flood, "Fast splittable pseudorandom number generators" (OOPSLA 2014),
the SplitMix64 output function.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

GAMMA = np.uint64(0x9E3779B97F4A7C15)
PURPOSES = (
    "available",
    "starts",
    "set_life",
    "islands",
    "inverter_life",
    "attended",
    "gas",
    "lasted",
    "event_count",
    "event_year",
    "event_start",
    "event_lasts",
    "followed",
    "between",
    "forewarned",
    "moment",
)


def mix64(word: ArrayLike) -> np.ndarray:
    """The SplitMix64 output function on uint64 words."""
    z = np.array(word, dtype=np.uint64)
    with np.errstate(over="ignore"):
        for shift, factor in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB)):
            z ^= z >> np.uint64(shift)
            z *= np.uint64(factor)
    z ^= z >> np.uint64(31)
    return z


def word(seed: int, purpose: str, *keys: np.ndarray | int) -> np.ndarray:
    """What the draws of a purpose and keys (integers >= 0) are mixed from: uint64, their broadcast shape."""
    with np.errstate(over="ignore"):
        mixed = mix64(np.uint64(seed) + GAMMA * np.uint64(PURPOSES.index(purpose) + 1))
        for key in keys:
            mixed = mix64(mixed + GAMMA * (np.asarray(key, dtype=np.uint64) + np.uint64(1)))
    return mixed


def uniform(seed: int, purpose: str, *keys: np.ndarray | int) -> np.ndarray:
    """Uniform draws in [0, 1), one for each place of the broadcast keys (integers >= 0)."""
    return (word(seed, purpose, *keys) >> np.uint64(11)).astype(np.float64) * 2.0**-53


def exponential_h(mean_h: float, draws: np.ndarray) -> np.ndarray:
    """Exponential hours of the given mean from uniform draws, by inverting the distribution."""
    return -mean_h * np.log1p(-draws)
