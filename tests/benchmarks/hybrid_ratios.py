"""Battery with a generator, every start: links between states against a plain compiled step loop."""

import math

import numba
import numpy as np

from kit.operate.hybrid import hybrid_ride_through_h
from kit.operate.ride import stored_change_micro_kwh
from tests.benchmarks.profiles import Row, best_ms, load_kw, solar_kw
from tests.benchmarks.ride_ratios import everyday_stored_kwh, limits

SET_KW, START_FRAC, STOP_FRAC = 5.0, 0.2, 0.8
CASES = [  # usable kWh, mean must-run kW, solar peak kW, hours of fuel
    (13.5, 0.8, 6.0, 60.0),
    (13.5, 0.8, 6.0, 20.0),
    (13.5, 1.2, 4.0, 60.0),
    (27.0, 1.2, 8.0, 60.0),
    (13.5, 0.8, 3.0, 30.0),
    (13.5, 0.8, 0.0, 60.0),
]


@numba.njit("f8[::1](i8[::1], i8[::1], f8[::1], f8, f8, f8, f8, i8, f8)", error_model="numpy")
def plain_loop(off, on, stored_kwh, usable_kwh, start_kwh, stop_kwh, fuel_steps, horizon, step_h):
    """Two nested loops with a set that is on or off, compiled."""
    full, start, stop = int(usable_kwh * 1e6 + 1e-6), int(start_kwh * 1e6 + 1e-6), int(stop_kwh * 1e6 + 1e-6)
    n = len(off)
    hours = np.empty(n)
    for s in range(n):
        level = min(int(np.floor(stored_kwh[s] * 1e6 + 1e-6)), full)
        fuel = int(fuel_steps * 1e6 + 1e-6)
        running = False
        t, k, within = s, 0, 0.0
        while k < horizon:
            alone = level + off[t]
            if fuel < 1_000_000:
                running = False
            elif not running:
                running = alone < start
            elif alone >= stop:
                running = False
            after = level + on[t] if running else alone
            if running and after >= stop:
                fuel -= math.ceil((stop - alone) / (after - alone) * 1_000_000)
                after, running = stop, False
            elif running:
                fuel -= 1_000_000
            if after < 0:
                moved = after - level
                within = 0.0 if moved == -(10**9) else level / -moved
                break
            level = min(after, full)
            k += 1
            t = t + 1 if t + 1 < n else 0
        hours[s] = (k + within) * step_h
    return hours


def rows(full: bool) -> list[Row]:
    table = []
    for step_h, name in ((1.0, "hourly"), (0.25, "15 min")):
        for usable, mean_kw, solar, fuel_h in CASES:
            net = load_kw(step_h, 4, mean_kw) + 0.03 - solar_kw(step_h, solar)
            stored = everyday_stored_kwh(step_h, usable, solar)
            levels = START_FRAC * usable, STOP_FRAC * usable

            def ours():
                return hybrid_ride_through_h(
                    net,  # noqa: B023
                    stored,  # noqa: B023
                    usable,  # noqa: B023
                    step_h,  # noqa: B023
                    set_kw=SET_KW,
                    fuel_run_h=fuel_h,  # noqa: B023
                    start_kwh=levels[0],  # noqa: B023
                    stop_kwh=levels[1],  # noqa: B023
                    **limits(5.0),
                )

            def other():
                off = stored_change_micro_kwh(net, step_h, **limits(5.0))  # noqa: B023
                on = stored_change_micro_kwh(net - SET_KW, step_h, **limits(5.0))  # noqa: B023
                asked = usable, *levels, fuel_h / step_h, int(336 / step_h), step_h  # noqa: B023
                return plain_loop(off, on, stored, *asked)  # noqa: B023

            mine = ours()
            case = f"{name} {usable:g} kWh, {mean_kw:g} kW, solar {solar:g}, {fuel_h:g} h of fuel"
            assert (other() == mine).all(), f"hybrid differs in {case}"
            with_solar = "with solar" if solar else "no solar"
            slow, fast = best_ms(other, 3), best_ms(ours, 5, 2)
            case += f", mean {mine.mean():.0f} h"
            table.append(
                Row(f"hybrid {with_solar} / plain compiled loop, {name}", case, slow, fast, "every start")
            )
    return table
