"""The proof of a demand-charge pass: values of stored energy, and the lower bound on the cost that they give.

Arguments as in ``demand_walk``, and: ``cost`` (4, n) per stored kWh of within, surplus, serve and export;
``more`` (2,): what over and relieve cost beside within and serve.
"""

import numpy as np
from numpy.typing import NDArray

from kit.operate.compiled import compiled

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@compiled("void(f8[::1], f8[::1], f8[::1], f8[::1], f8[::1], f8[::1], f8[:,::1], f8[:,::1], f8[::1])")
def _marginals(
    low: Floats,
    high: Floats,
    stored: Floats,
    free: Floats,
    room: Floats,
    sold: Floats,
    made: Floats,
    cost: Floats,
    more: Floats,
) -> None:
    """Least and most marginal cost of a stored kWh at the change of each step, with 1e-9 kWh of rounding."""
    n = len(free)
    within, relieve = made[1], made[2]
    c1, c2, c4, c5 = cost[0], cost[1], cost[2], cost[3]
    before, after = stored[:n], stored[1:]
    over, dear = more[0], more[1]
    for t in range(n):
        up, down = max(free[t], 0.0), min(free[t], 0.0)
        above, below = after[t] - before[t] - 1e-9, after[t] - before[t] + 1e-9
        c = -np.inf
        c = c5[t] if (sold[t] > 0.0) & (down - sold[t] < above) else c
        c = c4[t] if (-down > relieve[t]) & (down < above) else c
        c = c4[t] + dear if (relieve[t] > 0.0) & (-relieve[t] < above) else c
        c = c2[t] if (up > 0.0) & (above > 0.0) else c
        c = c1[t] if (within[t] > 0.0) & (up < above) else c
        c = c1[t] + over if (room[t] > within[t]) & (up + within[t] < above) else c
        low[t] = c
        c = np.inf
        c = c1[t] + over if (room[t] > within[t]) & (up + room[t] > below) else c
        c = c1[t] if (within[t] > 0.0) & (up + within[t] > below) else c
        c = c2[t] if (up > 0.0) & (up > below) else c
        c = c4[t] + dear if (relieve[t] > 0.0) & (below < 0.0) else c
        c = c4[t] if (-down > relieve[t]) & (-relieve[t] > below) else c
        c = c5[t] if (sold[t] > 0.0) & (down > below) else c
        high[t] = c


@compiled(
    "f8[::1](f8[::1], f8[::1], f8[::1], f8[::1], f8[:,::1], f8[:,::1], f8[::1], f8[::1], f8, f8, f8, f8)"
)
def values(
    stored: Floats,
    free: Floats,
    room: Floats,
    sold: Floats,
    made: Floats,
    cost: Floats,
    more: Floats,
    floor: Floats,
    full: float,
    least: float,
    most: float,
    worth: float,
) -> Floats:
    """The value v of a stored kWh at the end of each step that proves a schedule to be the best one.

    The optimality conditions: v lies between the marginal costs of the step's change, is constant while the
    level is inside its range, never rises past a level at the floor, never falls past one that is full.  One
    pass back finds the interval of v from which the rest of the year can be completed, one pass on walks
    through it and changes only where it has to.

    Args:
        stored: (n + 1,) the schedule.
        least, most, worth: range of the level after the last step, value of a stored kWh there.
    """
    n, one = np.uint64(len(free)), np.uint64(1)
    low, high = np.empty(n, np.float64), np.empty(n, np.float64)
    _marginals(low, high, stored, free, room, sold, made, cost, more)
    a, b = worth, worth
    bottom, top = least, most
    t = n
    while t > 0:
        t -= one
        level = stored[t + one]
        b = np.inf if level <= bottom + 1e-9 else b
        a = -np.inf if level >= top - 1e-9 else a
        p, q = max(a, low[t]), min(b, high[t])
        a, b = min(p, q), max(p, q)  # they cross by rounding of two equal costs only
        low[t], high[t] = a, b
        bottom, top = floor[t - one] if t > 0 else floor[t], full
    v = low[0] if low[0] > -np.inf else (high[0] if high[0] < np.inf else worth)
    for i in range(len(low)):
        v = min(max(v, low[i]), high[i])
        low[i] = v
    return low


