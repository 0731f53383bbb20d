"""What a meter file holds: a Green Button file or a utility's table, read and told in figures."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from kit.house.readings import HOUR_S, MeterError, Readings, study_problems, usable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.study.house_models import Meter


@dataclass(frozen=True)
class MeterReport:
    """What a meter file holds and what was done with it; energies after `multiply_by`.

    energy_kwh (from the grid), export_kwh (to it) and cost_usd (in `currency`; None where the file
    gives none) are of the whole file, year_kwh of the study year after mapping and filling (0 where
    no year is laid on it). first_start and last_end are ISO times on the clock that `clock` names.
    peak_kw is the highest mean over a step (over a reading where no year is laid on it); gaps are
    (local start, hours). `mapped` is true where the span is not the study year; filled_h counts the
    hours of the study year that were filled. `problems`: why a study cannot use the file.
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
    peak_start: str = ""
    clock: str = ""
    export_kwh: float = 0.0
    cost_usd: float | None = None
    currency: str = ""
    duplicate_count: int = 0
    other_count: int = 0
    gaps: tuple[tuple[str, float], ...] = ()
    notes: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()
    multiply_by: float = 1.0
    mapped: bool = False
    other_clock: bool = False
    filled_h: float = 0.0
    year_kwh: float = 0.0

    @property
    def peak_to_mean(self) -> float:
        """Highest over mean power; 0 for a meter that read nothing but zeros."""
        return self.peak_kw / self.mean_kw if self.mean_kw > 0 else 0.0


def read_readings(meter: Meter | Path | str, time_zone: str | None) -> Readings:
    """The usable readings of a Green Button (.xml) or table (.csv) file.

    Args:
        meter: the file, and what it leaves open; a path alone leaves nothing open.
        time_zone: of the house; None where nobody knows it.

    Raises:
        MeterError: see `usable`; also a file that is neither, or is missing.
    """
    return usable(all_readings(meter, time_zone), _block(meter).file)


def all_readings(meter: Meter | Path | str, time_zone: str | None) -> Readings:
    """The readings of a meter file, whether or not a study can use them.

    Raises:
        MeterError: a file that is missing, or cannot be read at all.
    """
    meter = _block(meter)
    try:
        state = Path(meter.file).stat()
    except OSError:
        raise MeterError(meter.file, "there is no such file") from None
    return _read_once(meter, time_zone, state.st_mtime_ns, state.st_size)


def _block(meter: Meter | Path | str) -> Meter:
    from kit.study.house_models import Meter as Block

    return meter if isinstance(meter, Block) else Block(file=str(meter))


@lru_cache(maxsize=4)
def _read_once(meter: Meter, time_zone: str | None, _changed_ns: int, _size: int) -> Readings:
    path = Path(meter.file)
    if meter.times != "as_written" and time_zone is None:
        raise MeterError(path, f"times: {meter.times} needs the house's time zone")
    if path.suffix.lower() == ".xml":
        from kit.house.green_button import read_green_button

        return read_green_button(path, time_zone, meter.times)
    if path.suffix.lower() in (".csv", ".tsv", ".txt"):
        from kit.house.meter_csv import read_meter_csv

        return read_meter_csv(path, time_zone, meter)
    raise MeterError(path, f"a meter file ends in .xml (Green Button) or .csv, not in {path.suffix!r}")


def describe_meter(meter: Meter | Path | str, time_zone: str | None) -> MeterReport:
    """What a meter file holds, no study year laid on it.

    Raises:
        MeterError: see `read_readings`.
    """
    return report_of(read_readings(meter, time_zone), _block(meter), time_zone)


