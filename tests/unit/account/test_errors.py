"""What the account stage refuses, with the texts of its errors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import FrozenInstanceError

import numpy as np
import pandas as pd
import pytest

from kit.account.cash import Escalation, Piece, cash_lines, fuel_usd
from kit.account.emissions import (
    co2e_kg_per_kwh_generated,
    delivered_factor_kg_per_kwh,
    fuel_co2e_kg,
    grid_co2e_kg,
    onsite_g,
)
from kit.account.measures import adjusted_irr_frac, irr_frac, measures, npv_usd, payback_years, rates_that_fit
from kit.account.time_value import by_year, flow_years, spv, upv_star
from kit.account.upkeep import exercise_run, replacement_years, service_count_by_year
from kit.study.equipment_models import Cost, Exercise

NOTHING = cash_lines(2, [], bill_usd_by_year=100.0)
PIECE = Piece(Cost(price_usd=10.0))

REFUSED: list[tuple[str, Callable[[], object]]] = [
    ("horizon_years must be 1 or more, got 0", lambda: by_year(1.0, 0, "fuel")),
    ("fuel must be one number or 3, one a year; got shape (2,)", lambda: by_year([1.0, 2.0], 3, "fuel")),
    ("fuel holds a number that is not finite", lambda: by_year(float("nan"), 3, "fuel")),
    (
        "bill_usd_by_year must be one number or 2, one a year; got shape (3,)",
        lambda: cash_lines(2, [], bill_usd_by_year=[1.0, 2.0, 3.0]),
    ),
    (
        "timing must be end_of_year or mid_year, got 'monthly'",
        lambda: flow_years(3, "monthly"),  # type: ignore[arg-type]
    ),
    (
        "timing must be end_of_year or mid_year, got 'monthly'",
        lambda: npv_usd(NOTHING, 0.1, "monthly"),  # type: ignore[arg-type]
    ),
    ("discount_rate_frac must be a number above -1, got -1.0", lambda: spv(-1.0, 3)),
    ("discount_rate_frac must be a number above -1, got nan", lambda: npv_usd(NOTHING, float("nan"))),
    ("escalation_frac must be a number above -1, got -2.0", lambda: upv_star(0.1, -2.0, 3)),
    ("fuel_frac must be a number above -1, got -1.5", lambda: Escalation(fuel_frac=-1.5)),
    ("unused_life_frac must be 0 to 1, got 1.5", lambda: Piece(Cost(price_usd=1.0), (), 1.5)),
    (
        "a replacement at year 2 lies outside 0..2",
        lambda: cash_lines(2, [Piece(Cost(price_usd=1.0), (2.0,))], bill_usd_by_year=0.0),
    ),
    ("fuel must hold numbers of 0 or more", lambda: fuel_usd(-1.0, 0.9)),
    ("delivery_usd needs fuel_per_delivery above 0, got None", lambda: fuel_usd(10.0, 0.9, 0.0, 25.0)),
    (
        "the option has 3 years, doing nothing 4",
        lambda: measures(NOTHING, cash_lines(3, [], bill_usd_by_year=1.0), 0.0),
    ),
    ("a life must be above 0, got 0.0 years and None of use", lambda: replacement_years(0.0, None, 0.0, 5)),
    ("use of a year must be 0 or more", lambda: replacement_years(5.0, 10.0, -1.0, 5)),
    (
        "due more than 100000 times: check the unit of 0.001, None",
        lambda: service_count_by_year(0.001, None, 8_760.0, 5),
    ),
    (
        "fuel_per_h at 4 kW must be 0 or more, got -1.0",
        lambda: exercise_run(Exercise(runs_per_year=1, minutes=5, output_frac=0.5), 8.0, -1.0),
    ),
    ("loss_frac must be 0 or more and below 1, got 1.0", lambda: delivered_factor_kg_per_kwh(0.3, 1.0)),
    ("fuel must be a number of 0 or more, got -1.0", lambda: fuel_co2e_kg(-1.0, 2.3)),
    ("import_kwh must hold numbers of 0 or more", lambda: grid_co2e_kg([1.0, np.nan], 0.3)),
    (
        "co2e_kg_per_kwh has shape (2,), import_kwh (3,)",
        lambda: grid_co2e_kg([1.0, 2.0, 3.0], [0.3, 0.4]),
    ),
    ("low_g_per_kwh 9 is above limit_g_per_kwh 8", lambda: onsite_g(1.0, 8.0, 9.0)),
    ("generated_kwh must be above 0, got 0.0", lambda: co2e_kg_per_kwh_generated(1.0, 2.3, 0.0)),
]


@pytest.mark.parametrize(("text", "call"), REFUSED, ids=[text for text, _ in REFUSED])
def test_refused_with_its_text(text: str, call: Callable[[], object]) -> None:
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == text


def test_why_there_is_no_figure() -> None:
    same = NOTHING - NOTHING
    dearer_later = cash_lines(2, [], bill_usd_by_year=30.0) - NOTHING
    upside_down = dearer_later * -1
    upside_down.loc[0, "incentive"] = 20.0
    free = dearer_later.copy()
    assert payback_years(same) == (None, "nothing extra is spent up front")
    assert irr_frac(same)[1] == "backup is not an investment with income: no year brings money in"
    assert irr_frac(free) == (None, "no year takes money out")
    assert irr_frac(upside_down) == (
        None,
        "less is spent first and more later: a rate of return does not apply",
    )
    assert adjusted_irr_frac(None, 0.03, 10) == (None, "nothing extra is invested")
    assert adjusted_irr_frac(-0.2, 0.03, 10) == (None, "it saves nothing in operation")


def test_no_rate_fits_where_the_value_never_crosses_zero() -> None:
    """-100, +100, -100: x^2 - x + 1 has no real root."""
    flows = pd.DataFrame({"bill": [-100.0, 100.0, -100.0]}, index=pd.RangeIndex(3, name="year"))
    assert rates_that_fit(flows["bill"].to_numpy()) == []
    assert irr_frac(flows) == (None, "no rate fits")


def test_doing_nothing_against_itself() -> None:
    got = measures(NOTHING, NOTHING, 0.05)
    assert got.net_saving_usd == 0
    assert got.payback_years is None
    assert got.saving_to_investment_ratio is None
    assert got.reasons["saving_to_investment_ratio"] == "nothing extra is invested"
    with pytest.raises(FrozenInstanceError):
        got.net_saving_usd = 1.0  # type: ignore[misc]


def test_costs_are_shown_without_negative_zero() -> None:
    cash = cash_lines(2, [], bill_usd_by_year=0.0)
    assert not np.signbit(cash.to_numpy()).any()
