"""Exact best use of a battery for any series of prices: the cost-to-go as a sorted list of segments.

The same recursion as in ``thresholds`` (inf-convolution of convex piecewise linear functions is a merge of
their segments by slope), with the segments of the cost-to-go themselves: three at most come in at each step,
from the end of the list where they belong, and as many as leave the allowed range are trimmed from both ends.
Segments are kept by their size, so that those that only move in level need not be touched.

The list holds about usable energy / energy of a step segments, however long the year.  Where a slope belongs
in it is the threshold for that slope, so the result and the walk forward are those of ``thresholds``.
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from kit.operate.compiled import compiled

if TYPE_CHECKING:
    from kit.operate.task import Task

Floats = NDArray[np.float64]


def thresholds(buy: Floats, sell: Floats, task: "Task") -> tuple[Floats, Floats, Floats]:
    """Thresholds of stored energy at the end of each step, for prices that differ in every step.

    Args:
        buy, sell: (n,) price per AC kWh.
        task: see ``kit.operate.task.Task``.

    Returns:
        Three rows, as of ``kit.operate.thresholds.thresholds``.
    """
    wanted = _sorted_segments(
        buy, sell, task.wear, task.free_kwh, task.reserve_kwh, task.full_kwh, task.most_in_kwh,
        task.most_out_kwh, task.into, task.out_of, task.grid_charge, task.export, *task.end,
    )  # fmt: skip
    return wanted[0 if task.grid_charge else 1], wanted[1], wanted[2 if task.export else 1]


@compiled("Tuple((f8[::1], f8[::1], i8, i8))(f8[::1], f8[::1], i8, i8)")
def _centred(slope: Floats, size: Floats, first: int, last: int) -> tuple[Floats, Floats, int, int]:
    """The list, equal slopes as one, nothing empty, in the middle of arrays four times its length or more."""
    place = max(1024, 4 * (last - first + 1))
    at = begin = (place - (last - first + 1)) // 2
    new_slope, new_size = np.empty(place, np.float64), np.empty(place, np.float64)
    for i in range(first, last + 1):
        if size[i] == 0.0:
            continue
        if at > begin and new_slope[at - 1] == slope[i]:
            new_size[at - 1] += size[i]
        else:
            new_slope[at], new_size[at] = slope[i], size[i]
            at += 1
    return new_slope, new_size, begin, at - 1


@compiled(
    "f8[:,::1](f8[::1], f8[::1], f8, f8[::1], f8[::1], f8, f8[::1], f8[::1], f8, f8, b1, b1, f8, f8, f8)"
)
def _sorted_segments(
    buy: Floats,
    sell: Floats,
    wear: float,
    free_kwh: Floats,
    floor_kwh: Floats,
    full_kwh: float,
    most_in_kwh: Floats,
    most_out_kwh: Floats,
    into: float,
    out_of: float,
    grid_charge: bool,
    export: bool,
    least: float,
    most: float,
    end_slope: float,
) -> Floats:
    """Backward in time; segments first .. last, of a slope and a size, lie from `least` to `most`."""
    n = len(free_kwh)
    one, none, every = np.uint64(1), np.uint64(0), np.uint64(0xFFFFFFFFFFFFFFFF)
    m_in = every if len(most_in_kwh) > 1 else none  # place & mask: see ``kit.operate.policy.follow``
    m_out = every if len(most_out_kwh) > 1 else none
    m_low = every if len(floor_kwh) > 1 else none
    wanted = np.empty((3, n), np.float64)
    slope, size = np.empty(1024, np.float64), np.empty(1024, np.float64)
    first = last = 512
    slope[first], size[first] = end_slope, most - least
    longest = 64
    for back in range(n):
        t = np.uint64(n - 1 - back)
        if first < 2 or last + 4 > len(slope) or last - first > longest:
            slope, size, first, last = _centred(slope, size, first, last)
            longest = max(64, 2 * (last - first + 1))
        free = free_kwh[t]
        x1, x2 = max(free, 0.0), min(free, 0.0)
        x0 = max(x1, most_in_kwh[t & m_in]) if grid_charge else x1
        x3 = min(x2, -most_out_kwh[t & m_out]) if export else x2
        # each after equal slopes, so that ties keep energy stored; what it passes makes room for it
        if grid_charge:
            grid, left = -buy[t] / into, least
            at = np.uint64(first)
            stop = np.uint64(last + 1)
            while at < stop and slope[at] <= grid:
                slope[at - one], size[at - one] = slope[at], size[at]
                left += size[at]
                at += one
            slope[at - one], size[at - one] = grid, x0 - x1
            wanted[0, t] = left
            first -= 1
        if export:
            sold, left = -out_of * (sell[t] - wear), most
            at, stop = np.uint64(last), np.uint64(first)
            while at >= stop and slope[at] > sold:
                slope[at + one], size[at + one] = slope[at], size[at]
                left -= size[at]
                at -= one
            slope[at + one], size[at + one] = sold, x2 - x3
            wanted[2, t] = left
            last += 1
        middle, left = -sell[t] / into if free > 0.0 else -out_of * (buy[t] - wear), most + (x2 - x3)
        at, stop = np.uint64(last), np.uint64(first)
        while at >= stop and slope[at] > middle:
            slope[at + one], size[at + one] = slope[at], size[at]
            left -= size[at]
            at -= one
        slope[at + one], size[at + one] = middle, x1 - x2
        wanted[1, t] = min(left, wanted[2, t]) if export else left  # the two slopes may be equal
        last += 1
        # cut to the range allowed at the start of the step
        floor = floor_kwh[(t - one if t > 0 else t) & m_low]
        least, most = least - x0, most - x3
        cut = floor - least
        while first <= last and size[first] <= cut:
            cut -= size[first]
            first += 1
        if first <= last and cut > 0.0:
            size[first] -= cut
        cut = most - full_kwh
        while last >= first and size[last] <= cut:
            cut -= size[last]
            last -= 1
        if last >= first and cut > 0.0:
            size[last] -= cut
        least, most = max(least, floor), min(most, full_kwh)
    return wanted
