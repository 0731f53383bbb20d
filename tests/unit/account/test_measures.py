"""Payback beside a resale value, and money in the middle of the year, by hand. All figures are invented."""

from __future__ import annotations

import pytest

from kit.account.cash import Piece, cash_lines
from kit.account.measures import measures, modified_irr_frac, payback_years
from kit.study.equipment_models import Cost


def test_payback_is_by_what_is_saved_and_not_by_the_sale() -> None:
    """100 down, 40 a year for two years, sold for 40: saved are 80 of 100, so it is never paid back.

    The rate of return counts the sale: -100 x^2 + 40 x + 80 = 0 for the growth factor x.
    """
    nothing = cash_lines(2, [], bill_usd_by_year=40.0)
    option = cash_lines(2, [Piece(Cost(price_usd=100.0, residual_frac=0.4))], bill_usd_by_year=0.0)
    got = measures(option, nothing, 0.0)
    assert got.net_saving_usd == pytest.approx(40 + 40 + 40 - 100)
    assert got.payback_years is None
    assert got.discounted_payback_years is None
    assert got.reasons["payback_years"] == "not within the life"
    assert got.reasons["discounted_payback_years"] == "not within the life"
    assert got.irr_frac == pytest.approx((40 + (40**2 + 4 * 100 * 80) ** 0.5) / 200 - 1)


def test_discounted_payback_leaves_the_sale_out_too() -> None:
    """100 down, 55 a year, sold for 40 after two years: without interest back at 1 + 45/55 years.

    At 25 % the savings are worth 55/1.25 + 55/1.5625 = 44 + 35.2 = 79.2: not back, though 40/1.5625 = 25.6
    of the sale would make it 104.8.
    """
    nothing = cash_lines(2, [], bill_usd_by_year=55.0)
    option = cash_lines(2, [Piece(Cost(price_usd=100.0, residual_frac=0.4))], bill_usd_by_year=0.0)
    got = measures(option, nothing, 0.25)
    assert got.payback_years == pytest.approx(1 + 45 / 55)
    assert got.discounted_payback_years is None
    assert got.net_saving_usd == pytest.approx(79.2 + 25.6 - 100)


@pytest.mark.parametrize(
    ("residual_usd", "answer"), [(74.0, (1.0, None)), (70.0, (None, "not within the life"))]
)
def test_a_sale_in_mid_year_cash_is_dated_at_the_years_end(
    residual_usd: float, answer: tuple[float | None, str | None]
) -> None:
    """At 44 % half a year is worth 1.2: 60 saved in the middle of the year are 50 of the 100 spent.

    Sold at the year's end for 74: 74/1.44 = 51.4, enough, and then only; for 70: 48.6, too little, where in
    the middle of the year 70/1.2 = 58.3 would do.
    """
    piece = Piece(Cost(price_usd=100.0, residual_frac=residual_usd / 100.0))
    difference = cash_lines(1, [piece], bill_usd_by_year=-60.0, timing="mid_year")
    assert payback_years(difference, 0.44, "mid_year") == answer


def test_modified_rate_of_return_in_mid_year() -> None:
    """100 down, 72 for a new piece at the end of year 1, 100 saved in the middle of each of two years.

    Put away at 21 % (1.1 in half a year) for a year and a half, and for half a year, the savings grow to
    100 x 1.331 + 100 x 1.1 = 243.1. Financed at 44 % the outlays are 100 + 72/1.44 = 150. Over two years the
    rate is (243.1/150)^(1/2) - 1.
    """
    nothing = cash_lines(2, [], bill_usd_by_year=100.0, timing="mid_year")
    piece = Piece(Cost(price_usd=100.0, replacement_usd=72.0, residual_frac=0.0), replaced_years=(1.0,))
    option = cash_lines(2, [piece], bill_usd_by_year=0.0, timing="mid_year")
    expected_frac = (243.1 / 150) ** 0.5 - 1
    answer = modified_irr_frac(option - nothing, 0.44, 0.21, "mid_year")
    assert answer == (pytest.approx(expected_frac, rel=1e-12), None)
    got = measures(option, nothing, 0.44, timing="mid_year", reinvest_rate_frac=0.21)
    assert got.modified_irr_frac == pytest.approx(expected_frac, rel=1e-12)
