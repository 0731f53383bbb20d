"""The rows of a utility's table as readings: from local labels to intervals of UTC."""

from __future__ import annotations

from array import array
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kit.house.local_time import utc_of_local, utc_of_standard
from kit.house.readings import HOUR_S, MeterError, Readings, Series, in_order, nothing
from kit.house.table_checks import power_beside, unlike_the_bill
from kit.house.table_days import Days, day_series, local_days
from kit.house.table_head import POWER, WH_PER
from kit.house.table_time import DAY_S, Clock, Day

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.study.house_models import Meter

NO_OFFSET = -(2**31)


class Rows:
    """What was read row by row, packed into arrays."""

    def __init__(self, path: Path, meter: Meter) -> None:
        self.path, self.meter = path, meter
        self.line, self.day, self.second = array("q"), array("q"), array("q")
        self.away, self.later, self.section = array("q"), array("b"), array("q")
        self.sure, self.at_end = array("b"), array("b")
        self.values = {flow: array("d") for flow in ("taken", "sent", "net")}
        self.cost, self.power = array("d"), array("d")
        self.days = Days(path)
        self.unit = ""
        self.beside: int | None = None  # column of power beside the energy, to check it
        self.other_count = 0
        self.section_count = 0
        self.total_wh: float | None = None

    def __bool__(self) -> bool:
        return bool(self.line) or bool(self.days)

    def begin_section(self) -> None:
        """The head of a table or of a section of it was read."""
        self.section_count += 1

    def take(
        self,
        line: int,
        day: Day,
        clock: Clock,
        at_end: bool,
        values: dict[str, float],
        unit: str,
        cost: float | None,
        power: float | None,
    ) -> None:
        """One interval."""
        self._one_unit(line, unit)
        self.line.append(line)
        self.day.append(day.year * 10_000 + day.month * 100 + day.day)
        self.sure.append(day.sure)
        self.second.append(clock.second)
        self.away.append(NO_OFFSET if clock.offset_s is None else clock.offset_s)
        self.later.append(clock.later)
        self.section.append(self.section_count)
        self.at_end.append(at_end)
        for flow, column in self.values.items():
            column.append(values.get(flow, float("nan")))
        self.cost.append(float("nan") if cost is None else cost)
        self.power.append(float("nan") if power is None else power)

    def take_day(
        self,
        line: int,
        day: Day,
        values: list[float],
        flow: str,
        unit: str,
        slot_h: float,
        total: float | None,
    ) -> None:
        """A row that holds a whole day."""
        self._one_unit(line, unit)
        self.days.take(line, day, values, flow, slot_h, total)

    def _one_unit(self, line: int, unit: str) -> None:
        if self.unit and unit != self.unit:
            raise MeterError(
                self.path, f"line {line}: its unit is {unit}, that of the lines before {self.unit}"
            )
        self.unit = unit


def readings_of(rows: Rows, time_zone: str | None) -> Readings:
    """The rows as readings in order of time.

    Raises:
        MeterError: days and months that cannot be told apart, a time that the local clock skips,
            no time zone where times have no offset.
    """
    problems: list[str] = []
    if rows.days:
        taken, sent, notes = day_series(rows, time_zone)
        left_out = rows.days.missing_count
    else:
        taken, sent, left_out, notes = _interval_series(rows, time_zone, problems)
    taken, taken_twice, against = in_order(taken)
    sent, sent_twice, sent_against = in_order(sent)
    interval_h = float(np.median(taken.length_s)) / HOUR_S if taken.length_s.size else 0.0
    problems += [text for text in (against, sent_against) if text]
    problems += unlike_the_bill(float(taken.energy_wh.sum()) / 1000, interval_h, rows.meter.billed_kwh)
    problems += rows.days.unlike_totals(rows.unit) if rows.days else []
    if rows.total_wh:
        problems += unlike_the_bill(
            float(taken.energy_wh.sum()) / 1000, interval_h, rows.total_wh / 1000, "the file's own total"
        )
    return Readings(
        taken=taken,
        sent=sent,
        left_out_count=left_out,
        duplicate_count=taken_twice + sent_twice,
        other_count=rows.other_count,
        notes=tuple(notes),
        problems=tuple(problems),
    )


