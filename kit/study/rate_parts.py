"""Blocks of a rate plan: energy periods and tiers, demand charges, riders, taxes, export, events."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, model_validator

from kit.calendar import parse_hours
from kit.study.holiday_days import public_holidays
from kit.study.part import Frac, NonNegative, Part, Positive
from kit.study.rate_days import DayText, rising_problem

Slug = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]
Month = Annotated[int, Field(ge=1, le=12)]
Days = Literal["all", "weekday", "weekend", "holiday", "weekend_and_holiday"]
Hours = tuple[tuple[float, float], ...]
_SAMPLE_YEARS = (2011, 2017, 2023, 2025, 2029)  # whose holidays a name is looked for in


def holds_on(days: Days, day_class: str) -> bool:
    """Whether a block for `days` holds on a day of a class: weekday, weekend or holiday."""
    return days in ("all", day_class) or (days == "weekend_and_holiday" and day_class != "weekday")


class Tier(Part):
    """One block of kWh. Limits count from zero, per bill or per day of the bill; the last has none."""

    up_to_kwh_per_month: Positive | None = None
    up_to_kwh_per_day: Positive | None = None
    price_usd_per_kwh: float


class EnergyPeriod(Part):
    """One period of the plan: when it holds and what a kWh costs in it.

    `hours` is local clock text ('16-21', '22-6' wraps midnight) or 'rest': every hour of its seasons
    and days that no other period takes. `weekend_hours` differs from `hours` where given, and holds on
    holidays too.
    """

    seasons: list[Slug] | None = None  # default: all
    days: Days = "all"
    hours: str = "0-24"
    weekend_hours: str | None = None
    price_usd_per_kwh: float | None = None  # an adder where the plan itself has tiers
    tiers: Annotated[list[Tier], Field(min_length=1)] | None = None  # over this period's kWh of the bill

    @model_validator(mode="after")
    def _shape(self) -> EnergyPeriod:
        if self.price_usd_per_kwh is not None and self.tiers is not None:
            raise ValueError("give price_usd_per_kwh or tiers, not both")
        if self.weekend_hours is not None and (self.days != "all" or self.hours == "rest"):
            raise ValueError("weekend_hours goes with days: all and hours that are not rest")
        for text in (self.hours, self.weekend_hours):
            if text is not None and text != "rest":
                parse_hours(text)
        if self.weekend_hours == "rest":
            raise ValueError("weekend_hours takes hours; `rest` is written in hours")
        if self.tiers is not None:
            check_tiers("tiers", self.tiers)
        return self

    def windows(self, day_class: str) -> Hours | None:
        """Hours of one day class, sorted and inside 0 to 24; None where this period is the rest."""
        if not holds_on(self.days, day_class):
            return ()
        if self.hours == "rest":
            return None
        text = self.hours if day_class == "weekday" or self.weekend_hours is None else self.weekend_hours
        return parse_hours(text)


class Ratchet(Part):
    """A demand charge is never read below `frac` of the highest demand of the bills before.

    `before_kw`: highest demand of the year before; where absent the year before was like this one.
    """

    frac: Frac
    months_back: Annotated[int, Field(ge=1, le=12)] = 11
    seasons: list[Slug] | None = None  # only bills that begin in these seasons set the ratchet
    before_kw: NonNegative | None = None


class DemandCharge(Part):
    """A price on the bill's highest mean import kW inside its hours (a step counts if half is inside)."""

    seasons: list[Slug] | None = None
    days: Days = "all"
    hours: str = "0-24"
    weekend_hours: str | None = None
    price_usd_per_kw: NonNegative
    interval_min: Literal[15, 30, 60] = 60
    free_kw: NonNegative = 0.0  # the first kW cost nothing
    ratchet: Ratchet | None = None

    @model_validator(mode="after")
    def _shape(self) -> DemandCharge:
        if self.weekend_hours is not None and self.days != "all":
            raise ValueError("weekend_hours goes with days: all")
        if not parse_hours(self.hours) and not parse_hours(self.weekend_hours or ""):
            raise ValueError("the demand charge has no hours: no demand would ever be read")
        if self.seasons == []:
            raise ValueError("the demand charge has no season: no demand would ever be read")
        return self

    def windows(self, day_class: str) -> Hours:
        """Hours of one day class, sorted and inside 0 to 24."""
        text = self.hours if day_class == "weekday" or self.weekend_hours is None else self.weekend_hours
        return parse_hours(text) if holds_on(self.days, day_class) else ()


