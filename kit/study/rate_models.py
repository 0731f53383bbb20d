"""A residential rate plan: everything a monthly bill can hold.

Four shapes share one block: flat, time-of-use, tiers inside each period (`energy.<slug>.tiers`)
and tiers over all the month's kWh with time-of-use adders (`tiers` or `season_tiers` of the plan;
the periods' prices are then added on top). Every hour of every season has exactly one period.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, model_validator

from kit.calendar import parse_hours
from kit.study.part import Frac, NonNegative, Part, Positive
from kit.study.rate_hours import coverage_problems, month_problems

Slug = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]
Month = Annotated[int, Field(ge=1, le=12)]
Days = Literal["all", "weekday", "weekend"]
Hours = tuple[tuple[float, float], ...]


class Tier(Part):
    """One block of kWh. Limits count from zero, per month or per day of the month; the last has none."""

    up_to_kwh_per_month: Positive | None = None
    up_to_kwh_per_day: Positive | None = None
    price_usd_per_kwh: float


class EnergyPeriod(Part):
    """One period of the plan: when it holds and what a kWh costs in it.

    `hours` is local clock text ('16-21', '22-6' wraps midnight) or 'rest': every hour of its seasons
    and days that no other period takes. `weekend_hours` differs from `hours` where given.
    """

    seasons: list[Slug] | None = None  # default: all
    days: Days = "all"
    hours: str = "0-24"
    weekend_hours: str | None = None
    price_usd_per_kwh: float | None = None  # an adder where the plan itself has tiers
    tiers: Annotated[list[Tier], Field(min_length=1)] | None = None  # over this period's kWh of the month

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
            _check_tiers("tiers", self.tiers)
        return self

    def windows(self, day_class: str) -> Hours | None:
        """Hours of one day class, sorted and inside 0 to 24; None where this period is the rest."""
        if self.days not in ("all", day_class):
            return ()
        if self.hours == "rest":
            return None
        text = self.hours if day_class == "weekday" or self.weekend_hours is None else self.weekend_hours
        return parse_hours(text)


class DemandCharge(Part):
    """A price on the month's highest mean import kW inside its hours (a step counts if half is inside)."""

    seasons: list[Slug] | None = None
    days: Days = "all"
    hours: str = "0-24"
    price_usd_per_kw: NonNegative
    interval_min: Literal[15, 30, 60] = 60

    @model_validator(mode="after")
    def _shape(self) -> DemandCharge:
        parse_hours(self.hours)
        return self

    def windows(self, day_class: str) -> Hours:
        """Hours of one day class, sorted and inside 0 to 24."""
        return parse_hours(self.hours) if self.days in ("all", day_class) else ()


class Rider(Part):
    """A line per kWh on top of energy; negative for a credit.

    `counts: billed` follows the kWh the energy lines bill (net of export under net metering),
    `counts: import` all kWh drawn from the grid.
    """

    price_usd_per_kwh: float
    counts: Literal["billed", "import"] = "billed"


class Tax(Part):
    """A percentage line, never negative. `of: subtotal` counts the export credit, `charges` does not."""

    frac: Frac
    of: Literal["subtotal", "charges", "energy"] = "subtotal"


class Export(Part):
    """What exported kWh earn.

    net_metering: import less export of the month, by period, at the retail price of the period.
    net_billing: all import is billed, export earns its own price.
    `leftover` says what becomes of credit that the month cannot use: `carried_kwh` to the same
    period of later months (net metering only), `carried_usd` to later bills, `lost`, or `paid_usd`.
    What is still carried after December is lost, or paid at year_end_usd_per_kwh (carried_kwh only).
    `offsets: energy` keeps fixed and demand charges out of reach of the credit. A credit that is not
    paid out never takes a bill below the minimum.
    """

    kind: Literal["none", "net_metering", "net_billing"] = "none"
    price_usd_per_kwh: NonNegative | None = None
    period_price_usd_per_kwh: dict[Slug, NonNegative] | None = None
    leftover: Literal["carried_kwh", "carried_usd", "lost", "paid_usd"] = "carried_usd"
    offsets: Literal["all", "energy"] = "all"
    year_end_usd_per_kwh: NonNegative = 0.0

    @model_validator(mode="after")
    def _shape(self) -> Export:
        given = (self.price_usd_per_kwh is not None) + (self.period_price_usd_per_kwh is not None)
        if self.kind == "net_billing" and given != 1:
            raise ValueError("net_billing takes one of price_usd_per_kwh, period_price_usd_per_kwh")
        if self.kind != "net_billing" and given:
            raise ValueError(f"kind {self.kind} takes no export price: only net_billing has one")
        if self.leftover == "carried_kwh" and self.kind != "net_metering":
            raise ValueError("leftover carried_kwh goes with net_metering only")
        if self.year_end_usd_per_kwh and self.leftover != "carried_kwh":
            raise ValueError("year_end_usd_per_kwh goes with leftover carried_kwh only")
        return self


