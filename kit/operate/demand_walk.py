"""The passes over a year that the demand-charge optimum is built from.

Steps have a cap on what they import.  Import above the cap is possible at a penalty per AC kWh, so a step
offers six segments of stored kWh, here with the cost per kWh that the stored energy rises along each::

    0 over      charge from the grid above the cap    (buy + penalty) / charge efficiency
    1 within    charge from the grid below the cap    buy / charge efficiency
    2 surplus   charge from surplus                   sell / charge efficiency
    3 relieve   serve load above the cap              discharge efficiency * (buy + penalty - wear)
    4 serve     serve load below the cap              discharge efficiency * (buy - wear)
    5 export    discharge to export                   discharge efficiency * (sell - wear)

Within and relieve never coexist, nor do surplus and serve.  From charging flat out to discharging flat out
the costs descend, so the cost-to-go V(s) stays convex and its thresholds R_k = sup{s: V'(s) <= -cost_k} are
clamped walks backward in time, one for each cost that occurs (Rockafellar, 'Convex analysis', 1970,
section 16); see ``kit.operate.thresholds``, whose method this is.

Shared arguments, rows of (n,) stored kWh a step, so that a machine takes several steps at once: ``free`` what
surplus offers, or (below 0) the load takes; ``room`` what the grid may charge beside surplus; ``sold`` what
may be discharged beyond the load; ``made`` see ``sizes``.  ``floor`` (n,) least level at the end of a step;
``full`` the most.
"""

import numpy as np
from numpy.typing import NDArray

from kit.operate.compiled import compiled

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@compiled("f8[:,::1](f8[::1], f8[::1], f8[::1], u2[::1], f8[::1], f8, f8)")
def sizes(
    net: Floats,
    free: Floats,
    room: Floats,
    cell: NDArray[np.uint16],
    cap_kwh: Floats,
    into: float,
    per_out: float,
) -> Floats:
    """Caps and what they split, for caps in AC kWh of each cell.

    Args:
        net: (n,) AC kWh of load less solar.
        cell: (n,) index into cap_kwh, the AC kWh that a step may import without penalty.
        into, per_out: stored per AC kWh charged, drawn per AC kWh discharged.

    Returns:
        (3, n): cap, within, relieve.
    """
    n = len(net)
    made = np.empty((3, n), np.float64)
    cap, within, relieve = made[0], made[1], made[2]
    for t in range(n):
        cap[t] = cap_kwh[cell[t]]
    for t in range(n):
        within[t] = min(room[t], max(cap[t] - max(net[t], 0.0), 0.0) * into)
        relieve[t] = min(max(-free[t], 0.0), max(net[t] - cap[t], 0.0) * per_out)
    return made


@compiled("f8(f8, u8, f8, f8[::1], f8[::1], f8[::1], f8, f8, f8, f8, f8)")
def _back(
    level: float,
    q: np.uint64,
    free: float,
    low: Floats,
    high: Floats,
    split: Floats,
    border: float,
    least: float,
    most: float,
    floor: float,
    full: float,
) -> float:
    """One threshold one step back: less what changes once every segment of its class is given back."""
    x = max(min(high[q], max(low[q], free)), min(split[q], border))
    return min(full, max(floor, level - max(least, min(most, x))))


