"""Local times of meter files: the hour that comes twice, the one that never comes, standard time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

SLOT_S = 900  # clocks of the time zone database change on a quarter of an hour
EPOCH = datetime(1970, 1, 1)


def utc_of_local(
    local_s: NDArray[np.int64], time_zone: str, later: NDArray[np.int8] | None = None
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """(seconds of UTC, whether the clock skips that time) of local clock times in file order.

    Of two equal times in the hour that comes twice, the first in the file is the earlier; in a
    file that runs backwards, the last.

    Args:
        local_s: seconds since 1970-01-01 00:00 on the local clock, shape (n,).
        time_zone: a name of the time zone database.
        later: 1 where the file says it is the later of two (standard time), 0 the earlier, -1 not
            said; None where it never says.
    """
    slots, row = np.unique(local_s // SLOT_S, return_inverse=True)
    offsets = np.array([_offsets_s(int(slot), time_zone) for slot in slots.tolist()], dtype=np.int64)
    first_s, second_s = offsets.reshape(-1, 2)[row].T
    twice, never = first_s > second_s, first_s < second_s
    fold = np.zeros(local_s.shape, dtype=np.int64)
    if twice.any():
        backwards = local_s.size > 1 and float(np.median(np.sign(np.diff(local_s)))) < 0
        fold[twice] = _turn(local_s[twice], backwards) % 2
        if later is not None:
            fold = np.where(twice & (later >= 0), later, fold)
    return np.asarray(local_s - np.where(fold == 1, second_s, first_s)), np.asarray(never)


def utc_of_standard(local_s: NDArray[np.int64], time_zone: str) -> NDArray[np.int64]:
    """Seconds of UTC of times on a clock that keeps standard time all year."""
    years, row = np.unique(
        local_s.astype("datetime64[s]").astype("datetime64[Y]").astype(np.int64), return_inverse=True
    )
    zone = ZoneInfo(time_zone)
    lowest = [
        min(datetime(1970 + y, month, 1, tzinfo=zone).utcoffset() or timedelta() for month in (1, 7))
        for y in years.tolist()
    ]
    return np.asarray(local_s - np.array([low.total_seconds() for low in lowest], dtype=np.int64)[row])


@lru_cache(maxsize=200_000)
def _offsets_s(slot: int, time_zone: str) -> tuple[int, int]:
    """Offset from UTC at a local quarter of an hour, for the earlier and the later reading of it."""
    moment = (EPOCH + timedelta(seconds=slot * SLOT_S)).replace(tzinfo=ZoneInfo(time_zone))
    both = (moment.utcoffset(), moment.replace(fold=1).utcoffset())
    return tuple(int((o or timedelta()).total_seconds()) for o in both)  # type: ignore[return-value]


def _turn(local_s: NDArray[np.int64], backwards: bool) -> NDArray[np.int64]:
    """How many equal times stand before each; after each, in a file that runs backwards."""
    times = local_s[::-1] if backwards else local_s
    order = np.argsort(times, kind="stable")
    sorted_s = times[order]
    fresh = np.concatenate(([True], sorted_s[1:] != sorted_s[:-1]))
    place = np.arange(times.size)
    turn = np.empty(times.size, dtype=np.int64)
    turn[order] = place - np.maximum.accumulate(np.where(fresh, place, 0))
    return turn[::-1] if backwards else turn


def offset_s(utc_s: int, time_zone: str) -> int:
    """Offset from UTC at a moment [s], east is positive."""
    here = datetime.fromtimestamp(utc_s, ZoneInfo(time_zone)).utcoffset()
    return int((here or timedelta()).total_seconds())


@lru_cache(maxsize=64)
def clock_changes(time_zone: str, year: int) -> tuple[tuple[int, int, int], ...]:
    """(moment in seconds of UTC, offset before, offset after) of each change of the clock in a year."""
    days = [int(datetime(year, 1, 1, tzinfo=UTC).timestamp()) + 86400 * k for k in range(367)]
    changes = []
    for low, high in pairwise(days):
        before, after = offset_s(low, time_zone), offset_s(high, time_zone)
        if before == after:
            continue
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if offset_s(middle, time_zone) == before else (low, middle)
        changes.append((high, before, after))
    return tuple(changes)


def written_as_local(start_s: NDArray[np.int64], interval_s: int, time_zone: str) -> list[str]:
    """Signs that seconds called UTC are local clock times: hours missing or doubled where clocks change."""
    if not start_s.size:
        return []
    years = [datetime.fromtimestamp(int(s), UTC).year for s in (start_s.min(), start_s.max())]
    signs = []
    starts = np.sort(start_s)
    for year in range(years[0], years[1] + 1):
        for moment, before, after in clock_changes(time_zone, year):
            low, high = sorted((moment + before, moment + after))
            first, past = np.searchsorted(starts, (low, high)).tolist()
            around = {low - interval_s, high} <= set(starts[max(first - 8, 0) : past + 8].tolist())
            day = datetime.fromtimestamp(low, UTC).strftime("%Y-%m-%d %H:%M")
            if after > before and around and first == past:
                signs.append(f"nothing is read at {day}, the hour that the local clock skips")
            elif after < before and past > first and _all_twice(starts[first:past]):
                signs.append(f"{day} is read twice, as the local clock shows it twice")
    return signs


def _all_twice(sorted_s: NDArray[np.int64]) -> bool:
    return sorted_s.size % 2 == 0 and bool(np.all(sorted_s[::2] == sorted_s[1::2]))
