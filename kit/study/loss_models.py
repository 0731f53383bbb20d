"""What staying on is worth: published customer damage values, or losses of the household's own."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kit.study.part import NonNegative, Part, Positive

Month = Annotated[int, Field(ge=1, le=12)]


class DamageValues(Part):
    """Published damage of an average residential customer by length of outage, brought to today's prices.

    The table holds 2013 USD for up to 16 h (kit.account.lost_load). `deflator`: today's price level
    over that of 2013, with its source; without one the values are not used.
    """

    table: Literal["residential_2013"] = "residential_2013"
    deflator: Positive
    deflator_source: Annotated[str, Field(min_length=3)]


class EventLoss(Part):
    """One loss of one outage: `usd`, once `needs_load` has been without power for `after_h` on end.

    months: in which outages that begin there can do it (frozen pipes: 12, 1, 2).
    """

    name: Annotated[str, Field(min_length=1)]
    needs_load: str  # an appliance of the house
    after_h: NonNegative
    usd: NonNegative
    months: Annotated[list[Month], Field(min_length=1)] = list(range(1, 13))