@compiled(
    "void(f8[:,::1], u2[::1], i8[:,::1], f8[::1], i8, f8[::1], f8[::1], f8[::1], f8[:,::1], f8[::1], f8)",
    lanes=True,
)
def levels(
    wanted: Floats,
    pair: NDArray[np.uint16],
    rank: Whole,
    end: Floats,
    k: int,
    free: Floats,
    room: Floats,
    sold: Floats,
    made: Floats,
    floor: Floats,
    full: float,
) -> None:
    """Thresholds k .. k + 15 backward in time from `end`; those of a step go to `wanted` (4, n).

    The rows of `wanted`: charge above the cap up to; charge below it up to, or relieve the cap down to;
    charge from surplus up to, or serve the load down to; discharge to export down to.

    Args:
        pair: (n,) row of rank.
        rank: (pairs, 6) rank of each cost among all that occur, the dearest 0; 0 for a charge from the
            grid and len(end) for an export that is not allowed.
        made: see ``sizes``.
    """
    none, one, two, three, four = np.uint64(0), np.uint64(1), np.uint64(2), np.uint64(3), np.uint64(4)
    five, sixteen = np.uint64(5), np.uint64(16)
    over, middle, hold, sell = wanted[0], wanted[1], wanted[2], wanted[3]
    within, relieve = made[1], made[2]
    # tables of sixteen classes for each pair of prices below its cap, then above it
    low, high, split = np.empty(32 * len(rank)), np.empty(32 * len(rank)), np.empty(32 * len(rank))
    for i in range(32 * len(rank)):
        j, c, above = i // 32, k + i % 16, i % 32 >= 16
        inner = rank[j, 3] if above else rank[j, 4]
        low[i] = np.inf if c < rank[j, 0] else (-np.inf if c >= min(inner, rank[j, 5]) else 0.0)
        high[i] = (
            np.inf
            if c < rank[j, 0] or (c < rank[j, 2] and not above)
            else (0.0 if c < rank[j, 5] else -np.inf)
        )
        split[i] = np.inf if c < (rank[j, 4] if above else rank[j, 1]) else -np.inf
    row = np.full(17, np.inf)
    alone = len(end) == 16
    r0, r1, r2, r3 = end[k], end[k + 1], end[k + 2], end[k + 3]
    r4, r5, r6, r7 = end[k + 4], end[k + 5], end[k + 6], end[k + 7]
    r8, r9, r10, r11 = end[k + 8], end[k + 9], end[k + 10], end[k + 11]
    r12, r13, r14, r15 = end[k + 12], end[k + 13], end[k + 14], end[k + 15]
    at = (rank.ravel() - k).astype(np.uint64)  # a class outside these sixteen is 16 or more
    t = np.uint64(len(free))
    while t > 0:
        t -= one
        y, p, above = free[t], np.uint64(pair[t]), relieve[t] > 0.0
        row[0], row[1], row[2], row[3] = r0, r1, r2, r3
        row[4], row[5], row[6], row[7] = r4, r5, r6, r7
        row[8], row[9], row[10], row[11] = r8, r9, r10, r11
        row[12], row[13], row[14], row[15] = r12, r13, r14, r15
        a = p * np.uint64(6)
        g, v = at[a], at[a + (three if above else one)]
        m, s = at[a + (two if y > 0.0 else four)], at[a + five]
        if alone:
            over[t], middle[t], hold[t], sell[t] = row[g], row[v], row[m], row[s]
        else:
            over[t] = row[g] if g < 16 else over[t]
            middle[t] = row[v] if v < 16 else middle[t]
            hold[t] = row[m] if m < 16 else hold[t]
            sell[t] = row[s] if s < 16 else sell[t]
        bottom = floor[t - one if t > 0 else t]
        up, down = max(y, 0.0), min(y, 0.0)
        least, most, border = down - sold[t], up + room[t], -relieve[t] if above else up + within[t]
        q = (p << five) + (sixteen if above else none)
        r0 = _back(r0, q, y, low, high, split, border, least, most, bottom, full)
        r1 = _back(r1, q + np.uint64(1), y, low, high, split, border, least, most, bottom, full)
        r2 = _back(r2, q + np.uint64(2), y, low, high, split, border, least, most, bottom, full)
        r3 = _back(r3, q + np.uint64(3), y, low, high, split, border, least, most, bottom, full)
        r4 = _back(r4, q + np.uint64(4), y, low, high, split, border, least, most, bottom, full)
        r5 = _back(r5, q + np.uint64(5), y, low, high, split, border, least, most, bottom, full)
        r6 = _back(r6, q + np.uint64(6), y, low, high, split, border, least, most, bottom, full)
        r7 = _back(r7, q + np.uint64(7), y, low, high, split, border, least, most, bottom, full)
        r8 = _back(r8, q + np.uint64(8), y, low, high, split, border, least, most, bottom, full)
        r9 = _back(r9, q + np.uint64(9), y, low, high, split, border, least, most, bottom, full)
        r10 = _back(r10, q + np.uint64(10), y, low, high, split, border, least, most, bottom, full)
        r11 = _back(r11, q + np.uint64(11), y, low, high, split, border, least, most, bottom, full)
        r12 = _back(r12, q + np.uint64(12), y, low, high, split, border, least, most, bottom, full)
        r13 = _back(r13, q + np.uint64(13), y, low, high, split, border, least, most, bottom, full)
        r14 = _back(r14, q + np.uint64(14), y, low, high, split, border, least, most, bottom, full)
        r15 = _back(r15, q + np.uint64(15), y, low, high, split, border, least, most, bottom, full)


@compiled("f8(f8, f8, f8, f8, f8, f8, f8, f8, f8, f8)")
def _after(
    level: float,
    free: float,
    room: float,
    sold: float,
    within: float,
    relieve: float,
    over: float,
    middle: float,
    hold: float,
    sell: float,
) -> float:
    """The level after a step: charge flat out, give each segment back down to its threshold.

    As in ``kit.operate.policy`` that is the greatest of these, since over <= middle <= hold <= sell.
    """
    up, down = max(free, 0.0), min(free, 0.0)
    charged = max(min(over, level + (up + room)), min(middle, level + (up + within)))
    after = max(charged, min(hold, level + (up - relieve)))
    return max(after, max(min(sell, level + down), level + (down - sold)))


