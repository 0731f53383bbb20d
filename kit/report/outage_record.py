"""The outage record in a memo: how often, how long, from where, and how well a fit meets the events."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from kit.grid.duration_fits import DurationFit, fit_curve, fit_of, fit_table
from kit.grid.known import known_classes, log_rates
from kit.grid.outages import DurationLaw, interruptions_per_year, outage_hours_per_year
from kit.grid.record_findings import rate_text
from kit.report.formats import figure, whole_money
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, paragraph, together
from kit.report.theme import INK, finish, looks, unchecked

LENGTHS_H = (8.0, 24.0, 72.0)
RARE_PER_YEAR = 1e-3  # once in a thousand years: beyond what any record tells
ROUND_ABOVE_YEARS = 20.0
FAMILIES = ("the events", "exponential", "lognormal", "weibull", "mixture")
_DASH = {"exponential": (2, 3), "lognormal": (1, 0), "weibull": (7, 3), "mixture": (10, 3, 2, 3)}
_COLOUR = {"exponential": "#a08b1d", "lognormal": "#0f4c81", "weibull": "#c8691c", "mixture": "#2b7a5d"}


def record_rows(study: Any) -> pd.DataFrame:
    """One row a kind of event, and one for all of them.

    Columns: kind, source (given, from indices, from a log), events_per_year, low_per_year and
    high_per_year (range of the study, or of the log's Gamma; None where neither), mean_h,
    outage_h_per_year, and for 8, 24 and 72 h the events a year that last at least so long.
    """
    record = study.model.outages
    logs, rows = log_rates(record), []
    for slug, known in known_classes(record).items():
        law = DurationLaw(known.duration, record.horizon_h)
        given = study.provenance.get(f"outages.classes.{slug}.events_per_year")
        low, high = (given.low, given.high) if given is not None else (None, None)
        block = record.classes[slug]
        source = "from indices" if block.from_indices else "from a log" if block.log else "given"
        if block.events_per_year is None and slug in logs:
            low, high = logs[slug].low, logs[slug].high
        row: dict[str, Any] = {
            "kind": slug.replace("_", " "),
            "source": source,
            "events_per_year": known.events_per_year,
            "low_per_year": low,
            "high_per_year": high,
            "mean_h": law.mean_h,
            "outage_h_per_year": known.events_per_year * law.mean_h,
        }
        for h in LENGTHS_H:
            row[f"events_per_year_of_{h:g}h"] = known.events_per_year * float(law.lasts_frac(h))
        rows.append(row)
    frame = pd.DataFrame(rows)
    sums = ["events_per_year", "outage_h_per_year", *(f"events_per_year_of_{h:g}h" for h in LENGTHS_H)]
    whole: dict[str, Any] = {"kind": "all", **{name: float(frame[name].sum()) for name in sums}}
    rate = whole["events_per_year"]
    whole["mean_h"] = whole["outage_h_per_year"] / rate if rate > 0.0 else 0.0
    return pd.concat([frame, pd.DataFrame([whole])], ignore_index=True)


def record_table(study: Any) -> Shown:
    """The record in words that a household can contradict: return periods, lengths, hours a year."""
    frame = record_rows(study)
    rows: list[list[str | Cell]] = []
    for row in frame.to_dict("records"):
        ranged = pd.notna(row["low_per_year"]) or pd.notna(row["high_per_year"])
        text = (
            f"{_rate(row['low_per_year'])} to {_rate(row['high_per_year'])}" if ranged else "no range given"
        )
        if row["kind"] == "all":
            text = ""
        source = {"from a log": "90 % range of the rate behind a log of this length"}.get(
            str(row["source"]), ""
        )
        often = [_often(row[f"events_per_year_of_{h:g}h"]) for h in LENGTHS_H]
        rows.append(
            [
                str(row["kind"]),
                _often(row["events_per_year"]),
                Cell(text, source),
                figure(row["mean_h"], "h"),
                figure(row["outage_h_per_year"], "h"),
                *often,
            ]
        )
    heads = ["Kind", "How often", "Events a year, range", "Mean length", "A year", *_lengths()]
    shown = table("What the outage record says", heads, [Group("", rows)])
    return together([shown, paragraph(record_sentence(study))])


def record_sentence(study: Any) -> str:
    """The record in one sentence and a question."""
    record, whole = study.model.outages, record_rows(study).iloc[-1]
    day = whole["events_per_year_of_24h"]
    long = f"one of a day or longer comes {_often(day)}" if day > RARE_PER_YEAR else "none lasts a day"
    return (
        f"In a mean year the house feels {interruptions_per_year(record):.1f} interruptions, "
        f"{record.blinks_per_year:.1f} of them shorter than a few minutes, and is without grid for "
        f"{outage_hours_per_year(record):.1f} h; {long}. Does that match what the household has seen?"
    )


def _lengths() -> list[str]:
    return [f"{h:g} h or longer" for h in LENGTHS_H]


def _rate(value: Any) -> str:
    return f"{value:.2g}" if pd.notna(value) else "?"


def _often(rate: float) -> str:
    """A rate as a return period: '3.0 a year', 'once in 3.1 years', 'once in 140 years'."""
    if rate < RARE_PER_YEAR:
        return "hardly ever"
    years = 1.0 / rate
    if years > ROUND_ABOVE_YEARS:
        return f"once in {float(f'{years:.2g}'):,.0f} years"
    return rate_text(rate).replace("one event in", "once in").replace(" events a year", " a year")


def fits_of(study: Any) -> dict[str, DurationFit]:
    """The fit behind every kind whose length is fitted to events."""
    return {
        slug: fit_of(known.duration)
        for slug, known in known_classes(study.model.outages).items()
        if known.duration.kind == "fitted"
    }


def fit_tables(study: Any) -> Shown:
    """Each fitted kind: the families tried, their AIC, and what they say beside what was seen."""
    parts = [_fit_table(slug, fit, study.model.outages.horizon_h) for slug, fit in fits_of(study).items()]
    if not parts:
        return paragraph("No length of outage in this record was fitted to events.")
    text = (
        "Families are fitted by maximum likelihood; AIC weighs closeness against the number of parameters, "
        "and the lowest is taken unless the study names a family. Two families a unit or two apart are as "
        "good as each other: what they say of long outages is then a matter of choice."
    )
    return together([*parts, paragraph(text)])


def _fit_table(slug: str, fit: DurationFit, horizon_h: float) -> Shown:
    rows: list[list[str | Cell]] = []
    for row in fit_table(fit, horizon_h).to_dict("records"):
        above = row["aic_above_lowest"]
        name = Cell(str(row["family"]), "taken") if row["taken"] else str(row["family"])
        shares = [figure(float(row[f"lasts_frac_{h:g}h"]), "frac") for h in LENGTHS_H]
        parameters = str(row["parameters_text"])
        aic = "" if pd.isna(above) else f"{above:+.1f}"
        rows.append([name, parameters, aic, figure(float(row["mean_h"]), "h"), *shares])
    heads = ["", "Parameters", "AIC above the lowest", "Mean length", *_lengths()]
    caption = f"Length of {slug.replace('_', ' ')} outages: {len(fit.events_h)} events and what was fitted"
    return table(caption, heads, [Group("", rows)], text_columns=(1,))


@unchecked
def fit_chart(fit: DurationFit, slug: str, horizon_h: float) -> Any:
    """Share of events that last at least so long: the events as points, each family as a line."""
    import altair as alt

    frame = fit_curve(fit, horizon_h).round(5)
    frame = frame[frame["lasts_frac"] > 0.5 / (10 * len(fit.events_h))]
    lines = frame[frame["family"] != "the events"].assign(label=lambda f: f["family"].map(_labels(fit)))
    points = frame[frame["family"] == "the events"]
    used = [name for name in FAMILIES if name in set(lines["family"])]
    domain = [_labels(fit)[name] for name in used]
    colours = alt.Scale(domain=domain, range=[_COLOUR[n] for n in used])
    legend = alt.Legend(title=None, orient="top", direction="horizontal", symbolStrokeWidth=2, symbolSize=400)
    x = alt.X(
        "hours:Q",
        title="Length of outage (h)",
        scale=alt.Scale(type="log", nice=False),
        axis=alt.Axis(values=_ticks(float(frame["hours"].min()), float(frame["hours"].max())), grid=False),
    )
    y = alt.Y(
        "lasts_frac:Q",
        title="Share that lasts at least so long (%)",
        scale=alt.Scale(domain=[0, 1]),
        axis=alt.Axis(format=".0%", tickCount=5),
    )
    drawn = alt.Chart(lines).mark_line().encode(
        x, y,
        color=alt.Color("label:N", scale=colours, legend=legend),
        strokeDash=alt.StrokeDash("label:N", scale=alt.Scale(domain=domain, range=[_DASH[n] for n in used])),
        strokeWidth=alt.StrokeWidth(
            "label:N",
            scale=alt.Scale(domain=domain, range=[3.0 if n == fit.taken.family else 1.4 for n in used]),
        ),
    )  # fmt: skip
    seen = alt.Chart(points).mark_point(color=INK, filled=True, size=36, opacity=1).encode(x, y)
    title = f"{slug.replace('_', ' ').capitalize()}: the {fit.taken.family} line was taken"
    told = f"{len(fit.events_h)} events, the longest {figure(fit.events_h[-1], 'h')}"
    warn = "; a tail fitted on so few is a guess" if fit.guessed_tail else ""
    subtitle = f"Points: {told}{warn}"
    return finish(alt.layer(drawn, seen), title, f"{title}. {subtitle}.", 240, subtitle=subtitle)


def fit_charts(study: Any) -> list[Any]:
    """A chart for every kind whose length is fitted."""
    horizon_h = study.model.outages.horizon_h
    return [fit_chart(fit, slug, horizon_h) for slug, fit in fits_of(study).items()]


def _labels(fit: DurationFit) -> dict[str, str]:
    """Family and its distance in AIC, for the legend."""
    lowest = min(one.aic for one in fit.families)
    return {
        one.family: f"{one.family} (taken)"
        if one is fit.taken
        else f"{one.family} (AIC {one.aic - lowest:+.1f})"
        for one in fit.families
    }


def _ticks(low_h: float, high_h: float) -> list[float]:
    marks = np.array([0.1, 0.25, 0.5, 1, 2, 4, 8, 12, 24, 48, 72, 168, 336, 720])
    return [float(h) for h in marks[(marks >= low_h) & (marks <= high_h)]]


def loss_table(comparison: Any) -> Shown:
    """What outages cost under each option, with and without; words where nothing is valued."""
    money = comparison.study.model.money
    if not money.values_lost_load:
        return paragraph(
            "Going without power is not valued in this study: the lifetime costs are money paid, and doing "
            "nothing looks cheaper than it feels."
        )
    rows: list[list[str | Cell]] = []
    for look in looks(comparison):
        outcome = comparison.outcomes[look.slug]
        parts = outcome.lost_load.lines if outcome.lost_load else ()
        named = "; ".join(f"{p.name} {whole_money(p.usd_per_year, money.currency)}" for p in parts)
        values = ("lost_load_usd_per_year", "lifetime_cost_usd", "lifetime_cost_with_lost_load_usd")
        cells = [whole_money(float(outcome.columns[name]), money.currency) for name in values]
        rows.append([look.label, named, *cells])
    heads = ["", "Losses a year, line by line", "Together a year", "Lifetime cost without", "With"]
    return table("What going without power costs", heads, [Group("", rows)], text_columns=(1,))
