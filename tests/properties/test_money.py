"""Laws of money and upkeep that hold for any input."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from kit.account.cash import LINES, Escalation, Piece, cash_lines, residual_usd
from kit.account.measures import (
    equivalent_annual_cost_usd,
    irr_frac,
    lifetime_cost_usd,
    measures,
    npv_usd,
    payback_years,
)
from kit.account.time_value import Timing, capital_recovery, flow_years, present_value, upv, upv_star
from kit.account.upkeep import replacement_years, service_count_by_year, unused_life_frac
from kit.study.equipment_models import Cost

years = st.integers(1, 40)
usd = st.floats(0, 50_000)
rates = st.one_of(st.just(0.0), st.floats(1e-4, 0.25))
growths = st.floats(-0.1, 0.1)
timings: st.SearchStrategy[Timing] = st.sampled_from(["end_of_year", "mid_year"])
lives = st.floats(0.5, 60)
hours = st.floats(0, 3_000)

# A whole table is slow to draw: a quarter of the profile's examples.
fewer = settings(max_examples=settings.default.max_examples // 4)


@st.composite
def costs(draw: st.DrawFn) -> Cost:
    given_parts: dict[str, Any] = {"price_usd": draw(usd)}
    for name in ("install_usd", "permit_usd", "incentive_usd", "upkeep_usd_per_year", "disposal_usd"):
        given_parts[name] = draw(usd)
    if draw(st.booleans()):
        given_parts["residual_frac"] = draw(st.floats(0, 1))
    if draw(st.booleans()):
        given_parts["replacement_usd"] = draw(usd)
    return Cost(**given_parts)


@st.composite
def pieces(draw: st.DrawFn, horizon: int) -> Piece:
    life, life_h, use = draw(lives), draw(st.one_of(st.none(), st.floats(200, 20_000))), draw(hours)
    return Piece(
        draw(costs()),
        replacement_years(life, life_h, use, horizon),
        unused_life_frac(life, life_h, use, horizon),
    )


@st.composite
def tables(draw: st.DrawFn, timing: Timing = "end_of_year", horizon: int | None = None) -> pd.DataFrame:
    n = horizon or draw(years)
    pattern = np.array(draw(st.lists(usd, min_size=1, max_size=4)))  # repeats over the years
    return cash_lines(
        n,
        draw(st.lists(pieces(n), max_size=2)),
        bill_usd_by_year=np.resize(pattern, n) - 5_000.0,
        fuel_usd_by_year=np.resize(pattern[::-1], n),
        service_usd_by_year=draw(usd),
        lost_load_usd_by_year=draw(usd),
        escalation=Escalation(*(draw(growths) for _ in range(5))),
        timing=timing,
    )


def near(value: float, scale: float) -> Any:
    return pytest.approx(value, rel=1e-9, abs=1e-9 * (1 + scale))


@fewer
@given(tables(), rates, timings, st.floats(0.01, 100))
def test_money_scales(cash: pd.DataFrame, rate: float, timing: Timing, times: float) -> None:
    scale = float(cash.abs().to_numpy().sum()) * times
    assert npv_usd(cash * times, rate, timing) == near(times * npv_usd(cash, rate, timing), scale)


@fewer
@given(tables(), timings)
def test_without_a_rate_present_value_is_the_sum(cash: pd.DataFrame, timing: Timing) -> None:
    flows = cash.to_numpy().ravel()
    assert npv_usd(cash, 0.0, timing) == near(math.fsum(flows), float(np.abs(flows).sum()))


@fewer
@given(tables(), rates, timings, st.permutations(LINES))
def test_the_order_of_lines_does_not_matter(
    cash: pd.DataFrame, rate: float, timing: Timing, order: list[str]
) -> None:
    scale = float(cash.abs().to_numpy().sum())
    assert npv_usd(cash[order], rate, timing) == near(npv_usd(cash, rate, timing), scale)
    parts = math.fsum(npv_usd(cash[[line]], rate, timing) for line in order)
    assert parts == near(npv_usd(cash, rate, timing), scale)


@fewer
@given(tables(), rates, timings)
def test_a_level_cost_over_the_life_is_the_lifetime_cost(
    cash: pd.DataFrame, rate: float, timing: Timing
) -> None:
    n = len(cash) - 1
    lifetime = lifetime_cost_usd(cash, rate, timing)
    level = equivalent_annual_cost_usd(lifetime, rate, n, timing)
    assert present_value(np.full(n, level), rate, timing) == pytest.approx(lifetime, rel=1e-8, abs=1e-6)
    paid = cash_lines(n, [], bill_usd_by_year=level, timing=timing)
    assert lifetime_cost_usd(paid, rate, timing) == pytest.approx(lifetime, rel=1e-8, abs=1e-6)


@fewer
@given(st.data(), rates, timings)
def test_measures_hang_together(data: st.DataObject, rate: float, timing: Timing) -> None:
    n = data.draw(years)
    cash, nothing = data.draw(tables(timing, n)), data.draw(tables(timing, n))
    got = measures(
        cash, nothing, rate, timing=timing, lost_load_priced=True, missed_kwh_by_year=3.0,
        avoided_outage_h_by_year=[2.0] * n,
    )  # fmt: skip
    scale = float(cash.abs().to_numpy().sum() + nothing.abs().to_numpy().sum())
    tolerance = 1e-8 * (1 + scale)
    base = lifetime_cost_usd(nothing, rate, timing)
    assert got.net_saving_usd == near(base - got.lifetime_cost_usd, scale)
    assert got.backup_usd_per_kwh is not None
    assert got.usd_per_avoided_outage_h is not None
    assert got.backup_usd_per_kwh * 3.0 == near(got.usd_per_avoided_outage_h * 2.0, scale)
    ratio = got.saving_to_investment_ratio
    if ratio is not None and abs(got.net_saving_usd) > tolerance:
        assert (ratio > 1) == (got.net_saving_usd > 0)
        if got.adjusted_irr_frac is not None:
            assert (got.adjusted_irr_frac > rate) == (got.net_saving_usd > 0)
    earned = (cash - nothing).drop(columns=["residual", "lost_load"])  # paid back by use, not by a sale
    earned_usd = npv_usd(earned, rate, timing)
    if earned.loc[0].sum() < -tolerance and abs(earned_usd) > tolerance:
        assert (got.discounted_payback_years is not None) == (earned_usd > 0)
    for name in ("payback_years", "discounted_payback_years", "irr_frac", "saving_to_investment_ratio"):
        assert (getattr(got, name) is None) == (name in got.reasons)
    for payback in (got.payback_years, got.discounted_payback_years):
        assert payback is None or 0 <= payback <= n


@fewer
@given(tables(), rates)
def test_lost_load_only_adds(cash: pd.DataFrame, rate: float) -> None:
    with_it = lifetime_cost_usd(cash, rate, with_lost_load=True)
    lost = -npv_usd(cash[["lost_load"]], rate)
    assert lost >= 0
    assert with_it - lost == near(lifetime_cost_usd(cash, rate), float(cash.abs().to_numpy().sum()))


@fewer
@given(st.data(), st.floats(0.0, 0.1), st.floats(0.0, 0.1), timings)
def test_real_and_nominal_agree(data: st.DataObject, rate: float, inflation: float, timing: Timing) -> None:
    """Every rate and escalation raised by inflation, each flow in that year's money: same present value."""
    n = data.draw(years)
    parts = data.draw(st.lists(pieces(n), max_size=2))
    real = [data.draw(growths) for _ in range(5)]
    nominal = [(1 + e) * (1 + inflation) - 1 for e in real]
    bill, fuel, service = (data.draw(usd) for _ in range(3))

    def lifetime(escalations: list[float], discount: float) -> float:
        cash = cash_lines(
            n, parts, bill_usd_by_year=bill, fuel_usd_by_year=fuel, service_usd_by_year=service,
            lost_load_usd_by_year=1.0, escalation=Escalation(*escalations), timing=timing,
        )  # fmt: skip
        return lifetime_cost_usd(cash, discount, timing, with_lost_load=True)

    in_nominal = lifetime(nominal, (1 + rate) * (1 + inflation) - 1)
    assert in_nominal == pytest.approx(lifetime(real, rate), rel=1e-8, abs=1e-5)


