"""The calculated load of a house by NEC Article 220, standard and optional method, line by line.

Every line names its section. The text of the code was not at hand for all of them: sections marked
'from memory' in `SECTIONS` say so; the four worked examples of Informative Annex D (2005) that the
tests hold these functions to were seen. A worksheet for the licensed designer, never an approval.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kit.units import FT_M

if TYPE_CHECKING:
    import pandas as pd

    from kit.study.dwelling_models import Dwelling

VOLTS = 240.0
LIGHTING_VA_PER_FT2 = 3.0
CIRCUIT_VA = 1500.0
STANDARD_A = (100, 110, 125, 150, 175, 200, 225, 250, 300, 350, 400, 450, 500, 600)
SECTIONS = {
    "lighting": "220.12",
    "circuits": "220.52",
    "demand": "Table 220.42",
    "fixed": "220.53 (from memory)",
    "dryer": "220.54",
    "cooking": "Table 220.55",
    "heat_or_cool": "220.51, 220.60 (from memory)",
    "motor": "220.50, 430.24",
    "vehicle": "220.57 (from memory)",
    "neutral": "220.61",
    "general": "220.82(B)",
    "heat_or_cool_optional": "220.82(C)",
}
# Table 220.55, one to five appliances: column A below 3.5 kW, B to 8.75 kW, C above (kW in all).
_COLUMN_A = (0.80, 0.75, 0.70, 0.66, 0.62)
_COLUMN_B = (0.80, 0.65, 0.55, 0.50, 0.45)
_COLUMN_C_KVA = (8.0, 11.0, 14.0, 17.0, 20.0)


@dataclass(frozen=True)
class CalculatedLoad:
    """One method's result. `lines` has columns line, nameplate_va, counted_va, section.

    `service_a` is the load over 240 V; `smallest_service_a` the next standard size, not below
    100 A. `neutral_va` is None for the optional method, which has none.
    """

    method: str
    lines: pd.DataFrame
    total_va: float
    neutral_va: float | None

    @property
    def service_a(self) -> float:
        return self.total_va / VOLTS

    @property
    def smallest_service_a(self) -> int | None:
        """NEC 230.79(C) and 240.6(A); None above 600 A."""
        return next((size for size in STANDARD_A if size >= self.service_a - 0.5), None)


def general_va(dwelling: Dwelling) -> tuple[float, float]:
    """Lighting by floor area, and the circuits for small appliances and laundry, VA before any factor."""
    lighting = LIGHTING_VA_PER_FT2 * dwelling.floor_area_m2 / FT_M**2
    circuits = dwelling.small_appliance_circuit_count + dwelling.laundry_circuit_count
    return lighting, CIRCUIT_VA * circuits


def lighting_demand_va(connected_va: float) -> float:
    """Table 220.42 for dwellings: first 3,000 VA at 100 %, to 120,000 at 35 %, the rest at 25 %."""
    middle = min(max(connected_va - 3000.0, 0.0), 117_000.0)
    return min(connected_va, 3000.0) + 0.35 * middle + 0.25 * max(connected_va - 120_000.0, 0.0)


def cooking_demand_va(cooking_kva: Sequence[float]) -> float:
    """Table 220.55 with notes 1 to 3: each appliance in the column of its rating, columns added.

    Above 12 kW the figure of column C rises by 5 % for each kW, or major part of one, by which the
    mean rating (12 kW at least for each) passes 12. Raises ValueError for more than five in one
    column or one above 27 kW, where the table goes on differently.
    """
    small = [k for k in cooking_kva if 1.75 < k < 3.5]
    middle = [k for k in cooking_kva if 3.5 <= k <= 8.75]
    large = [k for k in cooking_kva if k > 8.75]
    if max(len(small), len(middle), len(large)) > 5:
        raise ValueError("more than five cooking appliances in one column of Table 220.55: not covered here")
    if large and max(large) > 27.0:
        raise ValueError(f"a cooking appliance of {max(large):g} kVA is beyond Table 220.55 (27 kW)")
    total = sum(1000.0 * k for k in cooking_kva if k <= 1.75)
    total += 1000.0 * sum(small) * _COLUMN_A[len(small) - 1] if small else 0.0
    total += 1000.0 * sum(middle) * _COLUMN_B[len(middle) - 1] if middle else 0.0
    if large:
        over = sum(max(k, 12.0) for k in large) / len(large) - 12.0
        steps = math.floor(over + 0.5 + 1e-9)
        total += 1000.0 * _COLUMN_C_KVA[len(large) - 1] * (1.0 + 0.05 * steps)
    return total


def standard_method(dwelling: Dwelling) -> CalculatedLoad:
    """NEC Article 220 Part III for one dwelling on 120/240 V, single phase."""
    lighting, circuits = general_va(dwelling)
    general = lighting_demand_va(lighting + circuits)
    pieces = list(dwelling.fixed.values())
    fixed = sum(1000.0 * p.nameplate_kva * p.count for p in pieces)
    fixed_factor = 0.75 if sum(p.count for p in pieces) >= 4 else 1.0
    cooking_name = 1000.0 * sum(dwelling.cooking_kva)
    cooking = cooking_demand_va(dwelling.cooking_kva)
    dryer = max(5000.0, 1000.0 * dwelling.dryer_kva) if dwelling.dryer_kva else 0.0
    heating = 1000.0 * _all_heat_kva(dwelling)
    cooling = 1000.0 * dwelling.cooling_kva
    vehicle = max(7200.0, 1000.0 * dwelling.vehicle_charger_kva) if dwelling.vehicle_charger_kva else 0.0
    motor = 1000.0 * dwelling.largest_motor_kva
    lines = [
        ("lighting, 3 VA a square foot", lighting, None, SECTIONS["lighting"]),
        ("circuits for small appliances and laundry", circuits, None, SECTIONS["circuits"]),
        ("lighting and circuits after demand factors", lighting + circuits, general, SECTIONS["demand"]),
        (f"fastened in place, at {fixed_factor:.0%}", fixed, fixed_factor * fixed, SECTIONS["fixed"]),
        ("cooking", cooking_name, cooking, SECTIONS["cooking"]),
        ("clothes dryer", 1000.0 * dwelling.dryer_kva, dryer, SECTIONS["dryer"]),
        (
            "heating or cooling, the larger",
            max(heating, cooling),
            max(heating, cooling),
            SECTIONS["heat_or_cool"],
        ),
        ("a quarter of the largest motor", motor, 0.25 * motor, SECTIONS["motor"]),
        ("vehicle charger", 1000.0 * dwelling.vehicle_charger_kva, vehicle, SECTIONS["vehicle"]),
    ]
    at_120 = sum(1000.0 * p.nameplate_kva * p.count for p in pieces if p.voltage_v == 120)
    neutral = general + 0.7 * cooking + 0.7 * dryer + fixed_factor * at_120
    return _made("standard", lines, neutral)


def optional_method(dwelling: Dwelling) -> CalculatedLoad:
    """NEC 220.82: everything general, the first 10 kVA at 100 % and the rest at 40 %, then heat or cool."""
    lighting, circuits = general_va(dwelling)
    fixed = sum(1000.0 * p.nameplate_kva * p.count for p in dwelling.fixed.values())
    plates = fixed + 1000.0 * (sum(dwelling.cooking_kva) + dwelling.dryer_kva + dwelling.vehicle_charger_kva)
    connected = lighting + circuits + plates
    general = min(connected, 10_000.0) + 0.4 * max(connected - 10_000.0, 0.0)
    which, plate, counted = heat_or_cool_va(dwelling)
    lines = [
        ("lighting, 3 VA a square foot", lighting, None, SECTIONS["general"]),
        ("circuits for small appliances and laundry", circuits, None, SECTIONS["general"]),
        ("nameplates of all that is fastened in place", plates, None, SECTIONS["general"]),
        ("general load: first 10 kVA, then 40 %", connected, general, SECTIONS["general"]),
        (which, plate, counted, SECTIONS["heat_or_cool_optional"]),
    ]
    return _made("optional", lines, None)


def heat_or_cool_va(dwelling: Dwelling) -> tuple[str, float, float]:
    """The largest of cooling and heating by 220.82(C): its name, nameplate VA, counted VA.

    Cooling and a heat pump at 100 %; resistance heat at 65 % beside a heat pump or with fewer
    than four separate controls, at 40 % with four or more.
    """
    heat = dwelling.heating
    choices = [("cooling at 100 %", dwelling.cooling_kva, dwelling.cooling_kva)]
    if heat.heat_pump_kva:
        # With an interlock the two never run together, so the larger of them counts.
        pump, extra = heat.heat_pump_kva, 0.65 * heat.resistance_kva
        counted = pump + extra if heat.supplement_with_heat_pump else max(pump, extra)
        choices.append(
            ("heat pump at 100 %, supplement at 65 %", heat.heat_pump_kva + heat.resistance_kva, counted)
        )
    elif heat.resistance_kva:
        factor = 0.40 if heat.separate_controls_count >= 4 else 0.65
        choices.append((f"electric heat at {factor:.0%}", heat.resistance_kva, factor * heat.resistance_kva))
    name, plate, counted = max(choices, key=lambda choice: choice[2])
    return name, 1000.0 * plate, 1000.0 * counted


def _all_heat_kva(dwelling: Dwelling) -> float:
    heat = dwelling.heating
    if heat.supplement_with_heat_pump:
        return heat.heat_pump_kva + heat.resistance_kva
    return max(heat.heat_pump_kva, heat.resistance_kva)


def _made(
    method: str, lines: list[tuple[str, float, float | None, str]], neutral_va: float | None
) -> CalculatedLoad:
    import pandas as pd

    kept = [line for line in lines if line[1] or line[2]]
    table = pd.DataFrame(kept, columns=["line", "nameplate_va", "counted_va", "section"])
    total = sum(counted for _, _, counted, _ in kept if counted is not None)
    return CalculatedLoad(method, table, total, neutral_va)
