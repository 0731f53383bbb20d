"""How often, when and how long the grid is down, and what fails with it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from kit.study.part import Frac, NonNegative, Part, Positive

Family = Literal["best", "exponential", "lognormal", "weibull", "mixture"]
WHOLE = 1e-6  # by how much shares that make up a whole may miss 1


class DurationPart(Part):
    """One part of a mixture: a share of events, lognormal in length."""

    share_frac: Frac
    median_h: Positive
    spread: Positive


class Percentile(Part):
    """`over_frac` of the events are over `within_h` after they began: 0.5 within 90 min."""

    over_frac: Annotated[float, Field(gt=0, lt=1)]
    within_h: Positive


class Duration(Part):
    """Distribution of how long an event lasts; capped at the record's horizon_h.

    fixed: always mean_h. exponential: mean mean_h. lognormal: spread (standard deviation of ln
    hours), and median_h or mean_h. weibull: shape, and median_h or mean_h. mixture: parts, each
    lognormal. log: the hours of real events, equally likely. fitted: a family fitted to the hours
    of real events by maximum likelihood. percentiles: a lognormal (or Weibull) through two points
    or near several. A class that takes its rate from indices or a log needs no length here.
    """

    kind: Literal["fixed", "exponential", "lognormal", "weibull", "mixture", "log", "fitted", "percentiles"]
    mean_h: Positive | None = None
    median_h: Positive | None = None
    spread: Positive | None = None
    shape: Positive | None = None
    parts: Annotated[list[DurationPart], Field(min_length=2, max_length=6)] | None = None
    events_h: list[Positive] | None = None
    family: Family | None = None
    percentiles: Annotated[list[Percentile], Field(min_length=2)] | None = None
    at_least_h: Positive | None = None  # no event of the kind is shorter: the law given that length

    @model_validator(mode="after")
    def _needs(self) -> Duration:
        """What a kind must have, and what it may have beside it."""
        must: dict[str, set[str]] = {
            "lognormal": {"spread"},
            "weibull": {"shape"},
            "mixture": {"parts"},
            "percentiles": {"percentiles"},
        }
        length = {
            "fixed": {"mean_h"},
            "exponential": {"mean_h"},
            "lognormal": {"median_h", "mean_h"},
            "weibull": {"median_h", "mean_h"},
            "log": {"events_h"},
            "fitted": {"events_h"},
        }.get(self.kind, set())
        also = {"family"} if self.kind in ("fitted", "percentiles") else set()
        also |= {"at_least_h"} if self.kind not in ("fixed", "log", "percentiles") else set()
        given = {
            name for name in type(self).model_fields if name != "kind" and getattr(self, name) is not None
        }
        need = must.get(self.kind, set())
        if not need <= given <= need | length | also or len(given & length) > 1:
            said = " and ".join([" or ".join(sorted(length, reverse=True))] * bool(length) + sorted(need))
            raise ValueError(f"kind {self.kind} takes exactly {said}, got {sorted(given - also)}")
        if self.kind == "percentiles" and self.family not in (None, "lognormal", "weibull"):
            raise ValueError("percentiles give a lognormal or a weibull")
        _check_parts(self.parts)
        _check_percentiles(self.percentiles)
        return self

    @property
    def has_length(self) -> bool:
        """Whether the block says how long events last, without indices or a log."""
        if self.kind in ("mixture", "percentiles"):
            return True
        return any(v is not None for v in (self.mean_h, self.median_h, self.events_h))


def _check_parts(parts: list[DurationPart] | None) -> None:
    whole = sum(part.share_frac for part in parts or ())
    if parts and abs(whole - 1.0) > WHOLE:
        raise ValueError(f"share_frac of the parts must add up to 1, got {whole:g}")


def _check_percentiles(points: list[Percentile] | None) -> None:
    for before, after in zip(points or (), (points or ())[1:], strict=False):
        if after.over_frac <= before.over_frac or after.within_h <= before.within_h:
            raise ValueError("percentiles must rise, in over_frac and in within_h")


class IndexSet(Part):
    """Reliability indices of an average customer; two of the three, the third follows (IEEE Std 1366)."""

    saifi_per_year: NonNegative | None = None  # sustained interruptions
    saidi_h_per_year: NonNegative | None = None  # write saidi_min_per_year as utilities print it
    caidi_h: Positive | None = None

    @model_validator(mode="after")
    def _two(self) -> IndexSet:
        given = [v is not None for v in (self.saifi_per_year, self.saidi_h_per_year, self.caidi_h)]
        if sum(given) < 2:
            raise ValueError("give two of saifi_per_year, saidi_min_per_year (or _h) and caidi_min (or _h)")
        count, hours, mean_h = self.figures
        if all(given) and abs(count * mean_h - hours) > 0.01 * hours + 1e-9:
            raise ValueError(
                f"CAIDI x SAIFI = {count * mean_h:.4g} h is not SAIDI {hours:.4g} h: "
                "CAIDI = SAIDI / SAIFI (IEEE Std 1366)"
            )
        if count == 0.0 and hours > 0.0:
            raise ValueError(f"{60.0 * hours:g} minutes a year but no interruption: check SAIFI")
        return self

    @property
    def figures(self) -> tuple[float, float, float]:
        """SAIFI [1/year], SAIDI [h/year], CAIDI [h]."""
        count, hours, mean_h = self.saifi_per_year, self.saidi_h_per_year, self.caidi_h
        if count is None:
            count = (hours or 0.0) / (mean_h or 1.0)
        if hours is None:
            hours = count * (mean_h or 0.0)
        return count, hours, mean_h if mean_h is not None else (hours / count if count else 0.0)


class DailyReliability(Part):
    """Daily SAIDI and SAIFI of a utility, told apart by its 2.5-beta threshold (IEEE Std 1366).

    CSV: date, saidi_min, saifi; or date, customer_minutes, customers_interrupted, with customers_served.
    """

    file: str
    customers_served: Positive | None = None
    deviation: Literal["sample", "population"] = "sample"  # divides by n - 1, or by n


class ServiceIndices(Part):
    """A utility's indices with and without major event days; the major part is the difference."""

    all_events: IndexSet | None = None
    without_major: IndexSet | None = None
    daily: DailyReliability | None = None

    @model_validator(mode="after")
    def _one_way(self) -> ServiceIndices:
        printed = self.all_events is not None or self.without_major is not None
        if printed == (self.daily is not None):
            raise ValueError("give all_events and without_major (either may be absent), or daily")
        if self.all_events and self.without_major:
            whole, routine = self.all_events.figures, self.without_major.figures
            if routine[0] > whole[0] or routine[1] > whole[1]:
                raise ValueError("indices without major event days are above those with all events: swapped?")
        return self


