"""Dispatch under every shipped plan: the optimum for its marginal prices against HiGHS, and what tiers add.

The linear programs are built here from the plan's prices, with nothing of kit/operate in them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import coo_matrix, csc_matrix, hstack, vstack

from kit.calendar import Year, calendar_year
from kit.grid.bill import bill
from kit.grid.rates import PriceYear, left_out_of_prices, prices
from kit.operate.best import BestUse, best_use
from kit.study.plan_files import read_plan
from kit.study.rate_models import RatePlan
from tests.benchmarks.highs import Problem, best_cold, natural

RATES = Path(__file__).parents[3] / "params" / "rates"
PLANS = sorted(p.stem for p in RATES.glob("*.yaml"))
YEAR = calendar_year(2011, "America/Los_Angeles", 60)
FULL_KWH, POWER_KW, EFFICIENCY, WEAR = 10.0, 4.0, 0.94, 0.004
Floats = NDArray[np.float64]


def net_kw(year: Year = YEAR) -> Floats:
    """An invented house with an array: evening load, noon surplus in the warm half of the year."""
    hour, season = year.hour, np.cos(2 * np.pi * (year.day_of_year - 172) / 365)
    load = 0.5 + 1.1 * np.exp(-(((hour - 19) / 2.5) ** 2)) + 0.3 * np.random.default_rng(3).random(year.n)
    return np.asarray(load - (1.4 + season) * np.exp(-(((hour - 12.5) / 2.6) ** 2)))


def problem(plan: RatePlan) -> Problem:
    told = prices(plan, YEAR)
    buy, sell = told.import_usd_per_kwh, np.minimum(told.export_usd_per_kwh, told.import_usd_per_kwh)
    return Problem(net_kw(), buy, sell, FULL_KWH, 5.0, POWER_KW, POWER_KW, EFFICIENCY, WEAR, False)


@pytest.mark.parametrize("name", PLANS)
def test_the_optimum_for_a_plans_prices_is_that_of_highs(name: str) -> None:
    p = problem(read_plan(RATES / f"{name}.yaml", RATES.parent))
    found = best_use(
        p.net,
        p.buy,
        p.sell,
        1.0,
        usable_kwh=p.full,
        start_kwh=p.start,
        charge_kw=p.charge,
        discharge_kw=p.discharge,
        charge_efficiency_frac=p.efficiency,
        discharge_efficiency_frac=p.efficiency,
        wear_usd_per_kwh=p.wear,
    )
    _, least_usd, _ = best_cold(p, 1)
    assert found.is_exact
    assert found.steered_by_usd == pytest.approx(least_usd, rel=1e-9)


def test_prices_leave_out_what_only_a_whole_bill_knows() -> None:
    def said(name: str) -> tuple[str, ...]:
        return left_out_of_prices(read_plan(RATES / f"{name}.yaml", RATES.parent))

    assert said("holiday_prices") == said("hourly_market") == said("critical_peak_days") == ()
    assert said("blocks_with_adders") == ("declining tiers",)
    assert said("ratchet_demand") == ("demand charges", "a demand ratchet")
    assert said("yearly_true_up") == ("a minimum bill", "net metering", "a yearly true-up")
    assert said("limited_credit") == ("declining tiers", "limits on export credit")
    assert said("rising_blocks") == ("tiers", "a minimum bill", "net metering")


def rising(inside: bool) -> RatePlan:
    """Rising tiers a month, over all kWh with a peak adder, or inside each period."""
    tiers = [
        {"up_to_kwh_per_month": 150.0, "price_usd_per_kwh": 0.12},
        {"up_to_kwh_per_month": 400.0, "price_usd_per_kwh": 0.19},
        {"price_usd_per_kwh": 0.31},
    ]
    if inside:
        peak = [{"up_to_kwh_per_month": 60.0, "price_usd_per_kwh": 0.24}, {"price_usd_per_kwh": 0.45}]
        energy = {"peak": {"hours": "17-21", "tiers": peak}, "other": {"hours": "rest", "tiers": tiers}}
        keys: dict[str, object] = {"energy": energy}
    else:
        energy = {"peak": {"hours": "17-21", "price_usd_per_kwh": 0.16}, "other": {"hours": "rest"}}
        keys = {"tiers": tiers, "energy": energy}
    export = {"kind": "net_billing", "price_usd_per_kwh": 0.04, "leftover": "paid_usd"}
    return RatePlan.model_validate({**keys, "export": export})


def with_tiers(inside: bool) -> float:
    """Least bill and wear of a year, USD."""
    return whole_program(inside)[0]


@cache
def whole_program(inside: bool) -> tuple[float, Floats, Floats, Floats]:
    """A year with a variable for the kWh of every tier of every month, by HiGHS.

    Returns the least bill and wear, and import, export and discharge of each step.
    """
    n = YEAR.n
    p = Problem(
        net_kw(), np.zeros(n), np.full(n, 0.04), FULL_KWH, 5.0, POWER_KW, POWER_KW, EFFICIENCY, WEAR, False
    )
    model = natural(p)
    peak = (YEAR.hour >= 17) & (YEAR.hour < 21)
    limits, tier_usd = [150.0, 250.0, np.inf], [0.12, 0.19, 0.31]
    groups = [(~peak, limits, tier_usd), (peak, [60.0, np.inf], [0.24, 0.45])]
    if not inside:
        groups = [(np.ones(n, dtype=bool), limits, tier_usd)]
        model.cost[2 * n : 3 * n] = 0.16 * peak
    rows, columns, values, upper, cost = [], [], [], [], []
    tier_columns: list[tuple[int, int]] = []
    row = 0
    for which, most, usd in groups:
        for month in range(1, 13):
            steps = np.flatnonzero(which & (YEAR.month == month))
            rows += [row] * steps.size
            columns += (2 * n + steps).tolist()
            values += [-1.0] * steps.size
            tier_columns += [(row, len(upper) + k) for k in range(len(most))]
            upper += most
            cost += usd
            row += 1
    imports = coo_matrix((values, (rows, columns)), shape=(row, model.cost.size))
    tiers = coo_matrix(
        (np.ones(len(upper)), ([r for r, _ in tier_columns], [c for _, c in tier_columns])),
        shape=(row, len(upper)),
    )
    top = hstack([model.matrix, csc_matrix((model.matrix.shape[0], len(upper)))])
    found = linprog(
        np.concatenate([model.cost, cost]),
        A_eq=csc_matrix(vstack([top, hstack([imports, tiers])])),
        b_eq=np.concatenate([model.rhs, np.zeros(row)]),
        bounds=np.stack(
            [np.concatenate([model.low, np.zeros(len(upper))]), np.concatenate([model.high, upper])], axis=1
        ),
        method="highs",
    )
    assert found.status == 0
    x = found.x
    imported, exported, discharged = (np.maximum(x[k * n : (k + 1) * n], 0.0) for k in (2, 3, 1))
    return float(found.fun), imported, exported, discharged


def schedule(told: PriceYear) -> BestUse:
    """The optimum of the invented house's battery for given prices."""
    return best_use(
        net_kw(),
        told.import_usd_per_kwh,
        told.export_usd_per_kwh,
        1.0,
        usable_kwh=FULL_KWH,
        start_kwh=5.0,
        charge_kw=POWER_KW,
        discharge_kw=POWER_KW,
        charge_efficiency_frac=EFFICIENCY,
        discharge_efficiency_frac=EFFICIENCY,
        wear_usd_per_kwh=WEAR,
    )