@given(years, rates, growths, timings)
def test_factors_are_sums_of_their_flows(n: int, rate: float, growth: float, timing: Timing) -> None:
    dates = flow_years(n, timing)
    flows = math.fsum(((1 + growth) / (1 + rate)) ** date for date in dates)
    assert upv_star(rate, growth, n, timing) == pytest.approx(flows, rel=1e-9)
    assert upv(rate, n, timing) * capital_recovery(rate, n, timing) == pytest.approx(1, rel=1e-8)
    cash = cash_lines(
        n, [], bill_usd_by_year=1.0, escalation=Escalation(electricity_frac=growth), timing=timing
    )
    assert lifetime_cost_usd(cash, rate, timing) == pytest.approx(flows, rel=1e-9)


@given(years, st.floats(100, 50_000), st.lists(st.floats(1, 20_000), min_size=1, max_size=40), timings)
def test_a_rate_of_return_has_no_present_value(
    n: int, price: float, savings: list[float], timing: Timing
) -> None:
    income = np.resize(savings, n)
    option = [Piece(Cost(price_usd=price, residual_frac=0.0))]
    difference = cash_lines(n, option, bill_usd_by_year=-income, timing=timing)
    rate, why = irr_frac(difference, timing)
    assert why is None
    assert rate is not None
    assume(rate > -0.9)
    slope = abs(npv_usd(difference, rate * 1.001 + 1e-6, timing) - npv_usd(difference, rate, timing))
    assert abs(npv_usd(difference, rate, timing)) <= 1e-3 * slope + 1e-6 * price
    assert (rate > 0) == (income.sum() > price) or math.isclose(income.sum(), price, rel_tol=1e-6)


