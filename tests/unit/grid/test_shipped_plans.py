"""The shipped rate plans cover, between them, everything that a plan can say; each is here for a reason."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from kit.study import read_study
from kit.study.rate_models import RatePlan

PARAMS = Path(__file__).parents[3] / "params"
Holds = Callable[[RatePlan], object]


def tiers_of(plan: RatePlan) -> list[list[float]]:
    """Prices of every list of tiers in a plan."""
    lists = [plan.tiers, *(plan.season_tiers or {}).values(), *(p.tiers for p in plan.energy.values())]
    return [[t.price_usd_per_kwh for t in tiers] for tiers in lists if tiers and len(tiers) > 1]


FEATURES: dict[str, dict[str, Holds]] = {
    "flat": {
        "one price": lambda p: len(p.energy) == 1 and p.season_tiers is None,
        "fixed a month": lambda p: p.fixed_usd_per_month > 0,
        "rider on import": lambda p: any(r.counts == "import" for r in p.riders.values()),
        "net metering, monthly": lambda p: (
            (p.export.kind, p.export.leftover) == ("net_metering", "carried_usd")
        ),
    },
    "evening_peak": {
        "seasons": lambda p: len(p.seasons) == 2,
        "weekdays": lambda p: any(e.days == "weekday" for e in p.energy.values()),
        "holidays as weekend": lambda p: p.holidays is not None and p.holidays.count_as == "weekend",
        "minimum bill": lambda p: p.minimum_usd_per_month > 0,
        "weekend hours": lambda p: any(e.weekend_hours for e in p.energy.values()),
    },
    "rising_blocks": {
        "inclining tiers": lambda p: all(t == sorted(t) for t in tiers_of(p)),
        "limits a day": lambda p: p.season_tiers and p.season_tiers["warm"][0].up_to_kwh_per_day,
        "fixed a day": lambda p: p.fixed_usd_per_day > 0,
        "rounding": lambda p: p.rounding == "line",
        "kWh carried, yearly true-up": lambda p: p.export.leftover == "carried_kwh",
    },
    "blocks_inside_periods": {
        "tiers inside time-of-use": lambda p: any(e.tiers for e in p.energy.values()),
        "hours over midnight": lambda p: p.energy["night"].hours == "23-6",
        "export by period, paid out": lambda p: (
            p.export.period_price_usd_per_kwh and p.export.leftover == "paid_usd"
        ),
    },
    "blocks_with_adders": {
        "declining tiers": lambda p: all(t == sorted(t, reverse=True) for t in tiers_of(p)),
        "adders": lambda p: p.tiers and p.energy["peak"].price_usd_per_kwh,
        "riders of both signs": lambda p: (
            {r.price_usd_per_kwh > 0 for r in p.riders.values()} == {True, False}
        ),
        "no export": lambda p: p.export.kind == "none",
        "tax on energy": lambda p: p.taxes["utility"].of == "energy",
    },
    "peak_demand": {
        "demand in a window": lambda p: all(d.hours != "0-24" for d in p.demand.values()),
        "credit lost": lambda p: p.export.leftover == "lost" and p.export.offsets == "energy",
    },
    "critical_peak_days": {
        "event in place": lambda p: any(e.price_usd_per_kwh for e in p.critical_peaks.values()),
        "event on top": lambda p: any(e.adder_usd_per_kwh for e in p.critical_peaks.values()),
        "chosen holidays": lambda p: p.holidays is not None and p.holidays.only,
        "riders by season": lambda p: all(r.seasons for r in p.riders.values()),
    },
    "holiday_prices": {
        "holidays of their own": lambda p: "holiday" in p.day_classes,
        "a day added": lambda p: p.holidays is not None and p.holidays.also,
        "twelve read days": lambda p: p.billing_cycle is not None and p.billing_cycle.begins_on,
    },
    "hourly_market": {
        "price series": lambda p: p.series is not None,
        "export at the hour's price": lambda p: p.export.price_from_series,
    },
    "ratchet_demand": {
        "ratchet": lambda p: any(d.ratchet for d in p.demand.values()),
        "demand at all hours": lambda p: p.demand["any_hour"].hours == "0-24",
        "first kW free": lambda p: p.demand["any_hour"].free_kw > 0,
        "half-hour means": lambda p: p.demand["any_hour"].interval_min == 30,
        "tax on demand": lambda p: p.taxes["grid_fee"].of == "demand",
    },
    "yearly_true_up": {
        "settled yearly": lambda p: p.export.leftover == "settled_yearly" and p.export.true_up_month == 4,
        "net surplus paid": lambda p: p.export.year_end_usd_per_kwh > 0,
    },
    "mid_year_change": {
        "effective dates": lambda p: p.ends == "06-30" and p.followed_by and p.followed_by.starts == "07-01",
        "reads on a day": lambda p: p.billing_cycle is not None and p.billing_cycle.begins_on_day == 17,
        "export rule changes": lambda p: p.followed_by and p.followed_by.export.kind != p.export.kind,
    },
    "daily_blocks": {
        "days of the bill": lambda p: (
            p.billing_cycle is not None
            and p.season_tiers is not None
            and all(t[0].up_to_kwh_per_day for t in p.season_tiers.values())
        ),
        "net metering, credit lost": lambda p: p.export.leftover == "lost",
    },
    "limited_credit": {
        "kWh limit": lambda p: p.export.earns_up_to_kwh_per_month,
        "USD limit": lambda p: p.export.earns_up_to_usd_per_month,
        "share limit": lambda p: p.export.offsets_up_to_frac < 1,
        "percentage on a percentage": lambda p: p.taxes["sales"].with_lines_before,
        "declining tiers in a period": lambda p: tiers_of(p)[0] == sorted(tiers_of(p)[0], reverse=True),
    },
}


def test_every_shipped_plan_is_named_here() -> None:
    assert sorted(FEATURES) == sorted(p.stem for p in (PARAMS / "rates").glob("*.yaml"))
    assert len(FEATURES) >= 12


@pytest.mark.parametrize("name", FEATURES)
def test_a_plan_holds_what_it_is_there_for(name: str) -> None:
    study = read_study(PARAMS / "studies" / "metered_house.yaml", [f"rate_plan=../rates/{name}.yaml"])
    missing = [feature for feature, holds in FEATURES[name].items() if not holds(study.model.rate_plan)]
    assert missing == []
    text = (PARAMS / "rates" / f"{name}.yaml").read_text(encoding="utf-8")
    assert text.startswith("kit_file: 1\n# Covers: ")
    assert "(invented)" in study.model.rate_plan.name
