"""Is anything counted twice, and would another way of counting say the same?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kit.report.formats import CHANCE, DASH, figure, whole_money
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, bullets, paragraph, together
from kit.report.theme import looks
from kit.stages.sources import DO_NOTHING
from kit.vary.doubt import Doubt
from kit.vary.otherwise import INFLATION

ONCE = (
    "Wear steers the battery, the cash is its replacement: no bill holds a price of wear.",
    "Idle draw is on the meter in grid hours and in the battery in outage hours, once an hour.",
    "Solar saves first, the battery is credited with what it adds; solar sold or stored is not used twice.",
    "Charging again after an outage is on the bill and taken off what the battery saves.",
    "Routine and major outages are apart: the rate of one is not inside the rate of the other.",
    "A loan replaces the purchase; what is left at the end is one line, and no life is both replaced and "
    "spread over years.",
    "Going without power is valued by one rule or by none, in a line of its own.",
)
PARTS = {
    "saving_from_plan_usd_per_year": -1.0,
    "saving_from_solar_usd_per_year": -1.0,
    "saving_from_battery_usd_per_year": -1.0,
    "standby_usd_per_year": 1.0,
}


def bill_parts(comparison: Any) -> Shown:
    """From the bill of doing nothing to that of each option, part by part, and what is left over."""
    outcomes, currency = comparison.outcomes, comparison.study.model.money.currency
    rows: list[Sequence[str | Cell]] = []
    start = float(outcomes[DO_NOTHING].columns["bill_usd_per_year"])
    for look in looks(comparison):
        row = outcomes[look.slug].columns
        parts = [sign * _usd(row[name]) for name, sign in PARTS.items()]
        bill = float(row["bill_usd_per_year"])
        money = [whole_money(value, currency) for value in (start, *parts, bill)]
        rows.append(
            [look.label, *money, figure(round(abs(bill - start - sum(parts)), 2), "usd", currency=currency)]
        )
    heads = ["", "Bill of doing\nnothing", "Rate plan", "Solar", "Battery", "Set on\nstandby", "Its bill"]
    shown = table("From one bill to the other, year 1", [*heads, "Left over"], [Group("", rows)])
    return together([bullets(ONCE), shown])


def _usd(value: Any) -> float:
    return 0.0 if value is None or value != value else float(value)


def other_ways(comparison: Any, made: Doubt | None) -> Shown | None:
    """Lifetime cost, chance and answer, counted in other ways."""
    if made is None or made.pair is None:
        return None
    model = comparison.study.model
    label = {look.slug: look.letter for look in looks(comparison)}
    said = _ways(comparison)
    rows: list[Sequence[str | Cell]] = []
    for way, own in made.ways.groupby("way", sort=False):
        by_option = {str(row["option"]): row for row in own.to_dict("records")}
        found = [by_option[slug] for slug in made.pair]
        cost = [whole_money(float(row["lifetime_cost_usd"]), model.money.currency) for row in found]
        chance = [figure(float(row["ride_through_frac_asked"]), CHANCE) for row in found]
        winner = found[0]["winner"]
        rows.append([said[str(way)], *cost, *chance, label.get(str(winner), DASH)])
    costs = [f"{label[slug]}\nlifetime cost" for slug in made.pair]
    chances = [f"{label[slug]}\nchance for {figure(model.asked.keep_on_h, 'h')}" for slug in made.pair]
    heads = ["Counted", *costs, *chances, "The\nanswer"]
    shown = table("The answer and its nearest rival, counted in other ways", heads, [Group("", rows)])
    if "quarters" in set(made.ways["way"]):
        return together([shown, paragraph(QUARTERS, "small")])
    return shown


QUARTERS = (
    "In steps of 15 min the same record is held level within its own step, an outage may start at each "
    "quarter of an hour, and a price that changes at half past is met exactly there. Of these two alone."
)


def _ways(comparison: Any) -> dict[str, str]:
    money = comparison.study.model.money
    minutes = 60.0 * comparison.house.year.step_h
    rate = figure(INFLATION if money.inflation_frac is None else money.inflation_frac, "frac")
    basis = "nominal" if money.money_basis == "real" else "real"
    ends = {"end_of_year": "at the end of each year", "mid_year": "in the middle of each year"}
    studied = ends[money.timing]
    other = next(text for name, text in ends.items() if name != money.timing)
    return {
        "studied": f"as studied: {money.money_basis} money, paid {studied}, steps of {minutes:g} min",
        "basis": f"in {basis} money, {rate} of inflation a year in every rate",
        "timing": f"paid {other}",
        "quarters": "in steps of 15 min",
    }
