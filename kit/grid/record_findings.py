"""What a record says in words, what it leaves open, and what looks like a slip of units."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from kit.grid.duration_fits import FEW_EVENTS, fit_of, from_percentiles, parameters_text
from kit.grid.known import class_hours, known_classes, log_rates, momentary_per_year
from kit.grid.outage_log import read_log
from kit.grid.outages import DurationLaw, outage_hours_per_year
from kit.grid.reliability_indices import USUAL_YEARS, split_daily
from kit.study.finding import Finding

if TYPE_CHECKING:
    from kit.study.outage_models import IndexSet, OutageClass, OutageRecord

CAP_WORTH_SAYING_FRAC = 1e-4
MUCH_WITHOUT_H, MUCH_H = 24.0, 100.0  # SAIDI a year beyond which a reader asks whether minutes were meant
MUCH_CAIDI_H = 24.0
SUSTAINED_H = 5.0 / 60.0
MORE_FRAC = 0.01  # of the indices: what classes may add up to beyond them
IEEE = "IEEE Std 1366-2012"


def outage_findings(record: OutageRecord) -> tuple[Finding, ...]:
    """Events cut at the horizon, how rare each class is, where its figures come from, slips of units."""
    found = [*_indices(record), *_momentary(record)]
    rates = log_rates(record)
    for slug, known in known_classes(record).items():
        path = f"outages.classes.{slug}"
        law = DurationLaw(known.duration, record.horizon_h)
        if law.capped_frac >= CAP_WORTH_SAYING_FRAC:
            text = (
                f"{slug}: {100 * law.capped_frac:.2g} % of events would last beyond the horizon of "
                f"{record.horizon_h:g} h and are counted as that long; mean {law.mean_h:.1f} h"
            )
            found.append(Finding("outage_capped", None, f"{path}.duration", text))
        if known.events_per_year > 0.0:
            text = f"{slug}: {rate_text(known.events_per_year)}, {law.mean_h:.1f} h on average"
            found.append(
                Finding("outage_return_period", None, f"{path}.events_per_year", text, severity="note")
            )
        if slug in rates:
            found += _log(slug, record.classes[slug], rates[slug].low, rates[slug].high)
        found += _length(slug, known)
        found += _company(slug, known)
    return tuple(found)


def rate_text(events_per_year: float) -> str:
    """0.326 as 'one event in 3.1 years', 2 as '2.0 events a year'."""
    if events_per_year >= 1.0:
        return f"{events_per_year:.1f} events a year"
    return f"one event in {1.0 / events_per_year:.1f} years"


def _log(slug: str, block: OutageClass, low: float, high: float) -> Iterator[Finding]:
    assert block.log is not None
    path = f"outages.classes.{slug}"
    made, count = read_log(block.log), len(class_hours(block.log))
    seen = "no outage" if count == 0 else f"{count} outage{'s' * (count > 1)}"
    text = (
        f"{slug}: the log holds {seen} in {made.years:.1f} years: the rate lies between {low:.3g} and "
        f"{high:.3g} a year with 90 % chance"
    )
    source = "Poisson counts, Jeffreys' prior: Gamma(count + 0.5, years)"
    yield Finding("outage_rate_from_log", None, f"{path}.log", text, source, "note")


def _momentary(record: OutageRecord) -> Iterator[Finding]:
    """Blinks in a log, told once where several classes share it."""
    logs = {block.log.file: block.log for block in record.classes.values() if block.log is not None}
    for log in logs.values():
        blinks = momentary_per_year(log)
        if blinks > 0.0:
            text = (
                f"{blinks:.2g} outages a year in the log last {log.sustained_above_min:g} min or less; they "
                "are momentary and belong to blinks_per_year"
            )
            yield Finding("momentary_in_log", None, "outages.blinks_per_year", text, IEEE, "note")


def _length(slug: str, known: OutageClass) -> Iterator[Finding]:
    """What a fit chose, and how far it can be trusted."""
    d, path = known.duration, f"outages.classes.{slug}.duration"
    if d is None or d.kind not in ("fitted", "percentiles"):
        return
    if d.kind == "percentiles":
        plain = from_percentiles(d)
        text = (
            f"{slug}: {plain.kind} through {len(d.percentiles or [])} percentiles: {parameters_text(plain)}; "
            "percentiles say nothing of the tail beyond the last of them"
        )
        yield Finding("duration_from_percentiles", None, path, text, None, "note")
        return
    fit = fit_of(d)
    ranked = sorted(fit.families, key=lambda one: one.aic)
    others = ", ".join(f"{one.family} {one.aic - ranked[0].aic:+.1f}" for one in ranked[1:])
    picked = f", given that they last {d.at_least_h:g} h" if d.at_least_h else ""
    how = "lowest AIC" if fit.taken is ranked[0] else f"as asked; {ranked[0].family} has the lowest AIC"
    text = (
        f"{slug}: {fit.taken.family} fitted to {len(fit.events_h)} events ({how}): "
        f"{parameters_text(fit.taken.duration)}{picked}; AIC against the lowest: {others}"
    )
    yield Finding("duration_fitted", None, path, text, "maximum likelihood, Akaike's criterion", "note")
    if fit.guessed_tail:
        text = (
            f"{slug}: a heavy tail ({fit.taken.family}) fitted on {len(fit.events_h)} events, fewer than "
            f"{FEW_EVENTS}: the chance of outages longer than the longest seen "
            f"({fit.events_h[-1]:.3g} h) is a guess"
        )
        yield Finding("tail_from_few_events", None, path, text)


def _company(slug: str, known: OutageClass) -> Iterator[Finding]:
    """Clusters and forewarning in words."""
    path = f"outages.classes.{slug}"
    if known.followed_frac > 0.0:
        until = known.followed_within_h
        gap = f"{known.followed_after_h:g} to {until:g} h" if until else f"{known.followed_after_h:g} h"
        text = (
            f"{slug}: after {known.followed_frac:.0%} of events another follows, {gap} after power is back; "
            "both are part of the yearly rate"
        )
        yield Finding("outages_in_clusters", None, f"{path}.followed_frac", text, None, "note")
    if known.forewarned_frac > 0.0:
        text = (
            f"{slug}: {known.forewarned_frac:.0%} of events are taken as forecast {known.forewarned_h:g} h "
            "ahead; batteries then charge up to their raised reserve if somebody, or the system, acts on it"
        )
        yield Finding("outages_forewarned", None, f"{path}.forewarned_frac", text, None, "note")


def _indices(record: OutageRecord) -> Iterator[Finding]:
    indices = record.indices
    if indices is None:
        return
    if indices.daily is not None:
        made = split_daily(indices.daily)
        t = made.threshold
        text = (
            f"{len(made.major_days)} major event days in {made.years:.1f} years: daily SAIDI above "
            f"{t.threshold_min:.3g} min (alpha {t.alpha:.3g}, beta {t.beta:.3g}, {t.deviation} deviation, "
            f"{t.day_count} days with interruptions)"
        )
        if made.years < USUAL_YEARS - 0.1:
            text += f"; the standard asks for {USUAL_YEARS:g} years"
        yield Finding("major_event_days", None, "outages.indices.daily", text, IEEE, "note")
    for name in ("all_events", "without_major"):
        block: IndexSet | None = getattr(indices, name)
        if block is not None:
            yield from _slips(name, block)
    if indices.all_events is not None:
        told_h, all_h = outage_hours_per_year(record), indices.all_events.figures[1]
        if told_h > (1.0 + MORE_FRAC) * all_h:
            text = (
                f"the classes add up to {told_h:.1f} h a year, more than the {all_h:.1f} h of the indices "
                "of all events: is something counted twice?"
            )
            yield Finding("more_than_the_indices", None, "outages.classes", text, IEEE)


def _slips(name: str, block: IndexSet) -> Iterator[Finding]:
    """Minutes given as hours, or hours as minutes."""
    count, hours, mean_h = block.figures
    path = f"outages.indices.{name}"
    much_h = MUCH_WITHOUT_H if name == "without_major" else MUCH_H
    if hours >= much_h or (mean_h >= MUCH_CAIDI_H and name == "without_major"):
        text = (
            f"SAIDI of {hours:g} h a year ({count:g} interruptions of {mean_h:.3g} h): are these minutes? "
            f"Utilities print minutes: write saidi_min_per_year: {hours:g}"
        )
        yield Finding("minutes_as_hours", None, path, text, IEEE)
    elif count > 0.0 and mean_h <= SUSTAINED_H:
        text = (
            f"CAIDI of {60.0 * mean_h:.3g} min is not above the 5 min of a sustained interruption: are these "
            f"hours? Write saidi_h_per_year: {60.0 * hours:g}"
        )
        yield Finding("hours_as_minutes", None, path, text, IEEE)
