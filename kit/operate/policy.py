"""The walk forward along three thresholds: charge flat out, give segments back down to their thresholds.

A step waits for the level that the step before leaves, so one walk alone leaves the machine idle most of the
time.  Four quarters of the year are walked at once, the last three from a guessed level.  Each is then walked
again from the level really reached, until it meets the guessed walk: from there on both are the same to the
last bit, and that is soon, since both are held to the same thresholds.
"""

import numpy as np
from numpy.typing import NDArray

from kit.operate.compiled import compiled

Floats = NDArray[np.float64]


@compiled("f8[::1](f8[::1], f8, f8, f8, f8, f8, f8)")
def offers(
    net_kw: Floats, idle_kw: float, step_h: float, into: float, out_of: float, most_in: float, most_out: float
) -> Floats:
    """Stored kWh that surplus offers, or (below 0) that the load takes, within limits in stored kWh.

    Efficiencies are 1 at most, so of both products the smaller one has the efficiency of its direction.
    """
    to_store, from_store = -step_h * into, -step_h / out_of
    free_kwh = np.empty(len(net_kw), np.float64)
    for t in range(len(net_kw)):
        net = net_kw[t] + idle_kw
        free_kwh[t] = max(-most_out, min(most_in, min(net * to_store, net * from_store)))
    return free_kwh


@compiled("f8(f8, f8, f8, f8, f8, f8, f8)")
def _after(
    level: float, free: float, fill: float, hold: float, sell: float, most_in: float, most_out: float
) -> float:
    """The level after a step; most_in, most_out: 0 where the grid may not charge, the battery not export.

    Giving segments back one after the other is the greatest of these, since fill <= hold <= sell.
    """
    x1, x2 = max(free, 0.0), min(free, 0.0)
    charged = max(min(fill, level + max(x1, most_in)), min(hold, level + x1))
    return max(charged, max(min(sell, level + x2), level + min(x2, -most_out)))


