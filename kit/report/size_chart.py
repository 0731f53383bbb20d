"""What more hours cost: every configuration that was walked, the frontier through the cheapest."""

from __future__ import annotations

from typing import Any

import pandas as pd

from kit.report.formats import CHANCE, figure, whole_money
from kit.report.money_charts import money_axis
from kit.report.theme import ALARM, INK, RULE, SOFT_INK, finish, unchecked

KINDS = {
    "battery": ("Battery", "#0f4c81", "square"),
    "generator": ("Generator", "#c8691c", "triangle-up"),
    "both": ("Battery and generator", "#2b7a5d", "circle"),
}
MOST_POINTS = 400


@unchecked
def size_chart(sizing: Any) -> Any:
    """Lifetime cost against the hours kept on with the asked chance; the title states the finding."""
    import altair as alt

    asked, money = sizing.study.model.asked, sizing.study.model.money
    points = _points(sizing)
    most = max([asked.keep_on_h, *points["hours"]]) * 1.04
    x = alt.X(
        "hours:Q",
        title=f"Kept on with a chance of {figure(asked.chance_frac, CHANCE)} (h)",
        scale=alt.Scale(domain=[0, most], nice=False),
        axis=alt.Axis(grid=False),
    )
    y = alt.Y(
        "usd:Q",
        title=f"Lifetime cost over {asked.stay_years} years",
        scale=alt.Scale(domain=_around(points["usd"]), nice=False),
        axis=alt.Axis(labelExpr=money_axis(money.currency), tickCount=6),
    )
    names, colours, shapes = zip(*KINDS.values(), strict=True)
    legend = alt.Legend(title=None, orient="top", direction="horizontal", symbolOpacity=1)
    marks = (
        alt.Chart(points)
        .mark_point(size=34, filled=True)
        .encode(
            x,
            y,
            alt.Color("kind:N", scale=alt.Scale(domain=names, range=colours), legend=legend),
            alt.Shape("kind:N", scale=alt.Scale(domain=names, range=shapes), legend=legend),
            alt.Opacity("reaches:N", scale=alt.Scale(domain=[True, False], range=[0.8, 0.45]), legend=None),
        )
    )
    layers = [_target(asked.keep_on_h, most), marks, *_lines(sizing, x, y), *_chosen(sizing)]
    return finish(
        alt.layer(*layers),
        _title(sizing),
        "Each mark is one configuration: hours kept on with the asked chance to the right, lifetime cost "
        "upwards. The line joins those that nothing cheaper outlasts.",
        360,
        24,
        subtitle=_subtitle(sizing),
    )


def _points(sizing: Any) -> pd.DataFrame:
    """The walked ones; where they are many, the frontier and every so many of the rest."""
    walked = sizing.table[sizing.table["kept_on_h"].notna()]
    rest = walked[~walked["frontier"] & ~walked["frontier_without_solar"]]
    step = max(1, -(-len(rest) // MOST_POINTS))
    kept = pd.concat([walked[walked["frontier"] | walked["frontier_without_solar"]], rest.iloc[::step]])
    return pd.DataFrame(
        {
            "hours": kept["kept_on_h"].astype(float),
            "usd": kept["lifetime_cost_usd"].astype(float).round(2),
            "kind": [KINDS[kind][0] for kind in kept["kind"]],
            "reaches": kept["reaches"].astype(bool),
        }
    )


def _around(usd: pd.Series[float]) -> list[float]:
    """From the least to the most, with room for a mark at either end."""
    low, high = float(usd.min()), float(usd.max())
    room = 0.06 * max(high - low, 0.02 * abs(high), 1.0)
    return [low - room, high + room]


def _steps(rows: pd.DataFrame) -> pd.DataFrame:
    """The frontier as steps: what is wanted up to these hours costs that."""
    return pd.DataFrame(
        {"hours": rows["kept_on_h"].astype(float), "usd": rows["lifetime_cost_usd"].astype(float).round(2)}
    )


def _lines(sizing: Any, x: Any, y: Any) -> list[Any]:
    import altair as alt

    lines = []
    roofed = bool((sizing.frontier()["solar_kw"] > 0).any())
    for column, dash in (("frontier", [1, 0]), ("frontier_without_solar", [5, 3]))[: 1 + roofed]:
        steps = _steps(sizing.frontier(column))
        if len(steps) > 1:
            line = alt.Chart(steps).mark_line(
                interpolate="step-before", strokeWidth=1.6, strokeDash=dash, color=INK, opacity=0.85
            )
            lines.append(line.encode(x, y))
    return lines


def _target(keep_on_h: float, most: float) -> Any:
    """A rule at the asked hours, with its word."""
    import altair as alt

    at = pd.DataFrame({"hours": [float(keep_on_h)], "text": [f"asked: {keep_on_h:g} h"]})
    rule = alt.Chart(at).mark_rule(color=RULE, strokeWidth=2).encode(alt.X("hours:Q"))
    late = keep_on_h > 0.8 * most
    word = alt.Chart(at).mark_text(
        align="right" if late else "left", baseline="top", dx=-5 if late else 5, color=SOFT_INK
    )
    return rule + word.encode(alt.X("hours:Q"), alt.YValue(0), text="text:N")


def _chosen(sizing: Any) -> list[Any]:
    """A ring round the answer, or round what comes nearest, where it was walked."""
    import altair as alt

    row = sizing.row(sizing.chosen)
    if row["kept_on_h"] != row["kept_on_h"] or row["lifetime_cost_usd"] is None:
        return []
    at = pd.DataFrame(
        {"hours": [float(row["kept_on_h"])], "usd": [round(float(row["lifetime_cost_usd"]), 2)]}
    )
    ring = alt.Chart(at).mark_point(
        size=190, filled=False, strokeWidth=2, color=INK if sizing.best else ALARM, shape="circle"
    )
    return [ring.encode(alt.X("hours:Q"), alt.Y("usd:Q"))]


def _title(sizing: Any) -> str:
    asked, money = sizing.study.model.asked, sizing.study.model.money
    row = sizing.row(sizing.chosen)
    if sizing.best is None:
        return f"Nothing in the catalogue lasts {asked.keep_on_h:g} h; nearest: {row['name']}"
    cost = whole_money(float(row["lifetime_cost_usd"]), money.currency)
    return f"{asked.keep_on_h:g} h take at least {cost} over {asked.stay_years} years: {row['name']}"


def _subtitle(sizing: Any) -> str:
    walked = int(sizing.table["kept_on_h"].notna().sum())
    ring = "Ring: the cheapest" if sizing.best else "Ring: what comes nearest"
    dashed = " (dashed: without solar)" if (sizing.frontier()["solar_kw"] > 0).any() else ""
    count = f"{walked:,} of {len(sizing.table):,} configurations"
    return f"{ring}. Line: nothing lasts so long for less{dashed}. Pale: too short. {count}."
