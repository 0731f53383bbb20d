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
this method and the step loop agree in every start, and round numbers stay exact.
"""

import math
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.operate.compiled import compiled

MICRO_PER_KWH: Final = 1_000_000
CERTAIN_FAILURE: Final = -(10**9)
LARGEST_STORE_KWH: Final = 900.0
_GUARD: Final = 1e-6
Place = Any  # an unsigned index: it is never tried for counting from the end, which costs a tenth of the time


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
    efficiencies = charge_efficiency_frac, discharge_efficiency_frac
    net, into, out_of = _checked(net_load_kw, step_h, charge_kw, discharge_kw, *efficiencies)
    if not 0.0 <= usable_kwh <= LARGEST_STORE_KWH:
        raise ValueError(f"usable_kwh is {usable_kwh}; the walk holds 0 to {LARGEST_STORE_KWH:g} kWh")
    if not horizon_h > 0.0 or not math.isfinite(horizon_h):
        raise ValueError(f"horizon_h is {horizon_h}; it must be above 0 and finite")
    horizon_count = math.ceil(horizon_h / step_h - 1e-9)
    usable = math.floor(usable_kwh * MICRO_PER_KWH + _GUARD)
    stored = _start_levels(stored_kwh, len(net))
    limits = float(charge_kw), float(discharge_kw), into, out_of
    total = _running_total(net, *limits, horizon_count)
    return _reflected(total, stored, usable, horizon_count, float(step_h))


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

    (n,) int64: below zero drawn (rounded up), above zero charged (rounded down), CERTAIN_FAILURE where the
    net load is above the discharge limit.  Arguments and ValueError as in ``ride_through_h``.
    Source: energy balance of the battery, 1e-6 kWh being the declared quantum of the outage engine.
    """
    efficiencies = charge_efficiency_frac, discharge_efficiency_frac
    net, into, out_of = _checked(net_load_kw, step_h, charge_kw, discharge_kw, *efficiencies)
    return np.diff(_running_total(net, float(charge_kw), float(discharge_kw), into, out_of, 0))


def _checked(
    net_load_kw: ArrayLike,
    step_h: float,
    charge_kw: float,
    discharge_kw: float,
    charge_efficiency_frac: float,
    discharge_efficiency_frac: float,
) -> tuple[NDArray[np.float64], float, float]:
    """The net load as a row of doubles, and 1e-6 kWh into and out of the store per AC kW of a step."""
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
    per_kw = step_h * MICRO_PER_KWH
    return net, charge_efficiency_frac * per_kw, per_kw / discharge_efficiency_frac


def _start_levels(stored_kwh: ArrayLike, n: int) -> NDArray[np.float64]:
    """The given levels as a row of doubles, (n,) or (1,) where all starts are alike."""
    stored = np.asarray(stored_kwh, dtype=np.float64)
    if stored.shape not in ((), (n,)):
        raise ValueError(f"stored_kwh has shape {stored.shape}; it must be one number or ({n},)")
    if not math.isfinite(stored.sum()):
        raise ValueError("stored_kwh is not finite")
    return np.ascontiguousarray(stored).reshape(-1)


@compiled("i8[::1](f8[::1], f8, f8, f8, f8, i8)")
def _running_total(
    net_kw: NDArray[np.float64],
    charge_kw: float,
    discharge_kw: float,
    into: float,
    out_of: float,
    horizon: int,
) -> NDArray[np.int64]:
    """Prefix sums of the changes with a leading zero, going round the year: n + horizon + 1 values."""
    n = len(net_kw)
    total = np.empty(n + horizon + 1, np.int64)
    total[0] = 0
    for t in range(n):
        net = net_kw[t]
        drawn = -math.ceil(net * out_of - 1e-6)
        charged = math.floor(min(-net, charge_kw) * into + 1e-6)
        total[t + 1] = CERTAIN_FAILURE if net > discharge_kw else (drawn if net > 0.0 else charged)
    level = 0
    for t in range(n):
        level += int(total[t + 1])
        total[t + 1] = level
    for t in range(n, n + horizon):
        total[t + 1] = total[t + 1 - n] + level
    return total


@compiled("u8(i8[::1], u8, u8, u8, i8)")
def _topmost_below(low: NDArray[np.int64], bottom: Place, top: Place, near: Place, bound: int) -> Place:
    """Largest p in bottom .. top with low[p] < bound, low[bottom] being so; gallops away from `near`."""
    one: Place = np.uint64(1)
    jump = one
    below = min(max(near, bottom), top)
    if low[below] < bound:
        above = below + one
        while above <= top and low[above] < bound:
            below = above
            jump += jump
            above = below + jump
        above = min(above, top + one)
    else:
        above = below
        below = above - one
        while low[below] >= bound:
            above = below
            jump += jump
            below = above - min(jump, above - bottom)
    while above - below > one:
        middle = (above + below) >> one
        if low[middle] < bound:
            below = middle
        else:
            above = middle
    return below


@compiled("f8[::1](i8[::1], f8[::1], i8, i8, f8)")
def _reflected(
    total: NDArray[np.int64], stored_kwh: NDArray[np.float64], usable: int, horizon: int, step_h: float
) -> NDArray[np.float64]:
    """The reflected walk: one sweep from right to left over the record lows of the prefix sums.

    The lows to the right of s stand in low[bottom .. top], the deepest and farthest at the bottom, those
    beyond the horizon dropped; low[0] is below any sum, so that nothing is taken from an empty stack.
    """
    n = len(total) - 1 - horizon
    never = n + horizon + 1
    low = np.empty(never + 1, np.int64)
    when: Any = np.empty(never + 1, np.int64)
    low[0] = -(2**62)
    one: Place = np.uint64(1)
    top, bottom = one - one, one
    mine, full = one, one  # where the last searches ended
    full_fails: Any = never  # first failure after being full again
    full_from: Any = 0  # that full level in `total`
    hours = np.empty(n, np.float64)
    for step in range(never - 2, -1, -1):
        s: Place = np.uint64(step)
        here: Any = total[s]
        ahead = total[s + one]
        while low[top] >= ahead:
            top -= one
        top += one
        low[top] = ahead
        when[top] = step + 1
        bottom = min(bottom, top)
        while when[bottom] > step + horizon:
            bottom += one
        lowest = low[bottom]
        # a full battery starts to fall only where this step draws and the one before did not
        if ahead < here and lowest < here - usable and step > 0 and total[s - one] <= here:
            full = _topmost_below(low, bottom, top, full, here - usable)
            if when[full] < full_fails:
                full_fails, full_from = when[full], here
            elif when[full] == full_fails:
                full_from = max(full_from, here)
        if step < n:
            kwh = stored_kwh[s if len(stored_kwh) > 1 else np.uint64(0)]
            stored = math.floor(min(max(kwh * 1e6 + 1e-6, 0.0), usable))
            fails = never
            if lowest < here - stored:
                mine = _topmost_below(low, bottom, top, mine, here - stored)
                fails = when[mine]
            first = min(fails, full_fails)
            if first > step + horizon:
                hours[s] = horizon * step_h
            else:
                before = total[first - 1]
                left = usable
                if full_fails <= fails:
                    left = before - full_from + usable
                if fails <= full_fails:
                    left = min(left, before - here + stored)
                drawn = before - total[first]
                within = 0.0 if drawn == -CERTAIN_FAILURE else left / drawn
                hours[s] = (first - 1 - step + within) * step_h
    return hours
