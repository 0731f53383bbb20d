"""Charts of one hard outage: where the power comes from hour by hour, and what is stored."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from kit.report.formats import figure
from kit.report.theme import ALARM, INK, finish, looks, unchecked

_MOST_BARS = 180
_EVENTS_SHOWN = 12
_HOURS = "Hours into the outage (h)"

# key, word in the legend, fill, outline: lightness differs clearly from neighbour to neighbour
SOURCES: tuple[tuple[str, str, str, str], ...] = (
    ("generator", "Generator", "#c9aa8a", "#c9aa8a"),
    ("battery", "Battery", "#4f7fa8", "#4f7fa8"),
    ("solar", "Solar", "#f7e3a1", "#f7e3a1"),
    ("unserved", "Not served", "#ffffff", ALARM),
    ("charge", "Into the battery", "#c5d8e8", "#c5d8e8"),
)


@unchecked
def hard_outage(comparison: Any, slug: str | None = None) -> list[Any]:
    """One hard outage of an option: power by source, and below it the stored energy if any.

    Without a slug: the option of the verdict, else the first that is not doing nothing.
    """
    slug = slug or comparison.verdict.winner or ""
    if slug not in comparison.outcomes or comparison.outcomes[slug].option is None:
        slug = next(s for s, o in comparison.outcomes.items() if o.option is not None)
    look = next(x for x in looks(comparison) if x.slug == slug)
    outcome = comparison.outcomes[slug]
    frame = _coarser(outcome.hard_outage)
    stores = float(frame["stored_kwh"].max()) > 0
    units = comparison.study.model.units
    charts = [_power(frame, look.label, outcome.hard_outage_title, units, None if stores else _HOURS)]
    if stores:
        charts.append(_stored(frame, look.label))
    return charts


def hard_outages_worth_showing(comparison: Any) -> list[str]:
    """At most three: the winner, the cheapest other that meets what was asked, the cheapest that does not."""
    outcomes = {s: o for s, o in comparison.outcomes.items() if o.option is not None}
    backs_up = [s for s, o in outcomes.items() if o.option.battery or o.option.generator] or list(outcomes)
    ranked = sorted(backs_up, key=lambda s: outcomes[s].columns["lifetime_cost_usd"])
    meets = [s for s in ranked if s in comparison.verdict.meets]
    if comparison.verdict.winner in meets:
        meets.remove(comparison.verdict.winner)
        meets.insert(0, comparison.verdict.winner)
    fails = [s for s in ranked if s not in comparison.verdict.meets]
    shown = [*meets[:2], *fails[: max(1, 2 - len(meets))]]
    return [s for s in comparison.outcomes if s in shown]


def hard_outage_events(comparison: Any, slug: str) -> list[tuple[float, str]]:
    """What happens in that outage: (hour, words), in order."""
    frame = comparison.outcomes[slug].hard_outage
    told = frame[frame["event_text"].fillna("") != ""]
    return [(float(h), str(t)) for h, t in zip(told["hour"], told["event_text"], strict=True)]


def _step_h(frame: pd.DataFrame) -> float:
    hours = frame["hour"].to_numpy(dtype=float)
    return float(np.median(np.diff(hours))) if len(hours) > 1 else 1.0


def _coarser(frame: pd.DataFrame) -> pd.DataFrame:
    """Means over whole hours (or several) so that a long outage stays drawable."""
    step = _step_h(frame)
    many = max(1, math.ceil(len(frame) / _MOST_BARS))
    if many == 1:
        return frame.assign(end_h=frame["hour"] + step)
    if step < 1:
        many = max(many, round(1 / step))
    key = np.arange(len(frame)) // many
    means = frame.groupby(key)[[c for c in frame.columns if c.endswith("_kw")]].mean()
    first = frame.groupby(key)[["hour"]].first()
    first["stored_kwh"] = frame.groupby(key)["stored_kwh"].last()
    words = frame["event_text"].fillna("").groupby(key).agg(lambda s: "; ".join(t for t in s if t))
    out = first.join(means).assign(event_text=words)
    return out.assign(end_h=out["hour"] + step * many)


def _bars(frame: pd.DataFrame) -> pd.DataFrame:
    give = {
        "generator": frame["generator_kw"],
        "battery": frame["battery_kw"].clip(lower=0),
        "solar": frame["solar_kw"],
        "unserved": frame["unserved_kw"],
        "charge": frame["battery_kw"].clip(upper=0),
    }
    base = np.zeros(len(frame))
    seen_kw = 0.005 * max(float((frame["must_run_kw"] + frame["wanted_kw"]).max()), 0.01)
    parts = []
    for key, word, _, _ in SOURCES:
        values = give[key].to_numpy(dtype=float)
        if not np.any(np.abs(values) > seen_kw):
            continue
        low = np.zeros(len(frame)) if key == "charge" else base
        part = pd.DataFrame({"hour": frame["hour"], "end_h": frame["end_h"], "source": word})
        part["from"], part["to"] = low, low + values
        if key != "charge":
            base = base + values
        parts.append(part[np.abs(values) > seen_kw])
    empty = pd.DataFrame(columns=["hour", "end_h", "source", "from", "to"])
    return pd.concat(parts).round(4) if parts else empty


def _power(frame: pd.DataFrame, label: str, title: str, units: Any, x_title: str | None) -> Any:
    import altair as alt

    bars = _bars(frame)
    present = set(bars["source"])
    used = [s for s in SOURCES if s[1] in present]
    words = [s[1] for s in used]
    fills = alt.Scale(domain=words, range=[s[2] for s in used])
    outlines = alt.Scale(domain=words, range=[s[3] for s in used])
    legend = alt.Legend(
        title=None, orient="top", direction="horizontal", columns=alt.ExprRef("width > 420 ? 5 : 2"),
        symbolType="square", symbolSize=120, symbolStrokeWidth=1.4, columnPadding=14,
    )  # fmt: skip
    end_h = float(frame["end_h"].max())
    x = alt.X(
        "hour:Q",
        title=x_title,
        scale=alt.Scale(domain=[0, end_h], nice=False),
        axis=alt.Axis(values=_ticks(end_h), grid=False, labelOverlap="greedy"),
    )
    load = _staircase(frame)
    top = max(float(load["load_kw"].max()), float(bars["to"].max()) if len(bars) else 0.0, 0.1)
    events = _events(frame, top * 1.16, end_h)
    low = min(float(bars["to"].min()) * 1.1 if len(bars) else 0.0, 0.0)
    y = alt.Y(
        "from:Q",
        title="Power (kW)",
        scale=alt.Scale(domain=[low, top * (1.35 if len(events) else 1.08)], nice=False),
        axis=alt.Axis(tickCount=4, minExtent=36, maxExtent=36),
    )
    layers = [
        alt.Chart(bars)
        .mark_rect(strokeWidth=0.6)
        .encode(
            x, alt.X2("end_h:Q"), y, alt.Y2("to:Q"),
            fill=alt.Fill("source:N", scale=fills, legend=legend),
            stroke=alt.Stroke("source:N", scale=outlines, legend=legend),
        ),
        alt.Chart(load).mark_line(interpolate="step-after", color=INK, strokeWidth=2).encode(
            alt.X("hour:Q"), alt.Y("load_kw:Q")
        ),
    ]  # fmt: skip
    if len(events):
        layers.append(
            alt.Chart(events).mark_text(baseline="middle", color=INK, text="▼", fontSize=11, dy=4)
            .encode(alt.X("hour:Q"), alt.Y("top:Q"))
        )  # fmt: skip
        layers.append(
            alt.Chart(events).mark_text(
                baseline="bottom", align="left", color=INK, fontWeight=600, fontSize=12, dx=-4, dy=-4
            ).encode(alt.X("at:Q"), alt.Y("top:Q"), text=alt.Text("number:N"))
        )  # fmt: skip
    missed = float((frame["unserved_kw"] * (frame["end_h"] - frame["hour"])).sum())
    chart = finish(
        alt.layer(*layers),
        f"{label}: where the power comes from",
        f"{title}. Energy not served {figure(missed, 'kwh', units)}. Black line: load asked for.",
        170,
        subtitle=f"{title}. Black line: the load asked for",
    )
    return chart


def _stored(frame: pd.DataFrame, label: str) -> Any:
    import altair as alt

    end_h = float(frame["end_h"].max())
    line = pd.DataFrame({"hour": frame["end_h"], "stored_kwh": frame["stored_kwh"]}).round(4)
    x = alt.X(
        "hour:Q",
        title=_HOURS,
        scale=alt.Scale(domain=[0, end_h], nice=False),
        axis=alt.Axis(values=_ticks(end_h), grid=False, labelOverlap="greedy"),
    )
    y = alt.Y(
        "stored_kwh:Q",
        title="Stored (kWh)",
        scale=alt.Scale(domainMin=0),
        axis=alt.Axis(tickCount=3, minExtent=36, maxExtent=36),
    )
    low = float(line["stored_kwh"].min())
    chart = (
        alt.Chart(line).mark_area(color="#d8e6f1", line={"color": "#2f6a9a", "strokeWidth": 1.8}).encode(x, y)
    )
    return finish(
        chart, f"{label}: energy in the battery", f"Lowest {figure(low, 'kwh')} in the outage shown.", 80
    )


def _staircase(frame: pd.DataFrame) -> pd.DataFrame:
    load = frame["must_run_kw"] + frame["wanted_kw"]
    out = pd.DataFrame({"hour": frame["hour"], "load_kw": load})
    last = pd.DataFrame({"hour": [frame["end_h"].iloc[-1]], "load_kw": [load.iloc[-1]]})
    return pd.concat([out, last]).round(4)


def _events(frame: pd.DataFrame, top: float, end_h: float) -> pd.DataFrame:
    """Marks of what happens; those that stand too close to tell apart share one, as 10–12."""
    told = frame[frame["event_text"].fillna("") != ""]
    runs: list[list[tuple[float, int]]] = []
    for number, hour in enumerate(told["hour"].to_numpy(dtype=float)[:_EVENTS_SHOWN], start=1):
        wide = bool(runs) and (len(runs[-1]) > 1 or number > 9)
        if runs and hour - runs[-1][0][0] < end_h * (0.12 if wide else 0.06):
            runs[-1].append((float(hour), number))
        else:
            runs.append([(float(hour), number)])
    texts = [str(r[0][1]) if len(r) == 1 else f"{r[0][1]}–{r[-1][1]}" for r in runs]
    hours = [r[0][0] for r in runs]
    at = [min(hour, 0.93 * end_h) if len(text) > 2 else hour for hour, text in zip(hours, texts, strict=True)]
    return pd.DataFrame({"hour": hours, "at": at, "top": top, "number": texts})


def _ticks(end_h: float) -> list[float]:
    step = 24 if end_h > 100 else 12 if end_h > 40 else 6 if end_h > 16 else 2
    return [float(v) for v in np.arange(0, end_h + 0.01, step)]
