"""The account stage against published values of engineering economy."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest
from scipy.optimize import brentq

from kit.account.cash import Escalation, Piece, cash_lines
from kit.account.measures import (
    adjusted_irr_frac,
    irr_frac,
    measures,
    modified_irr_frac,
    npv_usd,
    payback_years,
)
from kit.account.time_value import capital_recovery, spv, upv, upv_star
from kit.study.equipment_models import Cost
from tests.published.economics_cases import (
    AIRR,
    ESCALATING,
    FACTORS,
    HANDBOOK,
    HANDBOOK_INPUTS,
    HANDBOOK_RESULTS,
    RETURNS,
    Case,
)


def _table(flows: tuple[float, ...]) -> pd.DataFrame:
    """Flows of years 0..N as a cash table with one line."""
    return pd.DataFrame({"bill": flows}, index=pd.RangeIndex(len(flows), name="year"))


CALLS: dict[str, Callable[..., float | None]] = {
    "spv": spv,
    "upv": upv,
    "upv_star": upv_star,
    "capital_recovery": capital_recovery,
    # The yearly deposit that adds up to 1: by textbook identity A/F = A/P - i.
    "sinking_fund": lambda discount_rate_frac, years: (
        capital_recovery(discount_rate_frac, years) - discount_rate_frac
    ),
    "irr": lambda flows: irr_frac(_table(flows))[0],
    "mirr": lambda flows, **rates: modified_irr_frac(_table(flows), **rates)[0],
    "npv": lambda flows, rate: npv_usd(_table(flows), rate),
    "adjusted_irr": lambda **inputs: adjusted_irr_frac(**inputs)[0],
}


@pytest.mark.parametrize(
    "case", [*FACTORS, *ESCALATING, *RETURNS, AIRR], ids=lambda case: f"{case.call} {case.place}"
)
def test_published_value(case: Case) -> None:
    assert CALLS[case.call](**case.inputs) == pytest.approx(case.expected, abs=case.tolerance, rel=0), (
        f"{case.source}, {case.place} ({case.provenance}); tolerance: {case.why}"
    )


def test_a_first_flow_in_year_one_is_another_convention() -> None:
    """TRAP: a spreadsheet discounts the first figure by a year; here year 0 is not discounted."""
    flows = (-10_000.0, 3_000.0, 4_200.0, 6_800.0)
    assert npv_usd(_table(flows), 0.10) == pytest.approx(1_188.44 * 1.10, abs=0.006)


def _cash(system: dict[str, float], escalation_frac: float) -> pd.DataFrame:
    case = HANDBOOK_INPUTS
    cost = Cost(
        price_usd=system["price"],
        replacement_usd=system["fan"],
        residual_frac=system["residual"] / system["price"],
        upkeep_usd_per_year=system["upkeep"],
    )
    return cash_lines(
        case["years"],
        [Piece(cost, replaced_years=(float(case["fan_year"]),))],
        bill_usd_by_year=system["power"],
        escalation=Escalation(electricity_frac=escalation_frac),
    )


def test_handbook_case() -> None:
    """Lifetime cost, saving, ratio and adjusted rate through the whole chain of functions."""
    case = HANDBOOK_INPUTS
    rate, years = case["discount_rate_frac"], case["years"]
    # The handbook gives the price path as a factor; the one escalation with that factor:
    growth = float(
        brentq(lambda e: upv_star(rate, e, years) - case["electricity_upv_star"], -0.02, 0.02, xtol=1e-14)
    )
    base, other = _cash(case["base"], growth), _cash(case["other"], growth)
    got = measures(other, base, rate)
    # Simple payback is stated at base-date prices.
    payback, _ = payback_years(_cash(case["other"], 0.0) - _cash(case["base"], 0.0))
    found = {
        "base_lifetime_cost_usd": measures(base, base, rate).lifetime_cost_usd,
        "other_lifetime_cost_usd": got.lifetime_cost_usd,
        "net_saving_usd": got.net_saving_usd,
        "saving_to_investment_ratio": got.saving_to_investment_ratio,
        "adjusted_irr_frac": got.adjusted_irr_frac,
        "payback_years": payback,
    }
    assert found.keys() == HANDBOOK_RESULTS.keys()
    for name, (expected, tolerance, why) in HANDBOOK_RESULTS.items():
        assert found[name] == pytest.approx(expected, abs=tolerance, rel=0), f"{HANDBOOK}: {name}, {why}"
