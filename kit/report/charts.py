"""Charts of service and burdens: how long the loads stay on, what is burned and emitted."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from kit.report.formats import CHANCE, convert, figure, unit_symbol
from kit.report.line_parts import LETTER_PX, end_letters, end_rows, lines_of, room_px, spread_marks
from kit.report.theme import ALARM, INK, finish, looks, option_marks, unchecked

_MOST_POINTS = 300


@unchecked
def hours_kept_on(comparison: Any, height_px: int = 300) -> Any:
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
    ends = end_rows(frame, "hours", "share_frac", 0.0, 1.0, max(0.06, LETTER_PX / height_px))
    marks = spread_marks(frame, "hours", items, end_h)
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
    target = f"asked: {figure(asked.keep_on_h, 'h')} at {figure(asked.chance_frac, CHANCE)}"
    chart = alt.layer(
        *_target(asked, end_h, target),
        *lines_of(frame, items, x, y),
        alt.Chart(marks).mark_point(opacity=1).encode(x, y, **marks_of),
        end_letters(ends, "hours", items),
    )
    best = ", ".join(
        f"{x.letter} {figure(_share_at(comparison.outcomes[x.slug].hours_kept_on, asked.keep_on_h), CHANCE)}"
        for x in items
    )
    return finish(
        chart,
        "How long the loads asked for stay on",
        f"Share of outage starts still on after {figure(asked.keep_on_h, 'h')}: {best}",
        height_px,
        room_px(ends),
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
        base.mark_rule(**rule).encode(x=alt.X("hours:Q"), y=alt.Y("zero:Q"), y2=alt.Y2("one:Q")),
        base.mark_rule(**rule).encode(x=alt.X("zero:Q"), x2=alt.X2("hours:Q"), y=alt.Y("share_frac:Q")),
        base.mark_point(color=ALARM, size=110, shape="circle", filled=False, strokeWidth=1.6).encode(
            x=alt.X("hours:Q"), y=alt.Y("share_frac:Q")
        ),
        base.mark_text(
            color=ALARM, align="right" if left else "left", baseline="bottom", dx=3 if left else -3, dy=-5
        ).encode(x=alt.X("hours:Q"), y=alt.Y("one:Q"), text=alt.Text("text:N")),
    ]


BURDENS: tuple[tuple[str, str, str], ...] = (
    ("fuel_l_per_year", "l", "Fuel burned a year"),
    ("fuel_gas_m3_per_year", "m3", "Pipeline gas burned a year"),
    ("generator_run_h_per_year", "h", "Generator run time a year"),
    ("co2e_kg_per_year", "kg", "CO₂e a year, grid and fuel"),
    ("onsite_nox_g_per_year", "g", "NOx at the house a year"),
    ("onsite_co_g_per_year", "g", "Carbon monoxide at the house a year"),
)


@unchecked
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
        alt.Chart(frame)
        .mark_text(align="left", dx=5, color=INK)
        .encode(alt.X("at:Q"), y, text=alt.Text("text:N")),
        alt.Chart(pd.DataFrame({"at": [0.0]})).mark_rule(color=INK).encode(alt.X("at:Q")),
    )
    said = ", ".join(f"{r.letter} {r.text}" for r in frame.itertuples())
    return finish(chart, title, said, 24 * len(items), 6, width_px=418)


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
