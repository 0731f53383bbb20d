"""Small money cases with the arithmetic written out. All figures are invented."""

from __future__ import annotations

import pytest

from kit.account.cash import (
    LINES,
    Escalation,
    Piece,
    cash_lines,
    fuel_usd,
    residual_usd,
    system_cost,
    up_front_usd,
)
from kit.account.measures import irr_frac, measures, npv_usd, payback_years, saving_to_investment_ratio
from kit.study.equipment_models import Cost

SET = Cost(
    price_usd=1_000.0,
    install_usd=300.0,
    permit_usd=50.0,
    incentive_usd=150.0,
    upkeep_usd_per_year=20.0,
    replacement_usd=900.0,
    disposal_usd=40.0,
)


def test_three_years_line_by_line() -> None:
    """A piece of two years' life over three years: bought again at year 2, half used up at year 3."""
    cash = cash_lines(
        3,
        [Piece(SET, replaced_years=(2.0,), unused_life_frac=0.5)],
        bill_usd_by_year=[500.0, 510.0, -30.0],
        fuel_usd_by_year=100.0,
        service_usd_by_year=[0.0, 60.0, 0.0],
        lost_load_usd_by_year=7.0,
        escalation=Escalation(
            electricity_frac=0.10, fuel_frac=0.20, upkeep_frac=0.50, replacement_frac=0.05, lost_load_frac=0.0
        ),
    )
    assert list(cash.columns) == list(LINES)
    assert list(cash.index) == [0, 1, 2, 3]
    expected = {
        "purchase": [-(1_000 + 300 + 50), 0, 0, 0],
        "incentive": [150, 0, 0, 0],
        "bill": [0, -500 * 1.1, -510 * 1.1 * 1.1, 30 * 1.1 * 1.1 * 1.1],
        "fuel": [0, -100 * 1.2, -100 * 1.44, -100 * 1.728],
        "upkeep": [0, -20 * 1.5, -(20 + 60) * 2.25, -20 * 3.375],
        "replacement": [0, 0, -900 * 1.1025, 0],
        "residual": [0, 0, 0, 900 * 0.5 * 1.157625],
        "disposal": [0, 0, -40 * 1.1025, -40 * 1.157625],
        "lost_load": [0, -7, -7, -7],
    }
    for line, flows in expected.items():
        assert cash[line].to_numpy() == pytest.approx(flows, rel=1e-12, abs=1e-12), line


def test_mid_year_moves_the_yearly_lines_and_not_the_dated_ones() -> None:
    """Price at half a year: 121 x 1.21^0.5 = 133.1; discounted at 44 % for half a year: / 1.2."""
    cost = Cost(price_usd=100.0, residual_frac=0.5)
    cash = cash_lines(
        1,
        [Piece(cost)],
        bill_usd_by_year=121.0,
        escalation=Escalation(electricity_frac=0.21),
        timing="mid_year",
    )
    assert cash.loc[1, "bill"] == pytest.approx(-121.0 * 1.1)
    assert npv_usd(cash, 0.44, "mid_year") == pytest.approx(-100 - 133.1 / 1.2 + 50 / 1.44)


