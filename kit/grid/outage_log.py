"""A household's own log of outages: read from CSV, with every doubt about a clock said."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

if TYPE_CHECKING:
    from kit.study.outage_models import OutageLog

DAYS_PER_YEAR = 365.2425


class OutageDataError(ValueError):
    """Outage data that cannot be used: the file or the parameter, the line, and what is wrong."""

    def __init__(self, where: Path | str, text: str) -> None:
        super().__init__(f"{Path(where).name}: {text}")


@dataclass(frozen=True)
class LoggedOutages:
    """A log: starts and ends (UTC or, without any zone, local), in order, and the time covered [years]."""

    starts: tuple[datetime, ...]
    ends: tuple[datetime, ...]
    years: float

    @property
    def hours(self) -> tuple[float, ...]:
        """Length of each outage [h]."""
        return tuple(
            (end - start).total_seconds() / 3600.0 for start, end in zip(self.starts, self.ends, strict=True)
        )


def read_log(log: OutageLog) -> LoggedOutages:
    """Read a log of outages: columns start and end, ISO 8601.

    A time with an offset stands as it is; without one it is on the local clock of `time_zone`. In the
    hour that an autumn night has twice, only one reading may make sense, else the offset is asked for.

    Raises:
        OutageDataError: unreadable file or time, an end at or before its start, outages that overlap,
            a time that the clock skipped or showed twice, outages outside the time covered.
    """
    path = Path(log.file)
    try:
        stamp = path.stat()
        key = (stamp.st_mtime_ns, stamp.st_size)
    except OSError as error:
        raise OutageDataError(path, f"cannot be read: {error}") from None
    return _read(path, key, log.time_zone, log.years, log.from_date, log.to_date)


@lru_cache(maxsize=32)
def _read(
    path: Path,
    _stamp: tuple[int, int],
    time_zone: str | None,
    years: float | None,
    from_date: str | None,
    to_date: str | None,
) -> LoggedOutages:
    zone = _zone(path, time_zone)
    found = [(line, *_times(path, line, start, end, zone)) for line, start, end in _rows(path)]
    if len({start.tzinfo is None for _, start, _ in found}) > 1:
        raise OutageDataError(path, "some times have an offset from UTC and some have none: give time_zone")
    found.sort(key=lambda row: row[1])
    for (line, _, end), (following, start, _) in pairwise(found):
        if start < end:
            raise OutageDataError(
                path, f"line {following}: begins before the outage of line {line} has ended; merge them"
            )
    starts, ends = tuple(row[1] for row in found), tuple(row[2] for row in found)
    span_h = (ends[-1] - starts[0]).total_seconds() / 3600.0 if found else 0.0
    if years is None:
        assert from_date is not None  # the model asks for one or the other
        assert to_date is not None
        years = _covered(path, found, date.fromisoformat(from_date), date.fromisoformat(to_date), zone)
    elif span_h / 24.0 / DAYS_PER_YEAR > years * 1.01:
        text = (
            f"its outages span {span_h / 24.0 / DAYS_PER_YEAR:.2f} years, more than the {years:g} it covers"
        )
        raise OutageDataError(path, text)
    return LoggedOutages(starts, ends, years)


def _zone(path: Path, time_zone: str | None) -> ZoneInfo | None:
    try:
        return ZoneInfo(time_zone) if time_zone else None
    except (ZoneInfoNotFoundError, ValueError):
        raise OutageDataError(path, f"unknown time_zone {time_zone!r}") from None


def _rows(path: Path) -> list[tuple[int, str, str]]:
    """Line number, start and end as written."""
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = list(csv.reader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise OutageDataError(path, f"cannot be read: {error}") from None
    head = [name.strip().lower() for name in rows[0]] if rows else []
    if "start" not in head or "end" not in head:
        raise OutageDataError(
            path, f"line 1: needs columns start and end, got {', '.join(head) or 'nothing'}"
        )
    at = head.index("start"), head.index("end")
    filled = [(line, row) for line, row in enumerate(rows[1:], start=2) if any(cell.strip() for cell in row)]
    padded = [(line, [*row, *[""] * (max(at) + 1 - len(row))]) for line, row in filled]
    return [(line, row[at[0]].strip(), row[at[1]].strip()) for line, row in padded]


def _times(path: Path, line: int, start: str, end: str, zone: ZoneInfo | None) -> tuple[datetime, datetime]:
    """Start and end of one row, after every reading of the clock that makes sense is counted."""
    read = []
    for name, text in (("start", start), ("end", end)):
        try:
            read.append(datetime.fromisoformat(text))
        except ValueError:
            raise OutageDataError(
                path, f"line {line}: {name} {text!r} is no ISO time such as 2025-01-31T17:00"
            ) from None
    first, last = (_readings(path, line, moment, zone) for moment in read)
    if (first[0].tzinfo is None) != (last[0].tzinfo is None):
        raise OutageDataError(path, f"line {line}: start and end: one has an offset from UTC, one has none")
    pairs = [(a, b) for a in first for b in last if b > a]
    if not pairs:
        raise OutageDataError(path, f"line {line}: the end {end} is not after the start {start}")
    if len(pairs) > 1:
        hint = "write the offset from UTC, such as 2025-11-02T01:30-05:00"
        raise OutageDataError(
            path, f"line {line}: the clock showed {start} or {end} twice that night; {hint}"
        )
    return pairs[0]


def _readings(path: Path, line: int, moment: datetime, zone: ZoneInfo | None) -> list[datetime]:
    """The moments in UTC that a written time can mean: one, or two in the hour that comes twice."""
    if moment.tzinfo is not None:
        return [moment.astimezone(UTC)]
    if zone is None:
        return [moment]
    meant = {moment.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)}
    real = sorted(m for m in meant if m.astimezone(zone).replace(tzinfo=None) == moment)
    if not real:
        raise OutageDataError(path, f"line {line}: {moment} does not exist on the clock of {zone.key}")
    return real


def _covered(
    path: Path, found: list[tuple[int, datetime, datetime]], first: date, last: date, zone: ZoneInfo | None
) -> float:
    """Years from the first day to the last, both included; every outage must lie inside."""
    after = last + timedelta(days=1)
    for line, start, end in found:
        days = [
            (moment.astimezone(zone) if zone and moment.tzinfo else moment).date() for moment in (start, end)
        ]
        if days[0] < first or days[1] > after:
            raise OutageDataError(path, f"line {line}: lies outside the time covered, {first} to {last}")
    return (after - first).days / DAYS_PER_YEAR
