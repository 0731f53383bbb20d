"""IEEE Std 1366 indices and its 2.5-beta threshold of major event days, from data of every day."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from kit.grid.outage_log import DAYS_PER_YEAR, OutageDataError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from kit.study.outage_models import DailyReliability

    Floats = NDArray[np.float64]

SUSTAINED_ABOVE_MIN = 5.0
BETAS = 2.5
FEWEST_DAYS = 30  # with an interruption; fewer tell no deviation
USUAL_YEARS = 5.0


@dataclass(frozen=True)
class Indices:
    """Indices of a year: SAIFI, MAIFI [1/year], SAIDI, CAIDI [min], ASAI [share]; CAIDI 0 without events."""

    saifi_per_year: float
    saidi_min_per_year: float
    caidi_min: float
    asai_frac: float
    maifi_per_year: float = 0.0


def reliability_indices(
    lasted_min: ArrayLike, customers: ArrayLike, customers_served: float, days: float = 365.0
) -> Indices:
    """Indices of the interruptions in one year (IEEE Std 1366-2012, clause 3).

    lasted_min, customers: minutes and customers of each interruption (E,). Those of 5 minutes or
    less are momentary and count in MAIFI alone. days: of the year, 366 in a leap year.

    Raises:
        ValueError: lengths that differ, negative figures, more interrupted at once than are served.
    """
    minutes, count = np.asarray(lasted_min, dtype=np.float64), np.asarray(customers, dtype=np.float64)
    if minutes.shape != count.shape or not customers_served > 0.0:
        raise ValueError("lasted_min and customers are of one length, and customers_served is above 0")
    if (minutes < 0.0).any() or (count < 0.0).any() or (count > customers_served).any():
        raise ValueError("minutes and customers are at or above 0, and none interrupts more than are served")
    sustained = minutes > SUSTAINED_ABOVE_MIN
    saifi = float(count[sustained].sum() / customers_served)
    saidi = float((minutes * count)[sustained].sum() / customers_served)
    maifi = float(count[~sustained].sum() / customers_served)
    return indices_from(saifi, saidi, days, maifi)


def indices_from(saifi: float, saidi_min: float, days: float = 365.0, maifi: float = 0.0) -> Indices:
    """All indices from SAIFI and SAIDI: CAIDI = SAIDI / SAIFI, ASAI = 1 - SAIDI / minutes of the year."""
    caidi = saidi_min / saifi if saifi > 0.0 else 0.0
    return Indices(saifi, saidi_min, caidi, 1.0 - saidi_min / (days * 1440.0), maifi)


@dataclass(frozen=True)
class MajorEventThreshold:
    """T_MED [min/day] with its alpha and beta, the days behind it and the deviation used."""

    threshold_min: float
    alpha: float
    beta: float
    day_count: int
    deviation: str

    @classmethod
    def of(
        cls, alpha: float, beta: float, day_count: int = 0, deviation: str = "given"
    ) -> MajorEventThreshold:
        """T_MED = exp(alpha + 2.5 beta) (IEEE Std 1366-2012, 3.5)."""
        return cls(float(np.exp(alpha + BETAS * beta)), alpha, beta, day_count, deviation)


def major_event_threshold(
    daily_saidi_min: ArrayLike, deviation: Literal["sample", "population"] = "sample"
) -> MajorEventThreshold:
    """Threshold above which a day is a major event day (IEEE Std 1366-2012, 3.5 and B.2).

    Natural logarithms of the daily SAIDI of (the standard: five) years, days of none left out; alpha
    is their mean and beta their standard deviation. The standard does not say whether beta divides by
    n - 1 (`sample`, as spreadsheets do, the default here) or by n (`population`); with five years of
    days the threshold differs by less than one part in a thousand.

    Raises:
        ValueError: negative SAIDI, or fewer than 30 days with an interruption.
    """
    daily = np.asarray(daily_saidi_min, dtype=np.float64)
    if not (np.isfinite(daily).all() and (daily >= 0.0).all()):
        raise ValueError("daily SAIDI is at or above 0")
    logs = np.log(daily[daily > 0.0])
    if logs.size < FEWEST_DAYS:
        raise ValueError(f"a threshold needs {FEWEST_DAYS} days with an interruption, got {logs.size}")
    beta = float(logs.std(ddof=1 if deviation == "sample" else 0))
    return MajorEventThreshold.of(float(logs.mean()), beta, int(logs.size), deviation)


@dataclass(frozen=True)
class DailySplit:
    """A utility's days told apart: mean indices a year with and without major event days."""

    all_events: Indices
    without_major: Indices
    threshold: MajorEventThreshold
    major_days: tuple[date, ...]
    years: float