class Rider(Part):
    """A line per kWh on top of energy; negative for a credit.

    `counts: billed` follows the kWh the energy lines bill (net of export under net metering),
    `counts: import` all kWh drawn from the grid.
    """

    price_usd_per_kwh: float
    counts: Literal["billed", "import"] = "billed"
    seasons: list[Slug] | None = None  # a bill over a change of season is shared by days


class Tax(Part):
    """A percentage line, never negative. `of: subtotal` counts the export credit, `charges` does not.

    `with_lines_before`: the percentage lines named before this one are in its base as well.
    """

    frac: Frac
    of: Literal["subtotal", "charges", "energy", "demand", "fixed"] = "subtotal"
    with_lines_before: bool = False


class Export(Part):
    """What exported kWh earn.

    net_metering: import less export of the bill, by period, at the retail price of the period.
    net_billing: all import is billed, export earns its own price.
    `leftover` says what becomes of credit that the bill cannot use: `carried_kwh` to the same
    period of later bills (net metering only), `carried_usd` to later bills, `lost`, `paid_usd`, or
    `settled_yearly`: energy and its credits of twelve bills are added up and due at once in
    `true_up_month`, other charges bill by bill. What is still carried after `true_up_month` is lost;
    year_end_usd_per_kwh pays the kWh carried, or under settled_yearly the year's net surplus kWh.
    `offsets: energy` keeps fixed and demand charges out of reach of the credit, `offsets_up_to_frac`
    lets it cover no more than that share of what it reaches. `earns_up_to_...`: export beyond the
    limit of a bill earns nothing. A credit that is not paid out never takes a bill below the minimum.
    """

    kind: Literal["none", "net_metering", "net_billing"] = "none"
    price_usd_per_kwh: NonNegative | None = None
    period_price_usd_per_kwh: dict[Slug, NonNegative] | None = None
    price_from_series: bool = False  # the series' export column, its import column where it has none
    leftover: Literal["carried_kwh", "carried_usd", "lost", "paid_usd", "settled_yearly"] = "carried_usd"
    offsets: Literal["all", "energy"] = "all"
    offsets_up_to_frac: Frac = 1.0
    earns_up_to_kwh_per_month: NonNegative | None = None
    earns_up_to_usd_per_month: NonNegative | None = None
    true_up_month: Month = 12
    year_end_usd_per_kwh: NonNegative = 0.0

    @model_validator(mode="after")
    def _shape(self) -> Export:
        given = (self.price_usd_per_kwh is not None) + (self.period_price_usd_per_kwh is not None)
        given += self.price_from_series
        if self.kind == "net_billing" and given != 1:
            raise ValueError(
                "net_billing takes one of price_usd_per_kwh, period_price_usd_per_kwh, price_from_series"
            )
        if self.kind != "net_billing" and given:
            raise ValueError(f"kind {self.kind} takes no export price: only net_billing has one")
        if self.leftover == "carried_kwh" and self.kind != "net_metering":
            raise ValueError("leftover carried_kwh goes with net_metering only")
        if self.year_end_usd_per_kwh and self.leftover not in ("carried_kwh", "settled_yearly"):
            raise ValueError("year_end_usd_per_kwh goes with leftover carried_kwh or settled_yearly only")
        self._limits()
        return self

    def _limits(self) -> None:
        limited = self.earns_up_to_kwh_per_month is not None or self.earns_up_to_usd_per_month is not None
        if limited and self.kind != "net_billing":
            raise ValueError("earns_up_to_kwh_per_month and earns_up_to_usd_per_month go with net_billing")
        if self.leftover == "settled_yearly" and self.offsets != "energy":
            raise ValueError("settled_yearly settles energy alone: write offsets: energy")
        if self.offsets_up_to_frac < 1 and self.leftover not in ("carried_usd", "lost"):
            raise ValueError("offsets_up_to_frac goes with leftover carried_usd or lost")


