"""A programme in which the utility draws on a household's battery."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from kit.study.loss_models import Month
from kit.study.part import Frac, NonNegative, Part, Positive


class Programme(Part):
    """Income for power given at the utility's call, and what the calls leave in the battery.

    Calls fall on weekdays spread evenly over `months`, at `start_hour` on the local clock; each draws
    the battery down to `draws_to_frac` (its outage floor where absent). Paid is usd_per_kw_year for the
    kW delivered on average, at most enrolled_kw, while the contract runs.
    """

    name: str = ""
    usd_per_kw_year: NonNegative
    enrolled_kw: Positive | None = None  # default: the battery's continuous power
    events_per_year: Annotated[int, Field(ge=1, le=260)]
    event_h: Annotated[float, Field(gt=0, le=12)]
    start_hour: Annotated[float, Field(ge=0, lt=24)] = 17.0
    months: Annotated[list[Month], Field(min_length=1)] = [6, 7, 8, 9]
    draws_to_frac: Frac | None = None
    contract_years: Annotated[int, Field(ge=1, le=60)]

    @model_validator(mode="after")
    def _days(self) -> Programme:
        if len(set(self.months)) < len(self.months):
            raise ValueError("months names a month twice")
        if self.events_per_year > 20 * len(self.months):
            raise ValueError(
                f"{self.events_per_year} events do not fit on the weekdays of {len(self.months)} months"
            )
        return self
