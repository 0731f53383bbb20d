"""The base of every parameter block, and the number types they share."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field


class Part(BaseModel):
    """A frozen block: unknown keys, text for numbers and non-finite numbers are refused."""

    model_config = ConfigDict(
        defer_build=True, extra="forbid", allow_inf_nan=False, frozen=True, strict=True, populate_by_name=True
    )


Positive = Annotated[float, Field(gt=0)]
NonNegative = Annotated[float, Field(ge=0)]
Frac = Annotated[float, Field(ge=0, le=1)]
Count = Annotated[int, Field(ge=1, le=1000)]
