"""Interval energy from a utility's table: columns start and kwh, or start and kw."""

from __future__ import annotations

import csv
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kit.house.readings import MeterError, Readings, in_order

if TYPE_CHECKING:
    from numpy.typing import NDArray


def read_meter_csv(path: Path, time_zone: str) -> Readings:
    """Energy of each interval, in order of time [Wh].

    Times are ISO 8601, the start of the interval; with an offset they are taken as they stand,
    without one they are on the local clock of `time_zone`, in order of time, so the hour that
    comes twice is told apart by its place. Column kwh is energy, column kw the mean power.

    Raises:
        MeterError: unreadable file, missing columns, a bad time or number, with its line.
    """
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = list(csv.reader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise MeterError(path, f"cannot be read: {error}") from None
    when, what, per_h = _columns(path, rows[0] if rows else [])
    times: list[datetime] = []
    values: list[float] = []
    left_out = 0
    for line, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        cells = [*row, *[""] * (max(when, what) + 1 - len(row))]
        moment = _time(path, line, cells[when])
        if not cells[what].strip():
            left_out += 1
            continue
        times.append(moment)
        values.append(_value(path, line, cells[what]))
    start_s = _seconds(path, times, time_zone)
    interval_s = _interval_s(start_s)
    energy_wh = np.array(values) * 1000.0 * (interval_s / 3600.0 if per_h else 1.0)
    lengths = np.full(start_s.shape, interval_s, dtype=np.int64)
    return in_order(Readings(start_s, lengths, energy_wh, left_out_count=left_out))


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
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        raise MeterError(path, f"line {line}: {text!r} is not a number")
    return value


def _seconds(path: Path, times: list[datetime], time_zone: str) -> NDArray[np.int64]:
    """Seconds since 1970-01-01 UTC."""
    import pandas as pd

    aware = sum(moment.tzinfo is not None for moment in times)
    if 0 < aware < len(times):
        raise MeterError(path, "some times have an offset from UTC and some have none")
    try:
        if aware:
            index = pd.DatetimeIndex(pd.to_datetime(times, utc=True))
        else:
            index = pd.DatetimeIndex(times).tz_localize(time_zone, ambiguous="infer", nonexistent="raise")
    except ValueError as error:
        reason = str(error).splitlines()[0]
        raise MeterError(path, f"a time does not fit the clock of {time_zone}: {reason}") from None
    return index.as_unit("s").asi8


def _interval_s(start_s: NDArray[np.int64]) -> int:
    """The usual distance between readings [s]; an hour for a single one."""
    steps = np.diff(np.unique(start_s))
    if not steps.size:
        return 3600
    lengths, counts = np.unique(steps, return_counts=True)
    return int(lengths[np.argmax(counts)])
