"""Drawn events of one kind, all lifetimes in one pass: one compiled loop over keyed draws.

An event's year, start and share of the lengths are functions of (seed, purpose, kind, lifetime, place in
it) alone: the words of `kit.operate.keyed`, mixed here once more for each event and taken in turn, so that
nothing but the result is written to memory. The start inverts the weights: the search for a draw begins
where that of its share of [0, 1) does, in a table of a power of two of shares, so that no rounding puts a
draw below its own, and goes on step by step.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from kit.operate.compiled import compiled
from kit.operate.keyed import GAMMA

Array = np.ndarray
Word = Any  # an unsigned 64-bit word

GUIDES = 1 << 15  # shares of [0, 1) for which the first start is kept
MOST_EVENTS = 1 << 20  # of one kind in one lifetime: the key of an event is lifetime x MOST_EVENTS + place


@compiled("f8(u8, u8)")
def _share(word: Word, key: Word) -> float:
    """The uniform draw in [0, 1) of one key: SplitMix64's output function at the key's place after `word`."""
    z = word + GAMMA * (key + np.uint64(1))
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z ^= z >> np.uint64(31)
    return np.int64(z >> np.uint64(11)) * 2.0**-53


@compiled("u4[::1](f8[::1])")
def _guides(reach: Array) -> Any:
    """For each of GUIDES equal shares of [0, 1), the first step that a draw there can mean."""
    last: Word = np.uint64(reach.size - 1)
    first = np.empty(GUIDES, np.uint32)
    at: Word = np.uint64(0)
    for guide in range(GUIDES):
        while at < last and reach[at] <= guide / GUIDES * reach[last]:
            at += np.uint64(1)
        first[guide] = at
    return first


@compiled("u8(f8, f8[::1], u4[::1])")
def _start(share: float, reach: Array, first: Array) -> Word:
    """The step whose running sum of weights is the first above the share of them all."""
    last: Word = np.uint64(reach.size - 1)
    sought = share * reach[last]
    at: Word = np.uint64(first[np.uint64(share * GUIDES)])
    at += np.uint64(reach[at] <= sought)  # most need one step at most: a sum, no jump to guess
    while at < last and reach[at] <= sought:
        at += np.uint64(1)
    return min(at, last)


@compiled("void(i8[::1], u8, u8, u8, i8, f8[::1], i2[::1], i4[::1], f8[::1])")
def draw(
    counts: Array, year_word: Word, start_word: Word, lasts_word: Word, years: int, reach: Array,
    year: Array, start: Array, lasts_frac: Array,
) -> None:  # fmt: skip
    """Draw counts[l] events of each lifetime l, in order, into the arrays (E,) after `reach`.

    reach (n,): running sums of the weights of the start steps. lasts_frac: the share of events shorter.
    """
    first = _guides(reach)
    i: Word = np.uint64(0)
    for one in range(counts.size):
        for number in range(counts[one]):
            key: Word = np.uint64(one * MOST_EVENTS + number)
            year[i] = np.int16(_share(year_word, key) * years)
            start[i] = np.int32(_start(_share(start_word, key), reach, first))
            lasts_frac[i] = _share(lasts_word, key)
            i += np.uint64(1)
