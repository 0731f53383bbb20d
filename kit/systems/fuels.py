"""What a litre or a cubic metre of fuel holds and emits.

Each fuel takes its heat content and its carbon from ONE body: a per-mmBtu factor is only
ever multiplied by the heat content printed beside it. The two bodies differ by about 1 %
for diesel, so a mix would be a silent error of that size.

`gasoline` is the pump blend with 10 % ethanol (E10); `gasoline_e0` has none. Fossil and
biogenic CO2 are told apart; CO2e counts the fossil part with CH4 and N2O.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from kit.units import BTU_PER_KWH, FT3_M3, GAL_L, LB_KG

FuelUnit = Literal["l", "m3"]

KWH_PER_BTU = 1.0 / BTU_PER_KWH

C1 = "40 CFR Part 98 Subpart C Table C-1 (81 FR 89188, 2016)"
C2 = "40 CFR Part 98 Subpart C Table C-2 (from memory)"
AR5 = "IPCC AR5 100-year values as used in 40 CFR Part 98 Table A-1 from 2025 (from memory)"
EIA_HEAT = "US EIA, British thermal units, 2022 page"
EIA_E10 = "US EIA FAQ, How much CO2 is produced by burning gasoline and diesel fuel (2015)"

GWP_CH4 = 28.0  # AR5
GWP_N2O = 265.0  # AR5
PETROLEUM_CH4_KG_PER_MMBTU = 0.0030  # C2
PETROLEUM_N2O_KG_PER_MMBTU = 0.00060  # C2
GAS_CH4_KG_PER_MMBTU = 0.0010  # C2
GAS_N2O_KG_PER_MMBTU = 0.00010  # C2

E0_MMBTU_PER_GAL = 0.125  # C1
ETHANOL_MMBTU_PER_GAL = 0.084  # C1
E0_EIA_LB_PER_GAL = 19.64  # EIA_E10
ETHANOL_EIA_LB_PER_GAL = 12.72  # EIA_E10
E10_BTU_PER_GAL = 120_214.0  # EIA_HEAT
PROPANE_VAPOUR_MMBTU_PER_FT3 = 2.516e-3  # C1, propane gas

PROPANE_VAPOUR_KWH_PER_M3 = PROPANE_VAPOUR_MMBTU_PER_FT3 * 1e6 * KWH_PER_BTU / FT3_M3


@dataclass(frozen=True)
class FuelFacts:
    """Facts of one fuel per `unit` (`l`, a litre of liquid; `m3`, a standard cubic metre of gas).

    Heat is the higher heating value. `co2e_kg_per_unit` is fossil CO2 + CH4 + N2O (AR5).
    """

    name: str
    unit: FuelUnit
    hhv_kwh_per_unit: float
    co2_fossil_kg_per_unit: float
    co2_biogenic_kg_per_unit: float
    ch4_kg_per_unit: float
    n2o_kg_per_unit: float
    source: str

    @property
    def co2e_kg_per_unit(self) -> float:
        """Fossil CO2 + 28 CH4 + 265 N2O, kg per unit (AR5, 100 years)."""
        return self.co2_fossil_kg_per_unit + GWP_CH4 * self.ch4_kg_per_unit + GWP_N2O * self.n2o_kg_per_unit


def _from_c1(
    name: str,
    unit: FuelUnit,
    mmbtu_per_us_unit: float,
    co2_kg_per_mmbtu: float,
    ch4_kg_per_mmbtu: float = PETROLEUM_CH4_KG_PER_MMBTU,
    n2o_kg_per_mmbtu: float = PETROLEUM_N2O_KG_PER_MMBTU,
) -> FuelFacts:
    """One row of Table C-1 (a gallon or a cubic foot) with Table C-2, per litre or m3."""
    mmbtu = mmbtu_per_us_unit / (GAL_L if unit == "l" else FT3_M3)
    return FuelFacts(
        name=name,
        unit=unit,
        hhv_kwh_per_unit=mmbtu * 1e6 * KWH_PER_BTU,
        co2_fossil_kg_per_unit=mmbtu * co2_kg_per_mmbtu,
        co2_biogenic_kg_per_unit=0.0,
        ch4_kg_per_unit=mmbtu * ch4_kg_per_mmbtu,
        n2o_kg_per_unit=mmbtu * n2o_kg_per_mmbtu,
        source=f"{C1}; {C2}; {AR5}",
    )


def _e10() -> FuelFacts:
    """Pump gasoline: heat and CO2 by EIA; CH4 and N2O by 40 CFR 98 on its own heat of the blend."""
    blend_mmbtu_per_l = (0.9 * E0_MMBTU_PER_GAL + 0.1 * ETHANOL_MMBTU_PER_GAL) / GAL_L
    return FuelFacts(
        name="gasoline",
        unit="l",
        hhv_kwh_per_unit=E10_BTU_PER_GAL * KWH_PER_BTU / GAL_L,
        co2_fossil_kg_per_unit=0.9 * E0_EIA_LB_PER_GAL * LB_KG / GAL_L,
        co2_biogenic_kg_per_unit=0.1 * ETHANOL_EIA_LB_PER_GAL * LB_KG / GAL_L,
        ch4_kg_per_unit=blend_mmbtu_per_l * PETROLEUM_CH4_KG_PER_MMBTU,
        n2o_kg_per_unit=blend_mmbtu_per_l * PETROLEUM_N2O_KG_PER_MMBTU,
        source=f"heat: {EIA_HEAT}; CO2: {EIA_E10}; CH4 and N2O: {C2}; {AR5}",
    )


FUELS: dict[str, FuelFacts] = {
    "gasoline": _e10(),
    "gasoline_e0": _from_c1("gasoline_e0", "l", E0_MMBTU_PER_GAL, 70.22),
    "diesel": _from_c1("diesel", "l", 0.138, 73.96),
    "propane": _from_c1("propane", "l", 0.091, 62.87),
    "natural_gas": _from_c1("natural_gas", "m3", 1.026e-3, 53.06, GAS_CH4_KG_PER_MMBTU, GAS_N2O_KG_PER_MMBTU),
}


def fuel_facts(name: str) -> FuelFacts:
    """Facts of `gasoline` (E10), `gasoline_e0`, `diesel`, `propane` or `natural_gas`.

    Raises ValueError for any other name.
    """
    try:
        return FUELS[name]
    except KeyError:
        raise ValueError(f"unknown fuel {name!r}: known are {', '.join(FUELS)}") from None


def fuel_volume_per_h(
    name: str,
    l_per_h: float | None = None,
    m3_per_h: float | None = None,
    heat_kw: float | None = None,
) -> float:
    """One fuel flow, given in exactly one way, in the fuel's own unit an hour (L/h or m3/h).

    Heat (HHV) becomes volume by the fuel's heat content. Propane may be given as vapour
    (m3/h) or liquid (L/h) and comes back as liquid. Raises ValueError when none or several
    are given, or when a gas is given in litres or a liquid in m3.
    """
    if sum(v is not None for v in (l_per_h, m3_per_h, heat_kw)) != 1:
        raise ValueError("give exactly one of l_per_h, m3_per_h, heat_kw")
    facts = fuel_facts(name)
    if heat_kw is not None:
        return heat_kw / facts.hhv_kwh_per_unit
    if l_per_h is not None:
        if facts.unit != "l":
            raise ValueError(f"{name} is a gas: give m3 or heat, not litres")
        return l_per_h
    assert m3_per_h is not None
    if facts.unit == "m3":
        return m3_per_h
    if name != "propane":
        raise ValueError(f"{name} is a liquid: give litres or heat, not m3")
    return m3_per_h * PROPANE_VAPOUR_KWH_PER_M3 / facts.hhv_kwh_per_unit
