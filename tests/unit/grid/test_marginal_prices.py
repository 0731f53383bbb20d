"""The price of a step is what one more kWh adds to the exact bill, at the tier in which the bill ends."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from kit.calendar import calendar_year
from kit.grid.bill import bill_usd
from kit.grid.rates import prepare, prices
from kit.study.rate_models import RatePlan
from tests.unit.grid.test_pandas_bill import random_plan

YEAR = calendar_year(2024, "America/New_York", 60)
MORE_KWH = 1e-3


def without_jumps(rng: np.random.Generator) -> dict[str, Any]:
    """A random plan less what no price of a step can hold: rounding, minimum, demand, limits of credit."""
    plan = random_plan(rng) | {"rounding": "none", "minimum_usd_per_month": 0.0, "demand": {}}
    kind = plan["export"]["kind"]
    plan["export"] = {"kind": kind, "leftover": "paid_usd"}
    if kind == "net_billing":
        plan["export"]["period_price_usd_per_kwh"] = {
            slug: 0.01 + 0.02 * k for k, slug in enumerate(plan["energy"])
        }
    return plan


@pytest.mark.parametrize("seed", range(30))
def test_one_more_kwh_costs_its_price(seed: int) -> None:
    rng = np.random.default_rng(500 + seed)
    table = prepare(RatePlan.model_validate(without_jumps(rng)), YEAR)
    import_kwh, export_kwh = rng.gamma(2.0, 0.9, YEAR.n), rng.gamma(1.0, 0.1, YEAR.n)
    told = prices(table.plan, YEAR, import_kwh, export_kwh)
    before = bill_usd(table, import_kwh, export_kwh)
    event = np.flatnonzero((YEAR.month == 7) & (YEAR.index.day == 14) & (YEAR.hour == 16))
    for step in (*rng.integers(0, YEAR.n, 6).tolist(), int(event[0])):
        more = np.zeros(YEAR.n)
        more[step] = MORE_KWH
        bought = (bill_usd(table, import_kwh + more, export_kwh) - before) / MORE_KWH
        sold = (before - bill_usd(table, import_kwh, export_kwh + more)) / MORE_KWH
        assert told.import_usd_per_kwh[step] == pytest.approx(bought, abs=1e-6)
        assert told.export_usd_per_kwh[step] == pytest.approx(sold, abs=1e-6)
