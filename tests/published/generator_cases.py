"""Fuel curves, derating, inlet, noise and carbon monoxide, typed from handbook charts and manuals."""

from tests.published.equipment_case import EquipmentCase as Case

CHART = "generic diesel generator fuel consumption chart, gal/h (two dealers' copies)"
# rated kW: [(output kW, gal/h)] at 1/4 (where printed), 1/2, 3/4 and full load
DIESEL_CHART: dict[int, list[tuple[float, float]]] = {
    8: [(4.0, 0.39), (6.0, 0.54), (8.0, 0.69)],
    10: [(5.0, 0.53), (7.5, 0.65), (10.0, 0.88)],
    15: [(7.5, 0.69), (11.25, 0.94), (15.0, 1.22)],
    20: [(5.0, 0.6), (10.0, 0.9), (15.0, 1.3), (20.0, 1.6)],
    30: [(7.5, 1.3), (15.0, 1.8), (22.5, 2.4), (30.0, 2.9)],
    40: [(10.0, 1.6), (20.0, 2.3), (30.0, 3.2), (40.0, 4.0)],
}
WHY_EFFICIENCY = (
    "the printed shares use 137,381 Btu/gal; kit keeps 138,000 of 40 CFR 98: 0.5 % lower, one digit printed"
)
# efficiency in percent by rated kW and output
DIESEL_EFFICIENCY = [
    Case("8 kW full", CHART, {"rated": 8, "output_kw": 8.0}, 28.8, 0.2, why=WHY_EFFICIENCY),
    Case("10 kW full", CHART, {"rated": 10, "output_kw": 10.0}, 28.2, 0.2, why=WHY_EFFICIENCY),
    Case("15 kW full", CHART, {"rated": 15, "output_kw": 15.0}, 30.5, 0.2, why=WHY_EFFICIENCY),
    Case("20 kW full", CHART, {"rated": 20, "output_kw": 20.0}, 31.0, 0.2, why=WHY_EFFICIENCY),
    Case("20 kW quarter", CHART, {"rated": 20, "output_kw": 5.0}, 20.7, 0.2, why=WHY_EFFICIENCY),
    Case("30 kW full", CHART, {"rated": 30, "output_kw": 30.0}, 25.7, 0.2, why=WHY_EFFICIENCY),
    Case("40 kW full", CHART, {"rated": 40, "output_kw": 40.0}, 24.8, 0.2, why=WHY_EFFICIENCY),
]

MANUAL_25 = "installation manual of a 25 kW liquid-cooled standby set on propane"
PROPANE_25_GAL_PER_H = [(0.0, 1.5), (12.5, 2.9), (25.0, 4.3)]
PROPANE_25_BTU_PER_H = [(0.0, 138_000.0), (12.5, 262_500.0), (25.0, 387_000.0)]
PROPANE_25_FUEL = [
    Case("no load", MANUAL_25, {"output_kw": 0.0}, 1.5, 0.05),
    Case("half", MANUAL_25, {"output_kw": 12.5}, 2.9, 0.05),
    Case("full", MANUAL_25, {"output_kw": 25.0}, 4.3, 0.06, why=(
        "387,000 Btu/h over 91,000 Btu/gal is 4.253; the manual divides by about 90,000"
    )),
]  # fmt: skip
PROPANE_25_AT_HALF_KW = Case(
    "0.5 kW on a 25 kW set", f"{MANUAL_25} (recomputed)", {"output_kw": 0.5}, 1.56, 0.005
)
PROPANE_25_EFFICIENCY = [
    Case("full", f"{MANUAL_25} (recomputed)", {"output_kw": 25.0}, 22.0, 0.05),
    Case("half", f"{MANUAL_25} (recomputed)", {"output_kw": 12.5}, 16.2, 0.05),
]
PROPANE_25_VAPOUR = Case("155 ft3/h of vapour is 4.3 gal/h", MANUAL_25, {"ft3_per_h": 155.0}, 4.3, 0.05)

