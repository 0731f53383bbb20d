"""What a meter file holds, before it is laid on a study year, and what makes it unusable."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from kit.house.meter_clock import MeterClock

HOUR_S = 3600
SHORTEST_DAY_S = 23 * HOUR_S


class MeterError(ValueError):
    """A meter file that cannot be used; one line with the file and every reason."""

    def __init__(self, path: Path | str, reasons: list[str] | str) -> None:
        text = reasons if isinstance(reasons, str) else "; ".join(reasons)
        super().__init__(f"{path}: {text}")


@dataclass(frozen=True, eq=False)
class Series:
    """Energy of one direction; arrays have one entry a reading.

    Attributes:
        start_s: start of each reading, seconds since 1970-01-01 UTC.
        length_s: length of each reading [s].
        energy_wh: energy in each reading [Wh].
        cost_usd: what it cost, in the file's currency; nan where the file does not say.
    """

    start_s: NDArray[np.int64]
    length_s: NDArray[np.int64]
    energy_wh: NDArray[np.float64]
    cost_usd: NDArray[np.float64]

    def kept(self, which: NDArray[np.bool_] | NDArray[np.int64]) -> Series:
        """The readings of a mask or an order."""
        return Series(self.start_s[which], self.length_s[which], self.energy_wh[which], self.cost_usd[which])


def nothing() -> Series:
    """A series without a reading."""
    none = np.zeros(0, dtype=np.int64)
    return Series(none, none, np.zeros(0), np.zeros(0))


@dataclass(frozen=True, eq=False)
class Readings:
    """The interval energy of one meter, each direction in order of time.

    Attributes:
        taken, sent: energy from the grid and to it; `sent` is empty where the file has none.
        clock: the meter's own local clock, where the file gives one.
        currency: of the costs, '' where the file does not say.
        left_out_count: readings without a value.
        duplicate_count: readings dropped because an equal one was there already.
        other_count: readings of other things (registers, demand, volts, daily sums) left out.
        unit_known: false where the values are kept only to tell what is wrong with them.
        notes: what was understood that a reader may want to know.
        problems: reasons not to use the readings found while reading.
    """

    taken: Series
    sent: Series = field(default_factory=nothing)
    clock: MeterClock | None = None
    currency: str = ""
    left_out_count: int = 0
    duplicate_count: int = 0
    other_count: int = 0
    unit_known: bool = True
    notes: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def start_s(self) -> NDArray[np.int64]:
        """Start of each reading from the grid, seconds since 1970-01-01 UTC."""
        return self.taken.start_s

    @property
    def length_s(self) -> NDArray[np.int64]:
        """Length of each reading from the grid [s]."""
        return self.taken.length_s

    @property
    def energy_wh(self) -> NDArray[np.float64]:
        """Energy from the grid in each reading [Wh]."""
        return self.taken.energy_wh

    @property
    def interval_s(self) -> int:
        """The usual length of a reading [s]."""
        lengths, counts = np.unique(self.length_s, return_counts=True)
        return int(lengths[np.argmax(counts)])

    @property
    def end_s(self) -> int:
        """End of the last reading, seconds since 1970-01-01 UTC."""
        return int(self.start_s[-1] + self.length_s[-1])

    def gaps(self) -> list[tuple[int, int]]:
        """(start, length) of each gap between the first and the last reading [s]."""
        ends = self.start_s[:-1] + self.length_s[:-1]
        silence = self.start_s[1:] - ends
        return [(int(ends[i]), int(silence[i])) for i in np.flatnonzero(silence > 0)]

    def zero_runs_s(self) -> NDArray[np.int64]:
        """Length of each unbroken run of zero readings [s]."""
        edges = np.diff(np.concatenate(([0], (self.energy_wh == 0).astype(np.int64), [0])))
        first, past = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
        return np.asarray(self.start_s[past - 1] + self.length_s[past - 1] - self.start_s[first])


def in_order(series: Series) -> tuple[Series, int, str]:
    """(series by time without equal duplicates, how many were dropped, problem or '').

    Two readings are equal if they have start, length and energy in common. Others at a time
    already taken contradict it; which of them is right nobody can tell.
    """
    series = series.kept(np.lexsort((series.energy_wh, series.length_s, series.start_s)))
    start_s, length_s, energy_wh = series.start_s, series.length_s, series.energy_wh
    again = start_s[1:] == start_s[:-1]
    equal = again & (length_s[1:] == length_s[:-1]) & (energy_wh[1:] == energy_wh[:-1])
    dropped = int(np.count_nonzero(equal))
    problem = ""
    if against := int(np.count_nonzero(again)) - dropped:
        first = utc_text(int(start_s[1:][again & ~equal][0]))
        problem = (
            f"{against} duplicates that contradict each other: readings of another length or value "
            f"at a time already taken, the first at {first}"
        )
    keep = np.concatenate((np.ones(min(start_s.size, 1), dtype=bool), ~equal))
    return series.kept(keep), dropped, problem


def utc_text(second: int) -> str:
    """Seconds since 1970-01-01 UTC as ISO text."""
    return datetime.fromtimestamp(second, UTC).strftime("%Y-%m-%dT%H:%MZ")


def usable(readings: Readings, path: Path | str) -> Readings:
    """The readings, if an hourly study can use them.

    Raises:
        MeterError: naming every reason at once.
    """
    if reasons := study_problems(readings):
        raise MeterError(path, reasons)
    return readings


def study_problems(readings: Readings) -> list[str]:
    """Every reason why an hourly study cannot use the readings; none if it can."""
    reasons = list(readings.problems)
    if readings.start_s.size:
        reasons += _series_problems(readings.taken, "") + _length_problems(readings)
        reasons += _series_problems(readings.sent, " of energy sent to the grid")
    elif not reasons:
        reasons.append("no interval readings of electricity in it")
    return reasons


def _series_problems(series: Series, which: str) -> list[str]:
    reasons = []
    start_s, end_s = series.start_s, series.start_s + series.length_s
    if np.any((start_s[1:] < end_s[:-1]) & (start_s[1:] != start_s[:-1])):
        reasons.append(f"readings{which} overlap in time, as two series in one file do; keep one")
    if negative := int(np.count_nonzero(series.energy_wh < 0)):
        reasons.append(
            f"{negative} negative readings{which}; energy of one direction is never below zero "
            "(a column of net energy says so in its name, or by flow direction 4)"
        )
    return reasons


def _length_problems(readings: Readings) -> list[str]:
    interval_s = readings.interval_s
    if interval_s >= SHORTEST_DAY_S:
        what = "daily" if interval_s <= 25 * HOUR_S else f"for {interval_s / 86400:g} days each"
        return [f"values are {what}: too coarse, hourly readings or finer are needed"]
    if interval_s <= 0 or HOUR_S % interval_s:
        return [f"readings last {interval_s / 60:g} min, which does not divide an hour"]
    if odd := int(np.count_nonzero(readings.length_s != interval_s)):
        return [f"{odd} readings do not last {interval_s / 60:g} min as the others do"]
    return []
