"""How often the grid fails, when in the year, and for how long.

Durations are continuous hours. A record's horizon caps them: an event that would last longer is
counted as lasting to the horizon, and a finding says how many do.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from kit.grid.duration_shapes import shape_of
from kit.grid.known import known_classes

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from kit.calendar import Year
    from kit.study.outage_models import Duration, OutageClass, OutageRecord

    Floats = NDArray[np.float64]


class DurationLaw:
    """How long an event of one class lasts, capped at the horizon.

    Args:
        duration: kind and parameters (kit.study.outage_models.Duration); fits are solved here.
        horizon_h: the cap [h].
    """

    def __init__(self, duration: Duration, horizon_h: float) -> None:
        self.horizon_h = float(horizon_h)
        if not self.horizon_h > 0.0:
            raise ValueError(f"horizon_h must be above 0, got {horizon_h:g}")
        self._shape = shape_of(duration)

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

    def mean_within_h(self, hours: ArrayLike) -> Floats:
        """Mean of min(D, hours), the integral of the chance of lasting up to there, same shape [h]."""
        inside = np.clip(np.asarray(hours, dtype=np.float64), 0.0, self.horizon_h)
        within = self._shape.mean_within_h(np.maximum(inside, 1e-300).ravel()).reshape(inside.shape)
        return np.asarray(np.where(inside > 0.0, within, 0.0))

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


def start_weights(outage_class: OutageClass, year: Year, temperature_c: ArrayLike | None = None) -> Floats:
    """Chance that an event of this class starts in each step, shape (n,), adding to 1.

    month_weights are relative numbers of events in each month, hour_weights in each hour of the
    local clock; inside a month and clock hour every step is alike. starts_below_c leaves only the
    steps colder than that (temperature_c (n,) or one number); a month without one has no event and
    its share falls to the others. Without any of these, every step is alike.

    Raises:
        ValueError: weights that leave no step, starts_below_c without a temperature.
    """
    weights = np.ones(year.n)
    if outage_class.hour_weights is not None:
        by_hour = np.array(outage_class.hour_weights)
        if not by_hour.any():
            raise ValueError("hour_weights are all zero: no hour is left for an outage to start in")
        weights = by_hour[np.floor(year.hour).astype(int)]
    if outage_class.starts_below_c is not None:
        if temperature_c is None:
            raise ValueError("starts_below_c needs the temperature of the place: give the house weather")
        weights = weights * (np.asarray(temperature_c, dtype=np.float64) < outage_class.starts_below_c)
    if outage_class.month_weights is not None:
        by_month = np.array(outage_class.month_weights)
        if not by_month.any():
            raise ValueError("month_weights are all zero: no month is left for an outage to start in")
        in_month = np.bincount(year.month - 1, weights=weights, minlength=12)
        share = np.divide(by_month, in_month, out=np.zeros(12), where=in_month > 0.0)
        weights = weights * share[year.month - 1]
    if not weights.any():
        raise ValueError(
            f"no hour of the year is left for an outage to start in: starts_below_c "
            f"{outage_class.starts_below_c} leaves none in the months and hours named"
        )
    return np.asarray(weights / weights.sum())


def class_ride_weights(
    record: OutageRecord, year: Year, hours: float, temperature_c: ArrayLike | None = None
) -> dict[str, Floats]:
    """Weight of each class and start step among events that last at least `hours`, each (n,), adding to 1.

    w(class, s) is events_per_year x chance of starting in s x chance of lasting `hours`. Where no
    event of the record lasts so long, classes keep their share of all events, so that the question
    'and if one did' still has an answer; where the record has no events, classes count alike.
    """
    known = known_classes(record)
    laws = {slug: DurationLaw(c.duration, record.horizon_h) for slug, c in known.items()}
    rates = {slug: c.events_per_year for slug, c in known.items()}
    share = {slug: rate * float(laws[slug].lasts_frac(hours)) for slug, rate in rates.items()}
    if not any(share.values()):
        share = rates if any(rates.values()) else dict.fromkeys(rates, 1.0)
    whole = sum(share.values())
    return {slug: start_weights(c, year, temperature_c) * (share[slug] / whole) for slug, c in known.items()}


def ride_weights(
    record: OutageRecord, year: Year, hours: float, temperature_c: ArrayLike | None = None
) -> Floats:
    """Weight of each start step among events that last at least `hours`, shape (n,), adding to 1."""
    return np.asarray(np.sum(list(class_ride_weights(record, year, hours, temperature_c).values()), axis=0))


def outage_hours_per_year(record: OutageRecord) -> float:
    """Expected hours without grid in a year: sum of events a year times mean hours [h]."""
    known = known_classes(record).values()
    return sum(c.events_per_year * DurationLaw(c.duration, record.horizon_h).mean_h for c in known)


def interruptions_per_year(record: OutageRecord) -> float:
    """Interruptions felt in a year with nothing installed, momentary ones included."""
    return record.blinks_per_year + sum(c.events_per_year for c in known_classes(record).values())
