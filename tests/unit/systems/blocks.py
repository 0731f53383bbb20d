"""Small equipment blocks for these tests, invented; a test changes what it is about."""

from __future__ import annotations

from typing import Any

from kit.study.equipment_models import Battery, Cost, FuelPoint, Generator, Transfer

COST = Cost(price_usd=1.0)


def a_battery(**changes: Any) -> Battery:
    """10 kWh usable, 5 kW continuous, 240 V, wired to the backed panel."""
    fields: dict[str, Any] = {
        "nominal_kwh": 12.5,
        "usable_kwh": 10.0,
        "continuous_kw": 5.0,
        "charge_kw": 3.0,
        "charge_efficiency_frac": 0.95,
        "discharge_efficiency_frac": 0.8,
        "idle_w": 40.0,
        "cost": COST,
    }
    return Battery(**(fields | changes))


def a_generator(**changes: Any) -> Generator:
    """8 kW running, 10 kW starting, gasoline, 240 V, started by hand."""
    fields: dict[str, Any] = {
        "fuel": "gasoline",
        "running_kw": 8.0,
        "starting_kw": 10.0,
        "fuel_points": [
            FuelPoint(output_kw=kw, fuel_l_per_h=f) for kw, f in ((0.0, 1.0), (4.0, 2.0), (8.0, 3.5))
        ],
        "tank_l": 30.0,
        "onsite_nox_g_per_kwh": 5.0,
        "onsite_co_g_per_kwh": 300.0,
        "cost": COST,
    }
    if changes.get("fuel") == "natural_gas":
        fields["tank_l"] = None
        fields["fuel_points"] = [
            FuelPoint(output_kw=0.0, heat_kw=20.0),
            FuelPoint(output_kw=8.0, heat_kw=40.0),
        ]
    return Generator(**(fields | changes))


def a_transfer(**changes: Any) -> Transfer:
    """An automatic switch that takes 0.5 s."""
    fields: dict[str, Any] = {"kind": "automatic", "transfer_time_s": 0.5, "cost": COST}
    return Transfer(**(fields | changes))
