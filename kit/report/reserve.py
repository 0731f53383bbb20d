"""What a battery's reserve decides: bill saving against the chance to ride through, chart and table."""

from __future__ import annotations

from typing import Any

import pandas as pd

from kit.report.formats import CHANCE, figure, unit_symbol, whole_money
from kit.report.html_table import Cell, Group, table
from kit.report.line_parts import end_labels
from kit.report.money_charts import money_axis
from kit.report.show import Shown, bullets, paragraph, show, together
from kit.report.theme import INK, SOFT_INK, Look, finish, looks, unchecked

HOURS = (4, 8, 24, 72)
_LEAST_SPAN_USD = 40.0  # of an axis: where the reserve hardly earns, cents are not spread over the page
_MOST_CHARTS = 3
_WIDTH_PX = 418
_STYLES: tuple[tuple[str, tuple[int, ...], str], ...] = (  # colour, dash, shape of each duration
    ("#a08b1d", (2, 2), "triangle-up"),
    ("#c8691c", (7, 3), "square"),
    ("#0f4c81", (1, 0), "circle"),
    ("#8b3a73", (10, 3, 2, 3), "diamond"),
)


@unchecked
def reserve_charts(comparison: Any, frontier: pd.DataFrame) -> list[Any]:
    """One chart an option, at most three (the cheapest that meet what was asked come first).

    `frontier`: the rows of kit.vary.frontier.reserve_frontier.
    """
    items = _items(comparison, frontier)
    ranked = sorted(items, key=lambda x: _rank(comparison, x.slug))[:_MOST_CHARTS]
    low, high = float(frontier["saving_usd_per_year"].min()), float(frontier["saving_usd_per_year"].max())
    span = max(high - low, _LEAST_SPAN_USD)
    beside = 0.06 * span + (span - (high - low)) / 2
    domain = (low - beside, high + beside)
    return [_chart(comparison, look, _of(frontier, look), domain) for look in items if look in ranked]


def show_reserve(comparison: Any, frontier: pd.DataFrame) -> None:
    """Display the charts; nothing where no option has a battery."""
    if len(frontier):
        show(*reserve_charts(comparison, frontier))


def _chart(comparison: Any, look: Look, rows: pd.DataFrame, domain: tuple[float, float]) -> Any:
    import altair as alt

    currency = comparison.study.model.money.currency
    lines = pd.concat(
        [
            pd.DataFrame(
                {"usd": rows["saving_usd_per_year"], "share": rows[f"ride_through_frac_{h}h"],
                 "reserve": rows["reserve_frac"], "label": f"{h} h"}
            )
            for h in HOURS
        ]
    ).round(4)  # fmt: skip
    x = alt.X(
        "usd:Q",
        title=f"Bill saving of the battery ({unit_symbol('usd', currency=currency)} a year)",
        scale=alt.Scale(domain=list(domain), nice=False),
        axis=alt.Axis(labelExpr=money_axis(currency), tickCount=5, grid=False),
    )
    y = alt.Y(
        "share:Q",
        title="Chance to ride through (%)",
        scale=alt.Scale(domain=[0, 1.18], nice=False),
        axis=alt.Axis(format=".0%", values=[0, 0.25, 0.5, 0.75, 1]),
    )
    names = [f"{h} h" for h in HOURS]
    colour, dash, shape = (alt.Scale(domain=names, range=list(r)) for r in zip(*_STYLES, strict=True))
    base = alt.Chart(lines).encode(x, y, alt.Color("label:N", scale=colour, legend=None))
    layers = [
        base.mark_line().encode(
            alt.StrokeDash("label:N", scale=dash, legend=None), order=alt.Order("reserve:Q")
        ),
        base.mark_point(size=42, opacity=1).encode(alt.Shape("label:N", scale=shape, legend=None)),
    ]
    labels = _reserve_labels(rows, (domain[1] - domain[0]) * 0.16)
    layers.append(
        alt.Chart(labels).mark_text(color=SOFT_INK, baseline="bottom").encode(
            alt.X("usd:Q"), alt.Y("share:Q"), text=alt.Text("text:N")
        )
    )  # fmt: skip
    layers.append(_ends(lines))
    studied = _studied(comparison, look.slug)
    said = f"{figure(studied, 'frac')} as studied" if studied is not None else "held full as studied"
    if studied is not None and (rows["reserve_frac"].sub(studied).abs() < 0.001).any():
        at = rows[rows["reserve_frac"].sub(studied).abs() < 0.001]["saving_usd_per_year"].iloc[0]
        mark = pd.DataFrame({"usd": [float(at)], "low": [0.0], "high": [1.02]})
        layers.insert(
            0,
            alt.Chart(mark).mark_rule(color=INK, strokeWidth=1, strokeDash=[2, 2]).encode(
                alt.X("usd:Q"), alt.Y("low:Q"), alt.Y2("high:Q")
            ),
        )  # fmt: skip
        said = f"dotted: {said}"
    return finish(
        alt.layer(*layers, resolve={"scale": {"color": "independent"}}),
        look.label,
        reserve_sentence(look, rows, currency),
        220,
        42,
        subtitle=f"On top: the reserve; {said}",
        width_px=_WIDTH_PX,
    )


