"""What a rate plan refuses, and the text it gives."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from kit.grid.rates import day_is_weekend, prepare
from tests.unit.grid.plans import SEASONS, evening_peak, flat, plan, year

PEAK = {"days": "weekday", "hours": "16-21", "price_usd_per_kwh": 0.4}
REST = {"hours": "rest", "price_usd_per_kwh": 0.1}
OPEN = {"price_usd_per_kwh": 0.3}


def tier(price: float, **limit: float) -> dict[str, float]:
    return {"price_usd_per_kwh": price, **limit}


BAD: dict[str, tuple[dict[str, Any], str]] = {
    "overlap": (
        {
            "seasons": SEASONS,
            "energy": {
                "peak": {"seasons": ["summer"], **PEAK},
                "mid": {"seasons": ["summer"], "days": "weekday", "hours": "14-18", "price_usd_per_kwh": 0.2},
                "off": REST,
            },
        },
        "summer weekday 16:00 to 18:00 has two periods: peak, mid",
    ),
    "hole": (
        {"energy": {"peak": PEAK, "off": {"hours": "0-16, 21-23.5", "price_usd_per_kwh": 0.1}}},
        "all_year weekday 23:30 to 24:00 has no period; all_year weekend 16:00 to 21:00 has no period",
    ),
    "two rests": (
        {"energy": {"a": REST, "b": REST}},
        "all_year weekday has two periods for the rest: a, b",
    ),
    "month twice": (
        {"seasons": {"a": [1, 2, 3, 4, 5, 6, 7], "b": [7, 8, 9, 10, 11, 12]}},
        "seasons: July is named twice (a, b)",
    ),
    "months missing": (
        {"seasons": {"a": [1, 2, 3, 6, 7, 8, 9, 10, 11, 12]}},
        "seasons: no season for April, May",
    ),
    "unknown season": (
        {"seasons": SEASONS, "energy": {"peak": {"seasons": ["sumer"], **PEAK}, "off": REST}},
        "energy.peak names season 'sumer'; the plan has summer, winter",
    ),
    "unknown season of a demand charge": (
        {"energy": {"off": REST}, "demand": {"d": {"seasons": ["x"], "price_usd_per_kw": 1.0}}},
        "demand.d names season 'x'; the plan has all_year",
    ),
    "season without tiers": (
        {"seasons": SEASONS, "season_tiers": {"summer": [OPEN]}},
        "season_tiers has none for winter",
    ),
    "tiers not rising": (
        {"tiers": [tier(0.1, up_to_kwh_per_month=500), tier(0.2, up_to_kwh_per_month=500), OPEN]},
        "tiers: limits must rise, got 500, 500",
    ),
    "last tier closed": (
        {"tiers": [tier(0.1, up_to_kwh_per_month=500)]},
        "tiers: the last tier has no limit",
    ),
    "tier without limit": (
        {"energy": {"off": {"tiers": [tier(0.1), OPEN]}}},
        "tiers: every tier but the last needs up_to_kwh_per_month or up_to_kwh_per_day",
    ),
    "months and days": (
        {"tiers": [tier(0.1, up_to_kwh_per_month=500), tier(0.2, up_to_kwh_per_day=50), OPEN]},
        "tiers: limits are all per month or all per day",
    ),
    "tiers twice": (
        {"tiers": [OPEN], "energy": {"off": {"tiers": [OPEN]}}},
        "energy.off has tiers and the plan has tiers: use one of them",
    ),
    "both tier kinds": (
        {"tiers": [OPEN], "season_tiers": {"all_year": [OPEN]}},
        "give tiers or season_tiers, not both",
    ),
    "price and tiers": (
        {"energy": {"off": {"price_usd_per_kwh": 0.1, "tiers": [OPEN]}}},
        "give price_usd_per_kwh or tiers, not both",
    ),
    "no price": ({"energy": {"off": {}}}, "energy.off needs price_usd_per_kwh or tiers"),
    "negative price": (
        {"energy": {"off": {"price_usd_per_kwh": -0.1}}},
        "energy.off makes a kWh cost -0.1: prices must be >= 0",
    ),
    "negative with adder": (
        {"tiers": [OPEN], "energy": {"off": {"price_usd_per_kwh": -0.4}}},
        "energy.off makes a kWh cost -0.1",
    ),
    "hours": (
        {"energy": {"off": {"hours": "4pm-9pm", "price_usd_per_kwh": 0.1}}},
        "'4pm-9pm' is not a range",
    ),
    "weekend rest": (
        {"energy": {"off": {"hours": "rest", "weekend_hours": "1-2", "price_usd_per_kwh": 0.1}}},
        "weekend_hours goes with days: all and hours that are not rest",
    ),
    "net billing without price": (
        {"energy": {"off": REST}, "export": {"kind": "net_billing"}},
        "net_billing takes one of price_usd_per_kwh, period_price_usd_per_kwh",
    ),
    "net metering with price": (
        {"energy": {"off": REST}, "export": {"kind": "net_metering", "price_usd_per_kwh": 0.1}},
        "kind net_metering takes no export price",
    ),
    "carried kWh under net billing": (
        {
            "energy": {"off": REST},
            "export": {"kind": "net_billing", "price_usd_per_kwh": 0.1, "leftover": "carried_kwh"},
        },
        "leftover carried_kwh goes with net_metering only",
    ),
    "export price of an unknown period": (
        {
            "energy": {"off": REST},
            "export": {"kind": "net_billing", "period_price_usd_per_kwh": {"of": 0.1}},
        },
        "export prices must name every energy period once; missing or unknown: of, off",
    ),
    "carried kWh and adders": (
        {
            "tiers": [OPEN],
            "energy": {"peak": PEAK, "off": REST},
            "export": {"kind": "net_metering", "leftover": "carried_kwh"},
        },
        "carried_kwh with plan tiers over several periods is ambiguous",
    ),
    "negative fixed charge": (
        {"energy": {"off": REST}, "fixed_usd_per_month": -3.0},
        "Input should be greater than or equal to 0",
    ),
    "tier below the one before": (
        {"tiers": [tier(0.1, up_to_kwh_per_day=20), tier(0.2, up_to_kwh_per_day=8), OPEN]},
        "tiers: limits must rise, got 20, 8",
    ),
    "end before start": (
        {"energy": {"off": REST}, "starts": "2025-07-01", "ends": "2025-06-30"},
        "the plan ends on 2025-06-30, before it starts on 2025-07-01",
    ),
    "no date": ({"energy": {"off": REST}, "starts": "07-32"}, "'07-32' is not a date: write 07-14"),
    "a following plan without a start": (
        {"energy": {"off": REST}, "followed_by": {"energy": {"off": REST}}},
        "followed_by needs starts",
    ),
    "a day between two plans": (
        {
            "energy": {"off": REST},
            "ends": "06-30",
            "followed_by": {"starts": "07-02", "energy": {"off": REST}},
        },
        "the plan ends on 06-30 and the next starts on 07-02: one day must follow the other, 07-01",
    ),
    "a following plan that starts before": (
        {
            "energy": {"off": REST},
            "starts": "07-01",
            "followed_by": {"starts": "03-01", "energy": {"off": REST}},
        },
        "followed_by starts on 03-01, not after 07-01",
    ),
    "demand without hours": (
        {"energy": {"off": REST}, "demand": {"d": {"hours": "", "price_usd_per_kw": 5.0}}},
        "the demand charge has no hours: no demand would ever be read",
    ),
    "holiday prices without holidays": (
        {"energy": {"free": {"days": "holiday", "price_usd_per_kwh": 0.1}, "off": REST}},
        "energy.free: days: holiday needs holidays with count_as: holiday",
    ),
    "hole on holidays": (
        {
            "energy": {
                "work": {"days": "weekday", "price_usd_per_kwh": 0.1},
                "free": {"days": "weekend", "price_usd_per_kwh": 0.1},
            },
            "holidays": {"country": "US", "count_as": "holiday"},
        },
        "all_year holiday 0:00 to 24:00 has no period",
    ),
    "two events at once": (
        {
            "energy": {"off": REST},
            "critical_peaks": {
                "a": {"dates": ["07-14"], "hours": "16-20", "price_usd_per_kwh": 0.9},
                "b": {"dates": ["2025-07-14"], "hours": "19-21", "adder_usd_per_kwh": 0.2},
            },
        },
        "critical_peaks a and b overlap on 07-14",
    ),
    "an event day named twice": (
        {
            "energy": {"off": REST},
            "critical_peaks": {
                "a": {"dates": ["07-14", "07-14"], "hours": "16-20", "price_usd_per_kwh": 0.9}
            },
        },
        "dates: a day is named twice",
    ),
    "an event with two prices": (
        {
            "energy": {"off": REST},
            "critical_peaks": {
                "a": {"dates": ["07-14"], "hours": "1-2", "price_usd_per_kwh": 0.9, "adder_usd_per_kwh": 0.1}
            },
        },
        "give one of price_usd_per_kwh (in place) or adder_usd_per_kwh (on top)",
    ),
    "eleven bills": (
        {"energy": {"off": REST}, "billing_cycle": {"begins_on": ["01-05", "02-05"]}},
        "begins_on: twelve bills begin on twelve days, got 2",
    ),
    "bills out of order": (
        {
            "energy": {"off": REST},
            "billing_cycle": {"begins_on": [f"{m:02d}-05" for m in (1, 2, 4, 3, 5, 6, 7, 8, 9, 10, 11, 12)]},
        },
        "begins_on: the days must rise, got 04-05 before 03-05",
    ),
    "a limit that nothing earns": (
        {"energy": {"off": REST}, "export": {"kind": "net_metering", "earns_up_to_kwh_per_month": 100.0}},
        "earns_up_to_kwh_per_month and earns_up_to_usd_per_month go with net_billing",
    ),
    "a yearly true-up of everything": (
        {"energy": {"off": REST}, "export": {"kind": "net_metering", "leftover": "settled_yearly"}},
        "settled_yearly settles energy alone: write offsets: energy",
    ),
    "net metering of hourly prices": (
        {"energy": {"off": REST}, "series": {"file": "x.csv"}, "export": {"kind": "net_metering"}},
        "net_metering needs a price by period: with a series use net_billing",
    ),
    "a holiday nobody keeps": (
        {"energy": {"off": REST}, "holidays": {"country": "US", "only": ["Sunday"]}},
        "no holiday of US begins with 'Sunday'",
    ),
    "holidays": (
        {"energy": {"off": REST}, "holidays": {"country": "XX"}},
        "no holiday calendar for country 'XX'",
    ),
    "subdivision": (
        {"energy": {"off": REST}, "holidays": {"country": "US", "subdivision": "ZZ"}},
        "country US has no subdivision 'ZZ'",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_plan_is_told_what_is_wrong(name: str) -> None:
    keys, text = BAD[name]
    with pytest.raises(ValidationError) as caught:
        plan(**keys)
    assert text in str(caught.value)


def test_rest_takes_what_stated_hours_leave() -> None:
    made = plan(energy={"peak": PEAK, "off": REST})
    y = year()
    table = prepare(made, y)
    peak_share = table.period == 0
    assert peak_share.sum() == 261 * 5  # weekdays of 2025 times five hours
    assert set(y.hour[peak_share]) == {16.0, 17.0, 18.0, 19.0, 20.0}


def test_weekend_hours_differ() -> None:
    energy = {
        "peak": {"hours": "16-21", "weekend_hours": "18-20", "price_usd_per_kwh": 0.3},
        "off": REST,
    }
    y = year()
    table = prepare(plan(energy=energy), y)
    assert (table.period == 0).sum() == 261 * 5 + 104 * 2


def test_wrapped_hours_belong_to_both_ends_of_the_same_day() -> None:
    energy = {"night": {"hours": "22-6", "days": "weekday", "price_usd_per_kwh": 0.1}, "day": REST}
    y = year()
    table = prepare(plan(energy=energy), y)
    # clocks go forward and back on Sundays, so every weekday has its eight night hours
    assert (table.period == 0).sum() == 261 * 8


def test_public_holidays_count_as_weekend() -> None:
    y = year()
    without = flat(0.1)
    extra = day_is_weekend(evening_peak(), y) & ~day_is_weekend(without, y)
    # the eleven US federal holidays of 2025 all fall on weekdays (5 USC 6103; dates from memory)
    assert extra.sum() == 11
    assert extra[0]  # 1 January
    assert extra[358]  # 25 December


def test_a_plan_without_seasons_has_one() -> None:
    assert flat().season_of_month() == ("all_year",) * 12
    assert evening_peak().season_of_month()[5:9] == ("summer",) * 4