def test_measures_of_a_two_year_case() -> None:
    """At 25 %: doing nothing pays 500 a year; the option 400 down, 200 a year, 100 back at the end."""
    nothing = cash_lines(2, [], bill_usd_by_year=500.0, lost_load_usd_by_year=50.0)
    option = cash_lines(2, [Piece(Cost(price_usd=400.0, residual_frac=0.25))], bill_usd_by_year=200.0)
    got = measures(
        option,
        nothing,
        0.25,
        lost_load_priced=True,
        missed_kwh_by_year=[50.0, 62.5],
        avoided_outage_h_by_year=10.0,
    )
    lifetime = 400 + 200 / 1.25 + 200 / 1.5625 - 100 / 1.5625  # 400 + 160 + 128 - 64 = 624
    assert lifetime == 624
    assert got.lifetime_cost_usd == pytest.approx(624)
    assert got.lifetime_cost_with_lost_load_usd == pytest.approx(624)  # its own lost load is none
    assert got.equivalent_annual_cost_usd == pytest.approx(624 / (1 / 1.25 + 1 / 1.5625))
    assert got.net_saving_usd == pytest.approx(500 / 1.25 + 500 / 1.5625 - 624)  # 720 - 624 = 96
    assert got.payback_years == pytest.approx(1 + 100 / 300)
    # Discounted: -400 + 240 = -160 after a year; the second brings 192 in its course.
    assert got.discounted_payback_years == pytest.approx(1 + 160 / 192)
    # Savings 300/1.25 + 300/1.5625 = 432 over 400 - 64 = 336.
    assert got.saving_to_investment_ratio == pytest.approx(432 / 336)
    assert got.adjusted_irr_frac == pytest.approx(1.25 * (432 / 336) ** 0.5 - 1)
    # -400 x^2 + 300 x + 400 = 0 for the growth factor x.
    assert got.irr_frac == pytest.approx((300 + (300**2 + 4 * 400 * 400) ** 0.5) / 800 - 1)
    # It costs 96 LESS than doing nothing, over 50/1.25 + 62.5/1.5625 = 80 kWh and 14.4 h.
    assert got.backup_usd_per_kwh == pytest.approx(-96 / 80)
    assert got.usd_per_avoided_outage_h == pytest.approx(-96 / (10 / 1.25 + 10 / 1.5625))
    assert got.reasons == {}


def test_backup_that_only_costs() -> None:
    """No year brings money in: every rate is None with a reason; lost load is left unpriced."""
    nothing = cash_lines(4, [], bill_usd_by_year=100.0)
    option = cash_lines(4, [Piece(Cost(price_usd=200.0, upkeep_usd_per_year=10.0))], bill_usd_by_year=105.0)
    got = measures(option, nothing, 0.0, missed_kwh_by_year=0.0)
    assert got.net_saving_usd == pytest.approx(-(200 + 4 * (10 + 5)))
    nones = {
        "lifetime_cost_with_lost_load_usd": "lost load is not priced",
        "payback_years": "not within the life",
        "discounted_payback_years": "not within the life",
        "irr_frac": "backup is not an investment with income: no year brings money in",
        "modified_irr_frac": "backup is not an investment with income: no year brings money in",
        "adjusted_irr_frac": "it saves nothing in operation",
        "backup_usd_per_kwh": "doing nothing misses no must-run energy",
        "usd_per_avoided_outage_h": "no outage hour is avoided",
    }
    assert got.reasons == nones
    assert all(getattr(got, name) is None for name in nones)
    assert got.saving_to_investment_ratio == pytest.approx(-60 / 200)


def test_payback_waits_for_a_replacement() -> None:
    """100 down, 60 a year, 90 for a new piece at year 3: back in year 2, gone again in year 3.

    Balance -100, -40, +20, -10 (20 + 60 - 90), +50: it stays back from 3 + 10/60 years on.
    """
    nothing = cash_lines(4, [], bill_usd_by_year=60.0)
    piece = Piece(Cost(price_usd=100.0, replacement_usd=90.0, residual_frac=0.0), replaced_years=(3.0,))
    difference = cash_lines(4, [piece], bill_usd_by_year=0.0) - nothing
    assert payback_years(difference) == (pytest.approx(3 + 10 / 60), None)


def test_payback_by_the_residual_comes_at_the_years_end() -> None:
    """100 down, 20 a year, 70 back at the end of year 2: -100, -80, -60 + 70; not inside year 2."""
    nothing = cash_lines(2, [], bill_usd_by_year=20.0)
    difference = (
        cash_lines(2, [Piece(Cost(price_usd=100.0, residual_frac=0.7))], bill_usd_by_year=0.0) - nothing
    )
    assert payback_years(difference) == (2.0, None)


