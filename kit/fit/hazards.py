"""Short formulas of safety and code work. They inform; local code and a licensed person decide."""

from __future__ import annotations

import math

NOISE_STATED_AT_M = 7.0
CO_KG_PER_M3 = 1.1456  # 28.01 g/mol over 24.45 L/mol, 25 C and 1 atm
CO_DANGER_PPM = 1200.0  # immediately dangerous to life or health (NIOSH, from memory)
BUSBAR_FRAC = 1.2  # NEC 705.12, from memory
INVERTER_FRAC = 1.25  # NEC 705.12, from memory


def noise_db_a(at_7m_db_a: float, distance_m: float) -> float:
    """Sound level at `distance_m`, dB(A): L2 = L1 - 20 log10(d2 / 7 m), free field.

    Walls that reflect add to it. Raises ValueError for a distance of 0 or less.
    """
    if not distance_m > 0:
        raise ValueError(f"distance_m must be above 0, got {distance_m:g}")
    return at_7m_db_a - 20.0 * math.log10(distance_m / NOISE_STATED_AT_M)


def co_minutes_to_danger(
    co_g_per_kwh: float, output_kw: float, room_m3: float, danger_ppm: float = CO_DANGER_PPM
) -> float:
    """Minutes until a closed room of `room_m3` passes `danger_ppm` of carbon monoxide.

    Well mixed, no air change: danger_ppm x room x 1.1456 kg/m3 over the set's CO an hour.
    Infinite when no CO is made.
    """
    co_g_per_h = co_g_per_kwh * output_kw
    if co_g_per_h <= 0:
        return math.inf
    return danger_ppm * 1e-6 * room_m3 * CO_KG_PER_M3 * 1000.0 / co_g_per_h * 60.0


def busbar_room_a(busbar_a: float, main_breaker_a: float) -> float:
    """Amperes a busbar has left for inverter breakers: busbar x 1.2 - main (NEC 705.12, from memory)."""
    return BUSBAR_FRAC * busbar_a - main_breaker_a


def inverter_breaker_a(inverter_kw: float, voltage_v: float = 240.0) -> float:
    """Amperes an inverter counts on a busbar: 1.25 x its rated current (NEC 705.12, from memory)."""
    return INVERTER_FRAC * inverter_kw * 1000.0 / voltage_v
