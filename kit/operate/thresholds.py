"""Exact best use of a battery where prices have few levels: a stored-energy threshold for each price.

The cost-to-go V(s) of the stored energy s is convex and piecewise linear.  Going one step back in time it is
inf-convolved with the step's cost, which merges the segments of both sorted by slope, and cut to the allowed
range, which trims both ends (Rockafellar, 'Convex analysis', 1970, section 16: under conjugation an
inf-convolution is a sum).  A step offers three segments at most, from charging flat out to discharging flat
out, in stored kWh, with these slopes::

    grid      charge from the grid      -buy / charge efficiency
    middle    charge from surplus       -sell / charge efficiency
              or serve the load         -discharge efficiency * (buy - wear)
    sold      discharge to export       -discharge efficiency * (sell - wear)

Only the slopes sigma_k that occur at all matter.  With R_k = sup{s: V'(s) <= sigma_k} the recursion is::

    R_k(t) = min(full, max(floor(t), R_k(t+1) - x_k))

where x_k is the change of stored energy once every segment of a slope up to sigma_k is given back.  With y,
the stored kWh that surplus offers (above 0) or the load takes (below 0), it needs no case of its own::

    x_k = min(high_k, max(low_k, y))

    most charged .. most charged    for k below the class of charging from the grid
    0 .. inf                        from there to the class of surplus
    0 .. 0                          from there to the class of serving the load
    -inf .. 0                       from there to the class of export
    -most drawn .. -most drawn      above it

Each R_k is a clamped walk of its own; eight of them side by side fill two registers of the machine.  R of the
step's slopes are the three thresholds that the walk forward follows.
The sup keeps the most energy stored among dispatches of equal cost, which is what an outage wants.
"""

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from kit.operate.compiled import compiled

if TYPE_CHECKING:
    from kit.operate.task import Task

MOST_PAIRS: Final = 12
Floats = NDArray[np.float64]


def price_pairs(buy: Floats, sell: Floats) -> tuple[NDArray[np.uint8], list[tuple[float, float]]] | None:
    """Distinct pairs of import and export price.

    Args:
        buy, sell: (n,) price per AC kWh.

    Returns:
        (n,) index of each step's pair and the pairs, or None where there are more than MOST_PAIRS.
    """
    pair, first, count = _pairs(buy, sell, MOST_PAIRS)
    if count < 0:
        return None
    return pair, [(float(buy[t]), float(sell[t])) for t in first[:count]]


def slopes(pairs: list[tuple[float, float]], task: "Task") -> list[tuple[float, float, float, float]]:
    """Slopes of the segments (grid, surplus, serve, export) of each price pair, currency per stored kWh."""
    into, out_of, wear = task.into, task.out_of, task.wear
    return [(-b / into, -s / into, -out_of * (b - wear), -out_of * (s - wear)) for b, s in pairs]


def count_of(pair_slopes: list[tuple[float, float, float, float]]) -> int:
    """How many slopes occur."""
    return len({slope for four in pair_slopes for slope in four})