@compiled(
    "Tuple((f8[::1], f8))(f8[::1], f8[::1], f8[::1], f8[::1], f8, f8[::1], f8, f8[::1], f8[::1])", lanes=True
)
def follow(
    fill: Floats,
    hold: Floats,
    sell: Floats,
    free_kwh: Floats,
    start_kwh: float,
    floor_kwh: Floats,
    full_kwh: float,
    most_in_kwh: Floats,
    most_out_kwh: Floats,
) -> tuple[Floats, float]:
    """Follow three thresholds (n,) from the start level.

    Args:
        fill, hold, sell: rows of ``kit.operate.thresholds.thresholds``.
        free_kwh: (n,), see ``offers``.
        start_kwh: stored kWh before the first step; floor_kwh: (1,) or (n,); full_kwh.
        most_in_kwh: (1,) or (n,) stored kWh that grid and surplus may charge, 0 where the grid may not.
        most_out_kwh: (1,) or (n,) stored kWh that load and export may draw, 0 where it may not export.

    Returns:
        (n + 1,) stored kWh; and a bound on the corrections in kWh that floor or full asked for, which is
        rounding only where the floor can be kept at all.
    """
    one, none, every = np.uint64(1), np.uint64(0), np.uint64(0xFFFFFFFFFFFFFFFF)
    n = np.uint64(len(free_kwh))
    stored = np.empty(n + one, np.float64)
    stored[0] = start_kwh
    # place & mask is the place in a row of n, and the first place where one value holds for all steps
    m_in = every if len(most_in_kwh) > 1 else none
    m_out = every if len(most_out_kwh) > 1 else none
    m_low = every if len(floor_kwh) > 1 else none
    most_in, most_out, floor = most_in_kwh[0], most_out_kwh[0], floor_kwh[0]
    q, each = n >> np.uint64(2), (m_in | m_out | m_low) != none
    a, b, c, d = start_kwh, full_kwh, full_kwh, full_kwh
    wa = wb = wc = wd = 0.0
    for t in range(none if each else q):
        i, j, k = t + q, t + q + q, t + q + q + q
        e = _after(a, free_kwh[t], fill[t], hold[t], sell[t], most_in, most_out)
        f = _after(b, free_kwh[i], fill[i], hold[i], sell[i], most_in, most_out)
        g = _after(c, free_kwh[j], fill[j], hold[j], sell[j], most_in, most_out)
        h = _after(d, free_kwh[k], fill[k], hold[k], sell[k], most_in, most_out)
        a, b = min(full_kwh, max(floor, e)), min(full_kwh, max(floor, f))
        c, d = min(full_kwh, max(floor, g)), min(full_kwh, max(floor, h))
        wa, wb = max(wa, abs(a - e)), max(wb, abs(b - f))
        wc, wd = max(wc, abs(c - g)), max(wd, abs(d - h))
        stored[t + one], stored[i + one], stored[j + one], stored[k + one] = a, b, c, d
    for t in range(q if each else none):  # the same with limits of each step, which take a third longer
        i, j, k = t + q, t + q + q, t + q + q + q
        e = _after(a, free_kwh[t], fill[t], hold[t], sell[t], most_in_kwh[t & m_in], most_out_kwh[t & m_out])
        f = _after(b, free_kwh[i], fill[i], hold[i], sell[i], most_in_kwh[i & m_in], most_out_kwh[i & m_out])
        g = _after(c, free_kwh[j], fill[j], hold[j], sell[j], most_in_kwh[j & m_in], most_out_kwh[j & m_out])
        h = _after(d, free_kwh[k], fill[k], hold[k], sell[k], most_in_kwh[k & m_in], most_out_kwh[k & m_out])
        a, b = min(full_kwh, max(floor_kwh[t & m_low], e)), min(full_kwh, max(floor_kwh[i & m_low], f))
        c, d = min(full_kwh, max(floor_kwh[j & m_low], g)), min(full_kwh, max(floor_kwh[k & m_low], h))
        wa, wb = max(wa, abs(a - e)), max(wb, abs(b - f))
        wc, wd = max(wc, abs(c - g)), max(wd, abs(d - h))
        stored[t + one], stored[i + one], stored[j + one], stored[k + one] = a, b, c, d
    worst, tail = max(max(wa, wb), max(wc, wd)), q << np.uint64(2)
    for begin in (q, q + q, q + q + q, tail):
        a = stored[begin]
        for t in range(begin, n):
            most_in, most_out = most_in_kwh[t & m_in], most_out_kwh[t & m_out]
            e = _after(a, free_kwh[t], fill[t], hold[t], sell[t], most_in, most_out)
            a = min(full_kwh, max(floor_kwh[t & m_low], e))
            worst = max(worst, abs(a - e))
            if stored[t + one] == a and t < tail:
                break
            stored[t + one] = a
    return stored, worst


@compiled("UniTuple(f8, 2)(f8[::1], f8[::1], f8, f8, f8[::1], f8[::1], f8, f8)")
def account(
    stored_kwh: Floats,
    net_kw: Floats,
    idle_kw: float,
    step_h: float,
    buy: Floats,
    sell: Floats,
    into: float,
    out_of: float,
) -> tuple[float, float]:
    """Cost of imports less export credits along a path (n + 1,) of stored energy, and AC kWh discharged.

    Sums run in 256 parts that a machine adds side by side.
    """
    n, per_in = len(net_kw), 1.0 / into
    paid, given = np.zeros(256, np.float64), np.zeros(256, np.float64)
    for begin in range(0, n, 256):
        size = min(256, n - begin)
        end = begin + size
        before, after, net = stored_kwh[begin:end], stored_kwh[begin + 1 : end + 1], net_kw[begin:end]
        bought, sold = buy[begin:end], sell[begin:end]
        for i in range(size):
            x = after[i] - before[i]
            out = max(-x, 0.0) * out_of
            meter = (net[i] + idle_kw) * step_h + (max(x, 0.0) * per_in - out)
            paid[i] += bought[i] * max(meter, 0.0) + sold[i] * min(meter, 0.0)
            given[i] += out
    cost = discharged = 0.0
    for i in range(256):
        cost, discharged = cost + paid[i], discharged + given[i]
    return cost, discharged
