"""Bills with their arithmetic written out: tiers, ratchet, true-up, minimum, cycles, changes, events."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from kit.calendar import Year, calendar_year
from kit.grid.bill import Bill, bill
from kit.study.rate_models import RatePlan

YEAR = calendar_year(2025, "America/New_York", 60)
Floats = NDArray[np.float64]


def at(moments: dict[str, float], year: Year = YEAR) -> Floats:
    """kWh of single hours: {'01-20 12': 300.0}, the rest nothing."""
    energy = np.zeros(year.n)
    for text, kwh in moments.items():
        month, day, hour = int(text[:2]), int(text[3:5]), int(text[6:])
        here = (year.month == month) & (year.index.day == day) & (year.hour == hour)
        energy[np.flatnonzero(here)[0]] = kwh
    return energy


def made(plan: dict[str, Any], drawn: dict[str, float], sent: dict[str, float] | None = None) -> Bill:
    return bill(RatePlan.model_validate(plan), YEAR, at(drawn), at(sent or {}))


def flat(price: float, **keys: Any) -> dict[str, Any]:
    return {"energy": {"all_hours": {"price_usd_per_kwh": price}}, **keys}


def usd(result: Bill, month: int) -> dict[str, float]:
    lines = result.lines[result.lines.month == month]
    return dict(zip(lines.line, lines.usd.round(10), strict=True))


def test_tiers_inside_time_of_use() -> None:
    """Peak 100 kWh: 60 x 0.30 + 40 x 0.40 = 18 + 16 = 34. Other 500 kWh: 400 x 0.10 + 100 x 0.08 = 48."""
    peak = [{"up_to_kwh_per_month": 60.0, "price_usd_per_kwh": 0.30}, {"price_usd_per_kwh": 0.40}]
    other = [{"up_to_kwh_per_month": 400.0, "price_usd_per_kwh": 0.10}, {"price_usd_per_kwh": 0.08}]
    plan = {"energy": {"peak": {"hours": "17-20", "tiers": peak}, "other": {"hours": "rest", "tiers": other}}}
    result = made(plan, {"03-04 18": 100.0, "03-05 09": 500.0})
    assert result.month_usd[2] == pytest.approx(34.0 + 48.0)
    assert usd(result, 3) == {
        "energy peak, tier 1": 18.0,
        "energy peak, tier 2": 16.0,
        "energy other, tier 1": 40.0,
        "energy other, tier 2": 8.0,
    }


def test_tiers_a_day_times_the_days_of_a_bill_that_is_no_month() -> None:
    """Bills begin on the 10th. That of March is 10 February to 9 March: 28 days (of 2025), so the first tier
    is 10 x 28 = 280 kWh. 300 kWh: 280 x 0.12 + 20 x 0.20 = 33.60 + 4.00 = 37.60. 9 March is its last day,
    10 March the first of a bill of 31 days: 310 kWh at 0.12 = 37.20."""
    tiers = [{"up_to_kwh_per_day": 10.0, "price_usd_per_kwh": 0.12}, {"price_usd_per_kwh": 0.20}]
    plan = {"billing_cycle": {"begins_on_day": 10}, "tiers": tiers, "energy": {"all_hours": {}}}
    result = made(plan, {"02-10 00": 100.0, "03-09 23": 200.0, "03-10 00": 310.0})
    assert result.month_usd[2] == pytest.approx(37.60)
    assert result.month_usd[3] == pytest.approx(37.20)
    assert result.total_usd == pytest.approx(74.80)


def test_a_bill_over_a_change_of_season_is_shared_by_days() -> None:
    """Bills begin on the 21st; summer is June to September. The bill of June is 21 May to 20 June: 11 days of
    May and 20 of June, 31 in all. 620 kWh are shared 11 to 20: 220 kWh in winter, 400 kWh in summer.
    Winter limit 400 x 11/31 = 141.935 kWh: 141.935 x 0.10 + 78.065 x 0.15 = 14.19355 + 11.70968.
    Summer limit 200 x 20/31 = 129.032 kWh: 129.032 x 0.10 + 270.968 x 0.30 = 12.90323 + 81.29032.
    Sum 120.09677."""

    def tiers(limit: float, above: float) -> list[dict[str, float]]:
        return [{"up_to_kwh_per_month": limit, "price_usd_per_kwh": 0.10}, {"price_usd_per_kwh": above}]

    plan = {
        "billing_cycle": {"begins_on_day": 21},
        "seasons": {"summer": [6, 7, 8, 9], "winter": [1, 2, 3, 4, 5, 10, 11, 12]},
        "season_tiers": {"summer": tiers(200.0, 0.30), "winter": tiers(400.0, 0.15)},
        "energy": {"all_hours": {}},
    }
    result = made(plan, {"05-21 12": 20.0, "06-20 12": 600.0})
    assert result.month_usd[5] == pytest.approx(120.09677, abs=5e-6)


def test_a_ratchet_holds_for_as_many_bills_as_it_says() -> None:
    """6 kW in July at 10 USD/kW = 60. Three bills after it at 80 % of it or more: 4.8 kW x 10 = 48; August
    has 2 kW and September 5 kW of its own: 48, 50 and, in October (July is 3 back), 48. November looks back
    to August: 80 % of 5 (September) = 4 kW = 40, December too. January looks back to October to December,
    where nothing was read: 0."""
    plan = flat(0.0, demand={"any": {"price_usd_per_kw": 10.0, "ratchet": {"frac": 0.8, "months_back": 3}}})
    result = made(plan, {"07-15 18": 6.0, "08-15 18": 2.0, "09-15 18": 5.0})
    assert result.month_usd == pytest.approx([0, 0, 0, 0, 0, 0, 60, 48, 50, 48, 40, 40])


def test_the_year_before_was_like_this_one_unless_it_is_told() -> None:
    """9 kW in December, 11 months back at half: January to November at 4.5 kW x 10 = 45. With 2 kW known of
    the year before: 1 kW x 10 = 10 from January to November (11 months back is never this December)."""
    charge: dict[str, Any] = {"price_usd_per_kw": 10.0, "ratchet": {"frac": 0.5, "months_back": 11}}
    alike = made(flat(0.0, demand={"any": charge}), {"12-15 18": 9.0})
    assert alike.month_usd == pytest.approx([45.0] * 11 + [90.0])
    charge["ratchet"]["before_kw"] = 2.0
    told = made(flat(0.0, demand={"any": charge}), {"12-15 18": 9.0})
    assert told.month_usd == pytest.approx([10.0] * 11 + [90.0])


def test_a_ratchet_of_summer_peaks_with_free_kw() -> None:
    """Summer peak 8 kW (August), winter peak 7 kW (January), 50 %, the first 2 kW free, 3 USD/kW.
    August (8 - 2) x 3 = 18; January (7 - 2) x 3 = 15, it sets no ratchet; others (4 - 2) x 3 = 6."""
    plan = flat(
        0.0,
        seasons={"summer": [6, 7, 8, 9], "winter": [1, 2, 3, 4, 5, 10, 11, 12]},
        demand={
            "any": {
                "price_usd_per_kw": 3.0,
                "free_kw": 2.0,
                "ratchet": {"frac": 0.5, "months_back": 12, "seasons": ["summer"]},
            }
        },
    )
    result = made(plan, {"08-15 18": 8.0, "01-15 18": 7.0})
    assert result.month_usd == pytest.approx([15, 6, 6, 6, 6, 6, 6, 18, 6, 6, 6, 6])


def test_energy_of_a_year_is_settled_at_the_true_up() -> None:
    """True-up in April. May +100 kWh, August -400 kWh, January +500 kWh, April +50 kWh at 0.20:
    20 - 80 + 100 + 10 = 50 due in April, besides 5 a month and the top-up to 8 in every month.
    April: 8 + 50 = 58; the others 8. Year 12 x 8 + 50 = 146."""
    export = {"kind": "net_metering", "leftover": "settled_yearly", "offsets": "energy", "true_up_month": 4}
    plan = flat(0.20, fixed_usd_per_month=5.0, minimum_usd_per_month=8.0, export=export)
    drawn = {"05-05 12": 100.0, "01-05 12": 500.0, "04-05 12": 50.0}
    result = made(plan, drawn, {"08-05 12": 400.0})
    assert result.month_usd == pytest.approx([8, 8, 8, 58, 8, 8, 8, 8, 8, 8, 8, 8])
    assert usd(result, 8) == {
        "fixed charge": 5.0,
        "minimum bill top-up": 3.0,
        "export credit, energy all_hours": -80.0,
        "held for the true-up": 80.0,
    }


def test_a_surplus_year_is_paid_at_its_own_price_and_the_rest_is_lost() -> None:
    """Import 100 kWh, export 250 kWh at 0.20: 20 - 50 = -30: nothing due, 30 lost; net surplus 150 kWh paid
    at 0.03 = 4.50."""
    export = {
        "kind": "net_metering",
        "leftover": "settled_yearly",
        "offsets": "energy",
        "year_end_usd_per_kwh": 0.03,
    }
    result = made(flat(0.20, export=export), {"05-05 12": 100.0}, {"08-05 12": 250.0})
    assert result.total_usd == pytest.approx(-4.50)
    assert result.month_usd[11] == pytest.approx(-4.50)
    assert result.unused_credit_usd == pytest.approx(30.0)


def test_carried_kwh_are_lost_in_the_true_up_month_not_in_december() -> None:
    """True-up in March: 120 kWh of surplus in November pay for December (50) and February (30); the other 40
    end with March, so April is billed in full: 100 x 0.20 = 20."""
    export = {"kind": "net_metering", "leftover": "carried_kwh", "true_up_month": 3}
    drawn = {"12-05 12": 50.0, "02-05 12": 30.0, "04-05 12": 100.0}
    result = made(flat(0.20, export=export), drawn, {"11-05 12": 120.0})
    assert result.month_usd == pytest.approx([0, 0, 0, 20, 0, 0, 0, 0, 0, 0, 0, 0])
    assert result.unused_credit_kwh == pytest.approx(40.0)


def test_a_minimum_bill_and_credit_that_may_not_go_below_it() -> None:
    """6 fixed + 20 kWh x 0.10 = 8, topped up to 15 by 7. In July 6 + 400 x 0.10 = 46 less credit 500 x 0.08
    = 40: only 46 - 15 = 31 can be used, 9 goes on to August (6 + 2 = 8, topped up to 15), where nothing can
    be used, and on to September: 6 + 40 - 9 = 37."""
    export = {"kind": "net_billing", "price_usd_per_kwh": 0.08, "leftover": "carried_usd"}
    plan = flat(0.10, fixed_usd_per_month=6.0, minimum_usd_per_month=15.0, export=export)
    drawn = {"07-05 12": 400.0, "08-05 12": 20.0, "09-05 12": 400.0, "01-05 12": 20.0}
    result = made(plan, drawn, {"07-06 12": 500.0})
    assert result.month_usd[[0, 6, 7, 8]] == pytest.approx([15.0, 15.0, 15.0, 37.0])


def test_limits_of_credit() -> None:
    """Export 400 kWh, 250 earn 0.10 = 25.00, no more than 18.00 a bill. It may cover 80 % of energy,
    100 x 0.20 = 20: 16.00 used, 2.00 carried. Bill 9 + 20 - 16 = 13; the next 9 + 20 - 2 = 27."""
    export = {
        "kind": "net_billing",
        "price_usd_per_kwh": 0.10,
        "earns_up_to_kwh_per_month": 250.0,
        "earns_up_to_usd_per_month": 18.0,
        "offsets": "energy",
        "offsets_up_to_frac": 0.8,
    }
    plan = flat(0.20, fixed_usd_per_month=9.0, export=export)
    result = made(plan, {"06-05 12": 100.0, "07-05 12": 100.0}, {"06-06 12": 400.0})
    assert result.month_usd[[5, 6]] == pytest.approx([13.0, 27.0])
    assert usd(result, 6)["credit beyond the limit"] == pytest.approx(7.0)
    june = result.lines[result.lines.month == 6].set_index("line")
    assert june.loc["export beyond the limit", "quantity"] == pytest.approx(150.0)


def test_a_plan_that_changes_inside_a_bill() -> None:
    """Until 30 June 0.10 and 31 a month, from 1 July 0.20 and 62 a month; bills begin on the 16th. The bill
    of July is 16 June to 15 July, 30 days, half each: 31/2 + 200 x 0.10 + 62/2 + 100 x 0.20 = 15.50 + 20 +
    31 + 20 = 86.50. Limits a month go by days too: first tier 300 kWh is 150 kWh in each half."""
    later = flat(0.20, starts="07-01", fixed_usd_per_month=62.0)
    plan = flat(
        0.10, fixed_usd_per_month=31.0, billing_cycle={"begins_on_day": 16}, ends="06-30", followed_by=later
    )
    result = made(plan, {"06-20 12": 200.0, "07-10 12": 100.0})
    assert result.month_usd[6] == pytest.approx(86.50)
    assert usd(result, 7) == {
        "fixed charge (from 16 June)": 15.5,
        "energy all_hours (from 16 June)": 20.0,
        "fixed charge (from 1 July)": 31.0,
        "energy all_hours (from 1 July)": 20.0,
    }
    tiers = [{"up_to_kwh_per_month": 300.0, "price_usd_per_kwh": 0.10}, {"price_usd_per_kwh": 0.30}]
    plan["energy"] = {"all_hours": {"tiers": tiers}}
    plan["fixed_usd_per_month"] = 0.0
    result = made(plan, {"06-20 12": 200.0})
    assert result.month_usd[6] == pytest.approx(31.0 + 150 * 0.10 + 50 * 0.30)


def test_a_day_of_the_changed_plan_is_the_day_it_starts() -> None:
    later = flat(0.20, starts="2025-07-01")
    result = made(flat(0.10, followed_by=later), {"06-30 23": 10.0, "07-01 00": 10.0})
    assert result.month_usd[[5, 6]] == pytest.approx([1.0, 2.0])
    of_2026 = made(flat(0.10, followed_by=flat(0.20, starts="2026-07-01")), {"07-01 00": 10.0})
    assert of_2026.total_usd == pytest.approx(1.0)
    of_2024 = made(flat(0.10, followed_by=flat(0.20, starts="2024-07-01")), {"01-01 00": 10.0})
    assert of_2024.total_usd == pytest.approx(2.0)


def test_critical_peaks_in_place_and_on_top() -> None:
    """14 July 17:00: 5 kWh at 0.90 in place of 0.30 = 4.50; 13 July 17:00: 5 x 0.30 = 1.50.
    3 February 7:00: 4 kWh at 0.10 and 0.25 on top: 0.40 + 1.00."""
    plan = {
        "energy": {
            "peak": {"hours": "16-20", "price_usd_per_kwh": 0.30},
            "other": {"hours": "rest", "price_usd_per_kwh": 0.10},
        },
        "critical_peaks": {
            "hot": {"dates": ["07-14"], "hours": "16-20", "price_usd_per_kwh": 0.90},
            "cold": {"dates": ["2025-02-03"], "hours": "6-9", "adder_usd_per_kwh": 0.25},
        },
    }
    result = made(plan, {"07-14 17": 5.0, "07-13 17": 5.0, "02-03 07": 4.0})
    assert usd(result, 7) == {"energy peak": 1.5, "critical peak hot": 4.5}
    assert usd(result, 2) == {"energy other": 0.4, "critical peak cold": 1.0}


def test_a_percentage_on_a_percentage() -> None:
    """100 kWh x 0.20 = 20; 3 % of it 0.60; 5 % of 20.60 = 1.03; 10 % of 20 alone = 2."""
    taxes = {
        "franchise": {"frac": 0.03},
        "sales": {"frac": 0.05, "with_lines_before": True},
        "plain": {"frac": 0.10},
    }
    result = made(flat(0.20, taxes=taxes), {"03-03 12": 100.0})
    assert usd(result, 3) == {
        "energy all_hours": 20.0,
        "tax franchise": 0.6,
        "tax sales": 1.03,
        "tax plain": 2.0,
    }


def test_half_cents_go_up_on_every_line() -> None:
    """Three lines of 25 kWh x 0.0106 = 0.265: 0.27 x 3 = 0.81, where the sum 0.795 would print 0.80."""
    riders = {"a": {"price_usd_per_kwh": 0.0106}, "b": {"price_usd_per_kwh": 0.0106}}
    by_line = made(flat(0.0106, riders=riders, rounding="line"), {"03-03 12": 25.0})
    assert by_line.total_usd == pytest.approx(0.81)
    unrounded = made(flat(0.0106, riders=riders), {"03-03 12": 25.0})
    assert unrounded.total_usd == pytest.approx(0.795)


def test_both_clock_change_days() -> None:
    """Night 0-5 at 0.05, else 0.15, 1 kWh an hour. 9 March 2025 has no 02:00: 4 night hours and 19 others.
    2 November has 01:00 twice: 6 night hours and 19 others."""
    energy = {
        "night": {"hours": "0-5", "price_usd_per_kwh": 0.05},
        "day": {"hours": "rest", "price_usd_per_kwh": 0.15},
    }
    plan = RatePlan.model_validate({"energy": energy})
    for (month, day), hours in {(3, 9): (4, 19), (11, 2): (6, 19)}.items():
        of_day = ((YEAR.month == month) & (YEAR.index.day == day)).astype(float)
        assert of_day.sum() == sum(hours)
        lines = bill(plan, YEAR, of_day).lines
        assert lines.quantity.tolist() == [float(h) for h in hours]
        assert lines.usd.sum() == pytest.approx(hours[0] * 0.05 + hours[1] * 0.15)