def _interval_series(
    rows: Rows, time_zone: str | None, problems: list[str]
) -> tuple[Series, Series, int, list[str]]:
    """(taken, sent, readings without a value, notes)."""
    line = np.array(rows.line, dtype=np.int64)
    second, section = np.array(rows.second, dtype=np.int64), np.array(rows.section)
    day_s = local_days(rows.day, rows.sure, rows.line, rows.meter, rows.path) * DAY_S
    label_s = day_s + second
    step_s = _step_s(label_s, section, problems, rows)
    at_end = _named_end(rows, second)
    notes = ["times name the end of each interval"] if at_end else []
    if at_end:
        label_s = _ends(label_s, day_s, second, step_s)
    start_s, keep = _utc(rows, label_s - (step_s if at_end else 0), label_s, at_end, time_zone, line)
    values = {flow: np.array(column) for flow, column in rows.values.items()}
    scale = WH_PER[rows.unit] * (step_s / HOUR_S if rows.unit in POWER else 1.0)
    cost = np.array(rows.cost)
    lengths = np.full(start_s.shape, step_s, dtype=np.int64)
    if np.isfinite(values["net"]).any():
        net = values["net"]
        values["taken"], values["sent"] = np.maximum(net, 0.0), np.maximum(-net, 0.0)
        notes.append("the readings are net: what is below zero was sent to the grid")
    problems += power_beside(values["taken"], np.array(rows.power), step_s / HOUR_S)
    both = []
    for flow, money in (("taken", cost), ("sent", np.full(cost.shape, np.nan))):
        read = keep & np.isfinite(values[flow])
        both.append(Series(start_s, lengths, values[flow] * scale, money).kept(read))
    taken, sent = both if np.isfinite(values["sent"]).any() else (both[0], nothing())
    either = np.isfinite(values["taken"]) | np.isfinite(values["sent"])
    return taken, sent, int(np.count_nonzero(~either & keep)), notes


def _step_s(label_s: NDArray[np.int64], section: NDArray[np.int64], problems: list[str], rows: Rows) -> int:
    """The usual distance between labels [s]; an hour for a single one."""
    parts = [np.diff(np.unique(label_s[section == s])) for s in np.unique(section)]
    steps = np.concatenate(parts) if parts else np.zeros(0, dtype=np.int64)
    if not steps.size:
        return HOUR_S
    lengths, counts = np.unique(steps, return_counts=True)
    step = int(lengths[np.argmax(counts)])
    for other, count in zip(lengths.tolist(), counts.tolist(), strict=True):
        if other != step and count >= 24 and count > 0.02 * steps.size and int(other) % 900 == 0:
            problems.append(
                f"labels are {step / 60:g} min apart in one part and {other / 60:g} min in another: "
                "keep one part a file"
            )
    return step


def _named_end(rows: Rows, second: NDArray[np.int64]) -> bool:
    """Whether labels name the end of their interval: said, by the head, or by a 24:00."""
    if rows.meter.label is not None:
        return rows.meter.label == "end"
    return bool(any(rows.at_end) or (second == DAY_S).any())


def _ends(
    label_s: NDArray[np.int64], day_s: NDArray[np.int64], second: NDArray[np.int64], step_s: int
) -> NDArray[np.int64]:
    """Ends as they are meant: 00:14 is 00:15, and 00:00 after 23:00 of the same date is 24:00."""
    if second.size and np.all((second + 60) % min(step_s, HOUR_S) == 0):
        return label_s + 60
    midnight = np.zeros(second.shape, dtype=bool)
    midnight[1:] = (second[1:] == 0) & (second[:-1] == DAY_S - step_s) & (day_s[1:] == day_s[:-1])
    return np.where(midnight, label_s + DAY_S, label_s)


def _utc(
    rows: Rows,
    start_s: NDArray[np.int64],
    label_s: NDArray[np.int64],
    at_end: bool,
    time_zone: str | None,
    line: NDArray[np.int64],
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """(start in UTC, whether to keep it) of each row."""
    away = np.array(rows.away, dtype=np.int64)
    keep = np.ones(start_s.shape, dtype=bool)
    if (given := away != NO_OFFSET).any():
        if not given.all():
            raise MeterError(rows.path, "some times have an offset from UTC and some have none")
        if len(set(away.tolist())) > 4:  # two in a year; a range would give one a row
            raise MeterError(rows.path, "its times end in ever other offsets from UTC: are they ranges?")
        return start_s - away, keep
    if time_zone is None:
        raise MeterError(rows.path, "its times have no offset from UTC: say the time zone (--time-zone)")
    if rows.meter.times == "standard_time":
        return utc_of_standard(start_s, time_zone), keep
    utc_s, never, section = start_s.copy(), np.zeros(start_s.shape, dtype=bool), np.array(rows.section)
    later = np.array(rows.later, dtype=np.int8)
    for part in np.unique(section):
        mine = section == part
        utc_s[mine], never[mine] = utc_of_local(start_s[mine], time_zone, later[mine])
        if at_end and never[mine].any():
            # The label is the clock's own at the end: after the hour that is skipped, 3:00 ends 1:00.
            ends_utc_s, odd = utc_of_local(label_s[mine], time_zone, later[mine])
            if not odd.any():
                utc_s[mine], never[mine] = ends_utc_s - (label_s - start_s)[mine], False
    empty = ~np.any([np.nan_to_num(np.array(v)) != 0 for v in rows.values.values()], axis=0)
    keep &= ~(never & empty)  # utilities fill the hour that never comes with zeros or nothing
    if (bad := never & ~empty).any():
        place = int(np.flatnonzero(bad)[0])
        moment = str(start_s[place].astype("datetime64[s]")).replace("T", " ")
        raise MeterError(
            rows.path,
            f"line {line[place]}: {moment} does not exist on the clock of {time_zone}; "
            "if the meter keeps standard time all year, say times: standard_time",
        )
    return utc_s, keep