class OutageLog(Part):
    """A household's own log: CSV with columns start and end, ISO 8601.

    Without an offset from UTC, times are on the local clock of `time_zone`. The time the log
    covers is `years`, or from_date to to_date, that day included.
    """

    file: str
    years: Positive | None = None
    from_date: str | None = None
    to_date: str | None = None
    time_zone: str | None = None
    at_least_h: NonNegative = 0.0  # this class takes the log's outages from here
    below_h: Positive | None = None  # up to here, not included
    sustained_above_min: NonNegative = 5.0  # shorter ones are momentary (IEEE Std 1366)

    @model_validator(mode="after")
    def _covers(self) -> OutageLog:
        from datetime import date

        if (self.years is None) != (self.from_date is not None and self.to_date is not None):
            raise ValueError(
                "say what time the log covers: `years`, or `from_date` and `to_date`; "
                "a log without outages also says something"
            )
        try:
            first, last = (date.fromisoformat(d) if d else None for d in (self.from_date, self.to_date))
        except ValueError:
            raise ValueError("from_date and to_date are written 2021-01-31") from None
        if first and last and last < first:
            raise ValueError(f"to_date {last} is before from_date {first}")
        if self.below_h is not None and self.below_h <= self.at_least_h:
            raise ValueError(f"below_h {self.below_h:g} must be above at_least_h {self.at_least_h:g}")
        return self


