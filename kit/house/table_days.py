"""Tables with a row a day: 24, 48 or 96 columns, and a few more for the day of 25 hours."""

from __future__ import annotations

from array import array
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kit.house.local_time import utc_of_local, utc_of_standard
from kit.house.readings import HOUR_S, MeterError, Series, nothing
from kit.house.table_head import POWER, WH_PER
from kit.house.table_time import DAY_S, Day

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.house.table_rows import Rows
    from kit.study.house_models import Meter


class Days:
    """Rows of whole days."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.line, self.day, self.sure = array("q"), array("q"), array("b")
        self.flow: list[str] = []
        self.values: list[NDArray[np.float64]] = []
        self.total: list[float] = []
        self.slot_h = 1.0
        self.missing_count = 0

    def __bool__(self) -> bool:
        return bool(self.line)

    def take(
        self, line: int, day: Day, values: list[float], flow: str, slot_h: float, total: float | None
    ) -> None:
        """One row."""
        self.line.append(line)
        self.day.append(day.year * 10_000 + day.month * 100 + day.day)
        self.sure.append(day.sure)
        self.values.append(np.array(values))
        self.flow.append(flow)
        self.total.append(float("nan") if total is None else total)
        self.slot_h = slot_h

    def unlike_totals(self, unit: str) -> list[str]:
        """A problem where the rows' own totals say that the values are not what they are called."""
        total = np.array(self.total)
        sums = np.array([np.nansum(v) for v in self.values])
        given = np.isfinite(total) & (sums > 0)
        if not given.any():
            return []
        ratio = float(np.median(total[given] / sums[given]))
        want = self.slot_h if unit in POWER else 1.0
        if abs(ratio / want - 1) < 0.02:
            return []
        why = "they are power in kW, not energy" if abs(ratio / self.slot_h - 1) < 0.02 else "one is wrong"
        return [f"its daily totals are {ratio:.2f} times the sum of a day's values read as {unit}: {why}"]


def local_days(
    packed: array[int], sure: array[int], line: array[int], meter: Meter, path: Path
) -> NDArray[np.int64]:
    """Days since 1970-01-01 of packed year, month, day; the order of day and month found or refused."""
    dates = np.array(packed, dtype=np.int64)
    year, first, second = dates // 10_000, dates // 100 % 100, dates % 100
    open_ = np.array(sure) == 0
    swap = np.zeros(dates.shape, dtype=bool)
    if open_.any():
        order = meter.date_order
        if order is None:
            day_first = bool((first[open_] > 12).any())
            if not day_first and not (second[open_] > 12).any():
                a, b = int(first[open_][0]), int(second[open_][0])
                why = f"day and month cannot be told apart, as in {a}/{b}"
                raise MeterError(path, f"{why}; say date_order: month_first (or day_first)")
            order = "day_first" if day_first else "month_first"
        swap = open_ & (order == "day_first")
    month, day = np.where(swap, second, first), np.where(swap, first, second)
    months = (year - 1970) * 12 + month - 1
    start = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    wrong = (month > 12) | (
        (start + day - 1).astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) != months
    )
    if wrong.any():
        place = int(np.flatnonzero(wrong)[0])
        raise MeterError(
            path, f"line {line[place]}: there is no such date: month {month[place]}, day {day[place]}"
        )
    return np.asarray(start + day - 1)


def day_series(rows: Rows, time_zone: str | None) -> tuple[Series, Series, list[str]]:
    """(taken, sent, notes) of rows of whole days, times in UTC.

    A day's values stand by the local clock, from midnight: on the day of 23 hours the hour that
    is skipped is empty. Where the values fill the day's true length from its first column on
    (46 or 50 half-hours), they are in order of time instead.

    Raises:
        MeterError: a value in an hour that never comes; no time zone.
    """
    days, slot_s = rows.days, round(rows.days.slot_h * HOUR_S)
    if time_zone is None:
        raise MeterError(rows.path, "its times have no offset from UTC: say the time zone (--time-zone)")
    scale = WH_PER[rows.unit] * (days.slot_h if rows.unit in POWER else 1.0)
    starts = local_days(days.day, days.sure, days.line, rows.meter, rows.path) * DAY_S
    parts: dict[str, list[tuple[NDArray[np.int64], NDArray[np.float64]]]] = {"taken": [], "sent": []}
    for place, (start, values) in enumerate(zip(starts.tolist(), days.values, strict=True)):
        utc_s, read = _day(rows, place, start, values, slot_s, time_zone)
        wh = values[read] * scale
        if days.flow[place] == "net":
            parts["taken"].append((utc_s, np.maximum(wh, 0.0)))
            parts["sent"].append((utc_s, np.maximum(-wh, 0.0)))
        else:
            parts[days.flow[place]].append((utc_s, wh))
    notes = [f"a row a day, {round(DAY_S / slot_s)} values of {slot_s / 60:g} min"]
    return _series(parts["taken"], slot_s), _series(parts["sent"], slot_s), notes


def _series(parts: list[tuple[NDArray[np.int64], NDArray[np.float64]]], slot_s: int) -> Series:
    if not parts:
        return nothing()
    start_s = np.concatenate([s for s, _ in parts])
    energy_wh = np.concatenate([e for _, e in parts])
    return Series(start_s, np.full(start_s.shape, slot_s), energy_wh, np.full(start_s.shape, np.nan))


def _day(
    rows: Rows, place: int, start: int, values: NDArray[np.float64], slot_s: int, time_zone: str
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """(start in UTC, column) of the values of one day that count."""
    usual = DAY_S // slot_s
    filled = np.flatnonzero(np.isfinite(values))
    clock_s = start + np.arange(values.size, dtype=np.int64) * slot_s
    if rows.meter.times == "standard_time":
        rows.days.missing_count += usual - filled.size
        return utc_of_standard(clock_s[filled], time_zone), filled
    midnights, _ = utc_of_local(np.array([start, start + DAY_S]), time_zone)
    true_count = int(midnights[1] - midnights[0]) // slot_s
    if filled.size == true_count and filled.size == (filled[-1] + 1 if filled.size else 0):
        return midnights[0] + filled * slot_s, filled  # in order of time, the day's true length
    utc_s, never = utc_of_local(clock_s[:usual], time_zone)
    beyond = filled[filled >= usual]
    wrong = [int(k) for k in filled[filled < usual] if never[k] and values[k] != 0] + beyond.tolist()
    if wrong:
        hour = wrong[0] * slot_s / HOUR_S
        raise MeterError(
            rows.path,
            f"line {rows.days.line[place]}: a value at {hour:g} h, which that day does not have on the clock "
            f"of {time_zone}; if the meter keeps standard time all year, say times: standard_time",
        )
    counts = filled[~never[filled]]
    rows.days.missing_count += int(np.count_nonzero(~never)) - counts.size
    return utc_s[counts], counts
