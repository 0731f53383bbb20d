"""Charts of money: lifetime cost by line, and cash year by year."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from kit.report.formats import short_money
from kit.report.line_parts import end_labels, end_letters, end_rows, lines_of, room_px, spread_marks
from kit.report.lines import COST_LINES, lifetime_lines
from kit.report.theme import INK, SOFT_INK, Look, finish, looks, option_marks, unchecked

NOTHING = "do_nothing"


@unchecked
def lifetime_cost(comparison: Any) -> Any:
    """Present value of every cost line, stacked a bar an option; credits left of zero."""
    import altair as alt

    currency = comparison.study.model.money.currency
    items = looks(comparison)
    lines = lifetime_lines(comparison)
    frame, totals = _stack(lines, items, currency)
    used = [line for line in COST_LINES if line.key in set(frame["key"])]
    y = alt.Y("label:N", sort=[x.label for x in items], title=None, axis=None)
    x = alt.X(
        "from:Q",
        title=f"Present value ({_currency_name(currency)})",
        axis=alt.Axis(
            labelExpr=money_axis(currency),
            tickCount=alt.ExprRef("width > 480 ? 8 : 4"),
            labelOverlap="greedy",
        ),
    )
    colour = alt.Color(
        "line:N",
        scale=alt.Scale(domain=[c.label for c in used], range=[c.colour for c in used]),
        legend=alt.Legend(
            title=None, orient="top", direction="horizontal", columns=alt.ExprRef("width > 480 ? 4 : 1"),
            symbolType="square", symbolSize=130, symbolStrokeColor=INK, columnPadding=14,
        ),
    )  # fmt: skip
    bars = (
        alt.Chart(frame)
        .mark_bar(stroke="white", strokeWidth=1.2, height={"band": 0.5}, yOffset=9)
        .encode(x, alt.X2("to:Q"), y, colour, order=alt.Order("rank:Q"))
    )
    words = (
        alt.Chart(frame[frame["word"] != ""])
        .mark_text(align="center", yOffset=9)
        .encode(
            alt.X("middle:Q"), y, text=alt.Text("word:N"), color=alt.Color("ink:N", scale=None),
            opacity=alt.condition("width > 480", alt.value(1), alt.value(0)),
        )
    )  # fmt: skip
    total = (
        alt.Chart(totals)
        .mark_text(align="left", dx=6, yOffset=9, fontWeight=600, color=INK)
        .encode(alt.X("end:Q"), y, text=alt.Text("text:N"))
    )
    names = alt.Chart(totals).mark_text(align="left", yOffset=-14, color=INK).encode(
        alt.X(value=0), y, text=alt.Text("label:N")
    )  # fmt: skip
    zero = (  # beside each bar only: a line over the whole height would cross the names
        alt.Chart(totals.assign(at=0.0))
        .mark_tick(color=INK, thickness=1.2, size=24, yOffset=9)
        .encode(alt.X("at:Q"), y)
    )
    said = ", ".join(f"{r.letter} {r.text}" for r in totals.itertuples())
    return finish(
        alt.layer(zero, bars, words, total, names, resolve={"scale": {"color": "independent"}}),
        "Lifetime cost by line",
        f"Present value over {lines.attrs['horizon_years']} years, total: {said}",
        50 * len(items),
        66,
    )


def _stack(lines: pd.DataFrame, items: Sequence[Look], currency: str) -> tuple[pd.DataFrame, pd.DataFrame]:
    rows: list[dict[str, Any]] = []
    totals = []
    widest = max(float(lines.clip(lower=0).sum(axis=1).max()), 1.0)
    for look in items:
        costs = lines.loc[look.slug].to_dict()
        up, down = 0.0, 0.0
        for rank, line in enumerate(COST_LINES):
            value = float(costs.get(line.key, 0.0))
            if abs(value) < 0.005:
                continue
            start = up if value > 0 else down
            stop = start + value
            up, down = (stop, down) if value > 0 else (up, stop)
            fits = abs(value) / widest > 0.17
            rows.append(
                {
                    "label": look.label, "line": line.label, "key": line.key, "rank": rank, "from": start,
                    "to": stop, "middle": (start + stop) / 2, "ink": line.ink,
                    "word": f"{line.short} {short_money(value, currency)}" if fits else "",
                }
            )  # fmt: skip
        total = float(sum(costs.values()))
        totals.append(
            {"label": look.label, "letter": look.letter, "end": up, "text": short_money(total, currency)}
        )
    return pd.DataFrame(rows), pd.DataFrame(totals)


@unchecked
def cumulative_cash(comparison: Any) -> Any:
    """Running sum of yearly cash beyond doing nothing, undiscounted; lost load left out."""
    import altair as alt

    currency = comparison.study.model.money.currency
    items = [x for x in looks(comparison) if x.slug != NOTHING]
    base = _yearly(comparison.outcomes[NOTHING].cash)
    parts = []
    for look in items:
        running = (_yearly(comparison.outcomes[look.slug].cash) - base).cumsum()
        parts.append(
            pd.DataFrame(
                {"year": running.index.astype(float), "usd": running.to_numpy(), "label": look.label,
                 "letter": look.letter}
            )
        )  # fmt: skip
    frame = pd.concat(parts)
    last = float(frame["year"].max())
    low, high = min(float(frame["usd"].min()), 0.0), max(float(frame["usd"].max()), 0.0)
    span = max(high - low, 1.0)
    low, high = low - 0.06 * span, high + 0.06 * span
    ends = end_labels(frame, "year", "usd", low, high, 0.065)
    rows = end_rows(frame, "year", "usd", low, high, 0.065)
    marks = spread_marks(frame, "year", items, last)
    marks_of = option_marks(items)
    x = alt.X(
        "year:Q",
        title="Years after the purchase",
        scale=alt.Scale(domain=[0, last], nice=False),
        axis=alt.Axis(tickMinStep=1, format="d", grid=False, tickCount=alt.ExprRef("width > 420 ? 15 : 6")),
    )
    y = alt.Y(
        "usd:Q",
        title=f"Cash beyond doing nothing ({_currency_name(currency)})",
        scale=alt.Scale(domain=[low, high], nice=False),
        axis=alt.Axis(labelExpr=money_axis(currency), tickCount=6),
    )
    zero = alt.Chart(pd.DataFrame({"usd": [0.0], "year": [0.0], "text": ["as doing nothing"]}))
    chart = alt.layer(
        zero.mark_rule(color=SOFT_INK, strokeWidth=1.2).encode(y=alt.Y("usd:Q")),
        zero.mark_text(color=SOFT_INK, align="left", baseline="bottom", dy=-3, dx=5).encode(
            alt.X("year:Q"), alt.Y("usd:Q"), text=alt.Text("text:N")
        ),
        *lines_of(frame, items, x, y),
        alt.Chart(marks).mark_point(opacity=1).encode(x, y, **marks_of),
        end_letters(rows, "year", items),
    )
    said = ", ".join(
        f"{letter} {short_money(usd, currency)}"
        for letter, usd in zip(ends["letter"], ends["usd"].astype(float), strict=True)
    )
    return finish(
        chart,
        "Cash so far against doing nothing",
        f"Not discounted; falls when money leaves. After {last:.0f} years: {said}",
        280,
        room_px(rows) + 4,
    )


def _yearly(cash: pd.DataFrame) -> pd.Series:
    return cash.drop(columns="lost_load", errors="ignore").sum(axis=1)


def money_axis(currency: str) -> str:
    """Label expression of an axis of money: thousands as 1.2k, a true minus."""
    prefix = {"USD": "$", "EUR": "€", "GBP": "£"}.get(currency, "")
    size = "abs(datum.value)"
    number = f"({size} >= 1000 ? format({size} / 1000, ',~r') + 'k' : format({size}, ',~r'))"
    return f"(datum.value < 0 ? '\N{MINUS SIGN}' : '') + '{prefix}' + {number}"


def _currency_name(currency: str) -> str:
    return {"USD": "$", "EUR": "€", "GBP": "£"}.get(currency, currency)