@compiled("Tuple((f8[::1], f8))(f8[:,::1], f8[::1], f8[::1], f8[::1], f8[:,::1], f8, f8[::1], f8)")
def schedule(
    wanted: Floats,
    free: Floats,
    room: Floats,
    sold: Floats,
    made: Floats,
    start: float,
    floor: Floats,
    full: float,
) -> tuple[Floats, float]:
    """Follow the thresholds, two halves of the year at once: see ``kit.operate.policy``.

    Returns:
        (n + 1,) stored kWh; and a bound on the corrections in kWh that floor or full asked for, which is
        rounding only where the floor can be kept at all.
    """
    n, one = np.uint64(len(free)), np.uint64(1)
    over, middle, hold, sell = wanted[0], wanted[1], wanted[2], wanted[3]
    within, relieve = made[1], made[2]
    stored = np.empty(n + one, np.float64)
    stored[0] = start
    half = n >> one
    a, b, wa, wb = start, full, 0.0, 0.0
    for t in range(half):
        i = t + half
        e = _after(a, free[t], room[t], sold[t], within[t], relieve[t], over[t], middle[t], hold[t], sell[t])
        f = _after(b, free[i], room[i], sold[i], within[i], relieve[i], over[i], middle[i], hold[i], sell[i])
        a, b = min(full, max(floor[t], e)), min(full, max(floor[i], f))
        wa, wb = max(wa, abs(a - e)), max(wb, abs(b - f))
        stored[t + one], stored[i + one] = a, b
    tail = half + half
    for t in range(half, n):
        e = _after(a, free[t], room[t], sold[t], within[t], relieve[t], over[t], middle[t], hold[t], sell[t])
        a = min(full, max(floor[t], e))
        wa = max(wa, abs(a - e))
        if stored[t + one] == a and t + one < tail:
            break
        stored[t + one] = a
    if n > tail:
        i = n - one
        a = stored[i]
        e = _after(a, free[i], room[i], sold[i], within[i], relieve[i], over[i], middle[i], hold[i], sell[i])
        stored[n] = min(full, max(floor[i], e))
        wa = max(wa, abs(stored[n] - e))
    return stored, max(wa, wb)


@compiled("f8[::1](f8[::1], f8[::1], u2[::1], i8, f8, f8)")
def peaks(
    stored: Floats, net: Floats, cell: NDArray[np.uint16], cells: int, per_in: float, out_of: float
) -> Floats:
    """Largest import of a step in AC kWh, of each cell."""
    most = np.zeros(cells, np.float64)
    last, highest = cell[0], 0.0
    for t in range(len(net)):
        if cell[t] != last:
            most[last], last = max(most[last], highest), cell[t]
            highest = 0.0
        x = stored[t + 1] - stored[t]
        highest = max(highest, net[t] + max(x * per_in, x * out_of))
    most[last] = max(most[last], highest)
    return most


@compiled("f8[::1](b1[::1], u1[::1], f8[::1], f8[::1], f8[::1], f8[::1], f8, i8[::1], f8, f8)")
def least_caps(
    counts: NDArray[np.bool_],
    kind: NDArray[np.uint8],
    net: Floats,
    free: Floats,
    room: Floats,
    floor: Floats,
    full: float,
    begins: Whole,
    into: float,
    per_out: float,
) -> Floats:
    """A cap in AC kWh that no use of the battery keeps below, for each stretch on its own, from a full start.

    By halving, to a 4,000th of the largest net load, as long as the cap can be told to be too low.

    Args:
        counts: (kinds,) whether steps of a kind are held to the cap.
    """
    found = np.zeros(len(begins) - 1, np.float64)
    for j in range(len(found)):
        low, high = 0.0, 0.0
        for t in range(begins[j], begins[j + 1]):
            high = max(high, net[t] if counts[kind[t]] else 0.0)
        for _ in range(12):
            cap = 0.5 * (low + high)
            level, t = full, begins[j]
            while t < begins[j + 1]:
                over = net[t] - cap if counts[kind[t]] else -np.inf
                need = over * per_out
                if over > 0.0:
                    if need > level - floor[t] or need > -free[t]:
                        break
                    level -= need
                else:
                    held = min(cap, -over) * into if over > -np.inf else np.inf
                    level = min(full, max(floor[t], level + max(free[t], 0.0) + min(room[t], held)))
                t += 1
            if t < begins[j + 1]:
                low = cap
            else:
                high = cap
        found[j] = low
    return found
