"""Published values of appliances and motors, as printed."""

from __future__ import annotations

from dataclasses import dataclass

CODE_LETTERS = "NEC Table 430.7(B), the same as NEMA MG 1: locked-rotor kVA per horsepower"
# letter, lowest and highest as printed; the last is "and up", A begins at 0.
LOCKED_ROTOR_ROWS = """
A 0-3.14; B 3.15-3.54; C 3.55-3.99; D 4.0-4.49; E 4.5-4.99; F 5.0-5.59; G 5.6-6.29; H 6.3-7.09; J 7.1-7.99;
K 8.0-8.99; L 9.0-9.99; M 10.0-11.19; N 11.2-12.49; P 12.5-13.99; R 14.0-15.99; S 16.0-17.99; T 18.0-19.99;
U 20.0-22.39; V 22.4+
"""


@dataclass(frozen=True)
class LockedRotorCase:
    """Amperes or kVA at standstill, to the last printed digit."""

    source: str
    shaft_hp: float
    code_letter: str
    voltage_v: float
    low_a: float
    high_a: float


# 1000 x kVA / V for one phase; kVA = hp x table.
LOCKED_ROTOR_CASES = (
    LockedRotorCase(f"{CODE_LETTERS}; 1000 x kVA / V", 5.0, "H", 240.0, 131.3, 147.7),
    LockedRotorCase(f"{CODE_LETTERS}; 1000 x kVA / V", 3.0, "K", 240.0, 100.0, 112.4),
)
STANDSTILL_WITHIN_A = 0.051  # half of the last printed digit, 131.25 as 131.3
HALF_HP_L_KVA = (4.5, 5.0)  # the same source, 1/2 hp of letter L
HALF_HP_WITHIN_KVA = 0.006

COOPERATIVE = "a rural electric cooperative's generator sizing page; start as a total"
HOME_REPAIR = "a home-repair magazine's table; watts to ADD for starting"
RURAL_LIVING = "a rural-living magazine's table; start as a total"


@dataclass(frozen=True)
class StartCase:
    """A row of a published table: running, and its starting column with the table's own meaning."""

    source: str
    name: str
    running_w: float
    total_w: float | None
    extra_w: float | None
    is_total_w: float  # what it draws while it starts, worked by hand


START_CASES = (
    StartCase(COOPERATIVE, "refrigerator", 500, 750, None, 750),
    StartCase(COOPERATIVE, "refrigerator of the worked example", 1200, 2900, None, 2900),
    StartCase(HOME_REPAIR, "refrigerator", 800, None, 2300, 3100),
    StartCase(RURAL_LIVING, "refrigerator", 800, 1500, None, 1500),
    StartCase(COOPERATIVE, "freezer 24 ft3", 720, 1890, None, 1890),
    StartCase(HOME_REPAIR, "freezer", 500, None, 750, 1250),
    StartCase(RURAL_LIVING, "freezer", 800, 2000, None, 2000),
    StartCase(COOPERATIVE, "furnace fan", 1100, 2000, None, 2000),
    StartCase(HOME_REPAIR, "furnace fan 1/2 hp", 875, None, 2350, 3225),
    StartCase(COOPERATIVE, "sump pump 1/3 hp", 800, 1250, None, 1250),
    StartCase(HOME_REPAIR, "well pump 1/2 hp", 1000, None, 2100, 3100),
    StartCase(COOPERATIVE, "central air conditioner 3 ton", 5400, 7200, None, 7200),
)

# "running a 100 watt light bulb, a 200 watt slow cooker, a 1,200 watt refrigerator with a startup wattage of
# 2,900 watts and a 750 watt TV would require 3,950 watts"
SUM_3950 = {
    "source": COOPERATIVE,
    "lamp": 100,
    "cooker": 200,
    "refrigerator": (1200, 2900),
    "tv": 750,
    "sum": 3950,
}

DOE = "US DOE, Estimating Appliance and Home Electronic Energy Use"
# (120 + 150) W x 4 h x 365 d / 1000 = 394 kWh x 11 cents = 43.34 USD; window fan 200 W x 4 h x 120 d = 96 kWh
DOE_COMPUTER = {"source": DOE, "watts": (120, 150), "hours_per_day": 4, "days": 365, "kwh": 394, "usd": 43.34}
DOE_FAN = {"source": DOE, "watts": 200, "hours_per_day": 4, "days": 120, "kwh": 96, "usd_at_11_cents": 10.56}
# nameplate ranges of the same page: block of the library -> lowest, highest watts
DOE_RANGES = {
    "clothes_washer": (350, 500),
    "clothes_dryer": (1800, 5000),
    "dishwasher": (1200, 2400),
    "dehumidifier": (785, 785),
    "furnace_fan": (750, 750),
    "window_fan": (55, 250),
    "ceiling_fan": (65, 175),
    "hair_dryer": (1200, 1875),
    "portable_heater": (750, 1500),
    "clothes_iron": (1000, 1800),
    "microwave": (750, 1100),
    "water_heater": (4500, 5500),
    "coffee_maker": (900, 1200),
}
# printed row -> block of the library that must span it
LIBRARY_BLOCK = {
    "refrigerator": "refrigerator",
    "freezer 24 ft3": "freezer",
    "freezer": "freezer",
    "furnace fan": "furnace_fan",
    "furnace fan 1/2 hp": "furnace_fan",
    "sump pump 1/3 hp": "sump_pump_third_hp",
    "well pump 1/2 hp": "well_pump_half_hp",
    "central air conditioner 3 ton": "central_air_3_ton",
}
