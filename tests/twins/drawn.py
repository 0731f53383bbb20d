"""Outages drawn one after another on whole numbers, each from what it is drawn for. Imports nothing from kit.

Source of the mixing: Steele, Lea, Flood, "Fast splittable pseudorandom number generators" (OOPSLA 2014).
"""

WORD = 1 << 64
GOLDEN = 0x9E3779B97F4A7C15


def mixed(word):
    """SplitMix64's output function."""
    word = ((word ^ (word >> 30)) * 0xBF58476D1CE4E5B9) % WORD
    word = ((word ^ (word >> 27)) * 0x94D049BB133111EB) % WORD
    return word ^ (word >> 31)


def share(seed, *keys):
    """A number in [0, 1) of the seed and the keys, each mixed in at its turn."""
    word = seed
    for key in keys:
        word = mixed((word + GOLDEN * (key + 1)) % WORD)
    return (word >> 11) / 2**53


def one_event(seed, purposes, kind, lifetime, place, years, weights):
    """Year, start step and share of shorter events, of one event of a lifetime.

    purposes: numbers of the draws of year, start and length.
    """
    of_year, of_start, of_length = (share(seed, p, kind, lifetime * 2**20 + place) for p in purposes)
    whole = []
    for weight in weights:
        whole.append(weight + (whole[-1] if whole else 0.0))
    sought = of_start * whole[-1]
    start = next((step for step, reached in enumerate(whole) if reached > sought), len(whole) - 1)
    return int(of_year * years), start, of_length
