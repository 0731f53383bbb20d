"""The passes over a year that the demand-charge optimum is built from.

Each month has a cap on what its steps import.  Import above the cap is possible at a penalty per AC kWh, so a
step offers six segments of stored kWh, here with the cost per kWh that the stored energy rises along each::

    0 over      charge from the grid above the cap    (buy + penalty) / charge efficiency
    1 within    charge from the grid below the cap    buy / charge efficiency
    2 surplus   charge from surplus                   sell / charge efficiency
    3 relieve   serve load above the cap              discharge efficiency * (buy + penalty - wear)
    4 serve     serve load below the cap              discharge efficiency * (buy - wear)
    5 export    discharge to export                   discharge efficiency * (sell - wear)

Within and relieve never coexist, nor do surplus and serve.  From charging flat out to discharging flat out
the costs descend, so the cost-to-go V(s) stays convex and its thresholds R_k = sup{s: V'(s) <= -cost_k} are
clamped walks backward in time, one for each cost that occurs (Rockafellar, 'Convex analysis', 1970,
section 16).

Shared arguments: ``size`` (n, 6) stored kWh and ``cost`` (pairs, 6) per stored kWh of the segments; ``pair``
(n,) row of the cost; ``floor_kwh`` (1,) or (n,) least level at the end of a step; ``full_kwh`` the most.
"""

import numpy as np
from numpy.typing import NDArray

from kit.operate.compiled import compiled

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@compiled("f8[:,::1](f8[::1], i8[::1], f8[::1], f8[::1], f8[::1], f8, f8, f8, f8)")
def sizes(
    net_kwh: Floats,
    month: Whole,
    cap_kwh: Floats,
    charge_kwh: Floats,
    discharge_kwh: Floats,
    into: float,
    out_of: float,
    grid: float,
    sold: float,
) -> Floats:
    """Stored kWh of the six segments of each step.

    Args:
        net_kwh: (n,) AC kWh of load less solar.
        month: (n,) index into cap_kwh, the AC kWh that a step may import without penalty.
        charge_kwh and the rest: as ``limits`` of ``kit.operate.task.Task``.
    """
    n = len(net_kwh)
    size = np.empty((n, 6), np.float64)
    for t in range(n):
        net, cap = net_kwh[t], cap_kwh[month[t]]
        most_in = charge_kwh[t if len(charge_kwh) > 1 else 0] * into
        most_out = discharge_kwh[t if len(discharge_kwh) > 1 else 0] / out_of
        surplus = min(most_in, max(-net, 0.0) * into)
        from_grid = most_in - surplus if grid > 0.0 else 0.0
        within = min(from_grid, max(cap - max(net, 0.0), 0.0) * into)
        served = min(most_out, max(net, 0.0) / out_of)
        relieve = min(most_out, max(net - cap, 0.0) / out_of)
        size[t, 0], size[t, 1], size[t, 2] = from_grid - within, within, surplus
        size[t, 3], size[t, 4] = relieve, served - relieve
        size[t, 5] = most_out - served if sold > 0.0 else 0.0
    return size


@compiled("f8[:,::1](f8[:,::1], i8[::1], i8[:,::1], f8[::1], f8[::1], f8)")
def levels(
    size: Floats, pair: Whole, rank: Whole, end_kwh: Floats, floor_kwh: Floats, full_kwh: float
) -> Floats:
    """Thresholds of stored energy at the end of each step.

    Args:
        rank: (pairs, 6) rank of each cost among all that occur, the dearest 0.
        end_kwh: threshold of each rank after the last step.

    Returns:
        (4, n): charge above the cap up to; charge below it up to, or relieve the cap down to; charge from
        surplus up to, or serve the load down to; discharge to export down to.
    """
    n, count = len(size), len(end_kwh)
    wanted = np.empty((4, n), np.float64)
    r = end_kwh.copy()
    for t in range(n - 1, -1, -1):
        p = pair[t]
        k3 = rank[p, 5]
        k2 = rank[p, 2] if size[t, 2] > 0.0 else rank[p, 4]
        k1 = min(k2, rank[p, 3] if size[t, 3] > 0.0 else rank[p, 1])
        k0 = min(k1, rank[p, 0])  # the least only matters where a segment is empty
        wanted[0, t], wanted[1, t], wanted[2, t], wanted[3, t] = r[k0], r[k1], r[k2], r[k3]
        floor = floor_kwh[t - 1 if len(floor_kwh) > 1 and t > 0 else 0]
        x1 = size[t, 1] + size[t, 2]
        x0 = size[t, 0] + x1
        x2 = size[t, 2] - size[t, 3]
        x3 = -size[t, 3] - size[t, 4]
        x4 = x3 - size[t, 5]
        for k in range(count):
            x = x0 if k < k0 else (x1 if k < k1 else (x2 if k < k2 else (x3 if k < k3 else x4)))
            r[k] = min(full_kwh, max(floor, r[k] - x))
    return wanted


