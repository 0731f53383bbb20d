"""The outage walk as the trade says it: one start, one step after the other, whole 1e-6 kWh."""

import math

MICRO = 1_000_000


def changes(net_kw, step_h, charge_kw, discharge_kw, charge_eff, discharge_eff):
    """Change of stored energy a step in whole 1e-6 kWh, None where the load is above the inverter's limit."""
    out = []
    for net in net_kw:
        if net > discharge_kw:
            out.append(None)
        elif net > 0:
            out.append(-math.ceil(net * step_h * MICRO / discharge_eff - 1e-6))
        else:
            out.append(math.floor(min(-net, charge_kw) * step_h * MICRO * charge_eff + 1e-6))
    return out


def ride_h(change, stored, usable, horizon_steps, step_h):
    """Hours until the first failure from every start; stored and usable in whole 1e-6 kWh."""
    rides = []
    for start in range(len(change)):
        energy = stored[start]
        steps, within = 0, 0.0
        while steps < horizon_steps:
            moved = change[(start + steps) % len(change)]
            if moved is None:
                break
            if energy + moved < 0:
                within = energy / -moved
                break
            energy = min(energy + moved, usable)
            steps += 1
        rides.append((steps + within) * step_h)
    return rides


def float_ride_steps(net_kw, stored_kwh, usable_kwh, step_h, limits, efficiencies, horizon_steps):
    """Whole steps survived, in floating point: an independent reading that may differ by one step."""
    (charge_kw, discharge_kw), (charge_eff, discharge_eff) = limits, efficiencies
    rides = []
    for start in range(len(net_kw)):
        energy, steps = stored_kwh[start], 0
        while steps < horizon_steps:
            net = net_kw[(start + steps) % len(net_kw)]
            if net > discharge_kw:
                break
            energy -= net * step_h / discharge_eff if net > 0 else -min(-net, charge_kw) * step_h * charge_eff
            if energy < 0:
                break
            energy = min(energy, usable_kwh)
            steps += 1
        rides.append(steps)
    return rides
