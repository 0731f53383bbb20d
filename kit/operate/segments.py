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
        (3, n), as there.  What a step does not offer (grid charging, export) has no threshold: full.
    """
    return _sorted_segments(buy, sell, wear, net_kwh, floor_kwh, full_kwh, *limits, *end)


@compiled("i8(f8[::1], f8[::1], i8, i8, i8, f8, f8)")
def _add_right(
    slope: Floats, size: Floats, first: int, last: int, at: int, new_slope: float, new_size: float
) -> int:
    """Put a segment after place `at`, moving those to its right; a segment of equal slope grows instead."""
    if at >= first and slope[at] == new_slope:
        size[at] += new_size
        return last
    for i in range(last, at, -1):
        slope[i + 1], size[i + 1] = slope[i], size[i]
    slope[at + 1], size[at + 1] = new_slope, new_size
    return last + 1


@compiled("i8(f8[::1], f8[::1], i8, i8, f8, f8)")
def _add_left(slope: Floats, size: Floats, first: int, at: int, new_slope: float, new_size: float) -> int:
    """The same, moving those up to place `at` to the left."""
    if at >= first and slope[at] == new_slope:
        size[at] += new_size
        return first
    for i in range(first, at + 1):
        slope[i - 1], size[i - 1] = slope[i], size[i]
    slope[at], size[at] = new_slope, new_size
    return first - 1


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
    """Backward in time; segments first .. last of (slope, size) span the range least .. most."""
    n = len(net_kwh)
    wanted = np.empty((3, n), np.float64)
    slope = np.empty(6 * n + 8, np.float64)
    size = np.empty(6 * n + 8, np.float64)
    first = last = 3 * n + 3
    slope[first], size[first] = end_slope, most - least
    per_out = 1.0 / out_of
    for t in range(n - 1, -1, -1):
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
        at_sold, level = last, most
        if x2 > x3:
            while at_sold >= first and slope[at_sold] > sold:
                level -= size[at_sold]
                at_sold -= 1
        wanted[2, t] = max(least, level) if x2 > x3 else full_kwh
        at_middle = at_sold
        while at_middle >= first and slope[at_middle] > middle:
            level -= size[at_middle]
            at_middle -= 1
        wanted[1, t] = max(least, level)
        at_grid, level = first - 1, least
        if x0 > x1:
            while at_grid < last and slope[at_grid + 1] <= grid:
                at_grid += 1
                level += size[at_grid]
        wanted[0, t] = min(most, level) if x0 > x1 else full_kwh
        if x2 > x3:  # the right-hand ones first, so that the other places stay where they are
            last = _add_right(slope, size, first, last, at_sold, sold, x2 - x3)
        if x1 > x2:
            last = _add_right(slope, size, first, last, at_middle, middle, x1 - x2)
        if x0 > x1:
            first = _add_left(slope, size, first, at_grid, grid, x0 - x1)
        # trim to the allowed range at the start of the step
        least, most = least - x0, most - x3
        floor = floor_kwh[t - 1 if len(floor_kwh) > 1 and t > 0 else 0]
        while least < floor and first <= last:
            cut = min(size[first], floor - least)
            least += cut
            size[first] -= cut
            if size[first] <= 0.0:
                first += 1
        least = max(least, floor)
        while most > full_kwh and first <= last:
            cut = min(size[last], most - full_kwh)
            most -= cut
            size[last] -= cut
            if size[last] <= 0.0:
                last -= 1
        most = min(most, full_kwh)
    return wanted