@compiled("Tuple((f8[::1], f8[:,::1], f8))(f8[:,::1], f8[:,::1], f8, f8[::1], f8, f8[::1], f8, f8)")
def schedule(
    wanted: Floats,
    size: Floats,
    start_kwh: float,
    floor_kwh: Floats,
    full_kwh: float,
    net_kwh: Floats,
    into: float,
    out_of: float,
) -> tuple[Floats, Floats, float]:
    """Follow the thresholds: charge flat out, give each segment back down to its threshold.

    Returns:
        (n + 1,) stored kWh; (4, n) AC kWh charged, discharged, imported, exported; and the largest correction
        in kWh that floor or full asked for, which is rounding only where the floor can be kept at all.
    """
    n = len(size)
    stored, flow = np.empty(n + 1, np.float64), np.empty((4, n), np.float64)
    level, worst = start_kwh, 0.0
    stored[0] = level
    for t in range(n):
        x1 = size[t, 1] + size[t, 2]
        x3 = -size[t, 3] - size[t, 4]
        after = max(level + x1, min(wanted[0, t], level + (size[t, 0] + x1)))
        after = max(level + (size[t, 2] - size[t, 3]), min(wanted[1, t], after))
        after = max(level + x3, min(wanted[2, t], after))
        after = max(level + (x3 - size[t, 5]), min(wanted[3, t], after))
        kept = min(full_kwh, max(floor_kwh[t if len(floor_kwh) > 1 else 0], after))
        worst = max(worst, abs(kept - after))
        level = kept
        stored[t + 1] = level
    for t in range(n):
        x = stored[t + 1] - stored[t]
        charged, discharged = max(x, 0.0) / into, max(-x, 0.0) * out_of
        meter = net_kwh[t] + charged - discharged
        meter = 0.0 if abs(meter) < 1e-12 else meter
        flow[0, t], flow[1, t] = charged, discharged
        flow[2, t], flow[3, t] = max(meter, 0.0), max(-meter, 0.0)
    return stored, flow, worst


@compiled("UniTuple(f8, 2)(f8, f8[::1], f8[::1])")
def _marginal(x: float, size: Floats, cost: Floats) -> tuple[float, float]:
    """Least and most marginal cost of a stored kWh at a change of x kWh (rounding of 1e-9 kWh allowed)."""
    low, high = -np.inf, np.inf
    from_below = -size[3] - size[4] - size[5]
    from_above = size[0] + size[1] + size[2]
    for k in range(6):
        up, down = 5 - k, k
        low = cost[up] if size[up] > 0.0 and from_below < x - 1e-9 else low
        high = cost[down] if size[down] > 0.0 and from_above > x + 1e-9 else high
        from_below += size[up]
        from_above -= size[down]
    return low, high