def report_of(readings: Readings, meter: Meter, time_zone: str | None) -> MeterReport:
    """The figures of readings, of which there is at least one."""
    energy_wh, hours = readings.energy_wh, readings.length_s / HOUR_S
    span_h = (readings.end_s - int(readings.start_s[0])) / HOUR_S
    gaps, zero_runs = readings.gaps(), readings.zero_runs_s()
    gap_h = sum(length for _, length in gaps) / HOUR_S
    power_kw = np.divide(energy_wh, hours * 1000, out=np.zeros(hours.shape), where=hours > 0)
    cost = readings.taken.cost_usd
    return MeterReport(
        file=Path(meter.file).name,
        reading_count=readings.start_s.size,
        interval_min=readings.interval_s / 60,
        first_start=_iso(int(readings.start_s[0]), readings, time_zone),
        last_end=_iso(readings.end_s, readings, time_zone),
        energy_kwh=float(energy_wh.sum()) / 1000,
        lowest_reading_wh=float(energy_wh.min()),
        highest_reading_wh=float(energy_wh.max()),
        mean_kw=float(energy_wh.sum() / max(hours.sum(), 1e-9)) / 1000,
        peak_kw=float(power_kw.max()),
        peak_start=_iso(int(readings.start_s[np.argmax(power_kw)]), readings, time_zone),
        clock=_clock_text(readings, time_zone),
        gap_count=len(gaps),
        gap_h=gap_h,
        gaps=tuple((_iso(start, readings, time_zone), length / HOUR_S) for start, length in gaps[:1000]),
        coverage_frac=1.0 - gap_h / span_h if span_h > 0 else 0.0,
        zero_reading_count=int(np.count_nonzero(energy_wh == 0)),
        zero_run_count=zero_runs.size,
        longest_zero_run_h=float(zero_runs.max(initial=0)) / HOUR_S,
        left_out_count=readings.left_out_count,
        reverse_count=readings.sent.start_s.size,
        export_kwh=float(readings.sent.energy_wh.sum()) / 1000,
        cost_usd=float(np.nansum(cost)) if np.isfinite(cost).any() else None,
        currency=readings.currency,
        duplicate_count=readings.duplicate_count,
        other_count=readings.other_count,
        notes=readings.notes,
        problems=tuple(study_problems(readings)),
        other_clock=_other_clock(readings, time_zone),
    )


def _other_clock(readings: Readings, time_zone: str | None) -> bool:
    """Whether the meter's local clock is not the house's: then it metered another place."""
    if readings.clock is None or time_zone is None:
        return False
    zone = ZoneInfo(time_zone)
    sample = readings.start_s[np.linspace(0, readings.start_s.size - 1, 25).astype(np.int64)]
    house_s = [
        int(utc_s + (datetime.fromtimestamp(utc_s, zone).utcoffset() or timedelta()).total_seconds())
        for utc_s in sample.tolist()
    ]
    return readings.clock.local_s(sample).tolist() != house_s


def local_s(readings: Readings, time_zone: str | None) -> NDArray[np.int64]:
    """Start of each reading on the meter's local clock, seconds since 1970-01-01 00:00 there.

    The clock of the file where it is not that of the house, or no zone is given; else the zone's;
    without either, UTC.
    """
    return local_of(readings.start_s, readings, time_zone)


def local_of(utc_s: NDArray[np.int64], readings: Readings, time_zone: str | None) -> NDArray[np.int64]:
    """Any seconds of UTC on the clock that `local_s` takes, same shape."""
    import pandas as pd

    if readings.clock is not None and (time_zone is None or _other_clock(readings, time_zone)):
        return readings.clock.local_s(utc_s)
    if time_zone is None:
        return utc_s
    utc = pd.to_datetime(utc_s, unit="s", utc=True)
    return np.asarray(utc.tz_convert(time_zone).tz_localize(None).as_unit("s").asi8)


def _iso(utc_s: int, readings: Readings, time_zone: str | None) -> str:
    """A time on the meter's local clock, as ISO text to the minute."""
    local = int(local_of(np.array([utc_s]), readings, time_zone)[0])
    return datetime.fromtimestamp(local, UTC).strftime("%Y-%m-%dT%H:%M")


def _clock_text(readings: Readings, time_zone: str | None) -> str:
    if readings.clock is not None and (time_zone is None or _other_clock(readings, time_zone)):
        saving = ", with daylight saving" if readings.clock.saving_s else ""
        return f"the meter's own clock, UTC{readings.clock.offset_s / 3600:+g} h{saving}"
    return time_zone or "UTC; give the time zone for local times"
