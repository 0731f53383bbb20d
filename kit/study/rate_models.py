"""A residential rate plan: everything a monthly bill can hold.

Four shapes share one block: flat, time-of-use, tiers inside each period (`energy.<slug>.tiers`)
and tiers over all the bill's kWh with time-of-use adders (`tiers` or `season_tiers` of the plan;
the periods' prices are then added on top). Every hour of every season has exactly one period.
The blocks stand in `rate_parts`.
"""

from __future__ import annotations

from itertools import combinations
from typing import Annotated, Literal

from pydantic import Field, model_validator

from kit.calendar import parse_hours
from kit.study.part import NonNegative, Part
from kit.study.rate_days import DayText, day_after, order_problem
from kit.study.rate_hours import DAY_CLASSES, coverage_problems, month_problems
from kit.study.rate_parts import (
    BillingCycle,
    CriticalPeak,
    DemandCharge,
    EnergyPeriod,
    Export,
    Holidays,
    Month,
    PriceSeries,
    Rider,
    Slug,
    Tax,
    Tier,
    check_tiers,
)


class RatePlan(Part):
    """A rate plan. With no `seasons` there is one, `all_year`; with no `energy` one period, `all_hours`.

    `starts` and `ends` are the first and last day in force; `followed_by` is the plan in force after
    that. Where a plan changes inside a bill, fixed charges, minimum and limits a month go by days.
    """

    name: str = ""
    fixed_usd_per_month: NonNegative = 0.0
    fixed_usd_per_day: NonNegative = 0.0
    minimum_usd_per_month: NonNegative = 0.0  # floor of the bill before taxes
    billing_cycle: BillingCycle | None = None  # default: calendar months
    starts: DayText | None = None
    ends: DayText | None = None
    followed_by: RatePlan | None = None
    seasons: dict[Slug, list[Month]] = {"all_year": list(range(1, 13))}
    energy: Annotated[dict[Slug, EnergyPeriod], Field(min_length=1)] = {
        "all_hours": EnergyPeriod(price_usd_per_kwh=0.0)
    }
    tiers: Annotated[list[Tier], Field(min_length=1)] | None = None
    season_tiers: dict[Slug, Annotated[list[Tier], Field(min_length=1)]] | None = None
    series: PriceSeries | None = None
    critical_peaks: dict[Slug, CriticalPeak] = {}
    demand: dict[Slug, DemandCharge] = {}
    riders: dict[Slug, Rider] = {}
    taxes: dict[Slug, Tax] = {}
    export: Export = Export()
    holidays: Holidays | None = None
    rounding: Literal["none", "line"] = "none"

    @model_validator(mode="after")
    def _check(self) -> RatePlan:
        problems = month_problems(self.seasons)
        problems += self._season_problems() or self._day_problems()
        if problems:
            raise ValueError("; ".join(problems))
        self._check_prices()
        self._check_export()
        self._check_events()
        self._check_dates()
        return self

    @property
    def day_classes(self) -> tuple[str, ...]:
        """Classes of day the plan tells apart: weekday, weekend and, where it says so, holiday."""
        own = self.holidays is not None and self.holidays.count_as == "holiday"
        return DAY_CLASSES if own else DAY_CLASSES[:2]

    def _day_problems(self) -> list[str]:
        named = {f"energy.{k}": p.days for k, p in self.energy.items()}
        named |= {f"demand.{k}": d.days for k, d in self.demand.items()}
        lost = [
            where for where, days in named.items() if days == "holiday" and "holiday" not in self.day_classes
        ]
        if lost:
            return [f"{where}: days: holiday needs holidays with count_as: holiday" for where in lost]
        return coverage_problems(self.seasons, self.energy, self.day_classes)

    def _season_problems(self) -> list[str]:
        blocks = {f"energy.{k}": p.seasons for k, p in self.energy.items()}
        blocks |= {f"demand.{k}": d.seasons for k, d in self.demand.items()}
        blocks |= {f"demand.{k}.ratchet": d.ratchet.seasons for k, d in self.demand.items() if d.ratchet}
        blocks |= {f"riders.{k}": r.seasons for k, r in self.riders.items()}
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
            check_tiers("tiers" if self.tiers is not None else "season_tiers", tiers)
        lowest = min((t.price_usd_per_kwh for tiers in over_all for t in tiers), default=0.0)
        for slug, period in self.energy.items():
            if over_all and period.tiers is not None:
                raise ValueError(f"energy.{slug} has tiers and the plan has tiers: use one of them")
            if not over_all and period.price_usd_per_kwh is None and period.tiers is None:
                raise ValueError(f"energy.{slug} needs price_usd_per_kwh or tiers")
            own = [t.price_usd_per_kwh for t in period.tiers or ()] or [period.price_usd_per_kwh or 0.0]
            if lowest + min(own) < 0 and self.series is None:
                raise ValueError(f"energy.{slug} makes a kWh cost {lowest + min(own):g}: prices must be >= 0")

    def _check_export(self) -> None:
        priced = self.export.period_price_usd_per_kwh
        if priced is not None and set(priced) != set(self.energy):
            wrong = ", ".join(sorted(set(priced) ^ set(self.energy)))
            raise ValueError(f"export prices must name every energy period once; missing or unknown: {wrong}")
        over_all = self.tiers is not None or self.season_tiers is not None
        if self.export.leftover == "carried_kwh" and over_all and len(self.energy) > 1:
            raise ValueError("carried_kwh with plan tiers over several periods is ambiguous: use carried_usd")
        if self.export.price_from_series and self.series is None:
            raise ValueError("export.price_from_series needs a series")
        if self.series is not None and self.export.kind == "net_metering":
            raise ValueError("net_metering needs a price by period: with a series use net_billing")
        if self.critical_peaks and self.export.leftover == "carried_kwh":
            raise ValueError("carried_kwh with critical_peaks is ambiguous: use carried_usd")

    def _check_events(self) -> None:
        for (one, a), (other, b) in combinations(self.critical_peaks.items(), 2):
            days = sorted({d[-5:] for d in a.dates} & {d[-5:] for d in b.dates})
            pairs = [(x, y) for x in parse_hours(a.hours) for y in parse_hours(b.hours)]
            if days and any(x[0] < y[1] and y[0] < x[1] for x, y in pairs):
                raise ValueError(f"critical_peaks {one} and {other} overlap on {days[0]}")

    def _check_dates(self) -> None:
        wrong = order_problem(self.starts, self.ends)
        if wrong:
            raise ValueError(wrong)
        later = self.followed_by
        if later is None:
            return
        if later.starts is None:
            raise ValueError("followed_by needs starts: the first day of the plan that follows")
        if self.starts is not None and len(later.starts) != len(self.starts):
            raise ValueError(
                f"starts {self.starts} and {later.starts}: write both with the year, or both without"
            )
        if self.starts is not None and later.starts <= self.starts:
            raise ValueError(f"followed_by starts on {later.starts}, not after {self.starts}")
        if self.ends is not None and day_after(self.ends) != later.starts:
            raise ValueError(
                f"the plan ends on {self.ends} and the next starts on {later.starts}: "
                f"one day must follow the other, {day_after(self.ends)}"
            )
        if later.billing_cycle not in (None, self.billing_cycle):
            raise ValueError("followed_by.billing_cycle differs: the meter is read on the same days")
        if later.export.true_up_month != self.export.true_up_month:
            raise ValueError("followed_by.export.true_up_month differs: one true-up a year")

    def versions(self) -> tuple[RatePlan, ...]:
        """This plan and those that follow it, in order."""
        return (self, *(self.followed_by.versions() if self.followed_by is not None else ()))

    def season_of_month(self) -> tuple[str, ...]:
        """Season slug of January to December."""
        of = {month: season for season, months in self.seasons.items() for month in months}
        return tuple(of[month] for month in range(1, 13))
