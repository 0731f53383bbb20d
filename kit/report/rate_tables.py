"""Rate plans as tables: bills by plan and option, the best plan of each option, a month line by line."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

from kit.report.formats import MINUS, figure, whole_money
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, bullets, heading, paragraph, together
from kit.report.theme import Look, looks

NOTHING = "do_nothing"
LOWEST = "the lowest bill in this column"
BASIS = (
    "Grid bills of the first year at today's prices; the use of a battery is planned anew under each plan. "
    "Energy that refills a battery after outages is not in them."
)


def plan_looks(compared: Any) -> list[Look]:
    """One look an option, as in the charts of the memo."""
    return looks(SimpleNamespace(outcomes=compared.options))


def alike_groups(compared: Any) -> list[list[Look]]:
    """Options in groups that have the same bill under every plan, to half a cent."""
    groups: list[list[Look]] = []
    for look in plan_looks(compared):
        for group in groups:
            apart = (abs(compared.usd(p, look.slug) - compared.usd(p, group[0].slug)) for p in compared.plans)
            if max(apart) < 0.005:
                group.append(look)
                break
        else:
            groups.append([look])
    return groups


def letters(group: Sequence[Look]) -> str:
    """Letters of options that share a column."""
    return " ".join(look.letter for look in group)


def plan_table(compared: Any) -> Shown:
    """The year's bill of every plan (rows, cheapest without equipment first) with every option (columns)."""
    groups = alike_groups(compared)
    rows: list[list[str | Cell]] = []
    for plan in compared.plans:
        cells: list[str | Cell] = []
        for group in groups:
            slug = group[0].slug
            lowest = plan == compared.best_plan(slug)
            cells.append(Cell(_money(compared, compared.usd(plan, slug)), LOWEST if lowest else ""))
        rows.append([plan_name(compared, plan), *cells])
    made = table("Yearly bill by rate plan and option", ["Plan", *map(letters, groups)], [Group("", rows)])
    keys = "; ".join(look.label for look in plan_looks(compared))
    return together([made, paragraph(f"{keys}.", "small"), paragraph(BASIS, "small"), _failed(compared)])


def best_table(compared: Any) -> Shown:
    """The plan with the lowest bill for each option, and what of the saving is plan and what equipment."""
    base = compared.usd(compared.today, NOTHING)
    rows: list[list[str | Cell]] = []
    for look in plan_looks(compared):
        plan = compared.best_plan(look.slug)
        usd, without = compared.usd(plan, look.slug), compared.usd(plan, NOTHING)
        same = compared.usd(compared.today, look.slug)
        rows.append(
            [
                look.label,
                plan_name(compared, plan),
                _money(compared, usd),
                _money(compared, base - without),
                _money(compared, without - usd),
                _money(compared, same),
            ]
        )
    heads = [
        "Option",
        "Best plan",
        "Its bill",
        "Saved by the plan",
        "Saved by equipment",
        "Bill on today's plan",
    ]
    text = (
        f"Today: {compared.plans[compared.today].name}, {_money(compared, base)} a year without equipment. "
        "Saved by the plan: that bill less the bill of the best plan without equipment."
    )
    made = table("Best plan for each option", heads, [Group("", rows)], text_columns=[1])
    return together([made, paragraph(text, "small")])


def foresight_table(compared: Any) -> Shown:
    """Bills of options with a battery as used, and as the plan's marginal prices would have it used best."""
    items = [x for x in plan_looks(compared) if compared.options[x.slug].battery is not None]
    if not items:
        return paragraph("No option has a battery, so nothing is used differently under another plan.")
    rows: list[list[str | Cell]] = []
    for plan in compared.plans:
        cells: list[str | Cell] = []
        for look in items:
            case = compared.cases[plan, look.slug]
            used = _money(compared, compared.usd(plan, look.slug))
            cells += [used, Cell(_money(compared, case.best_usd), case.best_note)]
        rows.append([plan_name(compared, plan), *cells])
    heads = ["Plan", *(text for x in items for text in (f"{x.letter} as used", f"{x.letter} foresight"))]
    made = table("Bills with a battery: as used, and with perfect foresight", heads, [Group("", rows)])
    text = (
        "Foresight: the use that would have been cheapest for the prices it saw, full at both ends of the "
        "year; a limit, not a claim."
    )
    return together([made, paragraph(text, "small")])


def plan_notes(compared: Any) -> Shown:
    """What to know about the plans: of imported records, credit that is lost, demand read too coarsely."""
    parts: list[Shown | None] = []
    for plan, notes in compared.notes.items():
        if notes:
            parts += [heading(compared.plans[plan].name, 4), bullets(list(notes))]
    return together(parts) if parts else paragraph("Nothing is left to say about the plans.")


