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

    R_k(t) = min(full, max(floor(t), R_k(t+1) - x))

where x is the change of stored energy once every segment of a slope up to sigma_k is given back.  Each R_k is
a clamped walk of its own, and R of the step's slopes are the three thresholds that the walk forward follows.
The sup keeps the most energy stored among dispatches of equal cost, which is what an outage wants.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from kit.operate.compiled import compiled

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


def slopes(
    buy: list[float], sell: list[float], into: float, out_of: float, wear: float
) -> list[tuple[float, float, float, float]]:
    """Slopes of the segments (grid, surplus, serve, export) of each price pair, currency per stored kWh."""
    return [
        (-b / into, -s / into, -out_of * (b - wear), -out_of * (s - wear))
        for b, s in zip(buy, sell, strict=True)
    ]


def thresholds(
    pair: NDArray[np.uint8],
    pair_slopes: list[tuple[float, float, float, float]],
    net_kwh: Floats,
    floor_kwh: Floats,
    full_kwh: float,
    limits: tuple[Floats, Floats, float, float, float, float],
    end: tuple[float, float, float],
) -> Floats:
    """Thresholds of stored energy at the end of each step.

    Args:
        pair: (n,) index into pair_slopes.
        pair_slopes: slopes of each price pair, see ``slopes``.
        net_kwh: (n,) AC kWh, load less solar.
        floor_kwh: (1,) or (n,) least stored kWh at the end of a step.
        full_kwh: most stored kWh.
        limits, end: as in ``kit.operate.task.Task``.

    Returns:
        (3, n): charge from the grid up to; charge from surplus up to, or serve the load down to;
        discharge to export down to.
    """
    least, most, slope = end
    classes = sorted({s for four in pair_slopes for s in four})
    rank = {s: k for k, s in enumerate(classes)}
    table = np.array([[rank[s] for s in four] for four in pair_slopes], dtype=np.int64)
    level = np.full(-(-len(classes) // 8) * 8, most)
    level[: len(classes)] = [most if s >= slope else least for s in classes]
    wanted = np.empty((3, net_kwh.size), dtype=np.float64)
    for k in range(0, level.size, 8):
        _clamped_walks(wanted, pair, table, level, k, net_kwh, floor_kwh, full_kwh, *limits)
    return wanted


@compiled("Tuple((u1[::1], i8[::1], i8))(f8[::1], f8[::1], i8)")
def _pairs(buy: Floats, sell: Floats, most: int) -> tuple[NDArray[np.uint8], NDArray[np.int64], int]:
    """Index of the price pair of each step, the first step of each pair, their count (-1: above `most`)."""
    pair = np.empty(len(buy), np.uint8)
    first = np.empty(most, np.int64)
    count, p = 0, 0
    bought, sold = np.nan, np.nan
    for t in range(len(buy)):
        if buy[t] != bought or sell[t] != sold:
            bought, sold = buy[t], sell[t]
            p = 0
            while p < count and (bought != buy[first[p]] or sold != sell[first[p]]):
                p += 1
            if p == count:
                if count == most:
                    return pair, first, -1
                first[count] = t
                count += 1
        pair[t] = p
    return pair, first, count


@compiled("f8(i8, i8, i8, i8, f8, f8, f8, f8)")
def _left(k: int, grid: int, middle: int, sold: int, x0: float, x1: float, x2: float, x3: float) -> float:
    """Change of stored energy once every segment of a class up to k is given back."""
    return x0 if k < grid else (x1 if k < middle else (x2 if k < sold else x3))


@compiled(
    "void(f8[:,::1], u1[::1], i8[:,::1], f8[::1], i8, f8[::1], f8[::1], f8, f8[::1], f8[::1], f8, f8, f8, f8)"
)
def _clamped_walks(
    wanted: Floats,
    pair: NDArray[np.uint8],
    table: NDArray[np.int64],
    end: Floats,
    k: int,
    net_kwh: Floats,
    floor_kwh: Floats,
    full_kwh: float,
    charge_kwh: Floats,
    discharge_kwh: Floats,
    into: float,
    out_of: float,
    grid_charge: float,
    export: float,
) -> None:
    """Thresholds k .. k + 7 backward in time from `end`, side by side; those of a step go to `wanted`."""
    per_out = 1.0 / out_of
    row = np.empty(8, np.float64)
    r = (end[k], end[k + 1], end[k + 2], end[k + 3], end[k + 4], end[k + 5], end[k + 6], end[k + 7])
    for t in range(len(net_kwh) - 1, -1, -1):
        net = net_kwh[t]
        most_in = charge_kwh[t if len(charge_kwh) > 1 else 0] * into
        most_out = discharge_kwh[t if len(discharge_kwh) > 1 else 0] * per_out
        a1 = min(most_in, max(-net, 0.0) * into)
        a0 = most_in if grid_charge > 0.0 else a1
        a2 = -min(most_out, max(net, 0.0) * per_out)
        a3 = -most_out if export > 0.0 else a2
        p = pair[t]
        g, s = table[p, 0] - k, table[p, 3] - k
        m = table[p, 1] - k if net < 0.0 else table[p, 2] - k
        row[0], row[1], row[2], row[3] = r[0], r[1], r[2], r[3]
        row[4], row[5], row[6], row[7] = r[4], r[5], r[6], r[7]
        if 0 <= g < 8:
            wanted[0, t] = row[g]
        if 0 <= m < 8:
            wanted[1, t] = row[m]
        if 0 <= s < 8:
            wanted[2, t] = row[s]
        floor = floor_kwh[t - 1 if len(floor_kwh) > 1 and t > 0 else 0]
        x0, x1 = _left(0, g, m, s, a0, a1, a2, a3), _left(1, g, m, s, a0, a1, a2, a3)
        x2, x3 = _left(2, g, m, s, a0, a1, a2, a3), _left(3, g, m, s, a0, a1, a2, a3)
        x4, x5 = _left(4, g, m, s, a0, a1, a2, a3), _left(5, g, m, s, a0, a1, a2, a3)
        x6, x7 = _left(6, g, m, s, a0, a1, a2, a3), _left(7, g, m, s, a0, a1, a2, a3)
        r = (
            min(full_kwh, max(floor, r[0] - x0)),
            min(full_kwh, max(floor, r[1] - x1)),
            min(full_kwh, max(floor, r[2] - x2)),
            min(full_kwh, max(floor, r[3] - x3)),
            min(full_kwh, max(floor, r[4] - x4)),
            min(full_kwh, max(floor, r[5] - x5)),
            min(full_kwh, max(floor, r[6] - x6)),
            min(full_kwh, max(floor, r[7] - x7)),
        )