@compiled("f8[::1](f8[::1], f8[:,::1], i8[::1], f8[:,::1], f8[::1], f8, f8, f8, f8)")
def values(
    stored_kwh: Floats,
    size: Floats,
    pair: Whole,
    cost: Floats,
    floor_kwh: Floats,
    full_kwh: float,
    least_kwh: float,
    most_kwh: float,
    worth: float,
) -> Floats:
    """The value v of a stored kWh at the end of each step that proves a schedule to be the best one.

    The optimality conditions: v lies between the marginal costs of the step's change, is constant while the
    level is inside its range, never rises past a level at the floor, never falls past one that is full.  One
    pass back finds the interval of v from which the rest of the year can be completed, one pass on walks
    through it and changes only where it has to.

    Args:
        stored_kwh: (n + 1,) the schedule.
        least_kwh, most_kwh, worth: range of the level after the last step, value of a stored kWh there.
    """
    n = len(size)
    low, high = np.empty(n, np.float64), np.empty(n, np.float64)
    a, b = worth, worth
    floor, top = least_kwh, most_kwh
    for t in range(n - 1, -1, -1):
        if stored_kwh[t + 1] <= floor + 1e-9:
            b = np.inf
        if stored_kwh[t + 1] >= top - 1e-9:
            a = -np.inf
        least, most = _marginal(stored_kwh[t + 1] - stored_kwh[t], size[t], cost[pair[t]])
        a, b = max(a, least), min(b, most)
        if a > b:  # by rounding of two equal costs
            a, b = b, a
        low[t], high[t] = a, b
        floor, top = floor_kwh[t - 1 if len(floor_kwh) > 1 and t > 0 else 0], full_kwh
    v = low[0] if low[0] > -np.inf else (high[0] if high[0] < np.inf else worth)
    for t in range(n):
        v = min(max(v, low[t]), high[t])
        low[t] = v
    return low


@compiled(
    "f8[:,::1](f8[::1], f8[:,::1], i8[::1], f8[:,::1], f8[::1], f8, i8[::1], f8[::1], i8[::1], f8[::1],"
    " f8[::1], f8[::1], f8, f8, f8)"
)
def bounds(
    value: Floats,
    size: Floats,
    pair: Whole,
    cost: Floats,
    floor_kwh: Floats,
    full_kwh: float,
    begins: Whole,
    net_kwh: Floats,
    month: Whole,
    cap_kwh: Floats,
    buy: Floats,
    sell: Floats,
    penalty: float,
    into: float,
    out_of: float,
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
        net_kwh, month, cap_kwh: as in ``sizes``.
        buy, sell: (pairs,) currency per AC kWh; penalty: the same for import above the cap.

    Returns:
        (4, blocks): the first two sums; their slope per kWh of cap; v of the first and of the last step.
    """
    found = np.zeros((4, len(begins) - 1), np.float64)
    for j in range(len(begins) - 1):
        total, slope = 0.0, 0.0
        for t in range(begins[j], begins[j + 1]):
            v, net, cap, p, z = value[t], net_kwh[t], cap_kwh[month[t]], pair[t], size[t]
            c = cost[p]
            fixed = buy[p] * max(net, 0.0) - sell[p] * max(-net, 0.0) + penalty * max(net - cap, 0.0)
            above = z[0] * min(0.0, c[0] - v) + z[3] * min(0.0, v - c[3])
            below = z[1] * min(0.0, c[1] - v) + z[4] * min(0.0, v - c[4])
            other = z[2] * min(0.0, c[2] - v) + z[5] * min(0.0, v - c[5])
            total += (fixed + above) + (below + other)
            if net > cap:
                slope -= penalty
                if z[4] > 0.0 or (
                    cap == 0.0 and z[3] * out_of >= net
                ):  # more cap would shift relief to service
                    slope += (min(0.0, v - c[4]) - min(0.0, v - c[3])) / out_of
            elif z[0] > 0.0:
                slope += into * (min(0.0, c[1] - v) - min(0.0, c[0] - v))
            if t > begins[j]:
                change = value[t - 1] - v
                total += change * (
                    floor_kwh[t - 1 if len(floor_kwh) > 1 else 0] if change > 0.0 else full_kwh
                )
        found[0, j], found[1, j] = total, slope
        found[2, j], found[3, j] = value[begins[j]], value[begins[j + 1] - 1]
    return found
