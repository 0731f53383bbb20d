"""Interval energy from a utility's table, as utilities write them.

Lines before the head, a byte-order mark, non-breaking spaces, sections for energy delivered and
received, 12-hour clocks, hour-ending labels, a row a day: all read. What a table leaves open (the
unit, the order of day and month, decimal commas) must be said in the parameter file.
"""

from __future__ import annotations

import csv
import re
from codecs import getincrementaldecoder
from pathlib import Path

from kit.house.readings import MeterError, Readings
from kit.house.table_checks import TOTAL, Totals
from kit.house.table_head import Column, Head, flow_in, names_gas, read_head, unit_in
from kit.house.table_rows import Rows, readings_of
from kit.house.table_time import Clock, Day, first_clock, first_of_range, read_clock, split_day
from kit.study.house_models import Meter

SEPARATORS = ",;\t|"
FIRST_LINES = 100  # a head stands among them
MISSING = {"", "-", "--", "n/a", "na", "null", "none", "missing", "no data"}
_SPACES = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2007": " ", "\ufeff": ""})
_THOUSANDS = re.compile(r"[-+]?\d{1,3}(,\d{3})+(\.\d*)?")


def read_meter_csv(path: Path, time_zone: str | None, meter: Meter | None = None) -> Readings:
    """Energy from and to the grid in each interval, in order of time [Wh].

    Times with an offset from UTC are taken as they stand, others are on the local clock of
    `time_zone` (or its standard time, if `meter.times` says so): of two equal times in the hour
    that comes twice, the first in the file is the earlier. Columns in kW are the mean power.

    Raises:
        MeterError: unreadable file, no head, a bad time or number, with its line.
    """
    table = _Table(path, meter or Meter(file=str(path)))
    encoding = _encoding(path)
    try:
        with path.open(newline="", encoding=encoding) as file:
            separator = _separator([line for _, line in zip(range(FIRST_LINES), file, strict=False)])
            file.seek(0)
            reader = csv.reader(file, delimiter=separator, skipinitialspace=True)
            for row in reader:
                table.take(reader.line_num, [cell.translate(_SPACES).strip() for cell in row])
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise MeterError(path, f"cannot be read: {error}") from None
    return readings_of(table.end(), time_zone)


def _encoding(path: Path) -> str:
    """UTF-8 or UTF-16 with or without their mark, else the Western code page."""
    decode = getincrementaldecoder("utf-8")()
    try:
        with path.open("rb") as file:
            start = file.read(2)
            if start in (b"\xff\xfe", b"\xfe\xff"):
                return "utf-16"
            decode.decode(start)
            while part := file.read(1 << 20):
                if b"\x00" in part:
                    raise MeterError(path, "cannot be read: it is no text")
                decode.decode(part)
            decode.decode(b"", final=True)
    except UnicodeDecodeError:
        return "cp1252"
    except OSError as error:
        raise MeterError(path, f"cannot be read: {error}") from None
    return "utf-8-sig"


def _separator(lines: list[str]) -> str:
    """The separator under which a head is found in the first lines; a comma where none is."""
    for separator in SEPARATORS:
        try:
            rows = list(csv.reader(lines, delimiter=separator, skipinitialspace=True))
        except csv.Error:
            continue
        if any(len(row) > 1 and read_head([c.translate(_SPACES).strip() for c in row]) for row in rows):
            return separator
    return ","


