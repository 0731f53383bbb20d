"""Interval energy from a utility's table: columns start and kwh, or start and kw."""

from __future__ import annotations

import csv
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from kit.house.readings import MeterError, Readings, in_order


def read_meter_csv(path: Path, time_zone: str) -> Readings:
    """Energy of each interval, in order of time [Wh].

    Times are ISO 8601, the start of the interval; with an offset they are taken as they stand,
    without one they are on the local clock of `time_zone`: of two equal times in the hour that
    comes twice, the first in the file is the earlier. Column kwh is energy, column kw the mean power.

    Raises:
        MeterError: unreadable file, missing columns, a bad time or number, with its line.
    """
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = list(csv.reader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise MeterError(path, f"cannot be read: {error}") from None
    when, what, per_h = _columns(path, rows[0] if rows else [])
    zone = ZoneInfo(time_zone)
    seen: set[datetime] = set()
    starts: list[int] = []
    values: list[float] = []
    for line, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        cells = [*row, *[""] * (max(when, what) + 1 - len(row))]
        moment = _time(path, line, cells[when])
        starts.append(_seconds(path, line, moment, zone, again=moment in seen))
        values.append(_value(path, line, cells[what]))
        seen.add(moment)
    if len({moment.tzinfo is None for moment in seen}) > 1:
        raise MeterError(path, "some times have an offset from UTC and some have none")
    start_s, value = np.array(starts, dtype=np.int64), np.array(values, dtype=np.float64)
    interval_s = _interval_s(start_s)
    energy_wh = value * 1000.0 * (interval_s / 3600.0 if per_h else 1.0)
    lengths = np.full(start_s.shape, interval_s, dtype=np.int64)
    read = np.isfinite(value)
    left_out = int(np.count_nonzero(~read))
    return in_order(Readings(start_s[read], lengths[read], energy_wh[read], left_out_count=left_out))


def _columns(path: Path, head: list[str]) -> tuple[int, int, bool]:
    """Places of the time and of the value, and whether the value is power."""
    names = [name.strip().lower() for name in head]
    given = [name for name in ("kwh", "kw") if name in names]
    if "start" not in names or len(given) != 1:
        raise MeterError(path, f"line 1: needs columns start and kwh (or kw), got {', '.join(names)}")
    return names.index("start"), names.index(given[0]), given[0] == "kw"


def _time(path: Path, line: int, text: str) -> datetime:
    try:
        return datetime.fromisoformat(text.strip())
    except ValueError:
        raise MeterError(path, f"line {line}: {text!r} is no ISO time such as 2025-01-31T17:00") from None


def _value(path: Path, line: int, text: str) -> float:
    """The number of a cell; nan for an empty one."""
    if not text.strip():
        return float("nan")
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        raise MeterError(path, f"line {line}: {text!r} is not a number")
    return value


def _seconds(path: Path, line: int, moment: datetime, zone: ZoneInfo, again: bool) -> int:
    """Seconds since 1970-01-01 UTC; `again` marks the second of two equal local times."""
    if moment.tzinfo is None:
        local = moment.replace(tzinfo=zone, fold=int(again))
        if local.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != moment:
            raise MeterError(path, f"line {line}: {moment} does not exist on the clock of {zone.key}")
        moment = local
    return int(moment.timestamp())


def _interval_s(start_s: NDArray[np.int64]) -> int:
    """The usual distance between readings [s]; an hour for a single one."""
    steps = np.diff(np.unique(start_s))
    if not steps.size:
        return 3600
    lengths, counts = np.unique(steps, return_counts=True)
    return int(lengths[np.argmax(counts)])
