"""How often, when and how long the grid is down, and what fails with it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from kit.study.part import Frac, NonNegative, Part, Positive


class Duration(Part):
    """Distribution of how long an event lasts; capped at the record's horizon_h.

    fixed: always mean_h. exponential: mean mean_h. lognormal: median_h and spread
    (standard deviation of ln hours). log: the hours of real events, equally likely.
    """

    kind: Literal["fixed", "exponential", "lognormal", "log"]
    mean_h: Positive | None = None
    median_h: Positive | None = None
    spread: Positive | None = None
    events_h: list[Positive] | None = None

    @model_validator(mode="after")
    def _needs(self) -> Duration:
        need = {
            "fixed": {"mean_h"},
            "exponential": {"mean_h"},
            "lognormal": {"median_h", "spread"},
            "log": {"events_h"},
        }[self.kind]
        given = {k for k in ("mean_h", "median_h", "spread", "events_h") if getattr(self, k) is not None}
        if given != need:
            raise ValueError(
                f"kind {self.kind} takes exactly {' and '.join(sorted(need))}, got {sorted(given)}"
            )
        return self


class OutageClass(Part):
    """One kind of event: routine or major. Attributes fail WITH the grid, once for all options."""

    events_per_year: NonNegative
    duration: Duration
    month_weights: Annotated[list[NonNegative], Field(min_length=12, max_length=12)] | None = None
    hour_weights: Annotated[list[NonNegative], Field(min_length=24, max_length=24)] | None = None
    solar_frac_by_day: Annotated[list[Frac], Field(min_length=1)] = [1.0]  # day 1, 2, ...; last repeats
    gas_out_frac: Frac = 0.0  # chance that pipeline gas is out for the whole event
    attended_frac: Frac = 1.0  # chance that someone is at home for the event
    resupply_delay_h: NonNegative = 24.0  # no fuel to be had before
    followed_frac: Frac = 0.0  # chance that another event of the kind follows (wires that keep failing)
    followed_after_h: Positive = 12.0  # power is back this long in between


class OutageRecord(Part):
    """The outage record of a place."""

    name: str = ""
    horizon_h: Annotated[float, Field(gt=0, le=1440)] = 336.0
    blinks_per_year: NonNegative = 0.0  # momentary interruptions
    classes: Annotated[dict[str, OutageClass], Field(min_length=1)]