def cost_usd(plan: RatePlan, found: BestUse) -> float:
    """The exact bill of a schedule, and its wear."""
    whole = bill(plan, YEAR, found.import_kwh, found.export_kwh).total_usd
    return whole + WEAR * float(found.discharge_kwh.sum())


def test_rising_tiers_over_all_kwh_are_solved_at_the_tier_each_bill_ends_in() -> None:
    """At first-tier prices 0.12 % above the program with a variable a tier; at the tiers in which that
    schedule's bills end it is the program's optimum."""
    plan = rising(inside=False)
    least_usd = with_tiers(inside=False)
    first = schedule(prices(plan, YEAR))
    assert 1.0 <= cost_usd(plan, first) / least_usd < 1.002
    at_the_end = schedule(prices(plan, YEAR, first.import_kwh, first.export_kwh))
    assert cost_usd(plan, at_the_end) == pytest.approx(least_usd, rel=1e-9)


def test_rising_tiers_inside_periods_leave_a_gap_that_is_told() -> None:
    """The optimum lies at the limits of tiers, where no one price tells both sides: 4.7 % are left here, so
    the use is called best for the marginal prices only."""
    plan = rising(inside=True)
    least_usd = with_tiers(inside=True)
    mine_usd = cost_usd(plan, schedule(prices(plan, YEAR)))
    assert 1.0 <= mine_usd / least_usd < 1.05
    assert left_out_of_prices(plan) == ("tiers",)


def test_the_bill_of_the_programs_own_flows_is_its_objective() -> None:
    """The program knows nothing of kit's bill: its tier variables and ours must add up to the same."""
    for inside in (False, True):
        plan = rising(inside)
        least_usd, import_kwh, export_kwh, discharge_kwh = whole_program(inside)
        usd = bill(plan, YEAR, import_kwh, export_kwh).total_usd + WEAR * float(discharge_kwh.sum())
        assert usd == pytest.approx(least_usd, abs=1e-5)
