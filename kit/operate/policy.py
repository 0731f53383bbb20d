"""The walk forward along three thresholds: charge flat out, give segments back down to their thresholds."""

import numpy as np
from numpy.typing import NDArray

from kit.operate.compiled import compiled

Floats = NDArray[np.float64]


@compiled(
    "Tuple((f8[::1], f8[:,::1], f8))(f8[:,::1], f8[::1], f8, f8[::1], f8, f8[::1], f8[::1], f8, f8, f8, f8)"
)
def follow(
    wanted: Floats,
    net_kwh: Floats,
    start_kwh: float,
    floor_kwh: Floats,
    full_kwh: float,
    charge_kwh: Floats,
    discharge_kwh: Floats,
    into: float,
    out_of: float,
    grid_charge: float,
    export: float,
) -> tuple[Floats, Floats, float]:
    """Follow thresholds (3, n) from the start level.

    Args: as in ``kit.operate.thresholds.thresholds``; start_kwh is the stored kWh before the first step.

    Returns:
        (n + 1,) stored kWh; (4, n) AC kWh charged, discharged, imported, exported; and the largest correction
        in kWh that floor or full asked for, which is rounding only where the floor can be kept at all.
    """
    n = len(net_kwh)
    stored = np.empty(n + 1, np.float64)
    flow = np.empty((4, n), np.float64)
    per_out, per_in = 1.0 / out_of, 1.0 / into
    level, worst = start_kwh, 0.0
    stored[0] = level
    for t in range(n):
        net = net_kwh[t]
        most_in = charge_kwh[t if len(charge_kwh) > 1 else 0] * into
        most_out = discharge_kwh[t if len(discharge_kwh) > 1 else 0] * per_out
        x1 = min(most_in, max(-net, 0.0) * into)
        x0 = most_in if grid_charge > 0.0 else x1
        x2 = -min(most_out, max(net, 0.0) * per_out)
        x3 = -most_out if export > 0.0 else x2
        after = max(level + x1, min(wanted[0, t], level + x0))
        after = max(level + x2, min(wanted[1, t], after))
        after = max(level + x3, min(wanted[2, t], after))
        kept = min(full_kwh, max(floor_kwh[t if len(floor_kwh) > 1 else 0], after))
        worst = max(worst, abs(kept - after))
        level = kept
        stored[t + 1] = level
    for t in range(n):
        x = stored[t + 1] - stored[t]
        charged, discharged = max(x, 0.0) * per_in, max(-x, 0.0) * out_of
        meter = net_kwh[t] + charged - discharged
        meter = 0.0 if abs(meter) < 1e-12 else meter
        flow[0, t], flow[1, t] = charged, discharged
        flow[2, t], flow[3, t] = max(meter, 0.0), max(-meter, 0.0)
    return stored, flow, worst
