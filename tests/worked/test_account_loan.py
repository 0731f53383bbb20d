"""Loans, fuel that grows stale, trips to the pump and a carbon price, with the arithmetic written out."""

from __future__ import annotations

import pytest

from kit.account.cash import Loan, Piece, cash_lines, loan_flows, stale_usd, trips_usd
from kit.account.measures import lifetime_cost_usd, modified_irr_frac, npv_usd
from kit.study.equipment_models import Cost
from kit.study.models import Loan as LoanTerms
from kit.study.models import Money

BOUGHT = Cost(price_usd=9_000.0, install_usd=900.0, permit_usd=100.0)


def table(years: int, loan: Loan | None):  # type: ignore[no-untyped-def]
    return cash_lines(years, [Piece(BOUGHT)], bill_usd_by_year=0.0, loan=loan)


def test_level_payments() -> None:
    """Two years at 10 %: payment = 1,000 x 0.1 / (1 - 1.1^-2) = 576.190476."""
    lent, paid = loan_flows(Loan(1.0, 0.10, 2), 1_000.0, 3)
    payment = 1_000 * 0.1 / (1 - 1.1**-2)
    assert lent == 1_000.0
    assert paid == pytest.approx([payment, payment, 0.0])
    assert payment == pytest.approx(576.190476, abs=5e-7)


def test_what_is_still_owed_is_repaid_at_the_move() -> None:
    """After the first payment 1,000 x 1.1 - 576.19 = 523.81 is owed, and repaid with it."""
    _, paid = loan_flows(Loan(1.0, 0.10, 2), 1_000.0, 1)
    payment = 1_000 * 0.1 / (1 - 1.1**-2)
    assert paid == pytest.approx([payment + 1_000 * 1.1 - payment])


def test_payments_replace_the_lent_part_of_the_purchase() -> None:
    cash = table(5, Loan(0.6, 0.05, 3))
    assert cash["purchase"].tolist() == pytest.approx([-4_000.0, 0, 0, 0, 0, 0])
    payment = 6_000 * 0.05 / (1 - 1.05**-3)
    assert cash["loan"].tolist() == pytest.approx([0, -payment, -payment, -payment, 0, 0])


def test_a_loan_at_the_discount_rate_changes_nothing() -> None:
    """Nominal study: the payments' present value is what was lent, whatever the share or term."""
    for share, term, years in ((1.0, 10, 15), (0.5, 4, 15), (1.0, 20, 15)):
        with_loan = lifetime_cost_usd(table(years, Loan(share, 0.06, term)), 0.06)
        assert with_loan == pytest.approx(lifetime_cost_usd(table(years, None), 0.06), rel=1e-12)


def test_nominal_payments_are_deflated_in_a_real_study() -> None:
    """10,000 at 6 % over 10 years, real 3 %, inflation 2.5 %: 10,204 deflated, 11,590 if not."""
    real = npv_usd(table(10, Loan(1.0, 0.06, 10, inflation_frac=0.025))[["loan"]], 0.03)
    wrong = npv_usd(table(10, Loan(1.0, 0.06, 10))[["loan"]], 0.03)
    assert -real == pytest.approx(10_204.0, abs=0.5)
    assert -wrong == pytest.approx(11_590.0, abs=0.5)


def test_real_money_and_a_loan_need_inflation() -> None:
    terms = LoanTerms(rate_frac=0.06, term_years=10)
    with pytest.raises(ValueError, match="inflation_frac"):
        Money(price_year=2026, discount_rate_frac=0.03, loan=terms)
    assert Money(price_year=2026, discount_rate_frac=0.03, loan=terms, inflation_frac=0.02).loan == terms
    assert Money(price_year=2026, discount_rate_frac=0.05, loan=terms, money_basis="nominal").loan == terms


def test_stale_fuel() -> None:
    """60 L turned over twice a year is 120 L; 20 L were burnt; 100 L at 0.9, a quarter still worth it."""
    assert stale_usd(60.0, 20.0, 6.0, 0.9) == pytest.approx(100 * 0.9)
    assert stale_usd(60.0, 20.0, 6.0, 0.9, worth_frac=0.25) == pytest.approx(100 * 0.9 * 0.75)
    assert stale_usd(60.0, 500.0, 6.0, 0.9) == 0.0
    assert stale_usd(60.0, 20.0, None, 0.9) == 0.0


def test_trips() -> None:
    """90 L at 40 L a trip is 2.25 trips; each 5 for the drive and 1.5 h at 20."""
    assert trips_usd(90.0, 40.0, 5.0, 1.5, 20.0) == pytest.approx(2.25 * (5 + 30))
    assert trips_usd(90.0, None, 5.0, 1.5, 20.0) == 0.0


def test_carbon_and_trips_have_lines_of_their_own() -> None:
    cash = cash_lines(2, [], bill_usd_by_year=0.0, carbon_usd_by_year=12.0, trips_usd_by_year=[1.0, 2.0])
    assert cash["carbon"].tolist() == [0.0, -12.0, -12.0]
    assert cash["trips"].tolist() == [0.0, -1.0, -2.0]


def test_modified_rate_by_hand() -> None:
    """100 out, 60 and 60 back, put away at 5 %: (60 x 1.05 + 60) / 100 = 1.23 after two years."""
    cash = table(2, None) * 0.0
    cash.loc[:, "bill"] = [-100.0, 60.0, 60.0]
    rate, why = modified_irr_frac(cash, 0.08, 0.05)
    assert why is None
    assert rate == pytest.approx(1.23**0.5 - 1)
    cash.loc[:, "bill"] = [-100.0, -60.0, -60.0]
    assert modified_irr_frac(cash, 0.08, 0.05)[0] is None
