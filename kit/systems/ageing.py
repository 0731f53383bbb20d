"""How a lithium iron phosphate battery loses capacity with time and with cycles.

Forms and coefficients of published cell tests:

- Naumann et al. 2018, J. Energy Storage 17:153 (calendar) and 2020, J. Power Sources 451:227666
  (cycles): a commercial LFP/graphite cell of 2015; both are added.
- Schimpe et al. 2018, J. Electrochem. Soc. 165:A181, Table IV (calendar): another cell, the second
  opinion on the first.

A cell of one make is no forecast for a pack of another: `scale_frac` turns the whole loss up or
down, and a study gives it a range. Losses that grow with the square root of time or throughput are
carried as squares, which is exact for a stress that changes from step to step under such a law:
d(loss^2) = k^2 dt.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

GAS_J_PER_MOL_K = 8.314
FARADAY_C_PER_MOL = 96485.0
T_REF_K = 298.15
ZERO_C_K = 273.15
YEAR_H = 8760.0


def naumann_calendar_k(temperature_c: ArrayLike, charge_frac: ArrayLike) -> Floats:
    """Calendar stress factor [s^-0.5]: loss = k sqrt(t), t in seconds. Naumann 2018.

    1.2571e-5 exp(-17126/R (1/T - 1/298.15)) (2.8575 (SOC - 0.5)^3 + 0.60225); SOC 0 to 1.
    """
    kelvin = np.asarray(temperature_c, dtype=float) + ZERO_C_K
    charge = np.asarray(charge_frac, dtype=float)
    heat = np.exp(-17126.0 / GAS_J_PER_MOL_K * (1.0 / kelvin - 1.0 / T_REF_K))
    return np.asarray(1.2571e-5 * heat * (2.8575 * (charge - 0.5) ** 3 + 0.60225))


def naumann_cycle_k(depth_frac: ArrayLike, c_rate_per_h: ArrayLike) -> Floats:
    """Cycle stress factor [per square root of a full cycle]: loss = k sqrt(FEC). Naumann 2020.

    (0.0630 C + 0.0971)(4.0253 (DOC - 0.6)^3 + 1.0923) per cent; depth of cycle 0 to 1.
    """
    depth = np.asarray(depth_frac, dtype=float)
    rate = np.asarray(c_rate_per_h, dtype=float)
    return np.asarray((0.0630 * rate + 0.0971) * (4.0253 * (depth - 0.6) ** 3 + 1.0923) / 100.0)


def anode_potential_v(charge_frac: ArrayLike) -> Floats:
    """Open-circuit potential of the graphite anode [V] at a state of charge. Schimpe 2018."""
    x = 0.0085 + np.asarray(charge_frac, dtype=float) * (0.78 - 0.0085)
    return np.asarray(
        0.6379
        + 0.5416 * np.exp(-305.5309 * x)
        + 0.044 * np.tanh(-(x - 0.1958) / 0.1088)
        - 0.1978 * np.tanh((x - 1.0571) / 0.0854)
        - 0.6875 * np.tanh((x + 0.0117) / 0.0529)
        - 0.0175 * np.tanh((x - 0.5692) / 0.0875)
    )


def schimpe_calendar_k(temperature_c: ArrayLike, charge_frac: ArrayLike) -> Floats:
    """Calendar stress factor [h^-0.5]: loss = k sqrt(t), t in hours. Schimpe 2018, Table IV."""
    kelvin = np.asarray(temperature_c, dtype=float) + ZERO_C_K
    heat = np.exp(-2.06e4 / GAS_J_PER_MOL_K * (1.0 / kelvin - 1.0 / T_REF_K))
    pull = 0.384 * FARADAY_C_PER_MOL / GAS_J_PER_MOL_K * (0.123 - anode_potential_v(charge_frac)) / T_REF_K
    return np.asarray(3.69e-4 * heat * (np.exp(pull) + 0.142))


@dataclass(frozen=True, eq=False)
class Cycles:
    """Counted cycles of a year: depth 0 to 1, count (0.5 or 1), and C-rate [1/h] of each."""

    depth_frac: Floats
    count: Floats
    c_rate_per_h: Floats

    @property
    def full_equivalent_count(self) -> float:
        """Full equivalent cycles of the year."""
        return float((self.depth_frac * self.count).sum())


def counted_cycles(charge_frac: ArrayLike, step_h: float) -> Cycles:
    """Rainflow count (ASTM E1049-85, by the rainflow library) of a path of state of charge.

    charge_frac: (n,) at the start of each step. The C-rate of a cycle is its swing over the time it
    took, so a swing spread over a night counts as slow.
    """
    import rainflow

    path = np.asarray(charge_frac, dtype=float)
    place = _turning_points(path)
    found = [c for c in rainflow.extract_cycles(path[place].tolist()) if c[0] > 1e-9]
    if not found:
        return Cycles(np.zeros(0), np.zeros(0), np.zeros(0))
    swing, _, count, first, last = (np.array(part, dtype=float) for part in zip(*found, strict=True))
    hours = np.maximum(place[last.astype(int)] - place[first.astype(int)], 1.0) * step_h
    return Cycles(np.minimum(swing, 1.0), count, 2.0 * count * swing / hours)


def _turning_points(path: Floats) -> NDArray[np.int64]:
    """Places in a path (n,) of its first step, twice, of each last step before it turns, and of its end.

    The count needs no others, and is a plain loop. It takes two values before it looks for a turn.
    """
    moves = np.flatnonzero(path[1:] != path[:-1])  # the last step of each level
    change = np.diff(path[np.append(moves, path.size - 1)])
    turns = moves[1:][change[:-1] * change[1:] < 0]
    return np.concatenate([[0, 0], turns, [path.size - 1]])


@dataclass(frozen=True)
class YearStress:
    """What one year of use adds: squares of the calendar and of the cycle loss of a year."""

    calendar_squared: float
    cycle_squared: float

    def loss_frac(self, age_years: float, scale_frac: float = 1.0) -> float:
        """Capacity lost after `age_years` of such years, both parts added, 0 to 1."""
        root = np.sqrt(max(age_years, 0.0))
        total = scale_frac * root * (np.sqrt(self.calendar_squared) + np.sqrt(self.cycle_squared))
        return float(min(1.0, total))

    def age_at_loss_years(self, loss_frac: float, scale_frac: float = 1.0) -> float:
        """Age at which `loss_frac` is lost, years; infinite where nothing ages it."""
        yearly = scale_frac * (np.sqrt(self.calendar_squared) + np.sqrt(self.cycle_squared))
        return float((loss_frac / yearly) ** 2) if yearly > 0 else float("inf")


def year_stress(
    charge_frac: ArrayLike, temperature_c: ArrayLike, step_h: float, form: str = "naumann"
) -> YearStress:
    """The stress of a year lived along this path of charge and temperature.

    charge_frac, temperature_c: (n,), or one temperature for all steps. `form` is the calendar form,
    naumann or schimpe; cycles follow Naumann 2020 in both. A path shorter or longer than a year is
    brought to 8,760 h. Raises ValueError for another form.
    """
    charge = np.clip(np.asarray(charge_frac, dtype=float), 0.0, 1.0)
    cycles = counted_cycles(charge, step_h)
    k_cycle = naumann_cycle_k(cycles.depth_frac, cycles.c_rate_per_h)
    years = charge.size * step_h / YEAR_H
    return YearStress(
        calendar_squared=_calendar_squared(temperature_c, charge, form),
        cycle_squared=float((k_cycle**2 * cycles.depth_frac * cycles.count).sum() / years),
    )


def held_full(temperature_c: ArrayLike, form: str = "naumann", charge_frac: float = 1.0) -> YearStress:
    """The stress of a year at rest at one charge: no cycles. Raises ValueError for another form."""
    temperatures = np.atleast_1d(np.asarray(temperature_c, dtype=float))
    charge = np.clip(np.full(temperatures.shape, charge_frac), 0.0, 1.0)
    return YearStress(_calendar_squared(temperatures, charge, form), 0.0)


def _calendar_squared(temperature_c: ArrayLike, charge_frac: Floats, form: str) -> float:
    """The square of a year's calendar loss along a path (n,) of charge."""
    if form == "naumann":
        k_per_h = naumann_calendar_k(temperature_c, charge_frac) ** 2 * 3600.0
    elif form == "schimpe":
        k_per_h = schimpe_calendar_k(temperature_c, charge_frac) ** 2
    else:
        raise ValueError(f"ageing form must be naumann or schimpe, got {form!r}")
    return float(np.mean(k_per_h) * YEAR_H)
