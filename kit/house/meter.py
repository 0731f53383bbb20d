"""A meter file laid on the study year, with everything that was done to it said.

A span that holds the whole study year is used as it stands. Any other span is mapped day by
day on the local clock: the k-th Tuesday of June takes the k-th Tuesday of June that was metered,
so that a real day's peaks stay whole. Missing steps take the mean of the same local hour on
comparable days: same month, and weekdays for weekdays, weekends for weekends.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from kit.house.green_button import read_green_button
from kit.house.meter_csv import read_meter_csv
from kit.house.readings import HOUR_S, MeterError, Readings, usable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.house_models import Meter

DAY_S = 24 * HOUR_S


@dataclass(frozen=True)
class MeterReport:
    """What a meter file holds and what was done with it; energies after `multiply_by`.

    energy_kwh is of the whole file, year_kwh of the study year after mapping and filling (0 where
    no year is laid on it). first_start and last_end are ISO times on the meter's local clock.
    peak_kw is the highest mean over a step (over a reading where no year is laid on it).
    `mapped` is true where the span is not the study year; filled_h counts the hours of the study
    year that were filled.
    """

    file: str
    reading_count: int
    interval_min: float
    first_start: str
    last_end: str
    energy_kwh: float
    lowest_reading_wh: float
    highest_reading_wh: float
    mean_kw: float
    peak_kw: float
    gap_count: int
    gap_h: float
    coverage_frac: float
    zero_reading_count: int
    zero_run_count: int
    longest_zero_run_h: float
    left_out_count: int
    reverse_count: int
    multiply_by: float = 1.0
    mapped: bool = False
    other_clock: bool = False
    filled_h: float = 0.0
    year_kwh: float = 0.0

    @property
    def peak_to_mean(self) -> float:
        """Highest over mean power; 0 for a meter that read nothing but zeros."""
        return self.peak_kw / self.mean_kw if self.mean_kw > 0 else 0.0


def read_readings(path: Path | str, time_zone: str) -> Readings:
    """The usable readings of a Green Button (.xml) or table (.csv) file.

    Raises:
        MeterError: see `usable`; also a file that is neither, or is missing.
    """
    path = Path(path)
    try:
        state = path.stat()
    except OSError:
        raise MeterError(path, "there is no such file") from None
    return _read_once(path, time_zone, state.st_mtime_ns, state.st_size)


@lru_cache(maxsize=4)
def _read_once(path: Path, time_zone: str, _changed_ns: int, _size: int) -> Readings:
    if path.suffix.lower() == ".csv":
        return usable(read_meter_csv(path, time_zone), path)
    if path.suffix.lower() == ".xml":
        return usable(read_green_button(path), path)
    raise MeterError(path, f"a meter file ends in .xml (Green Button) or .csv, not in {path.suffix!r}")


def describe_meter(path: Path | str, time_zone: str) -> MeterReport:
    """What a meter file holds, no study year laid on it.

    Raises:
        MeterError: see `read_readings`.
    """
    readings = read_readings(path, time_zone)
    energy_wh, hours = readings.energy_wh, readings.length_s / HOUR_S
    span_h = (readings.end_s - int(readings.start_s[0])) / HOUR_S
    gaps, zero_runs = readings.gaps_s(), readings.zero_runs_s()
    return MeterReport(
        file=Path(path).name,
        reading_count=readings.start_s.size,
        interval_min=readings.interval_s / 60,
        first_start=_iso(int(readings.start_s[0]), readings, time_zone),
        last_end=_iso(readings.end_s, readings, time_zone),
        energy_kwh=float(energy_wh.sum()) / 1000,
        lowest_reading_wh=float(energy_wh.min()),
        highest_reading_wh=float(energy_wh.max()),
        mean_kw=float(energy_wh.sum() / hours.sum()) / 1000,
        peak_kw=float((energy_wh / hours).max()) / 1000,
        gap_count=gaps.size,
        gap_h=float(gaps.sum()) / HOUR_S,
        coverage_frac=float(hours.sum()) / span_h,
        zero_reading_count=int(np.count_nonzero(energy_wh == 0)),
        zero_run_count=zero_runs.size,
        longest_zero_run_h=float(zero_runs.max(initial=0)) / HOUR_S,
        left_out_count=readings.left_out_count,
        reverse_count=readings.reverse_count,
        other_clock=_other_clock(readings, time_zone),
    )


def read_meter(meter: Meter, year: Year) -> tuple[NDArray[np.float64], MeterReport]:
    """(load_kw, report): the metered load of every step of the study year, shape (n,), and its story.

    Raises:
        MeterError: see `read_readings`; also readings coarser than the step, readings that do
            not start on a step, a month of the year with no readings.
    """
    time_zone = str(year.index.tz)
    readings = read_readings(meter.file, time_zone)
    report = describe_meter(meter.file, time_zone)
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


def _other_clock(readings: Readings, time_zone: str) -> bool:
    """Whether the meter's local clock is not the house's: then it metered another place."""
    if readings.clock is None:
        return False
    zone = ZoneInfo(time_zone)
    sample = readings.start_s[np.linspace(0, readings.start_s.size - 1, 25).astype(np.int64)]
    house_s = [
        int(utc_s + (datetime.fromtimestamp(utc_s, zone).utcoffset() or timedelta()).total_seconds())
        for utc_s in sample.tolist()
    ]
    return readings.clock.local_s(sample).tolist() != house_s


def _iso(utc_s: int, readings: Readings, time_zone: str) -> str:
    """A time on the meter's local clock, as ISO text to the minute."""
    if _other_clock(readings, time_zone) and readings.clock is not None:
        local = int(readings.clock.local_s(np.array([utc_s]))[0])
        return datetime.fromtimestamp(local, UTC).strftime("%Y-%m-%dT%H:%M")
    return datetime.fromtimestamp(utc_s, ZoneInfo(time_zone)).strftime("%Y-%m-%dT%H:%M")


def _local_s(readings: Readings, year: Year) -> NDArray[np.int64]:
    """Start of each reading on the meter's local clock [s]."""
    import pandas as pd

    time_zone = str(year.index.tz)
    if _other_clock(readings, time_zone) and readings.clock is not None:
        return readings.clock.local_s(readings.start_s)
    utc = pd.to_datetime(readings.start_s, unit="s", utc=True)
    return utc.tz_convert(time_zone).tz_localize(None).as_unit("s").asi8


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
    local_s = _local_s(readings, year)
    _check_starts(local_s, readings.interval_s, path)
    days, row = np.unique(local_s // DAY_S, return_inverse=True)
    cell = row * slots + local_s % DAY_S // step_s
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
