"""Can it start and carry the loads, what passes on the way, and what safety work asks.

`fit` makes the table of checks of one option and its findings. Formulas of noise, carbon
monoxide and busbars stand in `hazards`.
"""

from kit.fit.check import Fit, fit
from kit.fit.hazards import co_minutes_to_danger, noise_db_a
from kit.fit.inputs import Allowed, Peaks, Site, SolarArray

__all__ = [
    "Allowed",
    "Fit",
    "Peaks",
    "Site",
    "SolarArray",
    "co_minutes_to_danger",
    "fit",
    "noise_db_a",
]
