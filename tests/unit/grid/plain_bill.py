"""The evening-peak bill as a person with a clock would make it: half hour by half hour.

Imports nothing from kit. Holidays are the US federal ones of 2025 as observed (US Office of
Personnel Management, 2025 holiday schedule; from memory).
"""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

HOLIDAYS_2025 = {
    (1, 1),
    (1, 20),
    (2, 17),
    (5, 26),
    (6, 19),
    (7, 4),
    (9, 1),
    (10, 13),
    (11, 11),
    (11, 27),
    (12, 25),
}


def price_at(now: dt.datetime) -> float:
    """USD per kWh at a local time."""
    clock = now.hour + now.minute / 60
    free_day = now.weekday() >= 5 or (now.month, now.day) in HOLIDAYS_2025
    if clock >= 23 or clock < 5:
        return 0.07
    if now.month in (6, 7, 8, 9):
        return 0.41 if not free_day and 16 <= clock < 21 else 0.12
    if not free_day and (6 <= clock < 9 or 17 <= clock < 20.5):
        return 0.25
    return 0.12


def month_energy_usd(import_kwh: list[float], step_min: int, zone: str) -> list[float]:
    """Energy charges of January to December 2025; a step's kWh is spread evenly over it."""
    month_usd = [0.0] * 12
    start = dt.datetime(2025, 1, 1, tzinfo=ZoneInfo(zone)).astimezone(dt.UTC)
    piece_min = min(step_min, 30)
    for number, kwh in enumerate(import_kwh):
        for part in range(step_min // piece_min):
            now = start + dt.timedelta(minutes=number * step_min + part * piece_min)
            local = now.astimezone(ZoneInfo(zone))
            month_usd[local.month - 1] += kwh * piece_min / step_min * price_at(local)
    return month_usd