class Holidays(Part):
    """Public holidays that count as weekend, by country and subdivision code (ISO 3166)."""

    country: Annotated[str, Field(pattern=r"^[A-Z]{2}$")]
    subdivision: str | None = None

    @model_validator(mode="after")
    def _known(self) -> Holidays:
        import holidays

        known = holidays.list_supported_countries()
        if self.country not in known:
            raise ValueError(f"no holiday calendar for country {self.country!r}: ISO codes such as US, CA")
        if self.subdivision is not None and self.subdivision not in known[self.country]:
            raise ValueError(f"country {self.country} has no subdivision {self.subdivision!r}")
        return self


class RatePlan(Part):
    """A rate plan. With no `seasons` there is one, `all_year`; with no `energy` one period, `all_hours`."""

    name: str = ""
    fixed_usd_per_month: NonNegative = 0.0
    fixed_usd_per_day: NonNegative = 0.0
    minimum_usd_per_month: NonNegative = 0.0  # floor of the bill before taxes
    seasons: dict[Slug, list[Month]] = {"all_year": list(range(1, 13))}
    energy: Annotated[dict[Slug, EnergyPeriod], Field(min_length=1)] = {
        "all_hours": EnergyPeriod(price_usd_per_kwh=0.0)
    }
    tiers: Annotated[list[Tier], Field(min_length=1)] | None = None
    season_tiers: dict[Slug, Annotated[list[Tier], Field(min_length=1)]] | None = None
    demand: dict[Slug, DemandCharge] = {}
    riders: dict[Slug, Rider] = {}
    taxes: dict[Slug, Tax] = {}
    export: Export = Export()
    holidays: Holidays | None = None
    rounding: Literal["none", "line"] = "none"

    @model_validator(mode="after")
    def _check(self) -> RatePlan:
        problems = month_problems(self.seasons)
        problems += self._season_problems() or coverage_problems(self.seasons, self.energy)
        if problems:
            raise ValueError("; ".join(problems))
        self._check_prices()
        self._check_export()
        return self

    def _season_problems(self) -> list[str]:
        blocks = {f"energy.{k}": p.seasons for k, p in self.energy.items()}
        blocks |= {f"demand.{k}": d.seasons for k, d in self.demand.items()}
        blocks["season_tiers"] = None if self.season_tiers is None else list(self.season_tiers)
        known = ", ".join(self.seasons)
        problems = [
            f"{where} names season {season!r}; the plan has {known}"
            for where, seasons in blocks.items()
            for season in seasons or ()
            if season not in self.seasons
        ]
        if self.season_tiers is not None:
            problems += [f"season_tiers has none for {s}" for s in self.seasons if s not in self.season_tiers]
        return problems

    def _check_prices(self) -> None:
        if self.tiers is not None and self.season_tiers is not None:
            raise ValueError("give tiers or season_tiers, not both")
        over_all = [self.tiers] if self.tiers is not None else list((self.season_tiers or {}).values())
        for tiers in over_all:
            _check_tiers("tiers" if self.tiers is not None else "season_tiers", tiers)
        lowest = min((t.price_usd_per_kwh for tiers in over_all for t in tiers), default=0.0)
        for slug, period in self.energy.items():
            if over_all and period.tiers is not None:
                raise ValueError(f"energy.{slug} has tiers and the plan has tiers: use one of them")
            if not over_all and period.price_usd_per_kwh is None and period.tiers is None:
                raise ValueError(f"energy.{slug} needs price_usd_per_kwh or tiers")
            own = [t.price_usd_per_kwh for t in period.tiers or ()] or [period.price_usd_per_kwh or 0.0]
            if lowest + min(own) < 0:
                raise ValueError(f"energy.{slug} makes a kWh cost {lowest + min(own):g}: prices must be >= 0")

    def _check_export(self) -> None:
        priced = self.export.period_price_usd_per_kwh
        if priced is not None and set(priced) != set(self.energy):
            wrong = ", ".join(sorted(set(priced) ^ set(self.energy)))
            raise ValueError(f"export prices must name every energy period once; missing or unknown: {wrong}")
        over_all = self.tiers is not None or self.season_tiers is not None
        if self.export.leftover == "carried_kwh" and over_all and len(self.energy) > 1:
            raise ValueError("carried_kwh with plan tiers over several periods is ambiguous: use carried_usd")

    def season_of_month(self) -> tuple[str, ...]:
        """Season slug of January to December."""
        of = {month: season for season, months in self.seasons.items() for month in months}
        return tuple(of[month] for month in range(1, 13))


def _check_tiers(where: str, tiers: list[Tier]) -> None:
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
