"""Worked bills printed by utilities and trade handbooks, with the kWh of one month.

All kWh fall in January. Tolerance is half a cent: bills are printed in cents.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

CENT = 0.005


@dataclass(frozen=True)
class TariffCase:
    """One printed bill: where it stands, the plan, January's kWh, the total, its lines."""

    name: str
    source: str
    plan: dict[str, Any]
    import_kwh: float
    export_kwh: float
    expected_usd: float
    lines_usd: tuple[float, ...] = ()


def _blocks(*pairs: tuple[float | None, float]) -> list[dict[str, float]]:
    return [
        {"price_usd_per_kwh": price} | ({} if limit is None else {"up_to_kwh_per_month": limit})
        for limit, price in pairs
    ]


DECLINING = {
    "rounding": "line",
    "fixed_usd_per_month": 7.50,
    "energy": {"all_hours": {"tiers": _blocks((250.0, 0.064), (700.0, 0.049), (None, 0.0446))}},
    "riders": {"power_cost": {"price_usd_per_kwh": 0.085}},
    "taxes": {"local": {"frac": 0.01}},
}
INCLINING = {
    "rounding": "line",
    "energy": {"all_hours": {"tiers": _blocks((800.0, 0.088958), (2000.0, 0.098073), (None, 0.108615))}},
}
TIME_OF_USE = {
    "rounding": "line",
    "seasons": {"summer": [4, 5, 6, 7, 8, 9, 10], "winter": [1, 2, 3, 11, 12]},
    "energy": {
        "summer_on_peak": {
            "seasons": ["summer"],
            "days": "weekday",
            "hours": "15-19",
            "price_usd_per_kwh": 0.13,
        },
        "winter_on_peak": {
            "seasons": ["winter"],
            "days": "weekday",
            "hours": "6-10",
            "price_usd_per_kwh": 0.13,
        },
        "off_peak": {"hours": "rest", "price_usd_per_kwh": 0.08473},
    },
}
RETAIL = {"all_hours": {"price_usd_per_kwh": 0.16}}
OWN = "common practice, no source: own fixture, import 600 kWh at .16, export 400 kWh"

BILLS = [
    TariffCase(
        "declining block with power cost and tax, winter 1,200 kWh",
        "Seymour (Wisconsin) utility, worked residential bill on its rate page",
        DECLINING,
        import_kwh=1200.0,
        export_kwh=0.0,
        expected_usd=171.55,
        lines_usd=(7.50, 16.00, 22.05, 22.30, 102.00, 1.70),
    ),
    TariffCase(
        "inclining tiers, 800 kWh",
        "Idaho utility price page, residential, winter",
        INCLINING,
        import_kwh=800.0,
        export_kwh=0.0,
        expected_usd=71.17,
    ),
    TariffCase(
        "inclining tiers, 1,050 kWh: 95.68 if only the total were rounded",
        "Idaho utility price page, residential, winter",
        INCLINING,
        import_kwh=1050.0,
        export_kwh=0.0,
        expected_usd=95.69,
        lines_usd=(71.17, 24.52),
    ),
    TariffCase(
        "flat, meter 9975 - 8865, other charges 18.48",
        "electric utility bill guide (total line recomputed: 105.56 + 18.48)",
        {
            "rounding": "line",
            "fixed_usd_per_month": 18.48,
            "energy": {"all_hours": {"price_usd_per_kwh": 0.0951}},
        },
        import_kwh=9975.0 - 8865.0,
        export_kwh=0.0,
        expected_usd=124.04,
        lines_usd=(18.48, 105.56),
    ),
    TariffCase(
        "net metering",
        OWN,
        {"energy": RETAIL, "export": {"kind": "net_metering"}},
        import_kwh=600.0,
        export_kwh=400.0,
        expected_usd=32.00,
    ),
    TariffCase(
        "net billing at .05",
        OWN,
        {"energy": RETAIL, "export": {"kind": "net_billing", "price_usd_per_kwh": 0.05}},
        import_kwh=600.0,
        export_kwh=400.0,
        expected_usd=76.00,
        lines_usd=(96.00, -20.00),
    ),
]

# Fayetteville (North Carolina) public utility, residential time-of-use page: 1,000 kWh, 80 % off-peak
TIME_OF_USE_KWH = (200.0, 800.0)
TIME_OF_USE_USD = 93.78

# Los Alamos County (New Mexico), residential demand example: 1.00 a kW on the month's highest hour
DEMAND_USD_PER_KW = 1.0
TOGETHER_KW = ((2.0, 3.0, 4.0), 9.00)  # one hour holds all three
STAGGERED_KW = ((2.0, 3.0, 4.0), 4.00)  # three hours hold one each

RECORDS = "open US utility rate database (CC0), a record as kept in tests/data/rates; bill worked by hand"
# January 2025: 2 kWh in each weekday hour 15 to 20 (23 weekdays x 5 h = 230 kWh), 1 kWh in every other hour
# (744 - 115 = 629 kWh), and 7 kW in the hour from 17 of the 15th; the 19th (a Sunday) 9 kW at 17.
# Fixed 12.99; 235 kWh x 0.11017 = 25.88995; 637 kWh x 0.07798 = 49.67326; 872 kWh x 0.005741 = 5.006152;
# 7 kW x (8.40 + 0.838) = 64.666.
RECORD_DEMAND_USD = 158.225362
# July (31 days, limits 6.8 and 27.2 a day: 210.8 and 843.2 kWh) with 1,000 kWh: 210.8 x 0.25902 + 632.4 x
# 0.32596 + 156.8 x 0.40745 = 54.601416 + 206.137104 + 63.88816. February (28 days, 8.2 a day: 229.6 kWh)
# with 30 kWh: 7.7706, topped up to the least charge.
RECORD_TIERS_USD = {7: 324.62668, 2: 10.0}
RECORD_WITHIN = 1e-6  # of the figure: the arithmetic above is exact
