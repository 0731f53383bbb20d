"""The shape of a study: what each block may hold, in the kit's own units.

The loader turns file text into these frozen models; every number is already in
the unit its name ends in. Blocks of a house stand in `house_models`, rate plans
in `rate_models`, equipment in `equipment_models`, outages in `outage_models`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from kit.study.catalogue_models import Catalogue
from kit.study.equipment_models import Battery, Generator, Solar, Transfer
from kit.study.house_models import House
from kit.study.loss_models import DamageValues, EventLoss
from kit.study.outage_models import OutageRecord
from kit.study.part import Frac, NonNegative, Part, Positive
from kit.study.programme_models import Programme
from kit.study.rate_models import RatePlan

Tier = Literal["must_run", "wanted", "can_wait"]


class Asked(Part):
    """What the household asked for; the verdict is measured against it."""

    keep_on_h: Positive
    chance_frac: Frac = 0.9
    loads: Literal["must_run", "wanted"] = "must_run"
    budget_usd: NonNegative | None = None
    judged_by: Literal["target", "value"] = "target"  # value: least cost with lost load, no target to meet
    stay_years: Annotated[int, Field(ge=1, le=60)] = 15


class Allowed(Part):
    """What may be built at this address (renters, associations)."""

    gas: bool = True
    outdoor_set: bool = True
    roof: bool = True
    wiring: bool = True


class Fuel(Part):
    """Local terms of one fuel; physical constants live in kit.systems.fuels."""

    price_usd_per_l: NonNegative | None = None
    price_usd_per_m3: NonNegative | None = None
    legal_limit_l: NonNegative | None = None
    keeps_months: Positive | None = None
    stale_value_frac: Frac = 0.0  # of its price that fuel too old to keep is still worth, burnt in a car
    l_per_trip: Positive | None = None  # litres fetched by one trip to the pump
    trip_usd: NonNegative = 0.0
    trip_h: NonNegative = 0.0
    fixed_usd_per_year: NonNegative = 0.0
    delivery_usd: NonNegative = 0.0

    @model_validator(mode="after")
    def _one_price(self) -> Fuel:
        if (self.price_usd_per_l is None) == (self.price_usd_per_m3 is None):
            raise ValueError("give one price: price_usd_per_l (or _gal), or price_usd_per_m3 (or _ft3)")
        return self


class Loan(Part):
    """A loan for part of what an option costs up front: level yearly payments, nominal.

    What is still owed when the household moves is repaid then.
    """

    share_frac: Frac = 1.0
    rate_frac: Frac  # nominal a year
    term_years: Annotated[int, Field(ge=1, le=40)]


class Money(Part):
    """Discounting and escalation. Rates follow `money_basis`: real or nominal."""

    currency: str = "USD"
    money_basis: Literal["real", "nominal"] = "real"
    price_year: int
    discount_rate_frac: Frac
    electricity_escalation_frac: Annotated[float, Field(ge=-0.5, le=0.5)] = 0.0
    fuel_escalation_frac: Annotated[float, Field(ge=-0.5, le=0.5)] = 0.0
    upkeep_escalation_frac: Annotated[float, Field(ge=-0.5, le=0.5)] = 0.0
    replacement_escalation_frac: Annotated[float, Field(ge=-0.5, le=0.5)] = 0.0
    timing: Literal["end_of_year", "mid_year"] = "end_of_year"
    inflation_frac: Annotated[float, Field(ge=-0.1, le=0.5)] | None = None  # a loan in a real study needs it
    loan: Loan | None = None
    reinvest_rate_frac: Frac | None = None  # of the modified rate of return; default: the discount rate
    carbon_usd_per_t: NonNegative = 0.0
    person_usd_per_h: NonNegative = 0.0  # time spent fetching fuel
    lost_load_usd_per_h: NonNegative | None = None  # the household's own price of an hour
    lost_load: DamageValues | None = None  # or published values
    event_losses: list[EventLoss] = []  # or losses by name

    @model_validator(mode="after")
    def _one_value(self) -> Money:
        ways = {
            "lost_load_usd_per_h": self.lost_load_usd_per_h is not None,
            "lost_load": self.lost_load is not None,
            "event_losses": bool(self.event_losses),
        }
        given = [name for name, there in ways.items() if there]
        if len(given) > 1:
            raise ValueError(f"{' and '.join(given)} would count the same loss twice: keep one of them")
        return self

    @property
    def values_lost_load(self) -> bool:
        """Whether going without power has a price in this study."""
        return self.lost_load_usd_per_h is not None or self.lost_load is not None or bool(self.event_losses)

    @model_validator(mode="after")
    def _loan(self) -> Money:
        if self.loan is not None and self.money_basis == "real" and self.inflation_frac is None:
            raise ValueError(
                "loan payments are nominal: a study in real money needs inflation_frac to deflate them"
            )
        return self


class Option(Part):
    """One choice: any of a battery, a generator, solar, transfer equipment."""

    name: str = ""
    battery: Battery | None = None
    generator: Generator | None = None
    solar: Solar | None = None
    transfer: Transfer | None = None
    rate_plan: RatePlan | None = None
    programme: Programme | None = None

    @model_validator(mode="after")
    def _something(self) -> Option:
        if self.programme is not None and self.battery is None:
            raise ValueError("a programme draws on a battery, and the option has none")
        if not (self.battery or self.generator or self.solar):
            raise ValueError(
                "an option needs a battery, a generator or solar; doing nothing is always computed"
            )
        return self


class Prepared(Part):
    """For the head of the memo."""

    by: str = ""
    for_: Annotated[str, Field(alias="for")] = ""
    date: str = ""


class StudyModel(Part):
    """A whole study, references resolved."""

    kit_file: Literal[1]
    name: str
    invented: bool = False
    year: Annotated[int, Field(ge=1970, le=2100)]
    units: Literal["us", "metric"] = "us"
    seed: Annotated[int, Field(ge=0)] = 1
    lifetime_count: Annotated[int, Field(ge=100, le=100_000)] = 2000  # drawn whole stays
    draw_count: Annotated[int, Field(ge=16, le=100_000)] = 512  # joint draws of every low/likely/high
    draw_shape: Literal["pert", "triangular"] = "pert"
    draw_points: Literal["sobol", "latin_hypercube"] = "sobol"
    together: dict[str, list[str]] = {}  # name -> paths of ranges that rise and fall together
    prepared: Prepared = Prepared()
    asked: Asked
    allowed: Allowed = Allowed()
    house: House
    rate_plan: RatePlan
    outages: OutageRecord
    fuels: dict[str, Fuel] = {}
    grid_co2e_kg_per_kwh: NonNegative
    export_credit_frac: Frac = 0.0  # of the grid's factor, taken off for each kWh sent out; off by default
    money: Money
    options: Annotated[dict[str, Option], Field(min_length=1)]
    catalogue: Catalogue | None = None  # what could be bought: sizing tries every combination

    @model_validator(mode="after")
    def _judged(self) -> StudyModel:
        if self.asked.judged_by == "value" and not self.money.values_lost_load:
            raise ValueError("asked.judged_by: value needs a price of lost load in money")
        return self