AIR_COOLED = "spec-sheet compilation of air-cooled sets on natural gas, Btu/h at full load (recomputed)"
# kW, full-load Btu/h -> percent
NATURAL_GAS_EFFICIENCY = [
    Case("10 kW", AIR_COOLED, {"rated": 10, "btu_per_h": 127_000}, 26.9, 0.05),
    Case("14 kW", AIR_COOLED, {"rated": 14, "btu_per_h": 256_000}, 18.7, 0.05),
    Case("18 kW", AIR_COOLED, {"rated": 18, "btu_per_h": 247_000}, 24.9, 0.05),
    Case("20 kW", AIR_COOLED, {"rated": 20, "btu_per_h": 287_000}, 23.8, 0.05),
    Case("22 kW", AIR_COOLED, {"rated": 22, "btu_per_h": 327_000}, 23.0, 0.05),
    Case("24 kW", AIR_COOLED, {"rated": 24, "btu_per_h": 306_000}, 26.8, 0.05),
    Case("26 kW", AIR_COOLED, {"rated": 26, "btu_per_h": 333_000}, 26.6, 0.06, why=(
        "26 x 3,412.14 / 333,000 is 26.64: printed rounded"
    )),
]  # fmt: skip

RULE = "standby-set manual: 3 % per 1,000 ft (300 m), 1 % per 10 F (5.6 C) above 77 F (25 C)"
VARIANT = "handbook variant, 3.5 % per 1,000 ft (common practice)"
# 5,000 ft is 1,500 m and 28 F above 77 F is 15.68 C in the rule's own round steps
DERATING = [
    Case("5,000 ft at 3 %", RULE, {"altitude_m": 1500.0, "temperature_c": 25.0}, 0.85, 0.0005),
    Case(
        "5,000 ft at 3.5 %",
        VARIANT,
        {"altitude_m": 1500.0, "temperature_c": 25.0, "altitude_frac_per_300m": 0.035},
        0.825,
        0.0005,
    ),
    Case("105 F", RULE, {"altitude_m": 0.0, "temperature_c": 40.68}, 0.972, 0.0005),
    Case("both, product", RULE, {"altitude_m": 1500.0, "temperature_c": 40.68}, 0.826, 0.0005),
    Case(
        "both, sum",
        RULE,
        {"altitude_m": 1500.0, "temperature_c": 40.68, "combine": "add"},
        0.822,
        0.0005,
    ),
]

TABLE = "alternator derating table of two operator's manuals and a sizing sheet"
PER_500M = 0.03 * 300 / 500  # the table's 3 % per 500 m in steps of 300 m
PER_5C = 0.03 * 5.6 / 5  # the table's 3 % per 5 C in steps of 5.6 C
_ALTITUDES = [(1500, 0.97), (2000, 0.94), (2500, 0.91), (3000, 0.88), (3500, 0.85), (4000, 0.82)]
_HEATS = [(45, 0.97), (50, 0.94), (55, 0.91), (60, 0.88)]
ALTERNATOR = [
    *(
        Case(f"{m} m", TABLE, {"altitude_m": float(m), "temperature_c": 25.0}, f, 0.0005)
        for m, f in _ALTITUDES
    ),
    *(Case(f"{c} C", TABLE, {"altitude_m": 0.0, "temperature_c": float(c)}, f, 0.0005) for c, f in _HEATS),
    Case(
        "2,000 m and 50 C",
        f"{TABLE}: multipliers compound, 0.94 x 0.94 (arithmetic)",
        {"altitude_m": 2000.0, "temperature_c": 50.0},
        0.8836,
        1e-9,
        why="the factors as printed, multiplied",
    ),
]

AMPERES = "amperes x volts, continuous 80 % (common practice)"
INLET = [
    Case("30 A at 240 V, peak", AMPERES, {"figure": "peak_kw"}, 7.2, 1e-9, why="exact product"),
    Case("30 A at 240 V, continuous", AMPERES, {"figure": "continuous_kw"}, 5.76, 1e-9, why="exact product"),
]
NOISE = Case("65 dB(A) at 7 m, at 15 m", "free-field law, arithmetic", {"db": 65.0, "m": 15.0}, 58.4, 0.05)
CO_GARAGE = Case(
    "610 g/kWh at 1 kW in a closed 100 m3 garage to 1,200 ppm",
    "40 CFR 1054.105 Table 1 limit; arithmetic at 25 C and 1 atm",
    {"co_g_per_kwh": 610.0, "output_kw": 1.0, "room_m3": 100.0},
    13.5,
    0.05,
)
