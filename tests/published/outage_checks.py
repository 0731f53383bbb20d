"""Outage statistics at the places of outage_cases.py."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from typing import Any

import numpy as np
from scipy import stats

from kit.grid.known import known_classes
from kit.grid.outage_rates import IndexSplit, rate_from_log, split_indices
from kit.grid.outages import outage_hours_per_year
from kit.grid.reliability_indices import MajorEventThreshold, indices_from, major_event_threshold
from kit.report.checks import Check, Provenance
from kit.study.outage_models import OutageRecord
from tests.published import outage_cases as cases

SUBJECT = "Outage statistics"
TABLES = "US EIA, Electric Power Annual, Tables 11.1 and 11.3 (transcribed)"
IEEE = "IEEE Std 1366-2012"
THREE_PLACES = "SAIFI is printed to three places"


def split(row: cases.Row) -> IndexSplit:
    _, saifi_all, saidi_all, _, saifi_without, saidi_without, _ = row
    return split_indices(saifi_all, saidi_all, saifi_without, saidi_without)


def routine_min(row: cases.Row) -> float:
    return split(row).routine_mean_h * 60


def all_events_min(row: cases.Row) -> float:
    """All events taken as one class."""
    _, saifi_all, saidi_all, *_ = row
    return split_indices(saifi_all, saidi_all, saifi_all, saidi_all).routine_mean_h * 60


def record_of_split(row: cases.Row) -> OutageRecord:
    made = split(row)
    routine = {"kind": "fixed", "mean_h": made.routine_mean_h}
    major = {"kind": "exponential", "mean_h": made.major_mean_h}
    return OutageRecord.model_validate(
        {
            "horizon_h": 1440.0,
            "classes": {
                "routine": {"events_per_year": made.routine_events_per_year, "duration": routine},
                "major": {"events_per_year": made.major_events_per_year, "duration": major},
            },
        }
    )


@cache
def record_of_indices(row: cases.Row) -> OutageRecord:
    """Minutes as printed, two classes from the indices."""
    _, saifi_all, saidi_all, _, saifi_without, saidi_without, _ = row
    sides = {"all_events": (saifi_all, saidi_all), "without_major": (saifi_without, saidi_without)}
    indices = {
        name: {"saifi_per_year": count, "saidi_h_per_year": minutes / 60}
        for name, (count, minutes) in sides.items()
    }
    classes: dict[str, Any] = {
        "routine": {"from_indices": "routine", "duration": {"kind": "exponential"}},
        "major": {"from_indices": "major", "duration": {"kind": "weibull", "shape": 0.9}},
    }
    return OutageRecord.model_validate({"horizon_h": 1440.0, "indices": indices, "classes": classes})


def minutes_a_year(record_of: Callable[[cases.Row], OutageRecord], row: cases.Row) -> float:
    return outage_hours_per_year(record_of(row)) * 60


def routine_of_indices_min(row: cases.Row) -> float:
    mean_h = known_classes(record_of_indices(row))["routine"].duration.mean_h
    if mean_h is None:
        raise ValueError("the routine class has no mean")
    return mean_h * 60


def of_2023(figure: str) -> float:
    return float(getattr(split(next(row for row in cases.ROWS if row[0] == "US 2023")), figure))


def of_standard(figure: str) -> float:
    return float(getattr(indices_from(cases.IEEE_SAIFI, cases.IEEE_SAIDI_MIN), figure))


def by_split(figure: str) -> float:
    made = split_indices(cases.IEEE_SAIFI, cases.IEEE_SAIDI_MIN, cases.IEEE_SAIFI, cases.IEEE_SAIDI_MIN)
    if figure == "caidi_min":
        return made.routine_mean_h * 60
    return 1 - made.routine_events_per_year * made.routine_mean_h / 8760


def log_rate(figure: str) -> float:
    return float(getattr(rate_from_log(0, 3.0), figure))


@cache
def threshold_of_days() -> MajorEventThreshold:
    """From five years of days that follow the printed law exactly."""
    share = (np.arange(1826) + 0.5) / 1826
    return major_event_threshold(stats.lognorm(cases.IEEE_BETA, scale=np.exp(cases.IEEE_ALPHA)).ppf(share))


def check(
    name: str,
    unit: str,
    source: str,
    provenance: Provenance,
    expected: float,
    within: float,
    why: str,
    compute: Callable[[], float],
    data: str,
    relative: bool = False,
) -> Check:
    return Check(
        SUBJECT,
        name,
        unit,
        source,
        provenance,
        expected,
        within,
        why,
        compute,
        f"outage_cases.{data}",
        relative,
    )


def of_row(row: cases.Row) -> list[Check]:
    name, _, saidi_all, caidi_all, _, _, caidi_without = row
    near, exact = (cases.CAIDI_WITHIN, THREE_PLACES), (1e-9, "SAIDI is an input: it must come back")
    figures = (
        ("mean routine event is CAIDI", caidi_without, *near, partial(routine_min, row)),
        ("mean event is CAIDI, all", caidi_all, *near, partial(all_events_min, row)),
        (
            "minutes a year, classes of the split",
            saidi_all,
            *exact,
            partial(minutes_a_year, record_of_split, row),
        ),
        (
            "minutes a year, record of indices",
            saidi_all,
            2e-3,
            "cut at the record's horizon of 1,440 h",
            partial(minutes_a_year, record_of_indices, row),
        ),
        ("routine CAIDI, record of indices", caidi_without, *near, partial(routine_of_indices_min, row)),
    )
    return [
        check(f"{name}: {what}", "min", TABLES, "data", value, within, why, compute, "ROWS", relative=True)
        for what, value, within, why, compute in figures
    ]


MAJOR = [
    check(
        f"US 2023: {what}",
        unit,
        TABLES,
        "worked",
        value,
        within,
        "half of the last digit",
        partial(of_2023, figure),
        data,
    )
    for what, unit, figure, value, within, data in (
        (
            "major events a year",
            "1/year",
            "major_events_per_year",
            cases.MAJOR_2023_PER_YEAR,
            0.0005,
            "MAJOR_2023_PER_YEAR",
        ),
        ("mean major event", "h", "major_mean_h", cases.MAJOR_2023_H, 0.05, "MAJOR_2023_H"),
        (
            "years between major events",
            "years",
            "major_return_years",
            cases.MAJOR_2023_RETURN_YEARS,
            0.05,
            "MAJOR_2023_RETURN_YEARS",
        ),
    )
]
STANDARD = [
    check(
        f"index example: {word}, {how}",
        unit,
        f"{IEEE}, annex, index example",
        "memory",
        value,
        within,
        "half of the last digit",
        partial(call, figure),
        data,
    )
    for how, call in (("indices", of_standard), ("classes", by_split))
    for word, unit, figure, value, within, data in (
        ("CAIDI", "min", "caidi_min", cases.IEEE_CAIDI_MIN, 0.05, "IEEE_CAIDI_MIN"),
        ("ASAI", "share", "asai_frac", cases.IEEE_ASAI_FRAC, 5e-7, "IEEE_ASAI_FRAC"),
    )
]
ROUNDED = "the printed alpha and beta are rounded: they give 4.06"
THRESHOLD = [
    check(
        "threshold of a major event day, from alpha and beta",
        "min/day",
        f"{IEEE}, 3.5.1",
        "memory",
        cases.IEEE_THRESHOLD_MIN,
        cases.IEEE_THRESHOLD_WITHIN,
        ROUNDED,
        lambda: MajorEventThreshold.of(cases.IEEE_ALPHA, cases.IEEE_BETA).threshold_min,
        "IEEE_THRESHOLD_MIN",
        relative=True,
    ),
    check(
        "the same from five years of days",
        "min/day",
        f"{IEEE}, 3.5.1",
        "memory",
        cases.IEEE_THRESHOLD_MIN,
        cases.IEEE_THRESHOLD_WITHIN,
        ROUNDED,
        lambda: threshold_of_days().threshold_min,
        "IEEE_THRESHOLD_MIN",
        relative=True,
    ),
    check(
        "alpha found in those days",
        "log min",
        f"{IEEE}, B.1.1",
        "memory",
        cases.IEEE_ALPHA,
        0.01,
        "1,826 days",
        lambda: threshold_of_days().alpha,
        "IEEE_ALPHA",
    ),
    check(
        "beta found in those days",
        "log min",
        f"{IEEE}, B.1.1",
        "memory",
        cases.IEEE_BETA,
        0.01,
        "1,826 days",
        lambda: threshold_of_days().beta,
        "IEEE_BETA",
    ),
]
GAMMA = "chi-square table, one degree of freedom, 5 and 95 %, halved and over 3 years"
NO_EVENT = [
    check(
        f"no event in three years: {figure}",
        "1/year",
        GAMMA,
        "worked",
        value,
        within,
        "half of the last digit",
        partial(log_rate, figure),
        "NO_EVENT_IN_3_YEARS",
    )
    for figure, value, within in zip(
        ("likely", "low", "high"), cases.NO_EVENT_IN_3_YEARS, (0.005, 0.0005, 0.005), strict=True
    )
] + [
    check(
        f"six times the {figure} rate",
        "chi-square",
        GAMMA,
        "memory",
        value,
        within,
        "digits of the table",
        lambda figure=figure: 6 * log_rate(figure),
        data,
        relative=True,
    )
    for figure, value, within, data in (
        ("low", cases.CHI_SQUARE_1_LOW, 2e-3, "CHI_SQUARE_1_LOW"),
        ("high", cases.CHI_SQUARE_1_HIGH, 2e-4, "CHI_SQUARE_1_HIGH"),
    )
]
CHECKS: list[Check] = [
    *(check for row in cases.ROWS for check in of_row(row)),
    *MAJOR,
    *STANDARD,
    *THRESHOLD,
    *NO_EVENT,
]
