"""How often the grid fails, when in the year, and for how long.

Durations are continuous hours. A record's horizon caps them: an event that would last longer is
counted as lasting to the horizon, and a finding says how many do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kit.study.finding import Finding

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from kit.calendar import Year
    from kit.study.outage_models import Duration, OutageClass, OutageRecord

    Floats = NDArray[np.float64]

CAP_WORTH_SAYING_FRAC = 1e-4


@dataclass(frozen=True, eq=False)
class _Shape:
    """Three views of one distribution of hours, before any cap."""

    exceeds_frac: Callable[[Floats], Floats]  # chance of lasting AT LEAST h
    mean_within_h: Callable[[Floats], Floats]  # mean of min(D, h), the integral of survival to h
    hours_at: Callable[[Floats], Floats]  # the hours that a share of events stays below


class DurationLaw:
    """How long an event of one class lasts, capped at the horizon.

    Args:
        duration: kind and parameters: fixed, exponential, lognormal (median and standard deviation
            of ln hours) or a log of real events, equally likely.
        horizon_h: the cap [h].
    """

    def __init__(self, duration: Duration, horizon_h: float) -> None:
        self.horizon_h = float(horizon_h)
        if not self.horizon_h > 0.0:
            raise ValueError(f"horizon_h must be above 0, got {horizon_h:g}")
        self._shape = _shape_of(duration)

    @property
    def mean_h(self) -> float:
        """Mean hours of an event, those beyond the horizon counted as the horizon [h]."""
        return float(self._shape.mean_within_h(np.array([self.horizon_h]))[0])

    @property
    def capped_frac(self) -> float:
        """Chance that an event would last longer than the horizon."""
        return float(self._shape.exceeds_frac(np.array([np.nextafter(self.horizon_h, np.inf)]))[0])

    def lasts_frac(self, hours: ArrayLike) -> Floats:
        """Chance that an event lasts at least `hours`, same shape; 0 beyond the horizon, 1 at 0 h."""
        h = np.asarray(hours, dtype=np.float64)
        inside = np.clip(h, 0.0, self.horizon_h)
        chance = np.where(inside > 0.0, self._shape.exceeds_frac(np.maximum(inside, 1e-300)), 1.0)
        return np.asarray(np.where(h > self.horizon_h, 0.0, chance))

    def step_hours(self, step_h: float) -> Floats:
        """Expected hours of the event inside each step counted from its start, shape (k,) [h].

        The exact integral of the chance of still lasting, over each step up to the horizon; the
        steps add up to mean_h whatever their length.
        """
        count = int(np.ceil(self.horizon_h / step_h - 1e-9))
        edges = np.minimum(np.arange(count + 1) * step_h, self.horizon_h)
        within = np.concatenate([[0.0], self._shape.mean_within_h(edges[1:])])
        return np.asarray(np.maximum(np.diff(within), 0.0))

    def hours_at(self, frac: ArrayLike) -> Floats:
        """Hours that a share of events stays below, for draws from uniform numbers in [0, 1) [h]."""
        share = np.asarray(frac, dtype=np.float64)
        return np.asarray(np.minimum(self._shape.hours_at(share), self.horizon_h))


def _shape_of(duration: Duration) -> _Shape:
    if duration.kind == "fixed":
        return _fixed(_above_zero("mean_h", duration.mean_h))
    if duration.kind == "exponential":
        return _exponential(_above_zero("mean_h", duration.mean_h))
    if duration.kind == "lognormal":
        return _lognormal(_above_zero("median_h", duration.median_h), _above_zero("spread", duration.spread))
    hours = np.sort(np.array([_above_zero("events_h", h) for h in duration.events_h or ()]))
    if not len(hours):
        raise ValueError("events_h names no event")
    return _log(hours)


def _above_zero(name: str, value: float | None) -> float:
    if value is None or not value > 0.0:
        raise ValueError(f"{name} must be above 0, got {value}")
    return float(value)


def _fixed(mean_h: float) -> _Shape:
    return _Shape(
        exceeds_frac=lambda h: np.where(h <= mean_h, 1.0, 0.0),
        mean_within_h=lambda h: np.minimum(h, mean_h),
        hours_at=lambda frac: np.full_like(frac, mean_h),
    )


def _exponential(mean_h: float) -> _Shape:
    return _Shape(
        exceeds_frac=lambda h: np.exp(-h / mean_h),
        mean_within_h=lambda h: -mean_h * np.expm1(-h / mean_h),
        hours_at=lambda frac: -mean_h * np.log1p(-frac),
    )


def _lognormal(median_h: float, spread: float) -> _Shape:
    """Limited expected value of a lognormal: Klugman, Panjer & Willmot, Loss Models, App. A (from memory)."""
    from scipy.special import ndtr, ndtri

    def z(h: Floats) -> Floats:
        return np.asarray(np.log(h / median_h) / spread)

    def mean_within_h(h: Floats) -> Floats:
        whole_mean_h = median_h * np.exp(0.5 * spread**2)
        return np.asarray(whole_mean_h * ndtr(z(h) - spread) + h * ndtr(-z(h)))

    return _Shape(
        exceeds_frac=lambda h: np.asarray(ndtr(-z(h))),
        mean_within_h=mean_within_h,
        hours_at=lambda frac: np.asarray(median_h * np.exp(spread * ndtri(frac))),
    )


def _log(events_h: Floats) -> _Shape:
    count = len(events_h)

    def mean_within_h(h: Floats) -> Floats:
        return np.asarray(np.minimum(h[:, None], events_h[None, :]).mean(axis=1))

    return _Shape(
        exceeds_frac=lambda h: np.asarray(1.0 - np.searchsorted(events_h, h, side="left") / count),
        mean_within_h=mean_within_h,
        hours_at=lambda frac: events_h[np.minimum((frac * count).astype(int), count - 1)],
    )


def start_weights(outage_class: OutageClass, year: Year) -> Floats:
    """Chance that an event of this class starts in each step, shape (n,), adding to 1.

    month_weights are relative numbers of events in each month, hour_weights in each hour of the
    local clock; inside a month and clock hour every step is alike. Without either, every step is.

    Raises:
        ValueError: weights that leave no step.
    """
    weights = np.ones(year.n)
    if outage_class.hour_weights is not None:
        by_hour = np.array(outage_class.hour_weights)
        if not by_hour.any():
            raise ValueError("hour_weights are all zero: no hour is left for an outage to start in")
        weights = by_hour[np.floor(year.hour).astype(int)]
    if outage_class.month_weights is not None:
        by_month = np.array(outage_class.month_weights)
        if not by_month.any():
            raise ValueError("month_weights are all zero: no month is left for an outage to start in")
        in_month = np.bincount(year.month - 1, weights=weights, minlength=12)
        weights = weights * (by_month / in_month)[year.month - 1]
    return np.asarray(weights / weights.sum())


def class_ride_weights(record: OutageRecord, year: Year, hours: float) -> dict[str, Floats]:
    """Weight of each class and start step among events that last at least `hours`, each (n,), adding to 1.

    w(class, s) is events_per_year x chance of starting in s x chance of lasting `hours`. Where no
    event of the record lasts so long, classes keep their share of all events, so that the question
    'and if one did' still has an answer; where the record has no events, classes count alike.
    """
    laws = {slug: DurationLaw(c.duration, record.horizon_h) for slug, c in record.classes.items()}
    rates = {slug: c.events_per_year for slug, c in record.classes.items()}
    share = {slug: rate * float(laws[slug].lasts_frac(hours)) for slug, rate in rates.items()}
    if not any(share.values()):
        share = rates if any(rates.values()) else dict.fromkeys(rates, 1.0)
    whole = sum(share.values())
    return {slug: start_weights(c, year) * (share[slug] / whole) for slug, c in record.classes.items()}


def ride_weights(record: OutageRecord, year: Year, hours: float) -> Floats:
    """Weight of each start step among events that last at least `hours`, shape (n,), adding to 1."""
    return np.asarray(np.sum(list(class_ride_weights(record, year, hours).values()), axis=0))


def outage_hours_per_year(record: OutageRecord) -> float:
    """Expected hours without grid in a year: sum of events a year times mean hours [h]."""
    return sum(
        c.events_per_year * DurationLaw(c.duration, record.horizon_h).mean_h for c in record.classes.values()
    )


def interruptions_per_year(record: OutageRecord) -> float:
    """Interruptions felt in a year with nothing installed, momentary ones included."""
    return record.blinks_per_year + sum(c.events_per_year for c in record.classes.values())


def outage_findings(record: OutageRecord) -> tuple[Finding, ...]:
    """Events cut at the horizon, and how rare each class is: a figure the household can contradict."""
    found = []
    for slug, c in record.classes.items():
        path = f"outages.classes.{slug}"
        law = DurationLaw(c.duration, record.horizon_h)
        if law.capped_frac >= CAP_WORTH_SAYING_FRAC:
            text = (
                f"{slug}: {100 * law.capped_frac:.2g} % of events would last beyond the horizon of "
                f"{record.horizon_h:g} h and are counted as that long; mean {law.mean_h:.1f} h"
            )
            found.append(Finding("outage_capped", None, f"{path}.duration", text))
        if c.events_per_year > 0.0:
            text = f"{slug}: {rate_text(c.events_per_year)}, {law.mean_h:.1f} h on average"
            found.append(
                Finding("outage_return_period", None, f"{path}.events_per_year", text, severity="note")
            )
    return tuple(found)


def rate_text(events_per_year: float) -> str:
    """0.326 as 'one event in 3.1 years', 2 as '2.0 events a year'."""
    if events_per_year >= 1.0:
        return f"{events_per_year:.1f} events a year"
    return f"one event in {1.0 / events_per_year:.1f} years"
