"""How long a battery carries the load when the grid fails, for every start step of the year at once.

The walk.  In an outage the stored energy e (kWh in the store, above the level where the system shuts off)
changes by g in a step, and g does not depend on e::

    net load > discharge limit:  the step fails at once
    net load > 0:                g = - net * step / discharge efficiency
    net load <= 0:               g = + min(-net, charge limit) * step * charge efficiency

A step with e + g < 0 is not survived; the battery went flat inside it, after e / -g of the step.
Otherwise e becomes min(e + g, usable).  The ride is latched: it ends at its first failure.

The method.  With prefix sums G of g, the clamped walk from step s with e_s stored is, until it fails,
the walk reflected at its upper bound (Lindley's recursion, 1952; the regulator map of Harrison, 'Brownian
motion and stochastic flow systems', 1985)::

    e(t) = min(e_s + G(t) - G(s),  usable + G(t) - max over s <= v <= t of G(v))

so it fails at the first t with G(t) < G(s) - e_s, or G(t) < G(v) - usable for some v in between.
Sweeping s from right to left, the record lows of G to the right of s form a stack, and each question is one
search in it.  A year of 35,040 starts of up to 14 days costs about as much as reading it ten times.

Energies are whole numbers of 1e-6 kWh, a draw rounded up and a charge rounded down, so sums are associative:
this method, the step loop and the lockstep kernel agree in every start, and round numbers stay exact.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.operate.compiled import compiled

MICRO_PER_KWH: Final = 1_000_000
CERTAIN_FAILURE: Final = -(10**9)
LARGEST_STORE_KWH: Final = 900.0
_GUARD: Final = 1e-6
_SHORT_RIDE_STEPS: Final = 14


def ride_through_h(
    net_load_kw: ArrayLike,
    stored_kwh: ArrayLike,
    usable_kwh: float,
    step_h: float,
    *,
    charge_kw: float,
    discharge_kw: float,
    charge_efficiency_frac: float = 1.0,
    discharge_efficiency_frac: float = 1.0,
    horizon_h: float = 336.0,
) -> NDArray[np.float64]:
    """Hours from each start step until the battery first fails the load, in an outage that begins there.

    Args:
        net_load_kw: (n,) AC kW to carry in an outage, idle draw included, solar subtracted; below zero is
            surplus.  The year wraps: after the last step comes the first.
        stored_kwh: (n,) or scalar, kWh in the store at the start of each step, above the outage floor.
            What lies outside 0 .. usable_kwh is brought to the nearer end.
        usable_kwh: kWh in the store between the outage floor and full, 0 to 900.
        step_h: length of a step in hours.
        charge_kw: largest AC kW into the battery from surplus.
        discharge_kw: largest AC kW out of it; a step above it fails at once.
        charge_efficiency_frac: kWh stored per AC kWh charged, above 0 up to 1.
        discharge_efficiency_frac: AC kWh delivered per kWh drawn from the store, above 0 up to 1.
        horizon_h: rides are followed this long; a longer one is returned as this (rounded up to whole steps).

    Returns:
        (n,) hours, with the fraction of the step in which the battery went flat.

    Raises:
        ValueError: an empty, non-finite or mis-shaped array, or a number outside the range above.

    Source: Lindley's recursion with one reflecting bound, see the head of this file.
    """
    change = stored_change_micro_kwh(
        net_load_kw,
        step_h,
        charge_kw=charge_kw,
        discharge_kw=discharge_kw,
        charge_efficiency_frac=charge_efficiency_frac,
        discharge_efficiency_frac=discharge_efficiency_frac,
    )
    if not 0.0 <= usable_kwh <= LARGEST_STORE_KWH:
        raise ValueError(f"usable_kwh is {usable_kwh}; the walk holds 0 to {LARGEST_STORE_KWH:g} kWh")
    if not horizon_h > 0.0 or not math.isfinite(horizon_h):
        raise ValueError(f"horizon_h is {horizon_h}; it must be above 0 and finite")
    horizon_count = math.ceil(horizon_h / step_h - 1e-9)
    usable = math.floor(usable_kwh * MICRO_PER_KWH + _GUARD)
    stored = _start_levels(stored_kwh, len(change), usable)
    if _expected_steps(change, usable) < _SHORT_RIDE_STEPS:
        return _lockstep(change, stored, usable, horizon_count, float(step_h))
    return _reflected(change, stored, usable, horizon_count, float(step_h))


def stored_change_micro_kwh(
    net_load_kw: ArrayLike,
    step_h: float,
    *,
    charge_kw: float,
    discharge_kw: float,
    charge_efficiency_frac: float = 1.0,
    discharge_efficiency_frac: float = 1.0,
) -> NDArray[np.int64]:
    """Change of the stored energy in each outage step, in whole 1e-6 kWh.

    Args: as in ``ride_through_h``.

    Returns:
        (n,) int64: below zero drawn (rounded up), above zero charged (rounded down), CERTAIN_FAILURE where
        the net load is above the discharge limit.

    Raises:
        ValueError: an empty, non-finite or mis-shaped array, or a number outside its range.

    Source: energy balance of the battery, 1e-6 kWh being the declared quantum of the outage engine.
    """
    net = np.ascontiguousarray(net_load_kw, dtype=np.float64)
    if net.ndim != 1 or net.size == 0:
        raise ValueError(f"net_load_kw has shape {net.shape}; it must be one row of at least one step")
    if not math.isfinite(net.sum()):
        raise ValueError(f"net_load_kw is not finite at step {int(np.argmin(np.isfinite(net)))}")
    if not 0.0 < step_h <= 24.0:
        raise ValueError(f"step_h is {step_h}; it must be above 0 and at most 24")
    for name, frac in (
        ("charge_efficiency_frac", charge_efficiency_frac),
        ("discharge_efficiency_frac", discharge_efficiency_frac),
    ):
        if not 0.0 < frac <= 1.0:
            raise ValueError(f"{name} is {frac}; it must be above 0 and at most 1")
    moved = {
        "charge_kw": charge_kw * step_h,
        "discharge_kw": discharge_kw * step_h / discharge_efficiency_frac,
    }
    for name, kwh in moved.items():
        if not 0.0 <= kwh <= LARGEST_STORE_KWH:
            raise ValueError(f"{name} makes {kwh} kWh a step; 0 to {LARGEST_STORE_KWH:g} kWh is allowed")
    into = charge_efficiency_frac * step_h * MICRO_PER_KWH
    out_of = step_h * MICRO_PER_KWH / discharge_efficiency_frac
    return _changes(net, float(charge_kw), float(discharge_kw), into, out_of)


def _start_levels(stored_kwh: ArrayLike, n: int, usable: int) -> NDArray[np.int64]:
    stored = np.asarray(stored_kwh, dtype=np.float64)
    if stored.shape not in ((), (n,)):
        raise ValueError(f"stored_kwh has shape {stored.shape}; it must be one number or ({n},)")
    if not math.isfinite(stored.sum()):
        raise ValueError("stored_kwh is not finite")
    return _levels(np.ascontiguousarray(stored).reshape(-1), n, usable)


def _expected_steps(change: NDArray[np.int64], usable: int) -> float:
    """A rough length of a ride, to pick the faster of two kernels that agree in every start."""
    sample = change[:: max(1, len(change) // 2048)]
    drift = float(np.maximum(sample, -usable - 1).mean())
    return usable / -drift if drift < 0.0 else math.inf


@compiled("i8[::1](f8[::1], i8, i8)")
def _levels(stored_kwh: NDArray[np.float64], n: int, usable: int) -> NDArray[np.int64]:
    level = np.empty(n, np.int64)
    for t in range(n):
        kwh = stored_kwh[t if len(stored_kwh) > 1 else 0]
        level[t] = math.floor(min(max(kwh * 1e6 + 1e-6, 0.0), usable))
    return level


@compiled("i8[::1](f8[::1], f8, f8, f8, f8)")
def _changes(
    net_kw: NDArray[np.float64], charge_kw: float, discharge_kw: float, into: float, out_of: float
) -> NDArray[np.int64]:
    change = np.empty(len(net_kw), np.int64)
    for t in range(len(net_kw)):
        net = net_kw[t]
        drawn = -math.ceil(net * out_of - 1e-6)
        charged = math.floor(min(-net, charge_kw) * into + 1e-6)
        change[t] = CERTAIN_FAILURE if net > discharge_kw else (drawn if net > 0.0 else charged)
    return change


@compiled("i8[::1](i8[::1], i8)")
def _running_total(change: NDArray[np.int64], end: int) -> NDArray[np.int64]:
    """Prefix sums of the changes, going round the year, with a leading zero: end + 1 values."""
    total = np.empty(end + 1, np.int64)
    total[0] = 0
    step = 0
    for t in range(end):
        total[t + 1] = total[t] + change[step]
        step = step + 1 if step + 1 < len(change) else 0
    return total


@compiled("i8(i8[::1], i8, i8, i8)")
def _topmost_below(low: NDArray[np.int64], top: int, near: int, bound: int) -> int:
    """Largest p <= top with low[p] < bound, or -1; low ascends; the search gallops away from `near`."""
    below, above = min(max(near, 0), top), min(max(near, 0), top)
    jump = 1
    if low[below] < bound:
        above = below + jump
        while above <= top and low[above] < bound:
            below = above
            jump *= 2
            above = below + jump
        above = min(above, top + 1)
    else:
        below = above - jump
        while below >= 0 and low[below] >= bound:
            above = below
            jump *= 2
            below = above - jump
        below = max(below, -1)
    while above - below > 1:
        middle = (above + below) // 2
        if low[middle] < bound:
            below = middle
        else:
            above = middle
    return below


@compiled("f8[::1](i8[::1], i8[::1], i8, i8, f8)")
def _reflected(
    change: NDArray[np.int64], stored: NDArray[np.int64], usable: int, horizon: int, step_h: float
) -> NDArray[np.float64]:
    """The reflected walk: one sweep from right to left over the record lows of the prefix sums."""
    n = len(change)
    end = n + horizon
    total = _running_total(change, end)
    low = np.empty(end + 1, np.int64)  # record lows to the right, deepest and farthest at the bottom
    when = np.empty(end + 1, np.int64)
    top, mine, full = -1, 0, 0  # end of the stack; where the last searches ended
    full_fails, full_from = end + 1, 0  # first failure after being full again, and that full level in `total`
    hours = np.empty(n, np.float64)
    for s in range(end - 1, -1, -1):
        here, ahead = total[s], total[s + 1]
        while top >= 0 and low[top] >= ahead:
            top -= 1
        top += 1
        low[top] = ahead
        when[top] = s + 1
        if s > 0 and ahead < here and total[s - 1] <= here:  # a full battery starts to fall only here
            full = _topmost_below(low, top, full, here - usable)
            fails = when[full] if full >= 0 else end + 1
            if fails < full_fails:
                full_fails, full_from = fails, here
            elif fails == full_fails:
                full_from = max(full_from, here)
        if s < n:
            mine = _topmost_below(low, top, mine, here - stored[s])
            fails = when[mine] if mine >= 0 else end + 1
            first = min(fails, full_fails)
            if first - 1 - s >= horizon:
                hours[s] = horizon * step_h
            else:
                before = total[first - 1]
                left = usable
                if full_fails <= fails:
                    left = before - full_from + usable
                if fails <= full_fails:
                    left = min(left, before - here + stored[s])
                drawn = before - total[first]
                within = 0.0 if drawn == -CERTAIN_FAILURE else left / drawn
                hours[s] = (first - 1 - s + within) * step_h
    return hours


@compiled("f8[::1](i8[::1], i8[::1], i8, i8, f8)")
def _lockstep(
    change: NDArray[np.int64], stored: NDArray[np.int64], usable: int, horizon: int, step_h: float
) -> NDArray[np.float64]:
    """The plain step walk, 64 neighbouring starts side by side; a failed one stays below zero."""
    n = len(change)
    full = np.int32(usable)
    ahead = np.empty(n + horizon + 64, np.int32)
    for t in range(len(ahead)):
        ahead[t] = change[t % n]
    level = np.empty(64, np.int32)
    steps = np.empty(64, np.int32)
    hours = np.empty(n, np.float64)
    for first in range(0, n, 64):
        lanes = min(64, n - first)
        for i in range(64):
            level[i] = stored[first + i] if i < lanes else -1
            steps[i] = 0
        for t in range(first, first + horizon):
            moved = ahead[t : t + 64]
            alive = np.int32(0)
            for i in range(64):
                after = np.int32(level[i] + moved[i])
                after = after if level[i] >= 0 else level[i]
                level[i] = min(after, full)
                survived = np.int32(level[i] >= 0)
                steps[i] += survived
                alive |= survived
            if alive == 0:
                break
        for i in range(lanes):
            within = 0.0
            if level[i] < 0:
                drawn = -change[(first + i + steps[i]) % n]
                within = 0.0 if drawn == -CERTAIN_FAILURE else (level[i] + drawn) / drawn
            hours[first + i] = (steps[i] + within) * step_h
    return hours
