"""The comparison as text: nothing dropped, nothing wider than the screen."""

from __future__ import annotations

import math

import numpy as np

from kit.screen import table_text

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
    (text,) = table_text(ROWS, NAMES, "us", "USD", 100)
    assert text.splitlines() == [
        "                                    Two battery",
        "                        Do nothing        units",
        "",
        "What it is",
        "  Meets what was asked          no          yes",
        "",
        "Money up front and in year 1",
        "  Paid up front                 $0      $20,100",
        "",
        "Over the study’s horizon",
        "  Payback                        –            –",
    ]


def test_options_that_do_not_fit_follow_below() -> None:
    tables = table_text(ROWS, NAMES, "us", "USD", 40)
    assert ["Do nothing" in t for t in tables] == [True, False]
    assert ["$20,100" in t for t in tables] == [False, True]
    assert max(len(line) for t in tables for line in t.splitlines()) <= 40


def test_a_column_not_filled_has_no_row() -> None:
    (text,) = table_text(ROWS, NAMES, "us", "USD", 100)
    assert "Fuel" not in text


def test_gallons_for_a_study_in_us_units() -> None:
    rows = {"portable": {"fuel_l_per_year": 37.85411784}}
    (us,) = table_text(rows, {}, "us", "USD", 100)
    (metric,) = table_text(rows, {}, "metric", "USD", 100)
    assert us.split()[-2:] == ["10", "gal"]
    assert metric.split()[-2:] == ["37.9", "L"]
