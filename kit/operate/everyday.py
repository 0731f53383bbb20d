"""Everyday use: what the battery does on the days when the grid is up.

`hold` keeps it full for outages. `clock` charges in the hours the plan makes cheap and
discharges in the hours it makes dear, down to the reserve, and takes the sun's surplus first.
The stored energy at the start of every step is the charge with which an outage there begins.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kit.operate.clock import clock_walk
from kit.systems.battery import BatterySystem


@dataclass(frozen=True)
class Everyday:
    """A year of everyday use. All arrays (n,) over the steps of the year.

    import_kwh, export_kwh: at the meter, per step. stored_kwh: DC energy at the START of each
    step. charge_kwh, discharge_kwh: AC energy into and out of the battery, per step.
    solar_kwh: what the array gave, per step.
    """

    import_kwh: np.ndarray
    export_kwh: np.ndarray
    stored_kwh: np.ndarray
    charge_kwh: np.ndarray
    discharge_kwh: np.ndarray
    solar_kwh: np.ndarray

    @property
    def throughput_kwh(self) -> float:
        """AC kWh delivered by the battery in the year."""
        return float(self.discharge_kwh.sum())


def without_battery(load_kw: np.ndarray, solar_kw: np.ndarray, standby_kw: float, step_h: float) -> Everyday:
    """Meter flows of a house with (or without) solar and a constant standby draw, kW."""
    net = (load_kw + standby_kw - solar_kw) * step_h
    none = np.zeros_like(net)
    return Everyday(np.maximum(net, 0), np.maximum(-net, 0), none, none, none, solar_kw * step_h)


def hold(
    load_kw: np.ndarray, solar_kw: np.ndarray, standby_kw: float, battery: BatterySystem, step_h: float
) -> Everyday:
    """The battery rests full; its idle draw is on the grid's bill every hour."""
    flows = without_battery(load_kw, solar_kw, standby_kw + battery.idle_kw, step_h)
    full = np.full_like(load_kw, battery.usable_kwh)
    return Everyday(
        flows.import_kwh, flows.export_kwh, full, flows.charge_kwh, flows.discharge_kwh, flows.solar_kwh
    )


def plan_hours(
    import_usd_per_kwh: np.ndarray,
    export_usd_per_kwh: np.ndarray,
    day_number: np.ndarray,
    battery: BatterySystem,
    surplus: np.ndarray,
    charge_in: np.ndarray | None = None,
    discharge_in: np.ndarray | None = None,
) -> tuple[np.ndarray, np.ndarray]:
    """Steps in which `clock` charges from the grid and in which it discharges; two (n,) bool arrays.

    Without hours named by the user: charge at the day's lowest price, discharge at its highest,
    where the highest pays for the losses of the trip. On a day of one price nothing is charged
    from the grid, and the battery discharges only where a surplus of solar (`surplus`) can fill it
    again and the trip beats selling that surplus. day_number: (n,), ascending, no day left out.
    """
    trip = battery.charge_efficiency_frac * battery.discharge_efficiency_frac
    begins = np.searchsorted(day_number, np.arange(int(day_number[-1]) + 1))  # first step of each day
    steps = np.diff(begins, append=day_number.size)
    low = np.minimum.reduceat(import_usd_per_kwh, begins)
    high = np.maximum.reduceat(import_usd_per_kwh, begins)
    pays, one_price = high * trip > low + 1e-12, high - low < 1e-12
    charge = import_usd_per_kwh <= np.repeat(np.where(pays & ~one_price, low + 1e-12, -np.inf), steps)
    discharge = import_usd_per_kwh >= np.repeat(np.where(pays, high - 1e-12, np.inf), steps)
    refilled = one_price & np.logical_or.reduceat(surplus, begins)
    if refilled.any():
        beats_selling = import_usd_per_kwh * trip > export_usd_per_kwh
        discharge |= (
            np.repeat(refilled, steps)
            & beats_selling
            & (import_usd_per_kwh >= np.repeat(high, steps) - 1e-12)
        )
    if charge_in is not None:
        charge = charge_in
    if discharge_in is not None:
        discharge = discharge_in
    return charge & ~discharge & battery.grid_charge_allowed, discharge


def clock(
    load_kw: np.ndarray,
    behind_kw: np.ndarray,
    solar_kw: np.ndarray,
    standby_kw: float,
    battery: BatterySystem,
    charge_hours: np.ndarray,
    discharge_hours: np.ndarray,
    may_charge: np.ndarray,
    step_h: float,
    reserve_kwh: np.ndarray | None = None,
) -> Everyday:
    """Charge and discharge by the plan's hours; the year begins with the charge it ends with.

    The battery can only serve the load behind it (`behind_kw`); it never exports stored energy.
    reserve_kwh: (n,) least DC energy where it changes by step; None holds the battery's own all year. Where
    it rises above what is stored, the grid charges up to it in any hour, if it may charge at all.
    """
    limits = np.array(
        [
            battery.usable_kwh,
            battery.charge_kw * step_h,
            battery.solar_charge_kw * step_h,
            battery.continuous_kw * step_h,
            battery.charge_efficiency_frac,
            battery.discharge_efficiency_frac,
            float(battery.grid_charge_allowed),
        ]
    )
    reserve = _reserve(reserve_kwh, battery, load_kw.size)
    load = (load_kw + standby_kw + battery.idle_kw) * step_h
    behind = np.minimum(behind_kw * step_h, load)
    solar = solar_kw * step_h
    out = np.zeros((5, load.size))
    begin_kwh = battery.usable_kwh
    for _ in range(20):  # a cycle over the year: one or two passes settle it
        end_kwh = clock_walk(
            limits, reserve, begin_kwh, load, behind, solar, charge_hours, discharge_hours, may_charge, out
        )
        if abs(end_kwh - begin_kwh) < 1e-9:
            break
        begin_kwh = end_kwh
    return Everyday(out[0], out[1], out[2], out[3], out[4], solar)


def _reserve(given: np.ndarray | None, battery: BatterySystem, n: int) -> np.ndarray:
    if given is None:
        return np.array([battery.reserve_kwh])
    row = np.array(given, dtype=np.float64)
    if row.shape != (n,) or not ((row >= 0.0) & (row <= battery.usable_kwh)).all():
        raise ValueError(
            f"reserve_kwh has shape {row.shape}, {row.min():g} to {row.max():g} kWh; it must be "
            f"({n},) and 0 to {battery.usable_kwh:g}"
        )
    return row
