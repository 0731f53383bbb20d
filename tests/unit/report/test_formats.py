"""How figures print. Expected texts are written by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.report.charts import hours_kept_on
from kit.report.explore_faces import all_options
from kit.report.formats import CHANCE, figure, short_money, whole_money
from kit.report.page import _plain_table
from kit.report.tables import full_table, headline_table
from kit.screen import comparison_text
from kit.units import chance_text
from tests.unit.stages.small_study import compared, study_text

NB = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"


@pytest.mark.parametrize(
    ("value", "unit", "units", "text"),
    [
        (1234.5, "usd", "us", "$1,234"),
        (99.994, "usd", "us", "$99.99"),
        (-22.6, "usd", "us", f"{MINUS}$22.60"),
        (0.0, "usd", "us", "$0"),
        (0.9, "frac", "us", "90%"),
        (0.896, "frac", "us", "89.6%"),
        (0.9996, "frac", "us", ">99.9%"),
        (0.0004, "frac", "us", "<0.1%"),
        (1.0, "frac", "us", "100%"),
        (0.5136, "frac", "us", "51.4%"),
        (-0.0316, "frac", "us", f"{MINUS}3.2%"),
        (-0.0004, "frac", "us", "0%"),
        (3.785411784, "l", "us", f"1{NB}gal"),  # the US gallon: 231 cubic inches
        (3.785411784, "l", "metric", f"3.8{NB}L"),
        (0.3048, "m", "us", f"1{NB}ft"),
        (72.0, "h", "us", f"72{NB}h"),
        (0.05, "h", "us", f"3{NB}min"),
        (0.0033333, "h", "us", f"12{NB}s"),
        (0.02, "s", "us", f"0.02{NB}s"),
        (402.3, "kg", "us", f"402{NB}kg"),
        (4.0, "count", "us", "4"),
        (None, "usd", "us", "\N{EN DASH}"),
        (float("nan"), "h", "us", "\N{EN DASH}"),
        (True, "", "us", "yes"),
        (False, "", "us", "no"),
    ],
)
def test_figure(value: float | None, unit: str, units: str, text: str) -> None:
    assert figure(value, unit, units) == text  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("frac", "text"),
    [
        (0.5136, "51.3%"),  # the nearest tenth would be 51.4
        (0.89999, "89.9%"),
        (0.9, "90%"),
        (0.29, "29%"),  # 100 x 0.29 is a little less than 29 in binary
        (0.9999999999999999, "100%"),  # a sum of fractions that is 1
        (0.99951, ">99.9%"),
        (0.999, "99.9%"),
        (0.0004, "<0.1%"),
        (3e-17, "0%"),
        (0.0, "0%"),
        (1.0, "100%"),
    ],
)
def test_a_chance_is_rounded_down(frac: float, text: str) -> None:
    assert figure(frac, CHANCE) == text == chance_text(frac)


@given(st.integers(1, 999), st.floats(0.0, 1.0))
def test_a_missed_target_is_not_printed_as_a_met_one(tenths: int, frac: float) -> None:
    """Targets in tenths of a percent: what prints as the target, or above, is as good as there."""
    printed = chance_text(frac).strip("<>%")
    if float(printed) >= tenths / 10 and not chance_text(frac).startswith("<"):
        assert frac >= tenths / 1000 - 1e-9


def test_other_currencies_keep_their_code() -> None:
    assert figure(1500.0, "usd", currency="CHF") == f"CHF{NB}1,500"
    assert whole_money(-96.2) == f"{MINUS}$96"
    assert short_money(25_547.0) == "$25.5k"
    assert short_money(-125_547.0) == f"{MINUS}$126k"


def test_one_chance_is_one_number(tmp_path: Path) -> None:
    """A chance whose nearest tenth lies above it prints the same in sentence, table, chart, page, screen."""
    asked = study_text(("portable", "battery")).replace("keep_on_h: 8", "keep_on_h: 10")
    c = compared(tmp_path, text=asked)
    chance = float(c.outcomes["portable"].columns["ride_through_frac_asked"] or 0.0)
    text, nearest = chance_text(chance), f"{100 * chance:.1f}%"
    assert text != nearest
    places = {
        "sentence": " ".join(c.verdict.flips),
        "table": headline_table(c).text,
        "all figures": full_table(c).text,
        "chart": hours_kept_on(c).description,
        "page": _plain_table(c),
        "explore": all_options(c, "").text,
        "screen": comparison_text(c, 100),
    }
    for place, said in places.items():
        assert text in said, place
        assert nearest not in said, place