@compiled(
    "f8[:,::1](f8[::1], f8[::1], f8[::1], f8[::1], f8[::1], f8[:,::1], f8[:,::1], f8[::1], f8[::1], f8,"
    " i8[::1], u1[::1], i8, f8[::1], f8[::1], f8, f8, f8)"
)
def bounds(
    value: Floats,
    net: Floats,
    free: Floats,
    room: Floats,
    sold: Floats,
    made: Floats,
    cost: Floats,
    more: Floats,
    floor: Floats,
    full: float,
    begins: Whole,
    kind: NDArray[np.uint8],
    kinds: int,
    buy: Floats,
    sell: Floats,
    penalty: float,
    into: float,
    per_out: float,
) -> Floats:
    """Lagrangian bound on the least cost of each block of steps, for any value v of stored energy.

    The balance s(t+1) = s(t) + x(t) is relaxed at the price v(t) per stored kWh::

        cost of the block >= sum over steps of min over x of (cost(x) - v(t) x)
                           + sum over inner levels of min over floor .. full of (v(t-1) - v(t)) s(t)
                           - v(first) s(begin) + v(last) s(end)

    It holds for every v, so rounding in v weakens it and never falsifies it.  The cost is jointly convex in x
    and the cap, so the slope of each minimum by the cap makes the bound a valid one for every other cap.

    Args:
        value: (n,) v, currency per stored kWh.
        begins: (blocks + 1,) first step of each block, and n.
        kind: (n,) 0 .. kinds - 1: which caps a step counts in; slopes are summed for each kind apart.
        buy, sell: (n,) currency per AC kWh; penalty: the same for import above the cap.

    Returns:
        (3 + kinds, blocks): the first two sums; v of the first and of the last step; slopes per kWh of cap.
    """
    n = len(net)
    part, slope = np.empty(n, np.float64), np.empty(n, np.float64)
    cap, within, relieve = made[0], made[1], made[2]
    c1, c2, c4, c5 = cost[0], cost[1], cost[2], cost[3]
    over, dear = more[0], more[1]
    for t in range(n):
        v, up, down = value[t], max(free[t], 0.0), max(-free[t], 0.0)
        g1, g4 = min(0.0, c1[t] - v), min(0.0, v - c4[t])
        g0, g3 = min(0.0, c1[t] + over - v), min(0.0, v - c4[t] - dear)
        fixed = buy[t] * max(net[t], 0.0) + sell[t] * min(net[t], 0.0) + penalty * max(net[t] - cap[t], 0.0)
        above = (room[t] - within[t]) * g0 + relieve[t] * g3
        below = within[t] * g1 + (down - relieve[t]) * g4
        other = up * min(0.0, c2[t] - v) + sold[t] * min(0.0, v - c5[t])
        part[t] = (fixed + above) + (below + other)
        # more cap turns relief into service, or a charge above the cap into one below it
        relieved = net[t] * per_out * (1.0 - 1e-12) if cap[t] == 0.0 else np.inf
        turns = g4 - g3 if (down > relieve[t]) | (relieve[t] >= relieved) else 0.0
        charges = g1 - g0 if room[t] > within[t] else 0.0
        slope[t] = per_out * turns - penalty if net[t] > cap[t] else into * charges
    for t in range(1, n):
        change = value[t - 1] - value[t]
        part[t] += max(change, 0.0) * floor[t - 1] + min(change, 0.0) * full
    found = np.zeros((3 + kinds, len(begins) - 1), np.float64)
    for j in range(len(begins) - 1):
        first, last = begins[j], begins[j + 1] - 1
        if first > 0:  # the level at the border is in the cut itself
            change = value[first - 1] - value[first]
            part[first] -= max(change, 0.0) * floor[first - 1] + min(change, 0.0) * full
        a, b, c, d = 0.0, 0.0, 0.0, 0.0
        for t in range(first, last, 2):
            a, b = a + part[t], b + part[t + 1]
            c, d = c + slope[t], d + slope[t + 1]
        if (last - first) % 2 == 0:
            a, c = a + part[last], c + slope[last]
        found[0, j], found[1, j], found[2, j], found[3, j] = a + b, value[first], value[last], c + d
        if kinds > 1:
            found[3, j] = 0.0
            for t in range(first, last + 1):
                found[3 + kind[t], j] += slope[t]
    return found
