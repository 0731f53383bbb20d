"""Fits of outage lengths side by side: every family tried, the choice by AIC, and percentiles."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from kit.grid.duration_families import FamilyFit, exponential, lognormal, mixture, weibull
from kit.study.outage_models import Duration

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

FEWEST_EVENTS = 3  # below, no family of two parameters can be told
FEWEST_FOR_MIXTURE = 12  # five parameters
FEW_EVENTS = 20  # a heavy tail fitted on fewer is a guess
FAMILIES = ("exponential", "lognormal", "weibull", "mixture")


@dataclass(frozen=True)
class DurationFit:
    """Events [h], every family tried, and the one taken."""

    events_h: tuple[float, ...]
    families: tuple[FamilyFit, ...]
    taken: FamilyFit

    @property
    def guessed_tail(self) -> bool:
        """A heavy tail on fewer than 20 events."""
        return self.taken.heavy_tail and len(self.events_h) < FEW_EVENTS


def fit_durations(events_h: ArrayLike, family: str = "best", at_least_h: float | None = None) -> DurationFit:
    """Fit families of durations to events [h] by maximum likelihood.

    family: a name of FAMILIES, or 'best': the lowest AIC. A mixture is tried from 12 events on.
    at_least_h: events were picked because they last so long; the law is then the one given that
    length, and its likelihood the density over the chance of lasting that long.

    Raises:
        ValueError: fewer than 3 events (12 for a mixture), hours not above 0 or below at_least_h,
            events all alike.
    """
    hours = tuple(sorted(float(h) for h in np.asarray(events_h, dtype=np.float64).ravel()))
    return _fit(hours, family, at_least_h)


@cache
def _fit(hours: tuple[float, ...], family: str, at_least_h: float | None) -> DurationFit:
    events = np.array(hours)
    if family not in ("best", *FAMILIES):
        raise ValueError(f"families are best, {', '.join(FAMILIES)}, got {family}")
    if events.size < FEWEST_EVENTS or not (np.isfinite(events).all() and (events > 0.0).all()):
        raise ValueError(
            f"a fit needs at least {FEWEST_EVENTS} events of more than 0 h, got {events.size}: "
            "use kind log, or percentiles"
        )
    if np.ptp(np.log(events)) < 1e-6:
        raise ValueError(f"all {events.size} events last {events[0]:g} h: nothing to fit, use kind fixed")
    from_h = at_least_h or 0.0
    if events[0] < from_h:
        raise ValueError(f"an event of {events[0]:g} h is below at_least_h {from_h:g}")
    tried = [exponential(events, from_h), lognormal(events, from_h), weibull(events, from_h)]
    if events.size >= FEWEST_FOR_MIXTURE:
        tried.append(mixture(events, from_h))
    if family == "mixture" and events.size < FEWEST_FOR_MIXTURE:
        raise ValueError(f"a mixture needs at least {FEWEST_FOR_MIXTURE} events, got {events.size}")
    named = [one for one in tried if one.family == family]
    return DurationFit(hours, tuple(tried), named[0] if named else min(tried, key=lambda one: one.aic))


def fit_of(duration: Duration) -> DurationFit:
    """The fit behind a `fitted` block."""
    return fit_durations(duration.events_h or (), duration.family or "best", duration.at_least_h)


def solved(duration: Duration) -> Duration:
    """The plain block behind a `fitted` or `percentiles` one; any other comes back as it is."""
    if duration.kind == "fitted":
        return fit_of(duration).taken.duration
    if duration.kind == "percentiles":
        return from_percentiles(duration)
    return duration


def from_percentiles(duration: Duration) -> Duration:
    """A lognormal or Weibull through two percentiles, or nearest to several.

    Both are straight lines: ln hours against the normal score of the share (lognormal), against
    ln(-ln(1 - share)) (Weibull). Two points are met exactly; more by least squares in ln hours.

    Raises:
        ValueError: points on which a line does not rise.
    """
    from scipy.special import ndtri

    points = duration.percentiles or []
    share = np.array([p.over_frac for p in points])
    logs = np.log([p.within_h for p in points])
    weibull = duration.family == "weibull"
    score = np.log(-np.log1p(-share)) if weibull else ndtri(share)
    slope, level = np.polyfit(score, logs, 1)
    if not slope > 0.0:
        raise ValueError("percentiles must rise, in over_frac and in within_h")
    if weibull:
        median_h = float(np.exp(level + slope * np.log(np.log(2.0))))
        return Duration(kind="weibull", shape=float(1.0 / slope), median_h=median_h)
    return Duration(kind="lognormal", median_h=float(np.exp(level)), spread=float(slope))


def parameters_text(duration: Duration) -> str:
    """The parameters of a plain block in words."""
    d = duration
    if d.parts:
        return "; ".join(
            f"{part.share_frac:.0%} median {part.median_h:.2f} h, spread {part.spread:.2f}"
            for part in d.parts
        )
    figures = {"mean": d.mean_h, "median": d.median_h}
    length = ", ".join(f"{name} {value:.2f} h" for name, value in figures.items() if value is not None)
    shape = {"spread": d.spread, "shape": d.shape}
    return ", ".join([length, *(f"{name} {value:.2f}" for name, value in shape.items() if value is not None)])


def fit_table(fit: DurationFit, horizon_h: float) -> pd.DataFrame:
    """One row a family: parameters, log likelihood, AIC and its distance from the lowest, what it implies.

    Columns: family, taken, parameters_text, log_likelihood, aic, aic_above_lowest, mean_h (capped at
    the horizon), lasts_frac_8h, lasts_frac_24h, lasts_frac_72h. The first row is the events themselves.
    """
    import pandas as pd

    from kit.grid.outages import DurationLaw

    lowest = min(one.aic for one in fit.families)
    rows: list[dict[str, object]] = []
    events = Duration(kind="log", events_h=list(fit.events_h))
    laws: list[tuple[str, Duration, FamilyFit | None]] = [("the events", events, None)]
    for one in fit.families:
        laws.append((one.family, one.duration, one))
    for name, block, family in laws:
        law = DurationLaw(block, horizon_h)
        row: dict[str, object] = {"family": name, "taken": family is fit.taken}
        row["parameters_text"] = parameters_text(block) if family else f"{len(fit.events_h)} events"
        row["log_likelihood"] = family.log_likelihood if family else None
        row["aic"] = family.aic if family else None
        row["aic_above_lowest"] = family.aic - lowest if family else None
        row["mean_h"] = law.mean_h
        row |= {f"lasts_frac_{h}h": float(law.lasts_frac(float(h))) for h in (8, 24, 72)}
        rows.append(row)
    return pd.DataFrame(rows)


def fit_curve(fit: DurationFit, horizon_h: float, point_count: int = 60) -> pd.DataFrame:
    """The chance of lasting against hours, for the events and each family: family, hours, lasts_frac.

    Event i of n, in order, stands at 1 - (i - 1/2) / n, the middle of its step (Hazen 1914).
    """
    import pandas as pd

    from kit.grid.outages import DurationLaw

    events = np.array(fit.events_h)
    top = min(horizon_h, 3.0 * float(events[-1]))
    hours = np.geomspace(min(0.5 * float(events[0]), top / 10.0), top, point_count)
    seen = 1.0 - (np.arange(events.size) + 0.5) / events.size
    frames = [pd.DataFrame({"family": "the events", "hours": events, "lasts_frac": seen})]
    for one in fit.families:
        chance = DurationLaw(one.duration, horizon_h).lasts_frac(hours)
        frames.append(pd.DataFrame({"family": one.family, "hours": hours, "lasts_frac": chance}))
    return pd.concat(frames, ignore_index=True)