@given(st.floats(50, 50_000), st.lists(st.floats(0, 5_000), min_size=1, max_size=30), rates)
def test_waiting_for_money_never_shortens_payback(price: float, income: list[float], rate: float) -> None:
    option = [Piece(Cost(price_usd=price, residual_frac=0.0))]
    difference = cash_lines(len(income), option, bill_usd_by_year=-np.array(income))
    simple, discounted = payback_years(difference)[0], payback_years(difference, rate)[0]
    assert (simple is not None) == (sum(income) >= price) or math.isclose(sum(income), price)
    if discounted is not None:
        assert simple is not None
        assert simple <= discounted + 1e-9


@given(lives, st.one_of(st.none(), st.floats(50, 20_000)), st.data())
def test_replacement_comes_before_the_horizon(life: float, life_h: float | None, data: st.DataObject) -> None:
    n = data.draw(years)
    use = data.draw(st.one_of(hours, st.lists(hours, min_size=n, max_size=n)))
    dates = replacement_years(life, life_h, use, n)
    assert all(0 < date < n for date in dates)
    assert list(dates) == sorted(set(dates))
    steps = np.diff([0.0, *dates])
    assert (steps <= life + 1e-8).all()
    left = unused_life_frac(life, life_h, use, n)
    assert 0 <= left <= 1
    last = dates[-1] if dates else 0.0
    assert n - last <= life + 1e-8


@given(st.data())
def test_residual_is_between_nothing_and_the_price(data: st.DataObject) -> None:
    piece = data.draw(pieces(data.draw(years)))
    price = max(piece.cost.price_usd, piece.cost.replacement_usd or 0.0)
    assert 0 <= residual_usd(piece) <= price


@given(st.floats(20, 2_000), st.floats(0.25, 10), st.data())
def test_service_is_done_no_less_than_either_trigger_asks(
    every_h: float, every_years: float, data: st.DataObject
) -> None:
    n = data.draw(years)
    use = data.draw(st.lists(st.floats(0, 1_500), min_size=n, max_size=n))
    both = service_count_by_year(every_h, every_years, use, n).sum()
    by_hours = service_count_by_year(every_h, None, use, n).sum()
    by_years = service_count_by_year(None, every_years, use, n).sum()
    assert max(by_hours, by_years) <= both <= by_hours + by_years
    assert by_hours in (math.floor(sum(use) / every_h + 1e-9), math.floor(sum(use) / every_h - 1e-9))
    assert by_years in (math.floor(n / every_years + 1e-9), math.floor(n / every_years - 1e-9))
