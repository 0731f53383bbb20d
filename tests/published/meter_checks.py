"""Meter files at the places of house_cases.py."""

from __future__ import annotations

import gzip
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np

from kit.calendar import Year, calendar_year
from kit.house.green_button import read_green_button
from kit.house.meter import MeterReport, describe_meter
from kit.house.meter_year import read_meter
from kit.house.readings import Readings
from kit.report.checks import Check, Provenance, Value
from kit.study.house_models import Meter
from tests.published import house_cases as cases

SUBJECT = "House: meter files"
ROOT = Path(__file__).parents[2]
YEAR_BLOCKS = cases.METER_CASES["a year in monthly blocks"]


def unpacked(file: str, folder: Path) -> Path:
    """The path of a data file, unpacked where it is kept compressed."""
    path = ROOT / file
    if path.suffix != ".gz":
        return path
    plain = folder / path.stem
    plain.write_bytes(gzip.decompress(path.read_bytes()))
    return plain


@cache
def meter_report(name: str) -> MeterReport:
    case = cases.METER_CASES[name]
    with tempfile.TemporaryDirectory() as folder:
        return describe_meter(unpacked(case.file, Path(folder)), case.time_zone)


@cache
def daily_readings() -> Readings:
    return read_green_button(ROOT / cases.DAILY_FILE)


@cache
def metered_year() -> tuple[Year, np.ndarray, MeterReport]:
    year = calendar_year(2011, YEAR_BLOCKS.time_zone, 60)
    load_kw, report = read_meter(Meter(file=str(ROOT / YEAR_BLOCKS.file)), year)
    return year, load_kw, report


def uneven_days() -> str:
    """The local days that have not 24 hours, as month-day."""
    year, _, _ = metered_year()
    hours = np.bincount(year.day_number)
    firsts = [year.index[year.day_number == day][0] for day in np.flatnonzero(hours != 24)]
    return ", ".join(f"{first:%m-%d}" for first in firsts)


def check(
    name: str,
    unit: str,
    source: str,
    expected: Value,
    within: float,
    compute: Callable[[], Value],
    data: str,
    why: str = "counted exactly",
    provenance: Provenance = "data",
    subject: str = SUBJECT,
) -> Check:
    return Check(
        subject, name, unit, source, provenance, expected, within, why, compute, f"house_cases.{data}"
    )


def of_meter(name: str, case: cases.MeterCase) -> list[Check]:
    fields: list[tuple[str, str, Value | None, float]] = [
        ("reading_count", "count", case.reading_count, 0.0),
        ("energy_kwh", "kWh", case.sum_wh / 1000, 1e-9),
        ("lowest_reading_wh", "Wh", case.lowest_wh, 0.0),
        ("highest_reading_wh", "Wh", case.highest_wh, 0.0),
        ("first_start", "local time", case.first_start, 0.0),
        ("last_end", "local time", case.last_end, 0.0),
        ("gap_count", "count", case.gap_count, 0.0),
        ("gap_h", "h", case.gap_h, 0.0),
        ("zero_reading_count", "count", case.zero_count, 0.0),
    ]
    return [
        check(
            f"{name}: {field.removesuffix('_kwh').removesuffix('_wh').removesuffix('_h').replace('_', ' ')}",
            unit,
            f"{case.source}; {Path(case.file).name}",
            expected,
            within,
            lambda field=field: getattr(meter_report(name), field),
            "METER_CASES",
        )
        for field, unit, expected, within in fields
        if expected is not None
    ]


METER_YEAR = [
    check(
        f"laid on its own year: {what}",
        unit,
        f"{YEAR_BLOCKS.source}; {Path(YEAR_BLOCKS.file).name}",
        expected,
        within,
        compute,
        data,
        why,
    )
    for what, unit, expected, within, compute, data, why in (
        (
            "energy",
            "kWh",
            YEAR_BLOCKS.sum_wh / 1000,
            1e-9,
            lambda: float(metered_year()[1].sum()),
            "METER_CASES",
            "counted exactly",
        ),
        (
            "lowest hour",
            "kW",
            (YEAR_BLOCKS.lowest_wh or 0) / 1000,
            1e-9,
            lambda: float(metered_year()[1].min()),
            "METER_CASES",
            "exact",
        ),
        (
            "highest hour",
            "kW",
            (YEAR_BLOCKS.highest_wh or 0) / 1000,
            1e-9,
            lambda: float(metered_year()[1].max()),
            "METER_CASES",
            "exact",
        ),
        (
            "peak over mean",
            "ratio",
            cases.PEAK_TO_MEAN,
            0.005,
            lambda: metered_year()[2].peak_to_mean,
            "PEAK_TO_MEAN",
            "half of the last digit",
        ),
        (
            "days that have not 24 h",
            "month-day",
            cases.CLOCK_CHANGES_2011,
            0.0,
            uneven_days,
            "CLOCK_CHANGES_2011",
            "exact",
        ),
    )
]
DAILY = [
    check(
        f"daily file: readings of {length_s} s",
        "count",
        cases.METER_SET,
        count,
        0.0,
        lambda length_s=length_s: int((daily_readings().length_s == length_s).sum()),
        "DAILY_COUNTS",
    )
    for length_s, count in cases.DAILY_COUNTS.items()
] + [
    check(
        "daily file: energy",
        "Wh",
        cases.METER_SET,
        cases.DAILY_SUM_WH,
        0.0,
        lambda: float(daily_readings().energy_wh.sum()),
        "DAILY_SUM_WH",
    )
]
CHECKS: list[Check] = [
    *(check for name, case in cases.METER_CASES.items() for check in of_meter(name, case)),
    *METER_YEAR,
    *DAILY,
]
