"""The account stage at the places of economics_cases.py and emissions_cases.py."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial

import pandas as pd
from scipy.optimize import brentq

from kit.account.cash import Escalation, Piece, cash_lines, fuel_usd
from kit.account.emissions import (
    co2e_kg_per_kwh_generated,
    delivered_factor_kg_per_kwh,
    fuel_co2e_kg,
    grid_co2e_kg,
    kg_per_kwh_from_lb_per_mwh,
    onsite_g,
)
from kit.account.measures import (
    adjusted_irr_frac,
    irr_frac,
    measures,
    modified_irr_frac,
    npv_usd,
    payback_years,
)
from kit.account.time_value import capital_recovery, spv, upv, upv_star
from kit.account.upkeep import exercise_run
from kit.report.checks import Check, Provenance
from kit.study.equipment_models import Cost, Exercise
from tests.published import economics_cases as cases
from tests.published import emissions_cases
from tests.published.economics_cases import Case

MONEY = "Money: factors, returns, a handbook case"
EMISSIONS = "Emissions and exercise fuel"


def table_of(flows: tuple[float, ...]) -> pd.DataFrame:
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
    "irr": lambda flows: irr_frac(table_of(flows))[0],
    "mirr": lambda flows, **rates: modified_irr_frac(table_of(flows), **rates)[0],
    "npv": lambda flows, rate: npv_usd(table_of(flows), rate),
    "adjusted_irr": lambda **inputs: adjusted_irr_frac(**inputs)[0],
    "lb_per_mwh": kg_per_kwh_from_lb_per_mwh,
    "delivered": delivered_factor_kg_per_kwh,
    "grid": grid_co2e_kg,
    "fuel": fuel_co2e_kg,
    "intensity": co2e_kg_per_kwh_generated,
    "limit_high": lambda **inputs: onsite_g(**inputs).high,
    "exercise": lambda runs_per_year, minutes, fuel_per_h: (
        exercise_run(Exercise(runs_per_year=runs_per_year, minutes=minutes), 10.0, fuel_per_h).fuel
    ),
    "fuel_money": lambda **inputs: float(fuel_usd(**inputs)),
}
NAMED = {  # call: words, unit
    "spv": ("present value factor P/F", "factor"),
    "upv": ("present value factor P/A", "factor"),
    "upv_star": ("present value factor, escalating", "factor"),
    "capital_recovery": ("capital recovery factor A/P", "factor"),
    "sinking_fund": ("sinking fund factor A/F", "factor"),
    "irr": ("internal rate of return", "share"),
    "mirr": ("modified internal rate of return", "share"),
    "npv": ("net present value", "usd"),
    "adjusted_irr": ("adjusted internal rate of return", "share"),
    "lb_per_mwh": ("grid factor", "kg/kWh"),
    "delivered": ("grid factor", "kg/kWh"),
    "grid": ("CO2e of the grid", "kg"),
    "fuel": ("CO2e of fuel", "kg"),
    "intensity": ("CO2e of a generated kWh", "kg/kWh"),
    "limit_high": ("carbon monoxide", "g"),
    "exercise": ("fuel of exercise runs", "ft3"),
    "fuel_money": ("money for exercise fuel", "usd"),
}
HOW: dict[str, Provenance] = {
    "seen": "seen",
    "formula": "worked",
    "arithmetic": "worked",
    "memory": "memory",
    "seen (inputs)": "worked",
    "seen (through the library's documentation)": "seen",
}


def figure_of(case: Case) -> float:
    found = CALLS[case.call](**case.inputs)
    if found is None:
        raise ValueError("the kit gives no figure")
    return float(found)


def check_of(subject: str, case: Case, case_list: str) -> Check:
    what, unit = NAMED[case.call]
    unit = "lb" if "[lb " in case.place else unit
    return Check(
        subject,
        f"{what}: {case.place}",
        unit,
        case.source,
        HOW[case.provenance],
        case.expected,
        case.tolerance,
        case.why,
        partial(figure_of, case),
        case_list,
    )


def _cash(system: dict[str, float], escalation_frac: float) -> pd.DataFrame:
    case = cases.HANDBOOK_INPUTS
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


@cache
def handbook_figures() -> dict[str, float | None]:
    """Lifetime cost, saving, ratio and adjusted rate through the whole chain of functions."""
    case = cases.HANDBOOK_INPUTS
    rate, years = case["discount_rate_frac"], case["years"]
    # The handbook gives the price path as a factor; the one escalation with that factor:
    growth = float(
        brentq(lambda e: upv_star(rate, e, years) - case["electricity_upv_star"], -0.02, 0.02, xtol=1e-14)
    )
    base, other = _cash(case["base"], growth), _cash(case["other"], growth)
    got = measures(other, base, rate)
    # Simple payback is stated at base-date prices.
    payback, _ = payback_years(_cash(case["other"], 0.0) - _cash(case["base"], 0.0))
    return {
        "base_lifetime_cost_usd": measures(base, base, rate).lifetime_cost_usd,
        "other_lifetime_cost_usd": got.lifetime_cost_usd,
        "net_saving_usd": got.net_saving_usd,
        "saving_to_investment_ratio": got.saving_to_investment_ratio,
        "adjusted_irr_frac": got.adjusted_irr_frac,
        "payback_years": payback,
    }


def handbook_figure(name: str) -> float:
    found = handbook_figures()[name]
    if found is None:
        raise ValueError("the kit gives no figure")
    return float(found)


HANDBOOK = [
    Check(
        MONEY,
        name.removesuffix(f"_{unit}").replace("_", " "),
        unit,
        cases.HANDBOOK,
        "memory",
        expected,
        within,
        why,
        partial(handbook_figure, name),
        "economics_cases.HANDBOOK_RESULTS",
    )
    for name, (expected, within, why) in cases.HANDBOOK_RESULTS.items()
    for unit in [name.rpartition("_")[2]]
]
CHECKS: list[Check] = [
    *(check_of(MONEY, case, "economics_cases.FACTORS") for case in cases.FACTORS),
    *(check_of(MONEY, case, "economics_cases.ESCALATING") for case in cases.ESCALATING),
    *(check_of(MONEY, case, "economics_cases.RETURNS") for case in cases.RETURNS),
    check_of(MONEY, cases.AIRR, "economics_cases.AIRR"),
    *HANDBOOK,
    *(check_of(EMISSIONS, case, "emissions_cases.CASES") for case in emissions_cases.CASES),
]
