"""How figures print. Expected texts are written by hand."""

from __future__ import annotations

import pytest

from kit.report.formats import figure, short_money, whole_money

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


def test_a_missed_target_is_not_rounded_into_a_met_one() -> None:
    assert figure(0.8994, "frac") == "89.9%"


def test_other_currencies_keep_their_code() -> None:
    assert figure(1500.0, "usd", currency="CHF") == f"CHF{NB}1,500"
    assert whole_money(-96.2) == f"{MINUS}$96"
    assert short_money(25_547.0) == "$25.5k"
    assert short_money(-125_547.0) == f"{MINUS}$126k"
