"""Published values of emissions and of exercise fuel, as data. Every expected value is typed in.

`seen`: the page was opened in a stored copy. `memory`: from memory, unverified. `arithmetic`:
worked by hand from seen inputs.
"""

from __future__ import annotations

from tests.published.economics_cases import HALF_PLACE, Case

EGRID = "US EPA, eGRID2023 rev 2 (12 June 2025)"
HUB = "US EPA, GHG Emission Factors Hub"
EIA = "US EIA, 'How much CO2 is produced by burning gasoline and diesel fuel?' (2015)"
SMALL_ENGINES = "40 CFR 1054.105, Table 1"
MANUALS = "Home standby maintenance pages of four makers, exercise fuel ceiling"

L_PER_GAL = 3.785412
CASES = [
    Case(
        EGRID,
        "US average",
        "seen",
        "lb_per_mwh",
        {"factor_lb_per_mwh": 770.884},
        0.349667,
        0.5e-6,
        HALF_PLACE,
    ),
    Case(
        EGRID,
        "California (CAMX)",
        "seen",
        "lb_per_mwh",
        {"factor_lb_per_mwh": 429.983},
        0.195037,
        0.5e-6,
        HALF_PLACE,
    ),
    Case(
        EGRID,
        "gross loss 5 %, per kWh delivered",
        "arithmetic",
        "delivered",
        {"generated_kg_per_kwh": 0.349667, "loss_frac": 0.05},
        0.36807,
        0.5e-5,
        "half a place; multiplying by 1 + L instead gives 0.36715",
    ),
    Case(
        EGRID,
        "1 kWh from a store of 85 % charged from the US grid",
        "arithmetic",
        "grid",
        {"import_kwh": 1 / 0.85, "co2e_kg_per_kwh": 0.349667},
        0.41137,
        0.5e-5,
        HALF_PLACE,
    ),
    Case(
        EGRID,
        "the same, California",
        "arithmetic",
        "grid",
        {"import_kwh": 1 / 0.85, "co2e_kg_per_kwh": 0.195037},
        0.22946,
        0.5e-5,
        HALF_PLACE,
    ),
    Case(
        HUB,
        "2025, diesel 10.21 kg/gal as t/L",
        "seen",
        "fuel",
        {"fuel": 1.0, "co2e_kg_per_unit": 10.21 / L_PER_GAL},
        2.697,
        0.5e-3,
        HALF_PLACE,
    ),
    Case(
        EIA,
        "E10, fossil part [lb of 0.9 gal E0]",
        "seen",
        "fuel",
        {"fuel": 0.9, "co2e_kg_per_unit": 19.64},
        17.68,
        0.005,
        HALF_PLACE,
    ),
    Case(
        HUB + " with a dealers' chart",
        "20 kW diesel at full load, 1.6 gal/h",
        "arithmetic",
        "intensity",
        {"fuel": 1.6 * L_PER_GAL, "co2e_kg_per_unit": 10.21 / L_PER_GAL, "generated_kwh": 20.0},
        0.817,
        0.5e-3,
        HALF_PLACE,
    ),
    Case(
        SMALL_ENGINES,
        "Class I and II, CO limit of 10 kWh",
        "seen",
        "limit_high",
        {"generated_kwh": 10.0, "limit_g_per_kwh": 610.0},
        6_100.0,
        1e-9,
        "exact",
    ),
    Case(
        MANUALS,
        "203 ft3/h x 5 min x 52 [ft3]",
        "seen",
        "exercise",
        {"runs_per_year": 52.0, "minutes": 5.0, "fuel_per_h": 203.0},
        880.0,
        0.5,
        "printed to the ft3",
    ),
    Case(
        MANUALS,
        "180 ft3/h x 20 min x 52 [ft3]",
        "seen",
        "exercise",
        {"runs_per_year": 52.0, "minutes": 20.0, "fuel_per_h": 180.0},
        3_120.0,
        0.5,
        "printed to the ft3",
    ),
    Case(
        MANUALS,
        "880 ft3 at $16.25 a thousand",
        "seen",
        "fuel_money",
        {"fuel": 880.0, "price_usd_per_unit": 0.01625},
        14.0,
        0.5,
        "printed to the dollar",
    ),
    Case(
        MANUALS,
        "3,120 ft3 at $16.25 a thousand",
        "seen",
        "fuel_money",
        {"fuel": 3_120.0, "price_usd_per_unit": 0.01625},
        51.0,
        0.5,
        "printed to the dollar",
    ),
]