def _ends(lines: pd.DataFrame) -> Any:
    """The length of outage at the right end of its line, pushed apart where lines meet."""
    import altair as alt

    ends = end_labels(lines.sort_values("usd", kind="stable"), "usd", "share", 0.0, 1.0, 0.09)
    ends["label_at"] += max(0.0, -float(ends["label_at"].min()))
    inks = {f"{h} h": style[0] for h, style in zip(HOURS, _STYLES, strict=True)}
    return (
        alt.Chart(ends.assign(ink=ends["label"].map(inks)))
        .mark_text(align="left", dx=9, fontWeight=600)
        .encode(
            alt.X("usd:Q"),
            alt.Y("label_at:Q"),
            text=alt.Text("label:N"),
            color=alt.Color("ink:N", scale=None),
        )
    )


def _reserve_labels(rows: pd.DataFrame, gap_usd: float) -> pd.DataFrame:
    """The reserve of the points in a row on top: both ends first, then as many as have room."""
    places = dict(zip(rows["reserve_frac"].round(3), rows["saving_usd_per_year"], strict=True))
    first = [min(places), max(places), 0.5, 0.8, 0.2]
    kept: dict[float, float] = {}
    for reserve in dict.fromkeys([*first, *places]):
        usd = places.get(reserve)
        if usd is not None and all(abs(usd - other) >= gap_usd for other in kept.values()):
            kept[reserve] = usd
    return pd.DataFrame({"usd": list(kept.values()), "share": 1.06, "text": [f"{r:.0%}" for r in kept]})


def reserve_table(comparison: Any, frontier: pd.DataFrame) -> Shown:
    """Saving and chances by reserve, every option with a battery; equal neighbours share a row."""
    if not len(frontier):
        return paragraph("No option has a battery, so there is no reserve to set.")
    currency = comparison.study.model.money.currency
    items = _items(comparison, frontier)
    groups = [
        Group(look.label, _rows(_of(frontier, look), _studied(comparison, look.slug), currency))
        for look in items
    ]
    heads = ["Reserve", "Bill saving a year", *(f"Rides through {h} h" for h in HOURS)]
    sentences = [reserve_sentence(look, _of(frontier, look), currency) for look in items]
    terms = "Everyday use by the clock, new equipment. The rows are steps of 20 points."
    shown = table("Bill saving and chance to ride through, by reserve", heads, groups)
    return together([bullets(sentences), shown, paragraph(terms, "small")])


def _rows(rows: pd.DataFrame, studied: float | None, currency: str) -> list[list[str | Cell]]:
    runs: list[tuple[list[float], list[str]]] = []
    for row in rows.to_dict("records"):
        reserve = float(row["reserve_frac"])
        if round(reserve * 100) % 20 and reserve != studied:
            continue
        chances = [figure(float(row[f"ride_through_frac_{h}h"]), CHANCE) for h in HOURS]
        cells = [whole_money(float(row["saving_usd_per_year"]), currency), *chances]
        if runs and runs[-1][1] == cells:
            runs[-1][0].append(reserve)
        else:
            runs.append(([reserve], cells))
    made: list[list[str | Cell]] = []
    for reserves, cells in runs:
        text = (
            f"{reserves[0]:.0%}" if len(reserves) == 1 else f"{100 * reserves[0]:.0f} to {reserves[-1]:.0%}"
        )
        made.append([f"{text}, as studied" if studied in reserves else text, *cells])
    return made


def reserve_sentence(look: Look, rows: pd.DataFrame, currency: str) -> str:
    """What moving the reserve from nothing to full costs and gains, where it matters most."""
    least, most = rows.iloc[0], rows.iloc[-1]
    gains = {h: abs(float(most[f"ride_through_frac_{h}h"] - least[f"ride_through_frac_{h}h"])) for h in HOURS}
    hours = max(HOURS, key=lambda h: gains[h])
    usd = [_earns(float(row["saving_usd_per_year"]), currency) for row in (least, most)]
    begin = f"{look.label}: with no reserve the battery {usd[0]} a year, with a full one it {usd[1]}"
    if gains[hours] < 0.005:
        return f"{begin}; the chance to ride through hardly changes for any length."
    chances = [figure(float(row[f"ride_through_frac_{hours}h"]), CHANCE) for row in (least, most)]
    return f"{begin}; the chance to last {hours} h goes from {chances[0]} to {chances[1]}."


def _earns(usd: float, currency: str) -> str:
    """A bill saving in words, so that no minus sign stands in a sentence."""
    return f"{'saves' if usd >= 0 else 'costs'} {whole_money(abs(usd), currency)}"


def _items(comparison: Any, frontier: pd.DataFrame) -> list[Look]:
    told = set(frontier["option"]) if len(frontier) else set()
    return [x for x in looks(comparison) if x.slug in told]


def _of(frontier: pd.DataFrame, look: Look) -> pd.DataFrame:
    return frontier[frontier["option"] == look.slug].sort_values("reserve_frac", kind="stable")


def _rank(comparison: Any, slug: str) -> tuple[bool, float]:
    outcome = comparison.outcomes[slug]
    return slug not in comparison.verdict.meets, float(outcome.columns["lifetime_cost_usd"])


def _studied(comparison: Any, slug: str) -> float | None:
    battery = comparison.outcomes[slug].option.battery
    return float(battery.reserve_frac) if battery.everyday != "hold" else None
