"""Battery and generator in an outage, told step by step, in whole 1e-6 kWh and 1e-6 of a step's run."""

import math

STEP_FUEL = 1_000_000


def ride_h(off, on, stored, levels, fuel, horizon_steps, step_h):
    """Hours until the first failure from every start.

    off, on: change of the stored energy in each step without and with the set, None where the inverter cannot
    carry the load. levels: full, start level, stop level. The set starts where the step would end below its
    start level, its last step is cut to end at its stop level, and it needs fuel for a whole step.
    """
    full, start_level, stop_level = levels
    rides = []
    for start in range(len(off)):
        energy, left, running = stored[start], fuel, False
        steps, within = 0, 0.0
        while steps < horizon_steps:
            step = (start + steps) % len(off)
            alone = -math.inf if off[step] is None else energy + off[step]
            if left < STEP_FUEL:
                running = False
            elif not running:
                running = alone < start_level
            elif alone >= stop_level:
                running = False
            moved = on[step] if running else off[step]
            if moved is None:
                break
            if running and energy + moved >= stop_level:
                without = -(10**9) if off[step] is None else off[step]
                part = (stop_level - energy - without) / (moved - without)
                left -= math.ceil(part * STEP_FUEL)
                energy, running = stop_level, False
            elif energy + moved < 0:
                within = energy / -moved
                break
            else:
                energy = min(energy + moved, full)
                left -= STEP_FUEL if running else 0
            steps += 1
        rides.append((steps + within) * step_h)
    return rides
