"""Can the gas reach the engine: a propane tank in the cold, and the meter of pipeline gas.

The boil-off rule is the trade's D x L x K for a lying tank above ground: outer diameter times
length in inches, times a constant for how full it is, gives Btu/h at 0 F; it falls to nothing
near -20 F. From memory (it stands in NFPA 58 commentary and suppliers' handbooks).
"""

from __future__ import annotations

from typing import Protocol

from kit.systems.fuels import fuel_facts
from kit.systems.generator import GeneratorSet
from kit.units import BTU_PER_KWH, FT_M

# How full, share of the tank's volume -> constant; the wetted wall falls with the level.
FILL_CONSTANTS = ((0.10, 45.0), (0.20, 60.0), (0.30, 70.0), (0.40, 80.0), (0.50, 90.0), (0.60, 100.0))
NO_BOIL_OFF_F = -20.0
INCH_M = FT_M / 12.0


class Tank(Protocol):
    """A lying tank, metres."""

    @property
    def diameter_m(self) -> float: ...
    @property
    def length_m(self) -> float: ...


def full_heat_kw(generator: GeneratorSet) -> float:
    """Heat (HHV) the set takes at the last point of its fuel curve, kW."""
    return float(generator.fuel_per_h.max()) * fuel_facts(generator.fuel).hhv_kwh_per_unit


def boil_off_kw(tank: Tank, full_frac: float, outdoor_c: float) -> float:
    """Heat (HHV) of the propane a tank boils off for hours on end, kW.

    D x L x K x (F + 20) / 20 in Btu/h; the constant is interpolated between its table's fills and
    held at its ends. 0 at -20 F and below. Raises ValueError for a fill outside 0 to 0.8.
    """
    if not 0.0 < full_frac <= 0.8:
        raise ValueError(f"full_frac must be above 0 and at most 0.8 (filled), got {full_frac:g}")
    outdoor_f = outdoor_c * 9.0 / 5.0 + 32.0
    at_zero_f = (tank.diameter_m / INCH_M) * (tank.length_m / INCH_M) * _fill_constant(full_frac)
    return at_zero_f * max(0.0, (outdoor_f - NO_BOIL_OFF_F) / 20.0) / BTU_PER_KWH


def cannot_feed_below_c(tank: Tank, full_frac: float, heat_kw: float) -> float:
    """Outdoor temperature, C, below which the tank cannot feed `heat_kw` at this fill."""
    at_zero_f = boil_off_kw(tank, full_frac, -160.0 / 9.0)
    return ((heat_kw / at_zero_f) * 20.0 + NO_BOIL_OFF_F - 32.0) * 5.0 / 9.0


def _fill_constant(full_frac: float) -> float:
    below = FILL_CONSTANTS[0]
    if full_frac <= below[0]:
        return below[1]
    for above in FILL_CONSTANTS[1:]:
        if full_frac <= above[0]:
            share = (full_frac - below[0]) / (above[0] - below[0])
            return below[1] + share * (above[1] - below[1])
        below = above
    return below[1]