def split_daily(block: DailyReliability) -> DailySplit:
    """Read daily SAIDI and SAIFI and tell major event days apart by the threshold of the same days.

    The standard takes the threshold of the five years before the one judged; here the days given
    make it and are judged by it, since what is sought is their mean. Days that are not in the file
    count as days without an interruption.

    Raises:
        OutageDataError: unreadable file, missing columns, bad dates or numbers, a date twice.
    """
    path = Path(block.file)
    try:
        stamp = path.stat()
    except OSError as error:
        raise OutageDataError(path, f"cannot be read: {error}") from None
    key = (stamp.st_mtime_ns, stamp.st_size)
    return _split(path, key, block.customers_served, block.deviation)


@lru_cache(maxsize=16)
def _split(
    path: Path, _stamp: tuple[int, int], served: float | None, deviation: Literal["sample", "population"]
) -> DailySplit:
    days, saidi, saifi = _read_daily(path, served)
    try:
        threshold = major_event_threshold(saidi, deviation)
    except ValueError as error:
        raise OutageDataError(path, str(error)) from None
    major = saidi > threshold.threshold_min
    years = ((days[-1] - days[0]).days + 1) / DAYS_PER_YEAR
    whole = indices_from(saifi.sum() / years, saidi.sum() / years, DAYS_PER_YEAR)
    routine = indices_from(saifi[~major].sum() / years, saidi[~major].sum() / years, DAYS_PER_YEAR)
    named = tuple(day for day, is_major in zip(days, major, strict=True) if is_major)
    return DailySplit(whole, routine, threshold, named, years)


def _read_daily(path: Path, served: float | None) -> tuple[list[date], Floats, Floats]:
    """Days in order, SAIDI [min] and SAIFI of each."""
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = list(csv.reader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise OutageDataError(path, f"cannot be read: {error}") from None
    head = [name.strip().lower() for name in rows[0]] if rows else []
    names = ("saidi_min", "saifi") if served is None else ("customer_minutes", "customers_interrupted")
    missing = [name for name in ("date", *names) if name not in head]
    if missing:
        hint = (
            ""
            if served is not None
            else " (or customer_minutes, customers_interrupted with customers_served)"
        )
        raise OutageDataError(path, f"line 1: needs columns date, {', '.join(names)}{hint}")
    at = [head.index(name) for name in ("date", *names)]
    found: dict[date, tuple[float, float]] = {}
    for line, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        try:
            day = date.fromisoformat(row[at[0]].strip())
            figures = float(row[at[1]]), float(row[at[2]])
        except (ValueError, IndexError):
            raise OutageDataError(
                path, f"line {line}: needs a date such as 2025-01-31 and two numbers"
            ) from None
        if day in found:
            raise OutageDataError(path, f"line {line}: {day} is there twice")
        if not (np.isfinite(figures).all() and min(figures) >= 0.0):
            raise OutageDataError(path, f"line {line}: figures are at or above 0")
        if figures[0] > 0.0 and figures[1] == 0.0:
            raise OutageDataError(path, f"line {line}: minutes without an interruption")
        found[day] = figures
    if not found:
        raise OutageDataError(path, "no day in it")
    days = sorted(found)
    table = np.array([found[day] for day in days]) / (served or 1.0)
    return days, table[:, 0], table[:, 1]
