"""Fitting lengths of outages: maximum likelihood over families, the choice by AIC, and percentiles.

Exponential and lognormal have closed forms; the Weibull's shape is the root of its likelihood
equation; the two-part mixture is maximised from several starts. AIC = 2 x parameters - 2 x log
likelihood (Akaike 1974); the family with the lowest is chosen, and the others are told.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from kit.study.outage_models import Duration, DurationPart

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

FEWEST_EVENTS = 3  # below, no family of two parameters can be told
FEWEST_FOR_MIXTURE = 12  # five parameters
FEW_EVENTS = 20  # a heavy tail fitted on fewer is a guess
LEAST_SPREAD = 0.05  # of a part of a mixture: below it, a part would shrink onto a single event
FAMILIES = ("exponential", "lognormal", "weibull", "mixture")


@dataclass(frozen=True)
class FamilyFit:
    """One family at its maximum likelihood. `heavy_tail`: its chance falls slower than exponentially."""

    family: str
    duration: Duration
    parameter_count: int
    log_likelihood: float
    heavy_tail: bool

    @property
    def aic(self) -> float:
        """Akaike's criterion; lower is better."""
        return 2.0 * self.parameter_count - 2.0 * self.log_likelihood


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


def fit_durations(events_h: ArrayLike, family: str = "best") -> DurationFit:
    """Fit families of durations to events [h] by maximum likelihood.

    family: a name of FAMILIES, or 'best': the lowest AIC. A mixture is tried from 12 events on.

    Raises:
        ValueError: fewer than 3 events (12 for a mixture), hours not above 0, events all alike.
    """
    hours = tuple(sorted(float(h) for h in np.asarray(events_h, dtype=np.float64).ravel()))
    return _fit(hours, family)


@cache
def _fit(hours: tuple[float, ...], family: str) -> DurationFit:
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
    tried = [_exponential(events), _lognormal(events), _weibull(events)]
    if events.size >= FEWEST_FOR_MIXTURE:
        tried.append(_mixture(events))
    elif family == "mixture":
        raise ValueError(f"a mixture needs at least {FEWEST_FOR_MIXTURE} events, got {events.size}")
    named = [one for one in tried if one.family == family]
    return DurationFit(hours, tuple(tried), named[0] if named else min(tried, key=lambda one: one.aic))


def _exponential(events: Floats) -> FamilyFit:
    mean_h = float(events.mean())
    likelihood = -events.size * (np.log(mean_h) + 1.0)
    return FamilyFit("exponential", Duration(kind="exponential", mean_h=mean_h), 1, float(likelihood), False)


def _lognormal(events: Floats) -> FamilyFit:
    logs = np.log(events)
    spread = float(logs.std())  # divides by n: the maximum of the likelihood
    likelihood = float(_log_normal_density(logs, float(logs.mean()), spread).sum())
    block = Duration(kind="lognormal", median_h=float(np.exp(logs.mean())), spread=spread)
    return FamilyFit("lognormal", block, 2, likelihood, True)


def _log_normal_density(logs: Floats, centre: float, spread: float) -> Floats:
    """Logarithm of the density of hours at exp(logs)."""
    z = (logs - centre) / spread
    return np.asarray(-0.5 * z**2 - np.log(spread) - 0.5 * np.log(2.0 * np.pi) - logs)


def _weibull(events: Floats) -> FamilyFit:
    """Shape: root of sum x^k ln x / sum x^k - 1 / k - mean ln x; then the scale in closed form."""
    from scipy.optimize import brentq

    logs = np.log(events)
    centred = logs - logs.max()  # powers stay within range whatever the shape

    def slope(k: float) -> float:
        weight = np.exp(k * centred)
        return float((weight * logs).sum() / weight.sum() - 1.0 / k - logs.mean())

    shape = float(brentq(slope, 1e-3, 1e3, xtol=1e-12))
    scale_h = float(np.exp(logs.max()) * np.mean(np.exp(shape * centred)) ** (1.0 / shape))
    log_density = np.log(shape / scale_h) + (shape - 1.0) * (logs - np.log(scale_h))
    likelihood = float((log_density - (events / scale_h) ** shape).sum())
    block = Duration(kind="weibull", shape=shape, median_h=scale_h * np.log(2.0) ** (1.0 / shape))
    return FamilyFit("weibull", block, 2, likelihood, shape < 1.0)


def _mixture(events: Floats) -> FamilyFit:
    """Two lognormal parts; the best of four starts that split the ordered events."""
    from scipy.optimize import minimize
    from scipy.special import expit

    logs = np.sort(np.log(events))
    edge = float(np.ptp(logs)) + 1.0
    bounds = [
        (-6.0, 6.0),
        *[(logs[0] - edge, logs[-1] + edge)] * 2,
        *[(np.log(LEAST_SPREAD), np.log(edge))] * 2,
    ]

    def loss(x: Floats) -> float:
        first = np.log(expit(x[0])) + _log_normal_density(logs, x[1], np.exp(x[3]))
        second = np.log(expit(-x[0])) + _log_normal_density(logs, x[2], np.exp(x[4]))
        return -float(np.logaddexp(first, second).sum())

    starts = []
    for split in (0.3, 0.5, 0.7, 0.85):
        at = min(max(2, round(split * logs.size)), logs.size - 2)
        low, high = logs[:at], logs[at:]
        spreads = [np.log(max(part.std(), 2.0 * LEAST_SPREAD)) for part in (low, high)]
        starts.append(np.array([np.log(split / (1.0 - split)), low.mean(), high.mean(), *spreads]))
    found = min((minimize(loss, x, bounds=bounds, method="L-BFGS-B") for x in starts), key=lambda r: r.fun)
    share = float(expit(found.x[0]))
    pairs = sorted(
        [(found.x[1], found.x[3], share), (found.x[2], found.x[4], 1.0 - share)], key=lambda part: part[0]
    )
    parts = [
        DurationPart(share_frac=float(s), median_h=float(np.exp(c)), spread=float(np.exp(w)))
        for c, w, s in pairs
    ]
    return FamilyFit("mixture", Duration(kind="mixture", parts=parts), 5, -float(found.fun), True)


def solved(duration: Duration) -> Duration:
    """The plain block behind a `fitted` or `percentiles` one; any other comes back as it is."""
    if duration.kind == "fitted":
        return fit_durations(duration.events_h or (), duration.family or "best").taken.duration
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
