"""Fifty random plans and loads: the bill against an independent pandas group-by, to the cent."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from kit.calendar import calendar_year
from kit.grid.bill import bill, bills_usd
from kit.grid.rates import prepare
from kit.study.rate_models import RatePlan
from tests.unit.grid.pandas_bill import month_usd

SEASONS = {"summer": [5, 6, 7, 8, 9], "winter": [1, 2, 3, 4, 10, 11, 12]}
YEARS = ((2011, "America/Los_Angeles"), (2024, "America/New_York"), (2025, "Europe/Berlin"))


def price(rng: np.random.Generator, low: float = 0.05, high: float = 0.5) -> float:
    return float(np.round(rng.uniform(low, high), 5))


def tiers(rng: np.random.Generator, scale: float) -> list[dict[str, float]]:
    """Two or three tiers, rising or falling, limits a month or a day."""
    key, unit = ("up_to_kwh_per_day", scale / 30) if rng.random() < 0.5 else ("up_to_kwh_per_month", scale)
    limits = np.cumsum(rng.uniform(0.2, 0.8, rng.integers(1, 3))) * unit
    return [{key: float(round(v, 3)), "price_usd_per_kwh": price(rng)} for v in limits] + [
        {"price_usd_per_kwh": price(rng)}
    ]


def energy(rng: np.random.Generator, plan: dict[str, Any]) -> None:
    start = int(rng.integers(14, 19))
    peak_days = str(rng.choice(["all", "weekday"]))
    blocks: dict[str, Any] = {
        "peak": {"days": peak_days, "hours": f"{start}-{start + 4}", "seasons": ["summer"]},
        "night": {"hours": "22-6"},
        "other": {"hours": "rest"},
    }
    if plan.get("holidays", {}).get("count_as") == "holiday":
        blocks["night"]["days"] = "weekday"
        blocks["holiday"] = {"days": "holiday", "hours": "0-24", "price_usd_per_kwh": price(rng)}
        blocks["peak"]["days"] = "weekday"
        blocks["other"]["days"] = "all"
    shape = rng.integers(0, 3)
    for slug, block in blocks.items():
        if shape == 1 and slug != "holiday" and not block.get("seasons"):
            block["tiers"] = tiers(rng, 400.0)
        else:
            block["price_usd_per_kwh"] = price(rng)
    if shape == 2:
        if rng.random() < 0.5:
            plan["tiers"] = tiers(rng, 700.0)
        else:
            plan["season_tiers"] = {s: tiers(rng, 700.0) for s in SEASONS}
    plan["energy"] = blocks


def export(rng: np.random.Generator, plan: dict[str, Any]) -> None:
    kind = str(rng.choice(["none", "net_metering", "net_billing", "net_billing"]))
    block: dict[str, Any] = {"kind": kind}
    if kind != "none":
        block["leftover"] = str(rng.choice(["carried_usd", "lost", "paid_usd", "settled_yearly"]))
        block["true_up_month"] = int(rng.integers(1, 13))
        if block["leftover"] == "settled_yearly":
            block |= {"offsets": "energy", "year_end_usd_per_kwh": 0.031}
        elif block["leftover"] != "paid_usd":
            block["offsets"] = str(rng.choice(["all", "energy"]))
            block["offsets_up_to_frac"] = float(rng.choice([1.0, 0.7]))
    if kind == "net_billing":
        if rng.random() < 0.5:
            block["price_usd_per_kwh"] = price(rng)
        else:
            block["period_price_usd_per_kwh"] = {s: price(rng) for s in plan["energy"]}
        if rng.random() < 0.4:
            block["earns_up_to_kwh_per_month"] = float(rng.integers(100, 400))
        if rng.random() < 0.4:
            block["earns_up_to_usd_per_month"] = float(rng.integers(5, 60))
    plan["export"] = block


def random_plan(rng: np.random.Generator) -> dict[str, Any]:
    plan: dict[str, Any] = {"seasons": SEASONS, "rounding": str(rng.choice(["none", "line"]))}
    if rng.random() < 0.5:
        plan["billing_cycle"] = {"begins_on_day": int(rng.integers(2, 28))}
    if rng.random() < 0.6:
        plan["holidays"] = {"country": "US", "count_as": str(rng.choice(["weekend", "holiday"]))}
    plan["fixed_usd_per_month"], plan["fixed_usd_per_day"] = price(rng) * 30, price(rng)
    plan["minimum_usd_per_month"] = float(rng.choice([0.0, 40.0, 90.0]))
    energy(rng, plan)
    if rng.random() < 0.4:
        days = ["01-11", "07-14", "07-27", "08-04", "09-08"]
        plan["critical_peaks"] = {
            "hot": {"dates": days, "hours": "15-20", "price_usd_per_kwh": 0.9},
            "cold": {"dates": ["01-11", "12-20"], "hours": "6-9", "adder_usd_per_kwh": 0.4},
        }
    if rng.random() < 0.6:
        plan["demand"] = {
            "evening": {"days": "weekday", "hours": "16-20", "seasons": ["summer"], "price_usd_per_kw": 7.3},
            "any": {"hours": "0-24", "price_usd_per_kw": price(rng) * 10, "free_kw": 0.5},
        }
        if rng.random() < 0.7:
            months = int(rng.integers(1, 13))
            plan["demand"]["any"]["ratchet"] = {"frac": 0.8, "months_back": months}
    plan["riders"] = {
        "fuel": {"price_usd_per_kwh": price(rng, -0.01, 0.02)},
        "grid": {"price_usd_per_kwh": price(rng, 0.0, 0.02), "counts": "import"},
    }
    plan["taxes"] = {
        "first": {"frac": 0.031, "of": str(rng.choice(["subtotal", "charges", "energy", "fixed"]))},
        "second": {"frac": 0.057, "of": "charges", "with_lines_before": bool(rng.random() < 0.5)},
    }
    export(rng, plan)
    return plan


@pytest.mark.parametrize("seed", range(50))
def test_a_random_plan_agrees_to_the_cent(seed: int) -> None:
    rng = np.random.default_rng(seed)
    plan = random_plan(rng)
    y = calendar_year(*YEARS[seed % 3], 60)
    import_kwh = rng.gamma(1.5, 0.9, y.n)
    day = (y.hour >= 8) & (y.hour < 17)
    export_kwh = np.where(day, rng.gamma(2.0, 1.0, y.n) * float(rng.choice([0.3, 1.2, 2.5])), 0.0)
    made = bill(RatePlan.model_validate(plan), y, import_kwh, export_kwh)
    apart = np.abs(made.month_usd - np.array(month_usd(plan, y.index, import_kwh, export_kwh)))
    assert apart.max() < 0.005, plan
    assert made.lines.usd.sum() == pytest.approx(made.total_usd, abs=1e-8)


def test_the_random_plans_hold_every_feature() -> None:
    """Not fifty times the same: each rule that the two bills are compared on occurs, most of them often."""
    plans = [random_plan(np.random.default_rng(seed)) for seed in range(50)]
    texts = [repr(p) for p in plans]
    for word in (
        "'tiers'", "season_tiers", "up_to_kwh_per_day", "up_to_kwh_per_month", "ratchet", "critical_peaks",
        "begins_on_day", "'count_as': 'holiday'", "settled_yearly", "'lost'", "paid_usd", "carried_usd",
        "net_metering", "net_billing", "earns_up_to_kwh", "earns_up_to_usd", "'offsets_up_to_frac': 0.7",
        "'with_lines_before': True", "'rounding': 'line'",
    ):  # fmt: skip
        assert sum(word in text for text in texts) >= 3, word


@pytest.mark.parametrize("seed", range(50))
def test_years_at_once_have_the_bills_of_each_alone(seed: int) -> None:
    """A year without any export among them: its lines are there, and zero."""
    rng = np.random.default_rng(seed)
    plan = RatePlan.model_validate(random_plan(rng))
    y = calendar_year(*YEARS[seed % 3], 60)
    import_kwh = rng.gamma(1.5, 0.9, (3, y.n))
    export_kwh = np.array([[1.0], [0.0], [3.0]]) * rng.gamma(2.0, 1.0, y.n) * (y.hour > 8)
    alone = [bill(plan, y, *flows).total_usd for flows in zip(import_kwh, export_kwh, strict=True)]
    assert bills_usd(prepare(plan, y), import_kwh, export_kwh) == pytest.approx(alone, rel=1e-12)


def test_years_at_once_name_a_flow_below_zero() -> None:
    y = calendar_year(*YEARS[1], 60)
    plan = RatePlan.model_validate({"energy": {"all_hours": {"price_usd_per_kwh": 0.2}}})
    flows = np.ones((2, y.n))
    flows[1, 5] = -1.0
    with pytest.raises(ValueError, match="export_kwh is negative"):
        bills_usd(prepare(plan, y), np.ones((2, y.n)), flows)