class OutageClass(Part):
    """One kind of event: routine or major. Attributes fail WITH the grid, once for all options."""

    events_per_year: NonNegative | None = None  # or from_indices, or log
    duration: Duration | None = None
    from_indices: Literal["routine", "major", "all"] | None = None
    log: OutageLog | None = None
    month_weights: Annotated[list[NonNegative], Field(min_length=12, max_length=12)] | None = None
    hour_weights: Annotated[list[NonNegative], Field(min_length=24, max_length=24)] | None = None
    starts_below_c: float | None = None  # starts only in hours colder than this (ice, frozen rain)
    solar_frac_by_day: Annotated[list[Frac], Field(min_length=1)] = [1.0]  # day 1, 2, ...; last repeats
    gas_out_frac: Frac = 0.0  # chance that pipeline gas is out for the whole event
    attended_frac: Frac = 1.0  # chance that someone is at home for the event
    resupply_delay_h: NonNegative = 24.0  # no fuel to be had before
    followed_frac: Frac = 0.0  # chance that another event of the kind follows (wires that keep failing)
    followed_after_h: Positive = 12.0  # power is back at least this long in between
    followed_within_h: Positive | None = None  # and at most this long, evenly; default: exactly
    forewarned_frac: Frac = 0.0  # share of events that are forecast, so that reserves are raised
    forewarned_h: NonNegative = 0.0  # this long before they begin
    false_alarms_per_event: NonNegative = 0.0  # warnings that come to nothing, for each event forecast

    @model_validator(mode="after")
    def _sources(self) -> OutageClass:
        taken = self.from_indices is not None or self.log is not None
        if self.from_indices is not None and self.log is not None:
            raise ValueError("a class takes its rate from_indices or from a log, not both")
        if not taken and self.events_per_year is None:
            raise ValueError("events_per_year is missing (or give from_indices, or a log)")
        if self.duration is None:
            if self.log is None:
                raise ValueError("duration is missing: indices tell a mean, not a shape")
        elif not taken and not self.duration.has_length:
            raise ValueError(f"duration of kind {self.duration.kind} says no length")
        elif taken and self.duration.has_length and self.from_indices is not None:
            raise ValueError("the mean length comes from the indices: leave mean_h and median_h out")
        elif self.from_indices is not None and self.duration.kind in ("log", "fitted"):
            raise ValueError(f"kind {self.duration.kind} needs events, which indices do not hold")
        elif (
            self.log is not None
            and not self.duration.has_length
            and self.duration.kind not in ("log", "fitted")
        ):
            raise ValueError(
                f"duration of kind {self.duration.kind} says no length: kind fitted takes the log's"
            )
        cut = self.log is not None and self.log.below_h is not None
        if cut and self.duration is not None and self.duration.kind == "fitted":
            raise ValueError("a fit would run past below_h: outages below a length take kind log")
        if self.followed_within_h is not None and self.followed_within_h < self.followed_after_h:
            raise ValueError("followed_within_h is below followed_after_h")
        if self.forewarned_frac > 0.0 and self.forewarned_h == 0.0:
            raise ValueError("forewarned_frac needs forewarned_h: how long before")
        return self


class KnownClass(OutageClass):
    """A class whose rate and length are plain numbers; made by kit.grid.known."""

    events_per_year: NonNegative
    duration: Duration


class OutageRecord(Part):
    """The outage record of a place."""

    name: str = ""
    horizon_h: Annotated[float, Field(gt=0, le=1440)] = 336.0
    blinks_per_year: NonNegative = 0.0  # momentary interruptions
    indices: ServiceIndices | None = None
    classes: Annotated[dict[str, OutageClass], Field(min_length=1)]

    @model_validator(mode="after")
    def _once(self) -> OutageRecord:
        takes = [c.from_indices for c in self.classes.values() if c.from_indices is not None]
        if takes and self.indices is None:
            raise ValueError("a class says from_indices but the record has no block `indices`")
        if len(set(takes)) < len(takes) or ("all" in takes and len(takes) > 1):
            raise ValueError("routine and major events are part of `all`: no part may be taken twice")
        if self.indices is not None and self.indices.daily is None:
            for take in takes:
                need = {"routine": ("without_major",), "all": ("all_events",)}.get(
                    take, ("all_events", "without_major")
                )
                if any(getattr(self.indices, name) is None for name in need):
                    raise ValueError(f"from_indices: {take} needs indices.{' and indices.'.join(need)}")
        return self
