"""Distributions of hours: chance of lasting, mean within a cap, and hours at a share, each in closed form.

Limited expected values: Klugman, Panjer & Willmot, Loss Models, App. A (from memory; the tests
integrate the chance of lasting numerically).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import erfc, sqrt
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.study.outage_models import Duration

    Floats = NDArray[np.float64]

SQRT_HALF = sqrt(0.5)
HALVINGS = 60  # of the bracket in which a mixture's hours are found


@dataclass(frozen=True, eq=False)
class Shape:
    """Three views of one distribution of hours, before any cap."""

    exceeds_frac: Callable[[Floats], Floats]  # chance of lasting AT LEAST h
    mean_within_h: Callable[[Floats], Floats]  # mean of min(D, h), the integral of survival to h
    hours_at: Callable[[Floats], Floats]  # the hours that a share of events stays below


def shape_of(duration: Duration) -> Shape:
    """The distribution that a block describes; a fit or percentiles are solved first.

    Raises:
        ValueError: a length that is missing or not above 0, events that cannot be fitted.
    """
    d = duration
    if d.at_least_h is not None and d.kind != "fitted":
        return _given(shape_of(d.model_copy(update={"at_least_h": None})), d.at_least_h)
    if d.kind == "fixed":
        return _fixed(_above_zero("mean_h", d.mean_h))
    if d.kind == "exponential":
        return _exponential(_above_zero("mean_h", d.mean_h))
    if d.kind == "lognormal":
        spread = _above_zero("spread", d.spread)
        return _lognormal(_median_h(d, np.exp(0.5 * spread**2)), spread)
    if d.kind == "weibull":
        from scipy.special import gamma

        shape = _above_zero("shape", d.shape)
        return _weibull(_median_h(d, gamma(1.0 + 1.0 / shape) / np.log(2.0) ** (1.0 / shape)), shape)
    if d.kind == "mixture":
        parts = d.parts or []
        inner = [_lognormal(part.median_h, part.spread) for part in parts]
        return _mixture(np.array([part.share_frac for part in parts]), inner)
    if d.kind in ("fitted", "percentiles"):
        from kit.grid.duration_fits import solved

        return shape_of(solved(d))
    hours = np.sort(np.array([_above_zero("events_h", h) for h in d.events_h or ()]))
    if not len(hours):
        raise ValueError("events_h names no event")
    return _log(hours)


def _above_zero(name: str, value: float | None) -> float:
    if value is None or not value > 0.0:
        raise ValueError(f"{name} must be above 0, got {value}")
    return float(value)


def _median_h(d: Duration, mean_over_median: float) -> float:
    if d.median_h is None and d.mean_h is not None:
        return _above_zero("mean_h", d.mean_h) / float(mean_over_median)
    return _above_zero("median_h", d.median_h)


def _fixed(mean_h: float) -> Shape:
    return Shape(
        exceeds_frac=lambda h: np.where(h <= mean_h, 1.0, 0.0),
        mean_within_h=lambda h: np.minimum(h, mean_h),
        hours_at=lambda frac: np.full_like(frac, mean_h),
    )


def _exponential(mean_h: float) -> Shape:
    return Shape(
        exceeds_frac=lambda h: np.exp(-h / mean_h),
        mean_within_h=lambda h: -mean_h * np.expm1(-h / mean_h),
        hours_at=lambda frac: -mean_h * np.log1p(-frac),
    )


def _normal_below_frac(z: Floats) -> Floats:
    """Chance that a standard normal variable stays below z, same shape.

    By the C library's erfc, value by value: of scipy, whose ndtr agrees to 1e-14, the import alone takes
    a third of a second. Ask for few values, not one a start of the year.
    """
    return 0.5 * np.array([erfc(x) for x in (-SQRT_HALF * z).ravel().tolist()]).reshape(z.shape)


def _lognormal(median_h: float, spread: float) -> Shape:
    def z(h: Floats) -> Floats:
        return np.asarray(np.log(h / median_h) / spread)

    def mean_within_h(h: Floats) -> Floats:
        whole_mean_h = median_h * np.exp(0.5 * spread**2)
        below_frac = _normal_below_frac(z(h) - spread)
        return np.asarray(whole_mean_h * below_frac + h * _normal_below_frac(-z(h)))

    def hours_at(frac: Floats) -> Floats:
        from scipy.special import ndtri

        return np.asarray(median_h * np.exp(spread * ndtri(frac)))

    return Shape(
        exceeds_frac=lambda h: _normal_below_frac(-z(h)), mean_within_h=mean_within_h, hours_at=hours_at
    )


def _weibull(median_h: float, shape: float) -> Shape:
    from scipy.special import gamma, gammainc

    scale_h = median_h / np.log(2.0) ** (1.0 / shape)
    order = 1.0 + 1.0 / shape

    def mean_within_h(h: Floats) -> Floats:
        reach = (h / scale_h) ** shape
        return np.asarray(scale_h * gamma(order) * gammainc(order, reach) + h * np.exp(-reach))

    return Shape(
        exceeds_frac=lambda h: np.exp(-((h / scale_h) ** shape)),
        mean_within_h=mean_within_h,
        hours_at=lambda frac: scale_h * (-np.log1p(-frac)) ** (1.0 / shape),
    )


def _mixture(share_frac: Floats, parts: list[Shape]) -> Shape:
    """Shares of events of several shapes; the hours at a share by halving a bracket of their logarithms."""

    def exceeds_frac(h: Floats) -> Floats:
        return np.asarray(sum(w * p.exceeds_frac(h) for w, p in zip(share_frac, parts, strict=True)))

    def hours_at(frac: Floats) -> Floats:
        inside = np.clip(frac, 1e-12, 1.0 - 1e-12)
        each = np.log([p.hours_at(inside) for p in parts])
        low, high = each.min(axis=0), each.max(axis=0)
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            below = 1.0 - exceeds_frac(np.exp(middle)) < inside
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        return np.asarray(np.exp(0.5 * (low + high)))

    return Shape(
        exceeds_frac=exceeds_frac,
        mean_within_h=lambda h: np.asarray(
            sum(w * p.mean_within_h(h) for w, p in zip(share_frac, parts, strict=True))
        ),
        hours_at=hours_at,
    )


def _given(shape: Shape, at_least_h: float) -> Shape:
    """The distribution of those events that last at least so long."""
    edge = np.array([at_least_h])
    left, before_h = float(shape.exceeds_frac(edge)[0]), float(shape.mean_within_h(edge)[0])
    if not left > 0.0:
        raise ValueError(f"at_least_h {at_least_h:g}: no event lasts so long")

    def mean_within_h(h: Floats) -> Floats:
        beyond = (shape.mean_within_h(np.maximum(h, at_least_h)) - before_h) / left
        return np.asarray(np.minimum(h, at_least_h) + beyond)

    return Shape(
        exceeds_frac=lambda h: np.asarray(shape.exceeds_frac(np.maximum(h, at_least_h)) / left),
        mean_within_h=mean_within_h,
        hours_at=lambda frac: np.asarray(shape.hours_at(1.0 - (1.0 - frac) * left)),
    )


def _log(events_h: Floats) -> Shape:
    count = len(events_h)

    def mean_within_h(h: Floats) -> Floats:
        return np.asarray(np.minimum(h[:, None], events_h[None, :]).mean(axis=1))

    return Shape(
        exceeds_frac=lambda h: np.asarray(1.0 - np.searchsorted(events_h, h, side="left") / count),
        mean_within_h=mean_within_h,
        hours_at=lambda frac: events_h[np.minimum((frac * count).astype(int), count - 1)],
    )
