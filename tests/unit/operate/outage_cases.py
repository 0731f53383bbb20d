"""Outage records, machines and houses for tests of a year of outages; all invented."""

from __future__ import annotations

from typing import Any

import numpy as np

from kit.calendar import Year, calendar_year
from kit.operate.events import EventKind, event_kinds
from kit.operate.outages import Backup
from kit.study.equipment_models import Battery, Generator
from kit.study.outage_models import OutageRecord
from kit.systems.battery import battery_system
from kit.systems.generator import generator_set
from kit.systems.reliability import Reliability
from kit.systems.transfer import Gap
from tests.unit.systems.blocks import a_battery, a_generator

YEAR = calendar_year(2025, "America/New_York", 60)
REACH_H = 168.0
AT_ONCE = Gap(0.0, False, "at once")
NEVER_FAILS = Reliability(1.0, 0.0, 1e12, "none", False)

ROUTINE = {"events_per_year": 1.5, "duration": {"kind": "exponential", "mean_h": 2.0}}
MAJOR = {"events_per_year": 0.25, "duration": {"kind": "lognormal", "median_h": 12.0, "spread": 1.0}}
SHORT = {"events_per_year": 2.0, "duration": {"kind": "log", "events_h": [0.5, 1.25, 3.0]}}
FIXED = {"events_per_year": 0.5, "duration": {"kind": "fixed", "mean_h": 9.5}}


def record(horizon_h: float = 336.0, **classes: Any) -> OutageRecord:
    return OutageRecord.model_validate({"horizon_h": horizon_h, "classes": classes})


def kinds_of(reach_h: float = REACH_H, year: Year = YEAR, **classes: Any) -> tuple[EventKind, ...]:
    return event_kinds(record(**classes), year, reach_h)


def backup(
    must_kw: float | np.ndarray = 0.5,
    battery: Battery | None = None,
    generator: Generator | None = None,
    year: Year = YEAR,
    **given: Any,
) -> Backup:
    """A house of steady loads with machines that serve at once and never fail, unless said."""
    n = year.n
    sized = battery_system(battery) if battery else None
    made = generator_set(generator, 0.0, 25.0) if generator else None
    fields: dict[str, Any] = {
        "step_h": year.step_h,
        "must_kw": np.full(n, 1.0) * must_kw,
        "wanted_kw": np.zeros(n),
        "solar_kw": np.zeros(n),
        "attended": np.ones(n, dtype=bool),
        "may_charge": np.ones(n, dtype=bool),
        "stored_kwh": np.full(n, sized.usable_kwh if sized else 0.0),
        "tolerates_h": 0.0,
        "battery": sized,
        "battery_block": battery,
        "battery_gap": AT_ONCE if battery else None,
        "generator": made,
        "generator_block": generator,
        "set_gap": AT_ONCE if generator else None,
        "set_kw": made.running_kw if made else 0.0,
        "battery_kw": sized.continuous_kw if sized else 0.0,
    }
    return Backup(**(fields | given))


def plain_battery(**changes: Any) -> Battery:
    """10 kWh, 5 kW, no losses, no idle draw."""
    return a_battery(
        **(
            {
                "charge_efficiency_frac": 1.0,
                "discharge_efficiency_frac": 1.0,
                "idle_w": 0.0,
                "restart_frac": 0.0,
                "reserve_frac": 0.0,
            }
            | changes
        )
    )


def tireless_set(**changes: Any) -> Generator:
    """8 kW with fuel for ever; steady 1 L/h at no load."""
    return a_generator(**({"tank_l": 1e6, "refuels_at_night": True} | changes))