def thresholds(
    pair: NDArray[np.uint8], pair_slopes: list[tuple[float, float, float, float]], task: "Task"
) -> tuple[Floats, Floats, Floats]:
    """Thresholds of stored energy at the end of each step.

    Args:
        pair: (n,) index into pair_slopes.
        pair_slopes: slopes of each price pair, see ``slopes``.
        task: see ``kit.operate.task.Task``.

    Returns:
        Three rows (n,): charge from the grid up to; charge from surplus up to, or serve the load down to;
        discharge to export down to.  What is not allowed has no threshold: in its place is the second row.
    """
    least, most, slope = task.end
    used = [four[not task.grid_charge : 4 if task.export else 3] for four in pair_slopes]
    classes = sorted({s for some in used for s in some})
    rank = {s: k for k, s in enumerate(classes)}
    count = -(-len(classes) // 8) * 8
    ranks = [
        (rank[g] if task.grid_charge else 0, rank[c], rank[m], rank[s] if task.export else count)
        for g, c, m, s in pair_slopes
    ]
    table = np.array(ranks, dtype=np.uint64)
    level = np.array([most if s >= slope else least for s in classes] + [most] * (count - len(classes)))
    hold = np.empty(task.free_kwh.size, dtype=np.float64)
    fill = np.empty_like(hold) if task.grid_charge else hold
    sell = np.empty_like(hold) if task.export else hold
    for k in range(0, count, 8):
        _clamped_walks(
            fill, hold, sell, pair, table, level, k, task.free_kwh, task.reserve_kwh, task.full_kwh,
            task.most_in_kwh, task.most_out_kwh,
        )  # fmt: skip
    return fill, hold, sell


@compiled("Tuple((u1[::1], i8[::1], i8))(f8[::1], f8[::1], i8)")
def _pairs(buy: Floats, sell: Floats, most: int) -> tuple[NDArray[np.uint8], NDArray[np.int64], int]:
    """Index of the price pair of each step, the first step of each pair, their count (-1: above `most`).

    A block of steps is compared with every pair known, all at once, which takes no branch a step; where a
    step is left over, its pair is new and the block is done again.
    """
    n = len(buy)
    pair, first = np.empty(n, np.uint8), np.empty(most, np.int64)
    bought, sold = np.full(most + 3, np.nan), np.full(most + 3, np.nan)
    count = begin = 0
    while begin < n:
        size = min(256, n - begin)
        b, s, mine = buy[begin : begin + size], sell[begin : begin + size], pair[begin : begin + size]
        mine[:] = every = 255  # stays above 127 where no pair is the step's
        for p in range(0, count, 4):  # NaN, which no price equals, stands where no pair is known
            b0, b1, b2, b3 = bought[p], bought[p + 1], bought[p + 2], bought[p + 3]
            s0, s1, s2, s3 = sold[p], sold[p + 1], sold[p + 2], sold[p + 3]
            every = 0
            for i in range(size):
                found = p if (b[i] == b0) & (s[i] == s0) else int(mine[i])
                found = p + 1 if (b[i] == b1) & (s[i] == s1) else found
                found = p + 2 if (b[i] == b2) & (s[i] == s2) else found
                found = p + 3 if (b[i] == b3) & (s[i] == s3) else found
                mine[i] = found
                every |= found
        if every < 128:
            begin += size
            continue
        if count == most:
            return pair, first, -1
        i = 0
        while mine[i] < 128:
            i += 1
        first[count], bought[count], sold[count] = begin + i, b[i], s[i]
        count += 1
    return pair, first, count


@compiled(
    "void(f8[::1], f8[::1], f8[::1], u1[::1], u8[:,::1], f8[::1], i8, "
    "f8[::1], f8[::1], f8, f8[::1], f8[::1])",
    lanes=True,
)
def _clamped_walks(
    fill: Floats,
    hold: Floats,
    sell: Floats,
    pair: NDArray[np.uint8],
    table: NDArray[np.uint64],
    end: Floats,
    k: int,
    free_kwh: Floats,
    floor_kwh: Floats,
    full_kwh: float,
    most_in_kwh: Floats,
    most_out_kwh: Floats,
) -> None:
    """Thresholds k .. k + 7 backward in time from `end`, side by side; those of a step go to the first three.

    Where grid charging or export is not allowed its row is that of `hold`, which is written last.  Unsigned
    indices spare the machine the question whether a place is counted from the end.
    """
    one, two, three = np.uint64(1), np.uint64(2), np.uint64(3)
    each, varies = len(most_in_kwh) > 1 or len(most_out_kwh) > 1, len(floor_kwh) > 1
    in_kwh, out_kwh = (np.inf, np.inf) if each else (most_in_kwh[0], most_out_kwh[0])
    m_in = np.uint64(0xFFFFFFFFFFFFFFFF) if len(most_in_kwh) > 1 else np.uint64(0)
    m_out = np.uint64(0xFFFFFFFFFFFFFFFF) if len(most_out_kwh) > 1 else np.uint64(0)
    low, high = np.empty(8 * len(table), np.float64), np.empty(8 * len(table), np.float64)
    for i in range(8 * len(table)):
        c, j = k + i % 8, i // 8
        grid, surplus, serve, sold = table[j, 0], table[j, 1], table[j, 2], table[j, 3]
        low[i] = in_kwh if c < grid else (-out_kwh if c >= sold else (0.0 if c < serve else -np.inf))
        high[i] = in_kwh if c < grid else (-out_kwh if c >= sold else (np.inf if c < surplus else 0.0))
    at = table.ravel() - np.uint64(k)  # a class outside these eight becomes 8 or very large
    row = np.zeros(9, np.float64)
    alone = len(end) == 8
    r0, r1, r2, r3 = end[k], end[k + 1], end[k + 2], end[k + 3]
    r4, r5, r6, r7 = end[k + 4], end[k + 5], end[k + 6], end[k + 7]
    floor = floor_kwh[0]
    t = np.uint64(len(free_kwh))
    while t > 0 and alone and not varies and not each:  # as below, one run of equal prices at a time
        p = pair[t - one]
        a, q = np.uint64(p) << two, np.uint64(p) << three
        g, s, charged, served = at[a], at[a + three], at[a + one], at[a + two]
        l0, l1, l2, l3 = low[q], low[q + one], low[q + two], low[q + three]
        q4 = q + np.uint64(4)
        l4, l5, l6, l7 = low[q4], low[q4 + one], low[q4 + two], low[q4 + three]
        h0, h1, h2, h3 = high[q], high[q + one], high[q + two], high[q + three]
        h4, h5, h6, h7 = high[q4], high[q4 + one], high[q4 + two], high[q4 + three]
        while t > 0 and pair[t - one] == p:
            t -= one
            y = free_kwh[t]
            row[0], row[1], row[2], row[3] = r0, r1, r2, r3
            row[4], row[5], row[6], row[7] = r4, r5, r6, r7
            fill[t] = row[g]
            sell[t] = row[s]
            hold[t] = row[charged if y > 0.0 else served]
            r0, r1, r2, r3, r4, r5, r6, r7 = (
                min(full_kwh, max(floor, r0 - min(h0, max(l0, y)))),
                min(full_kwh, max(floor, r1 - min(h1, max(l1, y)))),
                min(full_kwh, max(floor, r2 - min(h2, max(l2, y)))),
                min(full_kwh, max(floor, r3 - min(h3, max(l3, y)))),
                min(full_kwh, max(floor, r4 - min(h4, max(l4, y)))),
                min(full_kwh, max(floor, r5 - min(h5, max(l5, y)))),
                min(full_kwh, max(floor, r6 - min(h6, max(l6, y)))),
                min(full_kwh, max(floor, r7 - min(h7, max(l7, y)))),
            )
    while t > 0:
        t -= one
        y, p = free_kwh[t], np.uint64(pair[t])
        row[0], row[1], row[2], row[3] = r0, r1, r2, r3
        row[4], row[5], row[6], row[7] = r4, r5, r6, r7
        a = p << two
        g, m, s = at[a], at[a + one if y > 0.0 else a + two], at[a + three]
        if alone:
            fill[t] = row[g]
            sell[t] = row[s]
            hold[t] = row[m]
        else:
            fill[t] = row[g] if g < 8 else fill[t]
            sell[t] = row[s] if s < 8 else sell[t]
            hold[t] = row[m] if m < 8 else hold[t]
        if varies:
            floor = floor_kwh[t - one if t > 0 else t]
        q = p << three
        x0, x1, x2, x3, x4, x5, x6, x7 = (
            min(high[q], max(low[q], y)),
            min(high[q + np.uint64(1)], max(low[q + np.uint64(1)], y)),
            min(high[q + np.uint64(2)], max(low[q + np.uint64(2)], y)),
            min(high[q + np.uint64(3)], max(low[q + np.uint64(3)], y)),
            min(high[q + np.uint64(4)], max(low[q + np.uint64(4)], y)),
            min(high[q + np.uint64(5)], max(low[q + np.uint64(5)], y)),
            min(high[q + np.uint64(6)], max(low[q + np.uint64(6)], y)),
            min(high[q + np.uint64(7)], max(low[q + np.uint64(7)], y)),
        )
        if each:
            i, o = most_in_kwh[t & m_in], -most_out_kwh[t & m_out]
            x0, x1, x2, x3 = min(i, max(o, x0)), min(i, max(o, x1)), min(i, max(o, x2)), min(i, max(o, x3))
            x4, x5, x6, x7 = min(i, max(o, x4)), min(i, max(o, x5)), min(i, max(o, x6)), min(i, max(o, x7))
        r0, r1, r2, r3, r4, r5, r6, r7 = (
            min(full_kwh, max(floor, r0 - x0)),
            min(full_kwh, max(floor, r1 - x1)),
            min(full_kwh, max(floor, r2 - x2)),
            min(full_kwh, max(floor, r3 - x3)),
            min(full_kwh, max(floor, r4 - x4)),
            min(full_kwh, max(floor, r5 - x5)),
            min(full_kwh, max(floor, r6 - x6)),
            min(full_kwh, max(floor, r7 - x7)),
        )