class Holidays(Part):
    """Public holidays by country and subdivision code (ISO 3166), as the holidays library lists them.

    `only` keeps those whose English name begins so; `also` adds days. They count as weekend, or as a
    class of day of their own, which periods name as `holiday`.
    """

    country: Annotated[str, Field(pattern=r"^[A-Z]{2}$")]
    subdivision: str | None = None
    only: Annotated[list[str], Field(min_length=1)] | None = None
    also: list[DayText] = []
    count_as: Literal["weekend", "holiday"] = "weekend"

    @model_validator(mode="after")
    def _known(self) -> Holidays:
        named = public_holidays(self.country, self.subdivision, tuple(_SAMPLE_YEARS))
        if self.only is not None:
            names = sorted({part.strip() for _, text in named for part in text.split(";")})
            for start in self.only:
                if not any(name.startswith(start) for name in names):
                    raise ValueError(
                        f"no holiday of {self.country} begins with {start!r}: {', '.join(names)}"
                    )
        return self


class CriticalPeak(Part):
    """Event hours on named days: a price in place of the period's, or an adder on top of it.

    kWh at a price of their own leave the plan's tiers; an adder leaves them where they are.
    """

    dates: Annotated[list[DayText], Field(min_length=1)]
    hours: str
    price_usd_per_kwh: NonNegative | None = None
    adder_usd_per_kwh: NonNegative | None = None

    @model_validator(mode="after")
    def _shape(self) -> CriticalPeak:
        if not parse_hours(self.hours):
            raise ValueError("the event has no hours")
        if (self.price_usd_per_kwh is None) == (self.adder_usd_per_kwh is None):
            raise ValueError("give one of price_usd_per_kwh (in place) or adder_usd_per_kwh (on top)")
        if len(set(self.dates)) < len(self.dates):
            raise ValueError("dates: a day is named twice")
        return self


class PriceSeries(Part):
    """A price a step from a CSV file, added to the plan's energy prices.

    Columns: `start` (ISO 8601; an offset such as -05:00, or local clock time), import_usd_per_kwh and,
    if need be, export_usd_per_kwh. `multiply_by` scales both.
    """

    file: str
    multiply_by: Positive = 1.0


class BillingCycle(Part):
    """Bills that are no calendar months: the day of every month on which one begins, or twelve days.

    A bill is named after the month of its last day. The days after the last bill of December begin are
    billed with the first days of January: the year before was like this one.
    """

    begins_on_day: Annotated[int, Field(ge=1, le=28)] | None = None
    begins_on: list[DayText] | None = None

    @model_validator(mode="after")
    def _shape(self) -> BillingCycle:
        if (self.begins_on_day is None) == (self.begins_on is None):
            raise ValueError("give one of begins_on_day (such as 17) or begins_on (twelve days)")
        wrong = rising_problem(self.begins_on) if self.begins_on is not None else ""
        if wrong:
            raise ValueError(f"begins_on: {wrong}")
        return self


def check_tiers(where: str, tiers: list[Tier]) -> None:
    """Refuse limits that do not rise, mix months and days, or leave the last tier closed."""
    per_month = [t.up_to_kwh_per_month for t in tiers[:-1]]
    per_day = [t.up_to_kwh_per_day for t in tiers[:-1]]
    if tiers[-1].up_to_kwh_per_month is not None or tiers[-1].up_to_kwh_per_day is not None:
        raise ValueError(f"{where}: the last tier has no limit")
    if any(m is not None for m in per_month) and any(d is not None for d in per_day):
        raise ValueError(f"{where}: limits are all per month or all per day")
    limits = per_day if any(d is not None for d in per_day) else per_month
    numbers = [v for v in limits if v is not None]
    if len(numbers) != len(limits):
        raise ValueError(f"{where}: every tier but the last needs up_to_kwh_per_month or up_to_kwh_per_day")
    if any(b <= a for a, b in pairwise(numbers)):
        raise ValueError(f"{where}: limits must rise, got {', '.join(f'{v:g}' for v in numbers)}")
