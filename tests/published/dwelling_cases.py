"""Worked examples of NEC Informative Annex D, 2005 edition, typed from the printed text (seen)."""

from __future__ import annotations

from dataclasses import dataclass

from kit.study.dwelling_models import Dwelling, FixedAppliance, Heating

FT2_M2 = 0.09290304
FLOOR_M2 = 1500 * FT2_M2


@dataclass(frozen=True)
class DwellingCase:
    """One example: inputs, and what is printed. Volt-amperes are whole numbers, so `within` is 0.5."""

    name: str
    source: str
    dwelling: Dwelling
    method: str
    total_va: float
    smallest_service_a: int
    neutral_va: float | None = None
    within: float = 0.5


D1A = DwellingCase(
    "D1(a)",
    "NEC 2005 Informative Annex D, Example D1(a)",
    Dwelling(floor_area_m2=FLOOR_M2, cooking_kva=[12.0], dryer_kva=5.5),
    "standard",
    18_600.0,
    100,
    14_550.0,
)
D2A_DWELLING = Dwelling(
    floor_area_m2=FLOOR_M2,
    cooking_kva=[12.0],
    dryer_kva=5.0,
    fixed={
        "water_heater": FixedAppliance(nameplate_kva=2.5),
        "dishwasher": FixedAppliance(nameplate_kva=1.2, voltage_v=120),
    },
    heating=Heating(resistance_kva=9.0, separate_controls_count=5),
    cooling_kva=1.38,
)
D2A = DwellingCase(
    "D2(a)", "NEC 2005 Informative Annex D, Example D2(a)", D2A_DWELLING, "optional", 21_480.0, 100
)
D2A_NEUTRAL_VA = 15_400.0
D2B = DwellingCase(
    "D2(b)",
    "NEC 2005 Informative Annex D, Example D2(b)",
    Dwelling(
        floor_area_m2=FLOOR_M2,
        cooking_kva=[4.0, 4.0, 5.1],
        dryer_kva=5.0,
        fixed={
            "water_heater": FixedAppliance(nameplate_kva=4.5),
            "dishwasher": FixedAppliance(nameplate_kva=1.2, voltage_v=120),
        },
        heating=Heating(resistance_kva=1.5, separate_controls_count=1),
        cooling_kva=10.08,  # six room units of 7 A at 240 V, as printed
    ),
    "optional",
    29_200.0,
    125,
)
D2B_COOKING_VA = 7_200.0  # 13.1 kVA at the 55 % of Table 220.55; printed to the nearest 100
D2C = DwellingCase(
    "D2(c)",
    "NEC 2005 Informative Annex D, Example D2(c)",
    Dwelling(
        floor_area_m2=2000 * FT2_M2,
        cooking_kva=[12.0],
        dryer_kva=5.0,
        fixed={
            "water_heater": FixedAppliance(nameplate_kva=4.5),
            "dishwasher": FixedAppliance(nameplate_kva=1.2, voltage_v=120),
        },
        heating=Heating(heat_pump_kva=5.76, resistance_kva=15.0),
    ),
    "optional",
    34_790.0,
    150,
)

# Tank sizing table of a heater manual (brand withheld): 1,000 gal at -10 F, 30 % full, feeds 276,500 Btu/h.
# The outer size of such a tank, 41 in by 192 in, is from memory.
TANK_1000_GAL_IN = (41.0, 192.0)
TANK_1000_GAL_BTU_PER_H = 276_500.0
