"""How long a battery with a generator carries the load when the grid fails, for every start step at once.

The rule.  The set is off when the outage begins.  It starts where the step would end below `start_kwh`
without it, runs whole steps at one output, and its last step is cut so that it ends exactly at `stop_kwh`; it
stops for good when the fuel left no longer covers a whole step.  The ride is latched: it ends at its first
failure.  This is the rule of a sizing sweep; a memo's outage year follows every happening inside a step
(`kit.operate.walk`).

The method.  After a full battery, and after a stop at `stop_kwh`, nothing of what went before matters but
the fuel: two starts that meet in such a state go the same way from there.  From each state that is met (full,
stopped, or full without fuel, at a step of the year) one link is followed step by step, once, and
kept; a start walks to its first state and then from link to link while its fuel surely covers one.

Energies are whole numbers of 1e-6 kWh and fuel of 1e-6 of a step's run, so links and the step loop agree in
every start.  Changes of a step come from `kit.operate.ride.stored_change_micro_kwh`.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.operate.compiled import compiled
from kit.operate.ride import CERTAIN_FAILURE, LARGEST_STORE_KWH, MICRO_PER_KWH, stored_change_micro_kwh

STEP_FUEL = 1_000_000
FULL, STOPPED, FULL_DRY, FAILED, BEYOND = range(5)  # where a stretch ends
Whole = NDArray[np.int64]


def hybrid_ride_through_h(
    net_load_kw: ArrayLike,
    stored_kwh: ArrayLike,
    usable_kwh: float,
    step_h: float,
    *,
    charge_kw: float,
    discharge_kw: float,
    set_kw: float,
    fuel_run_h: float,
    start_kwh: float,
    stop_kwh: float,
    charge_efficiency_frac: float = 1.0,
    discharge_efficiency_frac: float = 1.0,
    horizon_h: float = 336.0,
) -> NDArray[np.float64]:
    """Hours from each start step until battery and generator together first fail the load.

    Args:
        net_load_kw, stored_kwh, usable_kwh, step_h, charge_kw, discharge_kw, charge_efficiency_frac,
        discharge_efficiency_frac, horizon_h: as in ``kit.operate.ride.ride_through_h``.
        set_kw: AC kW of the set while it runs; what the load leaves charges the battery, up to charge_kw.
        fuel_run_h: hours that the fuel on hand lasts at set_kw; inf where it never ends.
        start_kwh, stop_kwh: kWh in the store above the outage floor; 0 <= start_kwh < stop_kwh <= usable_kwh.

    Returns:
        (n,) hours, with the fraction of the step in which the battery went flat.

    Raises:
        ValueError: as in ``ride_through_h``; levels out of order; a negative set_kw or fuel_run_h.

    Source: energy balance of the battery step by step; the coalescing of paths at the head of this file.
    """
    if not 0.0 <= start_kwh < stop_kwh <= usable_kwh <= LARGEST_STORE_KWH:
        raise ValueError(
            f"start_kwh {start_kwh}, stop_kwh {stop_kwh}, usable_kwh {usable_kwh}: must be 0 <= start_kwh < "
            f"stop_kwh <= usable_kwh <= {LARGEST_STORE_KWH:g}"
        )
    for name, value in (("set_kw", set_kw), ("fuel_run_h", fuel_run_h)):
        if not value >= 0.0:
            raise ValueError(f"{name} is {value}; it must be 0 or more")
    net = np.asarray(net_load_kw, dtype=np.float64)
    limits = {
        "charge_kw": charge_kw,
        "discharge_kw": discharge_kw,
        "charge_efficiency_frac": charge_efficiency_frac,
        "discharge_efficiency_frac": discharge_efficiency_frac,
    }
    off = stored_change_micro_kwh(net, step_h, **limits)
    on = stored_change_micro_kwh(net - set_kw, step_h, **limits)
    stored = np.asarray(stored_kwh, dtype=np.float64)
    if stored.shape not in ((), (net.size,)) or not math.isfinite(stored.sum()):
        raise ValueError(f"stored_kwh of shape {stored.shape} must be finite, one number or ({net.size},)")
    if not 0.0 < horizon_h < math.inf:
        raise ValueError(f"horizon_h is {horizon_h}; it must be above 0 and finite")
    horizon = math.ceil(horizon_h / step_h - 1e-9)
    levels = [math.floor(kwh * MICRO_PER_KWH + 1e-6) for kwh in (usable_kwh, start_kwh, stop_kwh)]
    kept = np.floor(np.clip(stored * MICRO_PER_KWH + 1e-6, 0.0, levels[0])).astype(np.int64)
    fuel = math.floor(min(fuel_run_h / step_h, 2.0 * horizon + 2.0) * STEP_FUEL + 1e-6)
    around = np.arange(net.size + horizon) % net.size
    starts = np.broadcast_to(kept, net.shape).copy()
    return _rides(off[around], on[around], starts, np.array(levels), fuel, horizon, float(step_h))


@compiled("Tuple((i8, i8, i8, f8))(i8[::1], i8[::1], i8[::1], i8[::1], i8, i8, i8, i8)")
def _stretch(
    off: Whole, on: Whole, falls: Whole, levels: Whole, t: int, stored: int, fuel: int, end: int
) -> tuple[int, int, int, float]:
    """Walk from step t, the set off, to the next state: what it is, its step, the fuel left.

    STOPPED at the start of a step; FULL or FULL_DRY at that of the next step that draws; FAILED inside one,
    after the share of it that is returned last (one in which the set runs counts as burnt); BEYOND at `end`.
    """
    full, start, stop = levels[0], levels[1], levels[2]
    while t < end:
        moved = off[t]
        if stored + moved < start and fuel >= STEP_FUEL:
            while t < end and fuel >= STEP_FUEL and stored + off[t] < stop:
                moved = on[t]
                if stored + moved >= stop:
                    part = (stop - stored - off[t]) / (moved - off[t])
                    return STOPPED, t + 1, fuel - math.ceil(part * STEP_FUEL), 0.0
                if stored + moved < 0:
                    return FAILED, t, fuel - STEP_FUEL, (0.0 if moved == CERTAIN_FAILURE else stored / -moved)
                stored += moved
                fuel -= STEP_FUEL
                t += 1
            continue
        if stored + moved < 0:
            return FAILED, t, fuel, (0.0 if moved == CERTAIN_FAILURE else stored / -moved)
        t += 1
        stored += moved
        if stored >= full:
            return (FULL if fuel >= STEP_FUEL else FULL_DRY), falls[t], fuel, 0.0
    return BEYOND, end, fuel, 0.0


@compiled("f8[::1](i8[::1], i8[::1], i8[::1], i8[::1], i8, i8, f8)")
def _rides(
    off: Whole, on: Whole, stored: Whole, levels: Whole, fuel: int, horizon: int, step_h: float
) -> NDArray[np.float64]:
    """Every start: to its first full or stopped state, then along the links."""
    n = len(stored)
    plenty = (horizon + 1) * STEP_FUEL
    falls = np.full(n + horizon + 1, n + horizon)  # from each step the first that draws on a full battery
    for t in range(n + horizon - 1, -1, -1):
        falls[t] = t if off[t] < 0 else falls[t + 1]
    leads = np.full((3, n), -1)  # of the link from each state at each step: where it leads
    lasts = np.empty((3, n), np.int64)  # how many steps it takes
    burns = np.empty((3, n), np.int64)  # what fuel
    share = np.empty((3, n), np.float64)  # and how much of the step was served where it leads to a failure
    hours = np.empty(n, np.float64)
    for s in range(n):
        end = s + horizon
        state, t, left, within = _stretch(off, on, falls, levels, s, stored[s], fuel, end)
        while state < FAILED and t < end:
            j = t % n
            level = levels[2] if state == STOPPED else levels[0]
            if leads[state, j] < 0:
                given = 0 if state == FULL_DRY else plenty
                ends, at, rest, share[state, j] = _stretch(
                    off, on, falls, levels, j, level, given, j + horizon
                )
                leads[state, j], lasts[state, j], burns[state, j] = ends, at - j, given - rest
            if burns[state, j] == 0 or left >= burns[state, j] + STEP_FUEL:
                t += lasts[state, j]
                left -= burns[state, j]
                within = share[state, j]
                state = leads[state, j]
                if state == FULL and left < STEP_FUEL:
                    state = FULL_DRY
            else:  # the fuel may end on the way
                state, at, left, within = _stretch(off, on, falls, levels, j, level, left, j + end - t)
                t += at - j
        failed = state == FAILED and t < end
        hours[s] = (t - s + within if failed else horizon) * step_h
    return hours
