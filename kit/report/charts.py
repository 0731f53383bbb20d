"""Charts of the answer: how long the loads stay on, what it costs, what it burns."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from kit.report.formats import convert, figure, short_money, unit_symbol
from kit.report.lines import COST_LINES, lifetime_lines
from kit.report.theme import ALARM, INK, SOFT_INK, Look, finish, looks, option_marks

NOTHING = "do_nothing"
_MOST_POINTS = 300


def hours_kept_on(comparison: Any) -> Any:
    """Share of outage starts whose loads are still on, against hours into the outage."""
    import altair as alt

    asked = comparison.study.model.asked
    items = looks(comparison)
    frame = pd.concat(
        [
            _thin(comparison.outcomes[x.slug].hours_kept_on).assign(label=x.label, letter=x.letter)
            for x in items
        ]
    )
    end_h = _last_hour(frame, asked.keep_on_h)
    frame = frame[frame["hours"] <= end_h]
    ends = _end_labels(frame, "hours", "share_frac", 0.0, 1.0, 0.06)
    marks = _spread_marks(frame, "hours", items, end_h)
    marks_of = option_marks(items)
    x = alt.X(
        "hours:Q",
        title="Hours into the outage (h)",
        scale=alt.Scale(domain=[0, end_h], nice=False),
        axis=alt.Axis(values=_hour_ticks(end_h), labelOverlap="greedy", grid=False),
    )
    y = alt.Y(
        "share_frac:Q",
        title="Share of outage starts still on (%)",
        scale=alt.Scale(domain=[0, 1]),
        axis=alt.Axis(format=".0%", tickCount=5),
    )
    target = f"asked: {figure(asked.keep_on_h, 'h')} at {figure(asked.chance_frac, 'frac')}"
    chart = alt.layer(
        *_target(asked, end_h, target),
        *_lines(frame, items, x, y),
        alt.Chart(marks).mark_point(opacity=1).encode(x, y, **marks_of),
        _letters(ends, "hours", items),
    )
    best = ", ".join(
        f"{x.letter} {figure(_share_at(comparison.outcomes[x.slug].hours_kept_on, asked.keep_on_h), 'frac')}"
        for x in items
    )
    return finish(
        chart,
        "How long the loads asked for stay on",
        f"Share of outage starts still on after {figure(asked.keep_on_h, 'h')}: {best}",
        300,
        30,
    )


def _target(asked: Any, end_h: float, text: str) -> list[Any]:
    import altair as alt

    mark = pd.DataFrame(
        {
            "hours": [asked.keep_on_h],
            "share_frac": [asked.chance_frac],
            "zero": [0.0],
            "one": [1.0],
            "text": [text],
        }
    )
    base = alt.Chart(mark)
    rule: dict[str, Any] = {"color": ALARM, "strokeWidth": 1.2, "strokeDash": [3, 3]}
    left = asked.keep_on_h > end_h * 0.6
    return [
        base.mark_rule(**rule).encode(x="hours:Q", y="zero:Q", y2="one:Q"),
        base.mark_rule(**rule).encode(x="zero:Q", x2="hours:Q", y="share_frac:Q"),
        base.mark_point(color=ALARM, size=110, shape="circle", filled=False, strokeWidth=1.6).encode(
            x="hours:Q", y="share_frac:Q"
        ),
        base.mark_text(
            color=ALARM, align="right" if left else "left", baseline="bottom", dx=3 if left else -3, dy=-5
        ).encode(x="hours:Q", y="one:Q", text="text:N"),
    ]


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
        axis=alt.Axis(labelExpr=_money_axis(currency)),
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
        .encode(alt.X("end:Q"), y, text="text:N")
    )
    names = alt.Chart(totals).mark_text(align="left", yOffset=-14, color=INK).encode(
        alt.X(value=0), y, text="label:N"
    )  # fmt: skip
    zero = alt.Chart(pd.DataFrame({"at": [0.0]})).mark_rule(color=INK, strokeWidth=1).encode(alt.X("at:Q"))
    said = ", ".join(f"{r.letter} {r.text}" for r in totals.itertuples())
    return finish(
        alt.layer(zero, bars, words, total, names).resolve_scale(color="independent"),
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
    ends = _end_labels(frame, "year", "usd", low, high, 0.065)
    marks = _spread_marks(frame, "year", items, last)
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
        axis=alt.Axis(labelExpr=_money_axis(currency), tickCount=6),
    )
    zero = alt.Chart(pd.DataFrame({"usd": [0.0], "year": [last], "text": ["as doing nothing"]}))
    chart = alt.layer(
        zero.mark_rule(color=SOFT_INK, strokeWidth=1.2).encode(y="usd:Q"),
        zero.mark_text(color=SOFT_INK, align="right", baseline="bottom", dy=-3, dx=-4).encode(
            alt.X("year:Q"), alt.Y("usd:Q"), text="text:N"
        ),
        *_lines(frame, items, x, y),
        alt.Chart(marks).mark_point(opacity=1).encode(x, y, **marks_of),
        _letters(ends, "year", items),
    )
    said = ", ".join(
        f"{letter} {short_money(usd, currency)}"
        for letter, usd in zip(ends["letter"], ends["usd"].astype(float), strict=True)
    )
    return finish(
        chart,
        "Cash paid in and out, year by year, against doing nothing",
        f"Not discounted; falls when money leaves. After {last:.0f} years: {said}",
        280,
        34,
    )


def _yearly(cash: pd.DataFrame) -> pd.Series:
    return cash.drop(columns="lost_load", errors="ignore").sum(axis=1)


BURDENS: tuple[tuple[str, str, str], ...] = (
    ("fuel_l_per_year", "l", "Fuel burned a year"),
    ("fuel_gas_m3_per_year", "m3", "Pipeline gas burned a year"),
    ("generator_run_h_per_year", "h", "Generator run time a year"),
    ("co2e_kg_per_year", "kg", "CO₂e a year, grid and fuel"),
    ("onsite_nox_g_per_year", "g", "NOx at the house a year"),
    ("onsite_co_g_per_year", "g", "Carbon monoxide at the house a year"),
)


def fuel_and_emissions(comparison: Any) -> list[Any]:
    """Small bar charts side by side: fuel, run time, CO2e, NOx, CO of an expected year."""
    return [
        c for column, unit, title in BURDENS if (c := _burden(comparison, column, unit, title)) is not None
    ]


def _burden(comparison: Any, column: str, unit: str, title: str) -> Any:
    import altair as alt

    units = comparison.study.model.units
    items = looks(comparison)
    known = [(x, comparison.outcomes[x.slug].columns.get(column)) for x in items]
    if not any(isinstance(v, (int, float)) and v != 0 for _, v in known):
        return None
    frame = pd.DataFrame(
        [
            {
                "letter": x.letter,
                "value": convert(float(v or 0.0), unit, units),
                "text": figure(v, unit, units),
            }
            for x, v in known
        ]
    )
    low, high = min(float(frame["value"].min()), 0.0), max(float(frame["value"].max()), 0.0)
    room = 0.32 * (high - low)
    frame["at"] = frame["value"].clip(lower=0.0)
    symbol = unit_symbol(unit, units)
    y = alt.Y(
        "letter:N", sort=None, title=None, axis=alt.Axis(ticks=False, domain=False, labelFontWeight=600)
    )
    x = alt.X(
        "value:Q",
        title=f"{symbol} a year",
        scale=alt.Scale(domain=[low, high + room], nice=False),
        axis=alt.Axis(tickCount=3, labelExpr="format(datum.value, ',~r')"),
    )
    chart = alt.layer(
        alt.Chart(frame).mark_bar(color="#3f5f77", height={"band": 0.55}).encode(x, y),
        alt.Chart(frame).mark_text(align="left", dx=5, color=INK).encode(alt.X("at:Q"), y, text="text:N"),
        alt.Chart(pd.DataFrame({"at": [0.0]})).mark_rule(color=INK).encode(alt.X("at:Q")),
    )
    said = ", ".join(f"{r.letter} {r.text}" for r in frame.itertuples())
    return finish(chart, title, said, 24 * len(items), 6).properties(width=418)


def _thin(frame: pd.DataFrame) -> pd.DataFrame:
    step = max(1, math.ceil(len(frame) / _MOST_POINTS))
    return frame.iloc[::step]


def _share_at(frame: pd.DataFrame, hours: float) -> float:
    return float(np.interp(hours, frame["hours"], frame["share_frac"]))


def _last_hour(frame: pd.DataFrame, asked_h: float) -> float:
    alive = frame.loc[frame["share_frac"] > 0.005, "hours"]
    last = max(float(alive.max()) if len(alive) else 0.0, asked_h * 1.25)
    return float(min(math.ceil(last / 12) * 12, max(float(frame["hours"].max()), asked_h)))


def _hour_ticks(end_h: float) -> list[float]:
    step = 24 if end_h > 60 else 12 if end_h > 30 else 4
    return [float(v) for v in np.arange(0, end_h + 0.5, step)]


def _end_labels(
    frame: pd.DataFrame, x: str, y: str, low: float, high: float, gap_frac: float
) -> pd.DataFrame:
    """Last point of every line, pushed apart so that no two labels meet."""
    ends = frame.sort_values(x, kind="stable").groupby("label", sort=False).tail(1)
    ends = ends.sort_values(y, kind="stable").reset_index(drop=True)
    gap = gap_frac * (high - low)
    at = ends[y].to_numpy(dtype=float).copy()
    for i in range(1, len(at)):
        at[i] = max(at[i], at[i - 1] + gap)
    if len(at) and at[-1] > high:
        at[-1] = high
        for i in range(len(at) - 2, -1, -1):
            at[i] = min(at[i], at[i + 1] - gap)
    return ends.assign(label_at=at)


def _spread_marks(frame: pd.DataFrame, x: str, items: Sequence[Look], end: float) -> pd.DataFrame:
    """A few markers a line, at different places on different lines so that none hides another."""
    parts = []
    for i, look in enumerate(items):
        line = frame[frame["label"] == look.label]
        at = end * (np.arange(5) + (i + 0.5) / len(items)) / 5
        nearest = [int(np.abs(line[x].to_numpy() - a).argmin()) for a in at]
        parts.append(line.iloc[sorted(set(nearest))])
    return pd.concat(parts)


def _lines(frame: pd.DataFrame, items: Sequence[Look], x: Any, y: Any) -> list[Any]:
    import altair as alt

    return [
        alt.Chart(frame.loc[frame["label"] == look.label, [x.shorthand[:-2], y.shorthand[:-2]]].round(5))
        .mark_line(color=look.colour, strokeDash=list(look.dash))
        .encode(x, y)
        for look in items
    ]


def _letters(ends: pd.DataFrame, x: str, items: Sequence[Look]) -> Any:
    import altair as alt

    inks = {look.letter: look.colour for look in items}
    return (
        alt.Chart(ends.assign(ink=ends["letter"].map(inks)))
        .mark_text(align="left", dx=8, fontWeight=600, fontSize=13)
        .encode(
            alt.X(f"{x}:Q"), alt.Y("label_at:Q"), text="letter:N", color=alt.Color("ink:N", scale=None)
        )
    )  # fmt: skip


def _money_axis(currency: str) -> str:
    prefix = {"USD": "$", "EUR": "€", "GBP": "£"}.get(currency, "")
    size = "abs(datum.value)"
    number = f"({size} >= 1000 ? format({size} / 1000, ',~r') + 'k' : format({size}, ',~r'))"
    return f"(datum.value < 0 ? '\N{MINUS SIGN}' : '') + '{prefix}' + {number}"


def _currency_name(currency: str) -> str:
    return {"USD": "$", "EUR": "€", "GBP": "£"}.get(currency, currency)