def test_two_rates_fit() -> None:
    """-100, +230, -132: (x - 1.1)(x - 1.2) x 100 = 100 x^2 - 230 x + 132, rates 10 % and 20 %."""
    nothing = cash_lines(2, [], bill_usd_by_year=[230.0, 0.0])
    option = cash_lines(2, [Piece(Cost(price_usd=100.0, residual_frac=0.0))], bill_usd_by_year=[0.0, 132.0])
    assert irr_frac(option - nothing) == (None, "several rates fit")


def test_one_rate_fits_in_spite_of_several_changes() -> None:
    """-100, +110, -10, +11: (x - 1.1)(100 x^2 + 10) has one positive root, 10 %."""
    nothing = cash_lines(3, [], bill_usd_by_year=[110.0, 0.0, 11.0])
    option = cash_lines(
        3, [Piece(Cost(price_usd=100.0, residual_frac=0.0))], bill_usd_by_year=[0.0, 10.0, 0.0]
    )
    assert irr_frac(option - nothing) == (pytest.approx(0.10, abs=1e-10), None)


def test_rate_of_return_in_mid_year() -> None:
    """100 down, 121 half a year later: 1.21 in half a year, 1.4641 a year."""
    difference = cash_lines(1, [Piece(Cost(price_usd=100.0, residual_frac=0.0))], bill_usd_by_year=-121.0)
    assert irr_frac(difference, "mid_year") == (pytest.approx(0.4641), None)


def test_residual_is_one_line() -> None:
    """A stated share replaces the straight line, even a stated share of nothing."""
    straight = Piece(Cost(price_usd=800.0), unused_life_frac=0.25)
    assert residual_usd(straight) == 800 * 0.25
    assert residual_usd(Piece(Cost(price_usd=800.0, residual_frac=0.1), unused_life_frac=0.25)) == 800 * 0.1
    assert residual_usd(Piece(Cost(price_usd=800.0, residual_frac=0.0), unused_life_frac=0.25)) == 0
    renewed = Piece(Cost(price_usd=800.0, replacement_usd=600.0), (5.0,), unused_life_frac=0.5)
    assert residual_usd(renewed) == 600 * 0.5


def test_cost_of_a_system_of_units() -> None:
    """Two units at 3,000 with two packs of 500 each; one installation, permit and incentive."""
    unit = Cost(
        price_usd=3_000.0, install_usd=900.0, permit_usd=100.0, incentive_usd=200.0, disposal_usd=50.0
    )
    system = system_cost(unit, unit_count=2, packs_per_unit=2, pack_price_usd=500.0)
    assert system.price_usd == 2 * (3_000 + 2 * 500)
    assert system.replacement_usd is None
    assert system.disposal_usd == 2 * 50
    assert up_front_usd([Piece(system)]) == 8_000 + 900 + 100 - 200
    assert system_cost(SET, unit_count=3).replacement_usd == 3 * 900


def test_fuel_bill_of_a_year() -> None:
    """120 L at 0.9, a tank rent of 60, deliveries of 400 L at 25 each: 0.3 of one expected."""
    assert fuel_usd(120.0, 0.9, 60.0, 25.0, 400.0) == pytest.approx(120 * 0.9 + 60 + 25 * 0.3)


def test_ratio_counts_replacement_and_disposal_as_investment() -> None:
    """At 0 %: invested 100 + 80 + 2 x 5 - 20; saved 3 x 90."""
    piece = Piece(Cost(price_usd=100.0, replacement_usd=80.0, residual_frac=0.2, disposal_usd=5.0), (2.0,))
    difference = cash_lines(3, [piece], bill_usd_by_year=0.0) - cash_lines(3, [], bill_usd_by_year=90.0)
    assert saving_to_investment_ratio(difference, 0.0) == (pytest.approx(270 / 170), None)
