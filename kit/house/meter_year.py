"""Readings laid on the study year, with everything that was done to them said.

A span that holds the whole study year is used as it stands. Any other span is mapped day by
day on the local clock: the k-th Tuesday of June takes the k-th Tuesday of June that was metered,
so that a real day's peaks stay whole. Missing steps take the mean of the same local hour on
comparable days: same month, and weekdays for weekdays, weekends for weekends.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kit.house.meter import MeterReport, describe_meter, local_s, read_readings
from kit.house.readings import HOUR_S, MeterError, Readings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.house_models import Meter

DAY_S = 24 * HOUR_S


def read_meter(meter: Meter, year: Year) -> tuple[NDArray[np.float64], MeterReport]:
    """(load_kw, report): the metered load of every step of the study year, shape (n,), and its story.

    Raises:
        MeterError: see `read_readings`; also readings coarser than the step, readings that do
            not start on a step, a month of the year with no readings.
    """
    time_zone = str(year.index.tz)
    readings = read_readings(meter, time_zone)
    report = describe_meter(meter, time_zone)
    if report.interval_min > year.step_h * 60:
        raise MeterError(
            meter.file,
            f"readings last {report.interval_min:g} min, coarser than the study's step of "
            f"{year.step_h * 60:g} min; set house.step_min to {report.interval_min:g} or more",
        )
    first_s, past_s = _bounds_s(year)
    covers = int(readings.start_s[0]) <= first_s and readings.end_s >= past_s
    mapped = report.other_clock or not covers
    lay = _by_day if mapped else _as_it_stands
    load_kw, missing = lay(readings, year, Path(meter.file))
    load_kw = load_kw * meter.multiply_by
    return load_kw, replace(
        report,
        energy_kwh=report.energy_kwh * meter.multiply_by,
        export_kwh=report.export_kwh * meter.multiply_by,
        mean_kw=float(load_kw.mean()),
        peak_kw=float(load_kw.max()),
        multiply_by=meter.multiply_by,
        mapped=mapped,
        filled_h=float(missing * year.step_h),
        year_kwh=float(load_kw.sum() * year.step_h),
    )


def _bounds_s(year: Year) -> tuple[int, int]:
    """Start and end of the study year, seconds since 1970-01-01 UTC."""
    first_s = int(year.index[0].timestamp())
    return first_s, first_s + round(year.n * year.step_h * HOUR_S)


def _check_starts(since_s: NDArray[np.int64], interval_s: int, path: Path) -> None:
    if np.any(since_s % interval_s):
        late_s = int((since_s % interval_s).max())
        raise MeterError(path, f"readings start {late_s / 60:g} min past a whole interval, not on it")


def _as_it_stands(readings: Readings, year: Year, path: Path) -> tuple[NDArray[np.float64], int]:
    """(load [kW], steps filled) from a span that holds the whole study year."""
    step_s = round(year.step_h * HOUR_S)
    since_s = readings.start_s - _bounds_s(year)[0]
    _check_starts(since_s, readings.interval_s, path)
    inside = (since_s >= 0) & (since_s < year.n * step_s)
    step = since_s[inside] // step_s
    energy_wh = np.bincount(step, weights=readings.energy_wh[inside], minlength=year.n)
    count = np.bincount(step, minlength=year.n)
    load_kw = energy_wh / 1000 / year.step_h
    load_kw[count != step_s // readings.interval_s] = np.nan
    slots = round(24 / year.step_h)
    slot = np.floor(year.hour / year.step_h).astype(np.int64)
    class_ = year.month * 2 + year.is_weekend
    missing = np.isnan(load_kw)
    _fill(load_kw, class_ * slots + slot, year.month * slots + slot, path)
    return load_kw, int(missing.sum())


def _by_day(readings: Readings, year: Year, path: Path) -> tuple[NDArray[np.float64], int]:
    """(load [kW], steps filled) from the k-th same weekday of the same month."""
    step_s = round(year.step_h * HOUR_S)
    slots = DAY_S // step_s
    since_midnight_s = local_s(readings, str(year.index.tz))
    _check_starts(since_midnight_s, readings.interval_s, path)
    days, row = np.unique(since_midnight_s // DAY_S, return_inverse=True)
    cell = row * slots + since_midnight_s % DAY_S // step_s
    energy_wh = np.bincount(cell, weights=readings.energy_wh, minlength=days.size * slots)
    count = np.bincount(cell, minlength=days.size * slots)
    need = step_s // readings.interval_s
    times = np.where(count % need == 0, count // need, 0)  # 2 in the hour that comes twice
    cells_kw = np.divide(
        energy_wh / 1000 / year.step_h, times, out=np.full(times.shape, np.nan), where=times > 0
    )
    month, weekday = _month_and_weekday(days)
    filled = np.isnan(cells_kw)
    slot = np.tile(np.arange(slots), days.size)
    by_class = np.repeat(month * 2 + (weekday >= 5), slots) * slots + slot
    _fill(cells_kw, by_class, np.repeat(month, slots) * slots + slot, path)
    well_read = (~filled).reshape(-1, slots).mean(axis=1) >= 0.5
    source = _source_days(month, weekday, well_read, year, path)[year.day_number]
    cell = source * slots + np.floor(year.hour / year.step_h).astype(np.int64)
    return cells_kw[cell], int(filled[cell].sum())


def _month_and_weekday(days: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Month 1 to 12 and weekday (0 Monday) of days since 1970-01-01, a Thursday."""
    month = days.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12 + 1
    return month, (days + 3) % 7


def _source_days(
    month: NDArray[np.int64], weekday: NDArray[np.int64], well_read: NDArray[np.bool_], year: Year, path: Path
) -> NDArray[np.int64]:
    """Row of the metered day that stands for each local day of the study year."""
    _, first = np.unique(year.day_number, return_index=True)
    seen: dict[tuple[int, int], int] = {}
    rows = []
    for key in zip(year.month[first].tolist(), year.weekday[first].tolist(), strict=True):
        turn = seen[key] = seen.get(key, -1) + 1
        of_month = well_read & (month == key[0])
        alike = np.flatnonzero(of_month & (weekday == key[1]))
        if not alike.size:
            alike = np.flatnonzero(of_month & ((weekday >= 5) == (key[1] >= 5)))
        if not alike.size:
            alike = np.flatnonzero(of_month)
        if not alike.size:
            raise MeterError(path, f"no well-read day in month {key[0]}: a study needs all twelve months")
        rows.append(int(alike[turn % alike.size]))
    return np.array(rows, dtype=np.int64)


def _fill(
    load_kw: NDArray[np.float64], by_class: NDArray[np.int64], by_month: NDArray[np.int64], path: Path
) -> None:
    """Put the mean of the first key, then of the second, where load_kw is missing; in place."""
    read = ~np.isnan(load_kw)
    known, value = read.copy(), np.where(read, load_kw, 0.0)
    for key in (by_class, by_month):
        total = np.bincount(key, weights=value * read, minlength=int(key.max()) + 1)
        count = np.bincount(key, weights=read, minlength=int(key.max()) + 1)
        take = ~known & (count[key] > 0)
        load_kw[take] = (total[key] / np.maximum(count[key], 1))[take]
        known |= take
    if not known.all():
        raise MeterError(path, "a gap has no comparable day in its month to be filled from")
