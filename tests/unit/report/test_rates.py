"""Tables and charts of rate plans: figures as computed, marks that keep apart, cents that add up."""

from __future__ import annotations

import re
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from kit.calendar import calendar_year
from kit.grid.bill import Bill, bill
from kit.report import rate_charts, rate_tables
from kit.study.rate_models import RatePlan
from kit.vary.plans import PlanCase, PlanFile

YEAR = calendar_year(2025, "America/New_York", 60)


def flat(price: float, **keys: Any) -> RatePlan:
    return RatePlan.model_validate({"energy": {"all_hours": {"price_usd_per_kwh": price}}, **keys})


class Fake:
    """Three plans and four options with bills that are chosen here."""

    currency = "USD"
    today = "old"
    failed = {"market": "prices.csv: covers 2011, not the whole study year 2025"}
    notes = {"old": ("credit is lost",), "new": ()}
    bills = {
        "old": {"do_nothing": 1200.0, "portable": 1200.0, "solar": 700.0, "battery": 1100.0},
        "new": {"do_nothing": 1000.0, "portable": 1000.0, "solar": 800.0, "battery": 1101.0},
        "night": {"do_nothing": 1300.0, "portable": 1300.0, "solar": 900.0, "battery": 905.0},
    }

    def __init__(self) -> None:
        names = {"do_nothing": "Do nothing", "portable": "Portable", "solar": "Solar", "battery": "Battery"}
        self.options = {
            s: SimpleNamespace(name=n, battery=object() if s == "battery" else None) for s, n in names.items()
        }
        self.plans = {s: PlanFile(s, f"{s.capitalize()} plan (invented)", flat(0.1)) for s in self.bills}
        note = "Best for the marginal prices only: they leave out tiers, which the bill has."
        empty = bill(flat(0.1), YEAR, np.ones(YEAR.n))
        self.cases = {
            (p, o): PlanCase(empty, usd - 5.0 if o == "battery" else None, note if o == "battery" else "")
            for p, row in self.bills.items()
            for o, usd in row.items()
        }
        self.study = SimpleNamespace(
            model=SimpleNamespace(money=SimpleNamespace(currency="USD"), invented=True, name="House"),
            sha256="0" * 64,
        )

    def usd(self, plan: str, option: str) -> float:
        return self.bills[plan][option]

    def best_plan(self, option: str) -> str:
        return min(self.plans, key=lambda p: self.usd(p, option))


def test_options_of_equal_bills_share_a_column() -> None:
    text = rate_tables.plan_table(Fake()).text
    assert re.search(r"Plan +A B +C +D", text)
    assert re.search(r"Old plan \(today\) +\$1,200 +\$700 \(a\) +\$1,100", text)
    assert re.search(r"New plan +\$1,000 \(a\) +\$800 +\$1,101", text)
    assert re.search(r"Night plan +\$1,300 +\$900 +\$905 \(a\)", text)
    assert "market is left out: prices.csv: covers 2011" in text


def test_the_best_plan_of_each_option_and_what_saved_it() -> None:
    """Solar: best is the old plan, 700; plan alone saves nothing, equipment 500. Battery: night plan, 905:
    the plan alone costs 100 more than today, the battery then saves 395."""
    text = rate_tables.best_table(Fake()).text
    assert re.search(r"Solar +Old plan \(today\) +\$700 +\$0 +\$500 +\$700", text)
    assert re.search(r"Battery +Night plan +\$905 +−\$100 +\$395 +\$1,100", text)
    assert "Old plan (invented), $1,200 a year without equipment" in text


def test_foresight_says_what_its_prices_leave_out() -> None:
    text = rate_tables.foresight_table(Fake()).text
    assert re.search(r"Night plan +\$905 +\$900 \(a\)", text)
    assert "(a) Best for the marginal prices only: they leave out tiers, which the bill has." in text
    assert "credit is lost" in rate_tables.plan_notes(Fake()).text


def july(rounding: str = "line") -> Bill:
    plan = flat(
        0.12345,
        fixed_usd_per_month=11.5,
        riders={"storm_fund": {"price_usd_per_kwh": -0.0031}},
        taxes={"city": {"frac": 0.0225}},
        billing_cycle={"begins_on_day": 17},
        rounding=rounding,
        export={"kind": "net_billing", "price_usd_per_kwh": 0.05},
    )
    return bill(plan, YEAR, np.full(YEAR.n, 0.7), np.full(YEAR.n, 0.2))


