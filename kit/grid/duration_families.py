"""Families of outage lengths at their maximum likelihood.

Exponential and lognormal have closed forms; the Weibull's shape is the root of its likelihood
equation; the two-part mixture is maximised from several starts. Where events were picked because
they last at least `from_h`, the likelihood is the density over the chance of lasting so long, and
is maximised numerically.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kit.study.outage_models import Duration, DurationPart

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LEAST_SPREAD = 0.05  # of a part of a mixture: below it, a part would shrink onto a single event
MOST_SPREAD = 4.0
SHAPES = (0.1, 20.0)  # of a Weibull fitted to picked events


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


def exponential(events: Floats, from_h: float = 0.0) -> FamilyFit:
    """The mean, beyond from_h where events were picked: the law forgets how long it has lasted."""
    mean_h = float(events.mean()) - from_h
    likelihood = -events.size * (np.log(mean_h) + 1.0)
    block = Duration(kind="exponential", mean_h=mean_h, at_least_h=from_h or None)
    return FamilyFit("exponential", block, 1, float(likelihood), False)


def lognormal(events: Floats, from_h: float = 0.0) -> FamilyFit:
    """Mean and standard deviation (by n) of the logarithms; numerically where events were picked."""
    from scipy.special import log_ndtr

    logs = np.log(events)
    centre, spread = float(logs.mean()), float(logs.std())

    def loss(x: Floats) -> float:
        width = np.exp(x[1])
        chance = log_ndtr(-(np.log(from_h) - x[0]) / width) if from_h else 0.0
        return -float(_log_density(logs, x[0], width).sum() - logs.size * chance)

    at = np.array([centre, np.log(spread)])
    if from_h:
        span = (centre - 2.0 * MOST_SPREAD, logs[-1] + 1.0), (np.log(LEAST_SPREAD), np.log(MOST_SPREAD))
        at = _lowest(loss, at, span)
    block = Duration(
        kind="lognormal",
        median_h=float(np.exp(at[0])),
        spread=float(np.exp(at[1])),
        at_least_h=from_h or None,
    )
    return FamilyFit("lognormal", block, 2, -loss(at), True)


def _log_density(logs: Floats, centre: float, spread: float) -> Floats:
    """Logarithm of a lognormal's density of hours, at exp(logs)."""
    z = (logs - centre) / spread
    return np.asarray(-0.5 * z**2 - np.log(spread) - 0.5 * np.log(2.0 * np.pi) - logs)


def weibull(events: Floats, from_h: float = 0.0) -> FamilyFit:
    """Shape: root of sum x^k ln x / sum x^k - 1 / k - mean ln x; then the scale in closed form."""
    from scipy.optimize import brentq

    logs = np.log(events)
    centred = logs - logs.max()  # powers stay within range whatever the shape

    def slope(k: float) -> float:
        weight = np.exp(k * centred)
        return float((weight * logs).sum() / weight.sum() - 1.0 / k - logs.mean())

    def loss(x: Floats) -> float:
        shape, scale_h = np.exp(x)
        density = np.log(shape / scale_h) + (shape - 1.0) * (logs - np.log(scale_h))
        lasted = (events / scale_h) ** shape - (from_h / scale_h) ** shape
        return -float((density - lasted).sum())

    shape = float(brentq(slope, 1e-3, 1e3, xtol=1e-12))
    scale_h = float(np.exp(logs.max()) * np.mean(np.exp(shape * centred)) ** (1.0 / shape))
    at = np.log([shape, scale_h])
    if from_h:
        at = _lowest(loss, at, (tuple(np.log(SHAPES)), (logs[0] - 8.0, logs[-1] + 2.0)))
        shape, scale_h = (float(v) for v in np.exp(at))
    block = Duration(
        kind="weibull",
        shape=shape,
        median_h=scale_h * np.log(2.0) ** (1.0 / shape),
        at_least_h=from_h or None,
    )
    return FamilyFit("weibull", block, 2, -loss(at), shape < 1.0)


def mixture(events: Floats, from_h: float = 0.0) -> FamilyFit:
    """Two lognormal parts; the best of four starts that split the ordered events."""
    from scipy.special import expit, log_ndtr

    logs = np.sort(np.log(events))
    edge = float(np.ptp(logs)) + 1.0
    middle, width = (logs[0] - edge, logs[-1] + edge), (np.log(LEAST_SPREAD), np.log(edge))

    def loss(x: Floats) -> float:
        share, spread = np.log(expit([x[0], -x[0]])), np.exp(x[3:])
        each = [share[i] + _log_density(logs, x[1 + i], spread[i]) for i in (0, 1)]
        total = np.logaddexp(*each).sum()
        if from_h:
            lasts = share + log_ndtr(-(np.log(from_h) - x[1:3]) / spread)
            total -= logs.size * np.logaddexp(*lasts)
        return -float(total)

    starts = []
    for split in (0.3, 0.5, 0.7, 0.85):
        at = min(max(2, round(split * logs.size)), logs.size - 2)
        low, high = logs[:at], logs[at:]
        spreads = [np.log(max(part.std(), 2.0 * LEAST_SPREAD)) for part in (low, high)]
        starts.append(np.array([np.log(split / (1.0 - split)), low.mean(), high.mean(), *spreads]))
    span = ((-6.0, 6.0), middle, middle, width, width)
    best = min((_lowest(loss, x, span) for x in starts), key=loss)
    share = float(expit(best[0]))
    pairs = sorted([(best[1], best[3], share), (best[2], best[4], 1.0 - share)], key=lambda part: part[0])
    parts = [
        DurationPart(share_frac=float(s), median_h=float(np.exp(c)), spread=float(np.exp(w)))
        for c, w, s in pairs
    ]
    block = Duration(kind="mixture", parts=parts, at_least_h=from_h or None)
    return FamilyFit("mixture", block, 5, -loss(best), True)


def _lowest(loss: Callable[[Floats], float], start: Floats, span: tuple[tuple[float, float], ...]) -> Floats:
    """Where a loss is lowest inside its bounds."""
    from scipy.optimize import minimize

    inside = np.clip(start, *np.array(span).T)
    return np.asarray(minimize(loss, inside, bounds=span, method="L-BFGS-B").x)
