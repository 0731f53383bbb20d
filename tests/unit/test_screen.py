"""The comparison as text: nothing dropped, nothing wider than the screen."""

from __future__ import annotations

import math

import numpy as np

from kit.screen import finding_lines, table_text
from kit.study.finding import Finding

ROWS = {
    "do_nothing": {
        "option": "do_nothing",
        "meets_target": False,
        "up_front_usd": 0.0,
        "payback_years": math.nan,
    },
    "big_pack": {
        "option": "big_pack",
        "meets_target": np.bool_(True),
        "up_front_usd": np.float64(20100.0),
        "payback_years": None,
    },
}
NAMES = {"do_nothing": "Do nothing", "big_pack": "Two battery units"}


def test_measures_go_down_and_options_across() -> None:
    text, empty = table_text(ROWS, NAMES, "us", "USD", 100)
    assert empty == "No figure for any option: Payback."
    assert text.splitlines() == [
        "                                    Two battery",
        "                        Do nothing        units",
        "",
        "What it is",
        "  Meets what was asked          no          yes",
        "",
        "Money up front and in year 1",
        "  Paid up front                 $0      $20,100",
    ]


def test_options_that_do_not_fit_follow_below() -> None:
    *tables, _ = table_text(ROWS, NAMES, "us", "USD", 40)
    assert ["Do nothing" in t for t in tables] == [True, False]
    assert ["$20,100" in t for t in tables] == [False, True]
    assert max(len(line) for t in tables for line in t.splitlines()) <= 40


def test_a_column_not_filled_has_no_row() -> None:
    text, _ = table_text(ROWS, NAMES, "us", "USD", 100)
    assert "Fuel" not in text


def test_gallons_for_a_study_in_us_units() -> None:
    rows = {"portable": {"fuel_l_per_year": 37.85411784}}
    (us,) = table_text(rows, {}, "us", "USD", 100)
    (metric,) = table_text(rows, {}, "metric", "USD", 100)
    assert us.split()[-2:] == ["10", "gal"]
    assert metric.split()[-2:] == ["37.9", "L"]


def test_a_finding_shared_by_options_is_said_once() -> None:
    findings = [
        Finding("co", "portable", None, "Outdoors only."),
        Finding("sample", None, "house.meter", "The load is a sample."),
        Finding("co", "standby", None, "Outdoors only."),
        Finding("small", "portable", None, "It is loud.", severity="note"),
        Finding("start", "portable", None, "The pump does not start.", severity="stop"),
    ]
    assert finding_lines(findings, {"portable": "Portable", "standby": "Standby"}) == [
        "warning: Portable; Standby: Outdoors only.",
        "warning: study: The load is a sample.",
        "stop: Portable: The pump does not start.",
    ]