class _Table:
    """Reads line after line; knows the head and the section it is in."""

    def __init__(self, path: Path, meter: Meter) -> None:
        self.path, self.meter = path, meter
        self.head: Head | None = None
        self.rows = Rows(path, meter)
        self.totals = Totals()
        self.gas = False  # in a section of gas beside that of electricity
        self.caption = ""  # the last line of words, such as the name of a section
        self.before: list[str] = []
        self.bad: MeterError | None = None  # the first line that was no reading, after the head
        self.columns: tuple[Column, ...] = ()

    def take(self, line: int, cells: list[str]) -> None:
        """One line of the table, its cells cleaned."""
        if not any(cells):
            return
        day = self._day(cells)
        if day is not None and self.gas:
            self.rows.other_count += 1
            return
        if day is not None:
            self._reading(line, cells, *day)
            return
        if len(cells) > 1 and (head := read_head(cells)):
            self._begin(line, head, cells)
            return
        text = " ".join(cell for cell in cells if cell)
        if TOTAL.search(text):
            self.totals.note(text)
        elif self.head and sum(map(bool, cells)) > 1 and self.bad is None:
            what = cells[self.head.day] if self.head.day < len(cells) else ""
            why = f"line {line}: {what!r} is no time such as 2025-01-31 17:00"
            self.bad = MeterError(self.path, why)
            if self.rows:
                raise self.bad
        self.caption = text
        if not self.rows:
            self.before.append(text)

    def end(self) -> Rows:
        """All rows, or the reason why there are none."""
        if self.head is None:
            gas = " (it speaks of gas)" if names_gas(" ".join(self.before)) else ""
            raise MeterError(
                self.path,
                "no line of it is a head with a time and an energy, such as start and kwh (or kw)" + gas,
            )
        if not self.rows:
            why = "it holds gas, not electricity" if self.gas else "no interval readings below its head"
            raise self.bad or MeterError(self.path, why)
        self.totals.told(self.rows)
        return self.rows

    def _day(self, cells: list[str]) -> tuple[Day, str] | None:
        if self.head is None or self.head.day >= len(cells):
            return None
        return split_day(first_of_range(cells[self.head.day]))

    def _begin(self, line: int, head: Head, cells: list[str]) -> None:
        """A head: of the table, or of a section of it."""
        columns = head.columns
        self.gas = names_gas(" ".join(cells)) and not any(c.unit for c in columns)
        if self.gas:
            self.head = head
            return
        if self.meter.column is not None:
            columns = tuple(c for c in columns if c.name.lower() == self.meter.column.strip().lower())
            if not columns:
                names = ", ".join(repr(c.name) for c in head.columns)
                raise MeterError(self.path, f"line {line}: no column {self.meter.column!r}; it has {names}")
        section = flow_in(f"{self.caption} {' '.join(cells)}") if len(columns) == 1 else ""
        if section == "sent":
            columns = (Column(columns[0].place, columns[0].name, "sent", columns[0].unit),)
        self.head, self.columns, self.bad = head, self._in_units(line, head, columns, cells), None
        self.rows.begin_section()
        self.caption = ""

    def _in_units(
        self, line: int, head: Head, columns: tuple[Column, ...], cells: list[str]
    ) -> tuple[Column, ...]:
        """The columns to take, each with its unit: energy before power, one of a direction."""
        said = self.meter.values_in or ("" if head.unit is not None else unit_in(" ".join(self.before)))
        named = [Column(c.place, c.name, c.flow, self.meter.values_in or c.unit or said) for c in columns]
        if head.unit is None and not any(c.unit for c in named):
            gas = ", and it speaks of gas" if names_gas(" ".join((*self.before, *cells))) else ""
            raise MeterError(
                self.path,
                f"line {line}: no unit: column {named[0].name!r} may be kWh or kW{gas}; "
                "say values_in: kwh (or wh, kw, w)",
            )
        taken: list[Column] = []
        for flow in ("taken", "sent", "net"):
            mine = [c for c in named if c.flow == flow and (c.unit or head.unit is not None)]
            energy = [c for c in mine if c.unit.endswith("wh")] or mine
            if len(energy) > 1:
                names = ", ".join(repr(c.name) for c in energy)
                raise MeterError(self.path, f"line {line}: {names} may each be it; say column: (its head)")
            taken += energy
            power = [c for c in mine if c not in energy]
            self.rows.beside = power[0].place if flow == "taken" and power and energy else self.rows.beside
        if any(c.flow == "taken" for c in taken):
            taken = [c for c in taken if c.flow != "net"]
        return tuple(taken)

    def _reading(self, line: int, cells: list[str], day: Day, rest: str) -> None:
        """One row of readings."""
        head = self.head
        assert head is not None
        if head.unit is not None and head.unit < len(cells) and not unit_in(cells[head.unit]):
            if names_gas(cells[head.unit]):
                raise MeterError(
                    self.path, f"line {line}: its unit is {cells[head.unit]!r}: gas, not electricity"
                )
            if self.meter.values_in is None:
                self.rows.other_count += 1  # reactive energy, volts
                return
        if head.slots:
            flow = flow_in(" ".join(c for i, c in enumerate(cells) if i not in head.slots))
            slots = [self._number(line, self._cell(cells, i)) for i in head.slots]
            total = self._number(line, self._cell(cells, head.total)) if head.total is not None else None
            self.rows.take_day(line, day, slots, flow, self._unit(head, cells), head.slot_h, total)
            return
        clock, at_end = self._clock(line, cells, rest, head)
        values: dict[str, float] = {
            c.flow: self._number(line, self._cell(cells, c.place)) for c in self.columns
        }
        cost = self._number(line, self._cell(cells, head.cost)) if head.cost is not None else None
        power = (
            self._number(line, self._cell(cells, self.rows.beside)) if self.rows.beside is not None else None
        )
        self.rows.take(line, day, clock, at_end, values, self._unit(head, cells), cost, power)

    def _unit(self, head: Head, cells: list[str]) -> str:
        cell = self._cell(cells, head.unit) if head.unit is not None else ""
        return self.meter.values_in or self.columns[0].unit or unit_in(cell)

    @staticmethod
    def _cell(cells: list[str], place: int | None) -> str:
        return cells[place] if place is not None and place < len(cells) else ""

    def _clock(self, line: int, cells: list[str], rest: str, head: Head) -> tuple[Clock, bool]:
        """(time of day, whether it names the end of the interval)."""
        beside = self._cell(cells, head.clock)
        beside = first_of_range(beside) if split_day(beside) else first_clock(beside)
        at_end = head.label == "end"
        if rest and at_end and head.clock is not None:
            text, at_end = rest, False  # the date has a time of its own: a start beside an end
        elif beside:
            text = beside
            if at_end and (whole := split_day(beside)):
                text = whole[1]
        else:
            text = rest or ("" if head.clock is not None else "00:00")
        clock = read_clock(re.sub(r"^(\d{1,2})$", r"\1:00", text))
        if clock is None:
            raise MeterError(self.path, f"line {line}: {text!r} is no time of day such as 17:00 or 5:00 PM")
        return clock, at_end

    def _number(self, line: int, text: str) -> float:
        """The number of a cell; nan for an empty one."""
        plain = text.strip("$€£ ").replace(" ", "")
        if plain.lower() in MISSING:
            return float("nan")
        if self.meter.decimal_comma:
            plain = plain.replace(".", "").replace(",", ".")
        elif "," in plain:
            if not (match := _THOUSANDS.fullmatch(plain)) or (plain.count(",") == 1 and match[2] is None):
                raise MeterError(
                    self.path,
                    f"line {line}: {text!r} may mean two numbers; say decimal_comma: true if it is one",
                )
            plain = plain.replace(",", "")
        try:
            value = float(plain)
        except ValueError:
            value = float("nan")
        if not abs(value) < float("inf"):
            raise MeterError(self.path, f"line {line}: {text!r} is not a number")
        return value
