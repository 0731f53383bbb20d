"""What a meter file holds, before it is laid on a study year, and what makes it unusable."""

from __future__ import annotations

from dataclasses import dataclass, field
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
class Readings:
    """Interval energy in order of time; arrays have one entry a reading.

    Attributes:
        start_s: start of each reading, seconds since 1970-01-01 UTC.
        length_s: length of each reading [s].
        energy_wh: energy taken from the grid in each reading [Wh].
        clock: the meter's own local clock, where the file gives one.
        left_out_count: readings without a value, or of energy sent to the grid.
        reverse_count: of these, readings of energy sent to the grid.
        problems: reasons not to use the readings found while reading.
    """

    start_s: NDArray[np.int64]
    length_s: NDArray[np.int64]
    energy_wh: NDArray[np.float64]
    clock: MeterClock | None = None
    left_out_count: int = 0
    reverse_count: int = 0
    problems: list[str] = field(default_factory=list)

    @property
    def interval_s(self) -> int:
        """The usual length of a reading [s]."""
        lengths, counts = np.unique(self.length_s, return_counts=True)
        return int(lengths[np.argmax(counts)])

    @property
    def end_s(self) -> int:
        """End of the last reading, seconds since 1970-01-01 UTC."""
        return int(self.start_s[-1] + self.length_s[-1])

    def gaps_s(self) -> NDArray[np.int64]:
        """Length of each gap between the first and the last reading [s]."""
        silence = self.start_s[1:] - (self.start_s[:-1] + self.length_s[:-1])
        return np.asarray(silence[silence > 0])

    def zero_runs_s(self) -> NDArray[np.int64]:
        """Length of each unbroken run of zero readings [s]."""
        edges = np.diff(np.concatenate(([0], (self.energy_wh == 0).astype(np.int64), [0])))
        first, past = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
        return np.asarray(self.start_s[past - 1] + self.length_s[past - 1] - self.start_s[first])


def in_order(readings: Readings) -> Readings:
    """The same readings sorted by their start."""
    order = np.argsort(readings.start_s, kind="stable")
    return Readings(
        readings.start_s[order],
        readings.length_s[order],
        readings.energy_wh[order],
        readings.clock,
        readings.left_out_count,
        readings.reverse_count,
        readings.problems,
    )


def usable(readings: Readings, path: Path) -> Readings:
    """The readings, if an hourly study can use them.

    Raises:
        MeterError: naming every reason at once.
    """
    reasons = list(readings.problems)
    if readings.start_s.size:
        reasons += _series_problems(readings) + _length_problems(readings)
    elif not reasons:
        reasons.append("no interval readings of electricity in it")
    if reasons:
        raise MeterError(path, reasons)
    return readings


def _series_problems(readings: Readings) -> list[str]:
    reasons = []
    repeated = int(readings.start_s.size - np.unique(readings.start_s).size)
    if repeated:
        reasons.append(f"{repeated} duplicates: readings that start at a time already taken")
    elif np.any(readings.start_s[1:] < readings.start_s[:-1] + readings.length_s[:-1]):
        reasons.append("readings overlap in time, as two series in one file do; keep one")
    if negative := int(np.count_nonzero(readings.energy_wh < 0)):
        reasons.append(f"{negative} negative readings; energy taken from the grid is never below zero")
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
