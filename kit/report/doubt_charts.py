"""Charts of doubt: swings, chances to win, where the answer turns, cash with its band."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from kit.report.formats import short_money
from kit.report.money_charts import money_axis
from kit.report.theme import ALARM, INK, RULE, SOFT_INK, Look, finish, looks, unchecked
from kit.vary.draws import Draws, cash_bands, chances

MOST_SWINGS = 12
SMALLEST = 0.01  # of the widest swing; what moves less is left out
LOW_FILL, HIGH_FILL = "#c5d8e8", "#4f7fa8"
NOBODY_FILL = "#ffffff"


def _currency(comparison: Any) -> str:
    return str(comparison.study.model.money.currency)


@unchecked
def swing_chart(comparison: Any, swung: pd.DataFrame, chosen: str, rival: str) -> Any:
    """What the rival costs beyond the chosen option as one number goes from low to high, widest first.

    swung: kit.vary.swings.swings. Left of the line at 0 the rival is the cheaper one.
    """
    import altair as alt

    frame, likely = _swing_frame(swung, chosen, rival)
    one, other = (next(x for x in looks(comparison) if x.slug == slug) for slug in (chosen, rival))
    currency = _currency(comparison)
    order = list(dict.fromkeys(frame["unknown"]))
    y = alt.Y("unknown:N", sort=order, title=None, axis=None)
    x = alt.X(
        "from:Q",
        title=f"{other.letter} costs more than {one.letter} by ({'$' if currency == 'USD' else currency})",
        axis=alt.Axis(labelExpr=money_axis(currency), tickCount=alt.ExprRef("width > 480 ? 8 : 4")),
        scale=alt.Scale(zero=True),
    )
    fill = alt.Fill(
        "end:N",
        scale=alt.Scale(domain=["low", "high"], range=[LOW_FILL, HIGH_FILL]),
        legend=alt.Legend(title=None, orient="top", symbolType="square", symbolStrokeColor=INK),
    )
    bars = (
        alt.Chart(frame)
        .mark_bar(stroke=INK, strokeWidth=0.6, height={"band": 0.42}, yOffset=8)
        .encode(x, alt.X2("to:Q"), y, fill)
    )
    words = alt.Chart(frame.drop_duplicates("unknown")).encode(alt.X(value=0), y, text=alt.Text("label:N"))
    halo = words.mark_text(align="left", yOffset=-9, stroke="white", strokeWidth=5, strokeJoin="round")
    labels = words.mark_text(align="left", yOffset=-9, color=INK)
    marks = pd.DataFrame({"at": [0.0, likely], "text": ["costs alike", "all likely"]})
    rules = (
        alt.Chart(marks)
        .mark_rule(strokeWidth=1.4)
        .encode(
            alt.X("at:Q"),
            color=alt.Color(
                "text:N", scale=alt.Scale(domain=["costs alike", "all likely"], range=[ALARM, SOFT_INK]),
                legend=alt.Legend(title=None, orient="top", symbolType="stroke"),
            ),
            strokeDash=alt.StrokeDash(
                "text:N", legend=None,
                scale=alt.Scale(domain=["costs alike", "all likely"], range=[[1, 0], [4, 3]]),
            ),
        )
    )  # fmt: skip
    turned = [str(u) for u in order if _turns(frame[frame["unknown"] == u])]
    said = f"{', '.join(turned)} can turn it" if turned else "none of them turns it by itself"
    return finish(
        alt.layer(bars, rules, halo, labels, resolve={"scale": {"color": "independent"}}),
        f"One number at a time: {said}" if len(said) < 90 else "One number at a time, widest first",
        f"Cost of {other.label} beyond {one.label}: {short_money(likely, currency)} with all likely; "
        + "; ".join(f"{r['unknown']} {r['end']}: {short_money(r['to'], currency)}" for r in _rows(frame)),
        46 * len(order),
        20,
    )


def _rows(frame: pd.DataFrame) -> list[dict[Any, Any]]:
    return frame.to_dict("records")


def _turns(frame: pd.DataFrame) -> bool:
    return bool((np.sign(frame["to"]) != np.sign(frame["from"])).any())


def _swing_frame(swung: pd.DataFrame, chosen: str, rival: str) -> tuple[pd.DataFrame, float]:
    """Bars from the likely difference to that at each end, the MOST_SWINGS widest; and the likely one."""
    wide = swung[swung["option"].isin([chosen, rival]) & swung["group"].isna()]  # members move together
    cost = wide.pivot(index=["unknown", "end"], columns="option", values="lifetime_cost_usd")
    change = wide.pivot(index=["unknown", "end"], columns="option", values="change_usd")
    gap = cost[rival] - cost[chosen]
    likely = float((gap - (change[rival] - change[chosen])).iloc[0])
    values = wide.drop_duplicates(["unknown", "end"]).set_index(["unknown", "end"])["value"]
    frame = pd.DataFrame({"to": gap, "value": values}).reset_index()
    frame["from"] = likely
    frame["size"] = (frame["to"] - likely).abs().groupby(frame["unknown"]).transform("max")
    frame = frame[frame["size"] > SMALLEST * frame["size"].max()].sort_values(
        ["size", "unknown", "end"], ascending=[False, True, True]
    )
    kept = list(dict.fromkeys(frame["unknown"]))[:MOST_SWINGS]
    frame = frame[frame["unknown"].isin(kept)].copy()
    ends = frame.pivot(index="unknown", columns="end", values="value")
    frame["label"] = [f"{u}: {ends.loc[u, 'low']} to {ends.loc[u, 'high']}" for u in frame["unknown"]]
    return frame, likely


@unchecked
def win_chances(comparison: Any, draws: Draws) -> Any:
    """One bar: the share of draws that each option wins, letters inside, nobody in white."""
    import altair as alt

    frame = chances(draws)
    frame = frame[frame["wins_frac"] > 0.0].copy()
    looked = {look.slug: look for look in looks(comparison)}
    nobody = Look("nobody", "no option", "–", NOBODY_FILL, (1, 0), "square")
    shown = [looked.get(str(slug), nobody) for slug in frame["option"]]
    frame["label"] = [look.label if look is not nobody else "No option meets it" for look in shown]
    frame["to"] = frame["wins_frac"].cumsum()
    frame["from"] = frame["to"] - frame["wins_frac"]
    frame["middle"] = (frame["from"] + frame["to"]) / 2
    frame["text"] = [
        f"{look.letter} {share:.0%}" if share > 0.06 else ""
        for look, share in zip(shown, frame["wins_frac"], strict=True)
    ]
    frame["ink"] = ["#ffffff" if look is not nobody else INK for look in shown]
    colour = alt.Color(
        "label:N",
        sort=None,
        scale=alt.Scale(domain=list(frame["label"]), range=[look.colour for look in shown]),
        legend=alt.Legend(
            title=None, orient="top", symbolType="square", symbolStrokeColor=INK, labelLimit=330,
            columns=alt.ExprRef("width > 480 ? 3 : 1"),
        ),
    )  # fmt: skip
    axis = alt.Axis(format="%", tickCount=5, grid=False)
    x = alt.X("from:Q", title="Share of the draws", scale=alt.Scale(domain=[0, 1]), axis=axis)
    bar = alt.Chart(frame).mark_bar(stroke=INK, strokeWidth=0.8).encode(x, alt.X2("to:Q"), colour)
    words = (
        alt.Chart(frame)
        .mark_text(fontWeight=600)
        .encode(alt.X("middle:Q"), text=alt.Text("text:N"), color=alt.Color("ink:N", scale=None))
    )
    best = max(_rows(frame), key=lambda row: float(row["wins_frac"]))
    said = "; ".join(f"{r['label']} {r['wins_frac']:.1%}" for r in _rows(frame))
    return finish(
        alt.layer(bar, words, resolve={"scale": {"color": "independent"}}),
        f"{best['label']} is the answer in {best['wins_frac']:.0%} of {draws.count:,} draws",
        f"Share of draws won: {said}",
        44,
        20,
    )


@unchecked
def turn_map(comparison: Any, mapped: pd.DataFrame, across: Any, up: Any) -> Any:
    """Who is chosen over two numbers; the cross is where the study stands.

    mapped: kit.vary.breakeven.win_map of the levers `across` and `up`.
    """
    import altair as alt

    present = [x for x in looks(comparison) if (mapped["winner"] == x.slug).any()]
    label = {x.slug: x.label for x in present}
    letter = {x.slug: x.letter for x in present}
    frame = mapped.assign(
        label=[label.get(str(w), "No option meets it") for w in mapped["winner"]],
        letter=[letter.get(str(w), "–") for w in mapped["winner"]],
    )
    step_x, step_y = (float(np.diff(np.unique(frame[c]))[0]) / 2 for c in ("x", "y"))
    frame = frame.assign(
        x0=frame["x"] - step_x, x1=frame["x"] + step_x, y0=frame["y"] - step_y, y1=frame["y"] + step_y
    )
    domain = [x.label for x in present]
    colours = [x.colour for x in present]
    if frame["label"].eq("No option meets it").any():
        domain, colours = [*domain, "No option meets it"], [*colours, NOBODY_FILL]
    titles = [_axis_title(comparison, lever) for lever in (across, up)]
    ends = [
        alt.Scale(domain=[float(frame[f"{c}0"].min()), float(frame[f"{c}1"].max())], nice=False) for c in "xy"
    ]
    x = alt.X("x0:Q", title=titles[0], scale=ends[0], axis=alt.Axis(grid=False))
    y = alt.Y("y0:Q", title=titles[1], scale=ends[1], axis=alt.Axis(grid=False))
    cells = (
        alt.Chart(frame)
        .mark_rect(stroke="white", strokeWidth=0.6)
        .encode(
            x, alt.X2("x1:Q"), y, alt.Y2("y1:Q"),
            color=alt.Color(
                "label:N", scale=alt.Scale(domain=domain, range=colours),
                legend=alt.Legend(
                    title=None, orient="top", symbolType="square", symbolStrokeColor=INK, labelLimit=330,
                    columns=alt.ExprRef("width > 480 ? 3 : 1"),
                ),
            ),
        )
    )  # fmt: skip
    letters = (
        alt.Chart(frame)
        .mark_text(color="white", fontSize=10, opacity=0.9)
        .encode(alt.X("x:Q", scale=ends[0]), alt.Y("y:Q", scale=ends[1]), text=alt.Text("letter:N"))
    )
    here = pd.DataFrame({"x": [across.likely], "y": [up.likely]})
    ring = alt.Chart(here).encode(alt.X("x:Q"), alt.Y("y:Q"))
    said = ", ".join(f"{name} in {share:.0%}" for name, share in frame["label"].value_counts(True).items())
    return finish(
        alt.layer(
            cells,
            letters,
            ring.mark_point(shape="circle", size=260, filled=True, opacity=1, color="white", stroke=INK),
            ring.mark_point(shape="cross", size=110, filled=True, opacity=1, color=INK),
        ),
        f"Who is chosen, by {across.name} and {up.name}",
        f"Shares of the map: {said}. The cross marks the study.",
        320,
        16,
        subtitle="The cross marks the study's own values; all else is likely.",
    )


def _axis_title(comparison: Any, lever: Any) -> str:
    unit = {"h": " (h)", "usd": " ($)", "years": ""}.get(lever.unit, f" ({lever.unit.replace('_', ' ')})")
    if lever.unit == "usd" and _currency(comparison) != "USD":
        unit = f" ({_currency(comparison)})"
    return f"{lever.name[0].upper()}{lever.name[1:]}{unit}"


@unchecked
def cash_band_chart(comparison: Any, draws: Draws, slugs: Sequence[str]) -> Any:
    """Running cash beyond doing nothing, both in one panel: the middle draw and the 5 to 95 % band."""
    import altair as alt

    currency = _currency(comparison)
    items = [x for x in looks(comparison) if x.slug in slugs and x.slug != "do_nothing"]
    frame = cash_bands(draws)
    frame = frame[frame["option"].isin([x.slug for x in items])]
    last = float(frame["year"].max())
    low, high = min(float(frame["p05"].min()), 0.0), max(float(frame["p95"].max()), 0.0)
    room = 0.05 * max(high - low, 1.0)
    x = alt.X(
        "year:Q",
        title="Years after the purchase",
        axis=alt.Axis(format="d", grid=False, tickMinStep=1),
        scale=alt.Scale(domain=[0, last], nice=False),
    )
    span = alt.Scale(domain=[low - room, high + room], nice=False)
    y = alt.Y(
        "p05:Q",
        title=f"Cash beyond doing nothing ({'$' if currency == 'USD' else currency})",
        scale=span,
        axis=alt.Axis(labelExpr=money_axis(currency), tickCount=6),
    )
    layers: list[Any] = [
        alt.Chart(pd.DataFrame({"at": [0.0]})).mark_rule(color=RULE).encode(alt.Y("at:Q")),
    ]
    ends: list[dict[str, Any]] = []
    for look in items:
        own = frame[frame["option"] == look.slug]
        base = alt.Chart(own).encode(x)
        layers.append(base.mark_area(color=look.colour, opacity=0.22).encode(y, alt.Y2("p95:Q")))
        layers.append(
            base.mark_line(color=look.colour, strokeDash=list(look.dash)).encode(alt.Y("p50:Q", scale=span))
        )
        middle = own[own["year"] == last // 2]["p50"].iloc[0]
        ends.append({"year": last // 2, "usd": float(middle), "text": look.label})
    words = alt.Chart(pd.DataFrame(ends)).encode(alt.X("year:Q"), alt.Y("usd:Q"), text=alt.Text("text:N"))
    layers.append(words.mark_text(dy=-11, fontWeight=600, stroke="white", strokeWidth=4, strokeJoin="round"))
    layers.append(words.mark_text(dy=-11, fontWeight=600, color=INK))
    after = {look.label: float(frame[frame["option"] == look.slug]["p50"].iloc[-1]) for look in items}
    said = "; ".join(f"{name} {short_money(usd, currency)}" for name, usd in after.items())
    return finish(
        alt.layer(*layers),
        "Cash year by year, with what is not known about it",
        f"Lines: the middle draw; bands: 5 to 95% of {draws.count:,} draws. After {last:.0f} years: {said}",
        280,
        16,
        subtitle="Line: the middle draw. Band: 5 to 95% of the draws. Not discounted.",
    )
