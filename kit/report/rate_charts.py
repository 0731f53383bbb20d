"""Rate plans as charts: bills by plan and option, a bill line by line, a year of bills by part."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from typing import Any

import pandas as pd

from kit.report.formats import short_money, unit_symbol, whole_money
from kit.report.money_charts import money_axis
from kit.report.rate_tables import NOTHING, alike_groups, cents, letters, line_words, plan_name
from kit.report.theme import INK, SOFT_INK, Look, finish, unchecked

PARTS: tuple[tuple[str, str, str], ...] = (  # part, words, colour
    ("fixed", "Fixed charge", "#6f777d"),
    ("energy", "Energy", "#0f4c81"),
    ("rider", "Riders", "#4c95bd"),
    ("demand", "Demand", "#c8691c"),
    ("minimum", "Top-up to minimum", "#a08b1d"),
    ("true_up", "True-up", "#8b3a73"),
    ("tax", "Percentage lines", "#5b3a29"),
    ("credit", "Export credit", "#2b7a5d"),
)


@unchecked
def plan_chart(compared: Any) -> Any:
    """The year's bill of every plan (rows) with every option (letters in their colours).

    Options that have the same bill under every plan share a mark, named by all their letters.
    """
    import altair as alt

    currency = compared.study.model.money.currency
    groups = alike_groups(compared)
    frame = _points(compared, groups)
    spread = frame.groupby("plan", sort=False)["usd"].agg(["min", "max"]).reset_index()
    high = float(frame["usd"].max()) * 1.03
    low = min(0.0, float(frame["usd"].min()) * 1.03)
    order = list(dict.fromkeys(frame["plan"]))
    x = alt.X(
        "usd:Q",
        title=f"Bill of a year ({unit_symbol('usd', currency=currency)})",
        scale=alt.Scale(domain=[low, high], nice=False),
        axis=alt.Axis(labelExpr=money_axis(currency), tickCount=8),
    )
    y = alt.Y(
        "plan:N", sort=order, title=None, axis=alt.Axis(ticks=False, domain=False, labelLimit=190, grid=False)
    )
    names = [_label(g) for g in groups]
    legend = alt.Legend(
        title=None,
        orient="top",
        direction="horizontal",
        columns=alt.ExprRef("width > 640 ? 3 : 1"),
        labelLimit=420,
        symbolSize=80,
        columnPadding=18,
        rowPadding=3,
        offset=16,
    )
    colours, shapes = [g[0].colour for g in groups], [g[0].shape for g in groups]
    scales = {
        "color": alt.Color("label:N", scale=alt.Scale(domain=names, range=colours), legend=legend),
        "shape": alt.Shape("label:N", scale=alt.Scale(domain=names, range=shapes), legend=legend),
    }
    band = alt.Chart(spread).mark_rule(color="#d5dadd", strokeWidth=1.5).encode(
        alt.X("min:Q"), alt.X2("max:Q"), y
    )  # fmt: skip
    points = alt.Chart(frame).mark_point(size=64, opacity=1, filled=True).encode(x, y, **scales)
    words = [
        alt.Chart(part).mark_text(dy=dy, fontWeight=600, baseline="middle").encode(
            alt.X("at:Q"), y, text="shown:N", color=alt.Color("colour:N", scale=None)
        )
        for dy, part in ((-12, frame[frame["above"]]), (13, frame[~frame["above"]]))
        if len(part)
    ]  # fmt: skip
    said = ", ".join(f"{letters(g)} {plan_name(compared, compared.best_plan(g[0].slug))}" for g in groups)
    return finish(
        alt.layer(band, points, *words),
        f"{plan_name(compared, compared.best_plan(NOTHING))} is the cheapest plan without equipment",
        f"Cheapest plan of each option: {said}",
        46 * len(order) + 20,
        18,
        subtitle=_with_equipment(compared, groups),
    )


def _with_equipment(compared: Any, groups: Sequence[Sequence[Look]]) -> str:
    """Which plans are cheapest with equipment, where they are not the one without."""
    best = compared.best_plan(NOTHING)
    others: dict[str, list[str]] = {}
    for group in groups:
        plan = compared.best_plan(group[0].slug)
        if plan != best:
            others.setdefault(plan, []).extend(look.letter for look in group)
    said = ", ".join(f"{plan_name(compared, plan)} for {' '.join(sorted(x))}" for plan, x in others.items())
    return f"With equipment: {said}" if said else "The same with every option"


def _label(group: Sequence[Look]) -> str:
    """Letters and names of options that share a mark."""
    return f"{letters(group)}\N{NO-BREAK SPACE} {'; '.join(look.name for look in group)}"


def _points(compared: Any, groups: list[list[Look]]) -> pd.DataFrame:
    """One row a plan and group: its bill, and where its letters stand so that none cover each other."""
    span = max(compared.usd(p, g[0].slug) for p in compared.plans for g in groups)
    rows: list[dict[str, Any]] = []
    for plan in compared.plans:
        usd_of = {letters(g): compared.usd(plan, g[0].slug) for g in groups}
        colour = {letters(g): g[0].colour for g in groups}
        label = {letters(g): _label(g) for g in groups}
        edge = {True: float("-inf"), False: float("-inf")}  # right end of what is written so far
        for name, usd in sorted(usd_of.items(), key=lambda pair: pair[1]):
            half = span * (0.005 + 0.0065 * len(name.split()))
            places = {side: max(usd, edge[side] + half) for side in edge}
            above = places[True] <= places[False]
            at = places[above]
            edge[above] = at + half
            rows.append(
                {
                    "plan": plan_name(compared, plan), "usd": round(usd, 2), "at": round(at, 2),
                    "label": label[name], "shown": name, "above": above, "colour": colour[name],
                }
            )  # fmt: skip
    return pd.DataFrame(rows)


@unchecked
def month_bill_chart(bill: Any, month: int, currency: str = "USD") -> Any:
    """One bill as steps: each line starts where the one before ended, credits go back, the sum below."""
    import altair as alt

    lines = bill.lines[(bill.lines["month"] == month) & (bill.lines["usd"].abs() >= 0.005)]
    rows, at = [], 0.0
    for line in lines.to_dict("records"):
        usd = float(line["usd"])
        rows.append(
            (
                line_words(str(line["line"])),
                at,
                at + usd,
                cents(usd, currency),
                "charge" if usd > 0 else "credit",
            )
        )
        at += usd
    due = float(bill.month_usd[month - 1])
    rows.append(("To pay", 0.0, due, cents(due, currency), "sum"))
    frame = pd.DataFrame(rows, columns=["line", "from", "to", "text", "kind"])
    frame["end"] = frame[["from", "to"]].max(axis=1)
    y = alt.Y("line:N", sort=None, title=None, axis=alt.Axis(ticks=False, domain=False, labelLimit=330))
    colour = alt.Color(
        "kind:N",
        scale=alt.Scale(domain=["charge", "credit", "sum"], range=["#0f4c81", "#2b7a5d", INK]),
        legend=None,
    )
    x = alt.X(
        "from:Q",
        title=f"Running sum ({unit_symbol('usd', currency=currency)})",
        scale=alt.Scale(
            domain=[min(0.0, float(frame[["from", "to"]].min().min())), 1.16 * float(frame["end"].max())]
        ),
        axis=alt.Axis(labelExpr=money_axis(currency), tickCount=6),
    )
    bars = alt.Chart(frame).mark_bar(height={"band": 0.6}).encode(x, alt.X2("to:Q"), y, colour)
    words = alt.Chart(frame).mark_text(align="left", dx=6, color=INK).encode(alt.X("end:Q"), y, text="text:N")
    return finish(
        alt.layer(bars, words),
        f"The bill of {calendar.month_name[month]}, line by line",
        "; ".join(f"{r.line} {r.text}" for r in frame.itertuples()),
        26 * len(frame) + 10,
        subtitle=f"{bill.segments.spans[month - 1]}",
    )


@unchecked
def year_bill_chart(bill: Any, currency: str = "USD") -> Any:
    """Twelve bills, stacked by part; credits below zero, the sum of each on top."""
    import altair as alt

    months = [calendar.month_abbr[m] for m in range(1, 13)]
    by_part: dict[str, list[float]] = {}
    for line in bill.bill_lines:
        sums = by_part.setdefault(line.part, [0.0] * 12)
        for segment, usd in zip(bill.segments.bill, line.usd, strict=True):
            sums[int(segment)] += float(usd)
    used = [p for p in PARTS if any(abs(v) >= 0.005 for v in by_part.get(p[0], ()))]
    rows = [
        {"month": months[m], "part": words, "rank": rank, "usd": round(by_part[part][m], 2)}
        for rank, (part, words, _) in enumerate(used)
        for m in range(12)
        if abs(by_part[part][m]) >= 0.005
    ]
    tops = [sum(max(by_part[p[0]][m], 0.0) for p in used) for m in range(12)]
    top = pd.DataFrame(
        {"month": months, "usd": tops, "text": [short_money(float(v), currency) for v in bill.month_usd]}
    )
    colour = alt.Color(
        "part:N",
        scale=alt.Scale(domain=[p[1] for p in used], range=[p[2] for p in used]),
        legend=alt.Legend(title=None, orient="top", direction="horizontal", symbolType="square", columns=4),
    )
    x = alt.X("month:N", sort=months, title=None, axis=alt.Axis(labelAngle=0, ticks=False))
    y = alt.Y(
        "usd:Q",
        title=f"Bill ({unit_symbol('usd', currency=currency)})",
        axis=alt.Axis(labelExpr=money_axis(currency), tickCount=5),
    )
    bars = (
        alt.Chart(pd.DataFrame(rows))
        .mark_bar(width={"band": 0.62}, stroke="white", strokeWidth=0.8)
        .encode(x, y, colour, order=alt.Order("rank:Q"))
    )
    words = alt.Chart(top).mark_text(dy=-8, color=SOFT_INK).encode(x, alt.Y("usd:Q"), text="text:N")
    return finish(
        alt.layer(bars, words),
        f"Twelve bills, {whole_money(bill.total_usd, currency)} in all",
        ", ".join(f"{r.month} {r.text}" for r in top.itertuples()),
        250,
        subtitle="On top: what is to be paid",
    )
