"""The compiled loop of everyday `clock` use: one pass over the year."""

from __future__ import annotations

import numpy as np

from kit.operate.compiled import compiled


@compiled("f8(f8[::1], f8[::1], f8, f8[::1], f8[::1], f8[::1], b1[::1], b1[::1], b1[::1], f8[:,::1])")
def clock_walk(
    limits: np.ndarray,
    reserve_kwh: np.ndarray,
    begin_kwh: float,
    load_kwh: np.ndarray,
    behind_kwh: np.ndarray,
    solar_kwh: np.ndarray,
    charge_hours: np.ndarray,
    discharge_hours: np.ndarray,
    may_charge: np.ndarray,
    out: np.ndarray,
) -> float:
    """Fill `out` (5, n): import, export, stored at the start, charge (AC), discharge (AC), kWh per step.

    limits: full kWh, grid charge, solar charge and discharge limits in AC kWh per step, charge and
    discharge efficiency, 1 where the grid may charge. reserve_kwh: (1,) or (n,); below it the grid charges in
    any hour. Returns the stored energy at the end of the year, kWh.
    """
    full, grid_in, solar_in, most_out = limits[0], limits[1], limits[2], limits[3]
    charge_eff, discharge_eff, grid_allowed = limits[4], limits[5], limits[6]
    stored = begin_kwh
    for k in range(load_kwh.size):
        out[2, k] = stored
        reserve = reserve_kwh[k if reserve_kwh.size > 1 else 0]
        net = load_kwh[k] - solar_kwh[k]
        charge = 0.0
        discharge = 0.0
        if may_charge[k]:
            room = max(0.0, full - stored) / charge_eff
            if net < 0:
                charge = min(-net, min(solar_in, room))
            if charge_hours[k] and charge < grid_in:
                charge = max(charge, min(grid_in, room))
            if grid_allowed > 0.0 and reserve - stored > 1e-9:  # more than rounding
                charge = max(charge, min(min(grid_in, room), (reserve - stored) / charge_eff))
        if discharge_hours[k] and net > 0 and charge == 0.0:
            discharge = min(min(net, behind_kwh[k]), most_out)
            discharge = min(discharge, max(0.0, stored - reserve) * discharge_eff)
        stored += charge * charge_eff - discharge / discharge_eff
        flow = net + charge - discharge
        out[0, k] = max(flow, 0.0)
        out[1, k] = max(-flow, 0.0)
        out[3, k] = charge
        out[4, k] = discharge
    return stored