def test_a_month_line_by_line() -> None:
    """17 June to 16 July, 720 h: 504 kWh x 0.12345 = 62.2188 -> 62.22; 504 x -0.0031 = -1.5624 -> -1.56;
    144 x 0.05 = 7.20; base 11.50 + 62.22 - 1.56 - 7.20 = 64.96, 2.25 % 1.4616 -> 1.46; 66.42."""
    text = rate_tables.month_bill_table(july(), 7).text
    rows = [re.split(r"  +", line.strip()) for line in text.splitlines()[3:]]
    assert text.startswith("The bill of July, line by line: 17 June to 16 July, 30 days")
    assert rows == [
        ["Fixed charge", "1 month", "$11.50", "$11.50"],
        ["Energy all hours", "504.0 kWh", "$0.12345", "$62.22"],
        ["Rider storm fund", "504.0 kWh", "−$0.0031", "−$1.56"],
        ["Export credit", "144.0 kWh", "−$0.05", "−$7.20"],
        ["Tax city", "$64.96", "2.25%", "$1.46"],
        ["To pay", "$66.42"],
    ]
    with pytest.raises(ValueError, match="month is 13; it must be 1 to 12"):
        rate_tables.month_bill_table(july(), 13)


def test_a_sum_that_cents_do_not_reach_is_explained() -> None:
    """Where the lines of a plan that does not round add up, to the cent, to another sum, a note says so."""
    made, found = july("none"), 0
    for month in range(1, 13):
        lines = made.lines[made.lines.month == month].usd
        apart = abs(sum(round(v, 2) for v in lines) - round(made.month_usd[month - 1], 2)) > 0.001
        noted = "does not round its lines" in rate_tables.month_bill_table(made, month).text
        assert noted == apart
        found += noted
    assert found > 0


def test_cents() -> None:
    assert rate_tables.cents(1234.565) == "$1,234.57"
    assert rate_tables.cents(-0.004) == "$0.00"
    assert rate_tables.cents(-7.2, "EUR") == "−€7.20"


def charts() -> list[Any]:
    return [
        rate_charts.plan_chart(Fake()),
        rate_charts.month_bill_chart(july(), 7),
        rate_charts.year_bill_chart(july()),
    ]


def test_charts_are_whole_and_named_by_no_counter() -> None:
    for chart in charts():
        spec = chart.to_dict()  # checked against the grammar of charts
        assert spec["description"]
        assert not re.search(r'"(view|param|selector)_\d+"', str(spec).replace("'", '"'))
        assert all(len(rows) <= 400 for rows in spec["datasets"].values())


def test_the_chart_says_which_plan_is_cheapest() -> None:
    title = charts()[0].to_dict()["title"]
    assert title["text"] == "New plan is the cheapest plan without equipment"
    assert title["subtitle"] == "With equipment: Old plan (today) for C, Night plan for D"


def test_letters_in_a_row_keep_apart() -> None:
    fake = Fake()
    fake.bills = {"old": {"do_nothing": 1000.0, "portable": 1001.0, "solar": 1002.0, "battery": 1003.0}}
    fake.plans = {"old": fake.plans["old"]}
    spec = rate_charts.plan_chart(fake).to_dict()
    marks = pd.concat([pd.DataFrame(rows) for rows in spec["datasets"].values() if "shown" in rows[0]])
    for _, side in marks.drop_duplicates("shown").groupby("above"):
        assert np.diff(np.sort(side["at"])).min() >= 10.0


def test_the_bars_of_a_month_end_at_the_sum() -> None:
    spec = rate_charts.month_bill_chart(july(), 7).to_dict()
    (rows,) = [rows for rows in spec["datasets"].values() if "kind" in rows[0]]
    assert rows[-1]["to"] == pytest.approx(66.42)
    assert rows[-2]["to"] == pytest.approx(66.42)
    year = rate_charts.year_bill_chart(july()).to_dict()
    drawn = sum(row["usd"] for rows in year["datasets"].values() for row in rows if "part" in row)
    assert drawn == pytest.approx(july().total_usd, abs=0.05)


def test_the_bill_of_a_month_today_and_with_the_winner() -> None:
    day, night = july(), bill(flat(0.2, fixed_usd_per_month=3.0), YEAR, np.full(YEAR.n, 0.1))
    outcomes = {
        "do_nothing": SimpleNamespace(slug="do_nothing", name="Do nothing", bill=day),
        "battery": SimpleNamespace(slug="battery", name="Battery", bill=night),
    }
    comparison = SimpleNamespace(
        outcomes=outcomes,
        verdict=SimpleNamespace(winner="battery"),
        study=SimpleNamespace(model=SimpleNamespace(money=SimpleNamespace(currency="USD"))),
    )
    text = rate_tables.month_bills(comparison, 7).text
    assert text.count("To pay") == 2
    assert re.search(r"A\s+Do nothing\n\nThe bill of July, line by line: 17 June to 16 July, 30 days", text)
    assert re.search(r"B\s+Battery\n\nThe bill of July, line by line: 1 July to 31 July, 31 days", text)
    comparison.verdict.winner = None
    assert rate_tables.month_bills(comparison).text.count("To pay") == 1
    outcomes["battery"].bill = day
    comparison.verdict.winner = "battery"
    assert rate_tables.month_bills(comparison).text.count("To pay") == 1