def month_bill_table(bill: Any, month: int, currency: str = "USD") -> Shown:
    """One bill, line by line, as it would be printed; `month` 1 to 12, named after its last day.

    `bill`: a kit.grid.bill.Bill. ValueError for another month.
    """
    if month not in range(1, 13):
        raise ValueError(f"month is {month}; it must be 1 to 12")
    rows: list[list[str | Cell]] = []
    shown = 0
    for line in bill.lines[bill.lines["month"] == month].to_dict("records"):
        flat = line["unit"] == "USD" and line["price"] == 1.0
        amount = "" if flat else _amount(float(line["quantity"]), str(line["unit"]), currency)
        usd = float(line["usd"])
        rows.append([line_words(str(line["line"])), amount, _price(line, currency), cents(usd, currency)])
        shown += _whole_cents(usd)
    due = float(bill.month_usd[month - 1])
    note = "this plan does not round its lines; shown to the cent, they may add up differently"
    total = Cell(cents(due, currency), "" if shown == _whole_cents(due) else note, "total")
    rows.append([Cell("To pay", kind="total"), "", "", total])
    caption = f"The bill of {calendar.month_name[month]}, line by line: {bill.segments.spans[month - 1]}"
    return table(caption, ["", "Quantity", "Price", "Amount"], [Group("", rows)])


def cents(usd: float, currency: str = "USD") -> str:
    """An amount to the cent, as a bill prints it; half a cent goes up."""
    whole = _whole_cents(usd)
    text = f"{abs(whole) // 100:,}.{abs(whole) % 100:02d}"
    symbol = figure(0.0, "usd", currency=currency).rstrip("0")
    return f"{MINUS if whole < 0 else ''}{symbol}{text}"


def _whole_cents(usd: float) -> int:
    whole = int(abs(usd) * 100.0 + 0.5 + 1e-7)
    return -whole if usd < 0 else whole


def line_words(line: str) -> str:
    """A line of a bill for a reader: slugs without underscores, a capital first."""
    words = line.replace("_", " ")
    return words[:1].upper() + words[1:]


def _amount(quantity: float, unit: str, currency: str) -> str:
    if unit == "USD":
        return cents(quantity, currency)
    digits = 1 if unit == "kWh" else 2
    text = f"{quantity:,.{digits}f}"
    if unit in ("month", "day"):
        text = text.rstrip("0").rstrip(".")
        unit = unit if text == "1" else f"{unit}s"
    return f"{text} {unit}"


def _price(line: dict[Any, Any], currency: str) -> str:
    price = float(line["price"])
    if line["unit"] == "USD":
        return "" if abs(price) == 1.0 else f"{100 * price:.3f}".rstrip("0").rstrip(".") + "%"
    symbol = figure(0.0, "usd", currency=currency).rstrip("0")
    text = f"{abs(price):.5f}".rstrip("0")
    text = text + "0" * max(0, 2 - len(text.split(".")[1]))
    return f"{MINUS if price < 0 else ''}{symbol}{text}"


def _money(compared: Any, usd: float) -> str:
    return whole_money(usd, compared.study.model.money.currency)


def plan_name(compared: Any, plan: str, most_chars: int = 36) -> str:
    """Name of a plan in a table or chart, shortened where it is long; today's plan says so."""
    name = str(compared.plans[plan].name).replace(" (invented)", "")
    name = name if len(name) <= most_chars else name[: most_chars - 1].rstrip(" :,-") + "…"
    return f"{name} (today)" if plan == compared.today and "today" not in name else name


def _failed(compared: Any) -> Shown | None:
    if not compared.failed:
        return None
    return bullets([f"{plan} is left out: {why}" for plan, why in compared.failed.items()])


def month_bills(comparison: Any, month: int = 1) -> Shown:
    """One bill of today, line by line, and the same month's with the option of the verdict.

    Only today's where no option wins or its bill is the same.
    """
    currency = comparison.study.model.money.currency
    slugs = [NOTHING, comparison.verdict.winner]
    outcomes = [comparison.outcomes[s] for s in dict.fromkeys(slugs) if s in comparison.outcomes]
    if len(outcomes) > 1 and abs(outcomes[0].bill.total_usd - outcomes[1].bill.total_usd) < 0.005:
        outcomes.pop()
    names = {look.slug: look.label for look in looks(comparison)}
    parts: list[Shown] = []
    for outcome in outcomes:
        parts += [heading(names[outcome.slug], 4), month_bill_table(outcome.bill, month, currency)]
    return together(parts)
