"""Exact best use of a battery for any series of prices: the cost-to-go as a sorted list of segments.

The same recursion as in ``thresholds`` (inf-convolution of convex piecewise linear functions is a merge of
their segments by slope), with the segments of the cost-to-go themselves: three at most come in at each step,
from the end of the list where they belong, and as many as leave the allowed range are trimmed from both ends.
The list holds about usable energy / energy of a step segments, however long the year.  Where a slope belongs
in it is the threshold for that slope, so the result and the walk forward are those of ``thresholds``.
"""

import numpy as np
from numpy.typing import NDArray

from kit.operate.compiled import compiled

Floats = NDArray[np.float64]


def thresholds(
    buy: Floats,
    sell: Floats,
    wear: float,
    net_kwh: Floats,
    floor_kwh: Floats,
    full_kwh: float,
    limits: tuple[Floats, Floats, float, float, float, float],
    end: tuple[float, float, float],
) -> Floats:
    """Thresholds of stored energy at the end of each step, for prices that differ in every step.

    Args:
        buy, sell: (n,) price per AC kWh.
        wear: cost per AC kWh discharged.
        net_kwh, floor_kwh, full_kwh, limits, end: as in ``kit.operate.thresholds.thresholds``.

    Returns:
        (3, n), as there.
    """
    return _sorted_segments(buy, sell, wear, net_kwh, floor_kwh, full_kwh, *limits, *end)


@compiled("i8(f8[::1], f8[::1], i8, i8, i8, f8, f8, f8)")
def _spread_right(
    slope: Floats, edge: Floats, first: int, last: int, at: int, start: float, new_slope: float, size: float
) -> int:
    """Put a segment after place `at`, which ends at `start`, and move what lies right of it up by its size.

    A segment of equal slope grows instead.  Returns the new last place.
    """
    if at >= first and slope[at] == new_slope:
        for i in range(at, last + 1):
            edge[i] += size
        return last
    for i in range(last, at, -1):
        slope[i + 1] = slope[i]
        edge[i + 1] = edge[i] + size
    slope[at + 1], edge[at + 1] = new_slope, start + size
    return last + 1


@compiled("i8(f8[::1], f8[::1], i8, i8, f8, f8, f8)")
def _spread_left(
    slope: Floats, edge: Floats, first: int, at: int, start: float, new_slope: float, size: float
) -> int:
    """The same, but what lies up to place `at` moves down.  Returns the new first place."""
    if at >= first and slope[at] == new_slope:
        for i in range(first, at):
            edge[i] -= size
        return first
    for i in range(first, at + 1):
        slope[i - 1] = slope[i]
        edge[i - 1] = edge[i] - size
    slope[at], edge[at] = new_slope, start
    return first - 1


@compiled("Tuple((f8[::1], f8[::1], i8, i8))(f8[::1], f8[::1], i8, i8)")
def _recentred(slope: Floats, edge: Floats, first: int, last: int) -> tuple[Floats, Floats, int, int]:
    """The list in the middle of arrays at least four times its length."""
    count = last - first + 1
    place = max(len(slope), 4 * count)
    start = (place - count) // 2
    new_slope = np.empty(place, np.float64)
    new_edge = np.empty(place, np.float64)
    new_slope[start : start + count] = slope[first : last + 1]
    new_edge[start : start + count] = edge[first : last + 1]
    return new_slope, new_edge, start, start + count - 1


@compiled(
    "f8[:,::1](f8[::1], f8[::1], f8, f8[::1], f8[::1], f8, f8[::1], f8[::1], f8, f8, f8, f8, f8, f8, f8)"
)
def _sorted_segments(
    buy: Floats,
    sell: Floats,
    wear: float,
    net_kwh: Floats,
    floor_kwh: Floats,
    full_kwh: float,
    charge_kwh: Floats,
    discharge_kwh: Floats,
    into: float,
    out_of: float,
    grid_charge: float,
    export: float,
    least: float,
    most: float,
    end_slope: float,
) -> Floats:
    """Backward in time; segments first .. last, each of a slope and up to an edge, begin at `least`."""
    n = len(net_kwh)
    wanted = np.empty((3, n), np.float64)
    slope = np.empty(1024, np.float64)
    edge = np.empty(1024, np.float64)
    first = last = 512
    slope[first], edge[first] = end_slope, most
    per_out = 1.0 / out_of
    for t in range(n - 1, -1, -1):
        if first < 2 or last > len(slope) - 4:
            slope, edge, first, last = _recentred(slope, edge, first, last)
        net = net_kwh[t]
        most_in = charge_kwh[t if len(charge_kwh) > 1 else 0] * into
        most_out = discharge_kwh[t if len(discharge_kwh) > 1 else 0] * per_out
        x1 = min(most_in, max(-net, 0.0) * into)
        x0 = most_in if grid_charge > 0.0 else x1
        x2 = -min(most_out, max(net, 0.0) * per_out)
        x3 = -most_out if export > 0.0 else x2
        # where each segment belongs: after equal slopes, so that ties keep energy stored
        grid = -buy[t] / into
        middle = -sell[t] / into if net < 0.0 else -out_of * (buy[t] - wear)
        sold = -out_of * (sell[t] - wear)
        at_sold = last
        if export > 0.0:
            while at_sold >= first and slope[at_sold] > sold:
                at_sold -= 1
        at_middle = at_sold
        while at_middle >= first and slope[at_middle] > middle:
            at_middle -= 1
        at_grid = first - 1
        if grid_charge > 0.0:
            while at_grid < at_middle and slope[at_grid + 1] <= grid:
                at_grid += 1
        wanted[0, t] = edge[at_grid] if at_grid >= first else least
        wanted[1, t] = edge[at_middle] if at_middle >= first else least
        wanted[2, t] = edge[at_sold] if at_sold >= first else least
        if x2 > x3:
            last = _spread_right(slope, edge, first, last, at_sold, wanted[2, t], sold, x2 - x3)
        if x1 > x2:
            last = _spread_right(slope, edge, first, last, at_middle, wanted[1, t], middle, x1 - x2)
        if x0 > x1:
            first = _spread_left(slope, edge, first, at_grid, wanted[0, t], grid, x0 - x1)
            least -= x0 - x1
        if x1 > 0.0:
            for i in range(first, last + 1):
                edge[i] -= x1
            least -= x1
        # cut to the range allowed at the start of the step
        floor = floor_kwh[t - 1 if len(floor_kwh) > 1 and t > 0 else 0]
        while first <= last and edge[first] <= floor:
            first += 1
        least = max(least, floor)
        while first < last and edge[last - 1] >= full_kwh:
            last -= 1
        if first <= last:
            edge[last] = min(edge[last], full_kwh)
    return wanted
