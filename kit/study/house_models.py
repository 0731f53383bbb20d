"""A house: place, service, appliances, meter, weather."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from kit.calendar import parse_hours, zone_of
from kit.study.appliance_models import Appliance, Cycle, Season, Thermostat, Use
from kit.study.dwelling_models import Dwelling, GasService
from kit.study.motor_models import Motor
from kit.study.part import NonNegative, Part, Positive

__all__ = [
    "Appliance",
    "Cycle",
    "House",
    "Meter",
    "Motor",
    "Season",
    "Service",
    "Thermostat",
    "Use",
    "Weather",
]


class Meter(Part):
    """Interval meter file. `multiply_by` scales a sample to this house, and the memo says so.

    The rest says what a file leaves open; the kit never guesses it. `times`: a clock other than the
    file's own format says. `values_in`, `column`, `label`, `date_order`, `decimal_comma`: of tables.
    """

    file: str
    multiply_by: Positive = 1.0
    times: Literal["as_written", "local_clock", "standard_time"] = "as_written"
    values_in: Literal["kwh", "wh", "kw", "w"] | None = None
    column: str | None = None  # head of the column to take, where several could be
    label: Literal["start", "end"] | None = None  # which end of the interval its time names
    date_order: Literal["month_first", "day_first"] | None = None
    decimal_comma: bool = False
    billed_kwh: Positive | None = None  # for the file's whole span, from the bills, to check it


class Weather(Part):
    """Hourly weather for solar, temperature-driven loads and derating."""

    kind: Literal["tmy3", "epw", "clear_sky"]
    file: str | None = None
    temperature_c: float = 20.0  # used by clear_sky, which knows none

    @model_validator(mode="after")
    def _file(self) -> Weather:
        if (self.kind == "clear_sky") != (self.file is None):
            raise ValueError("kinds tmy3 and epw need `file`; clear_sky takes none")
        return self


class Service(Part):
    """The grid connection of the house."""

    rating_a: Positive = 200.0
    voltage_v: Literal[120, 240] = 240
    busbar_a: Positive | None = None  # rating of the panel's busbar; default: rating_a
    panel_upgrade_usd: NonNegative | None = None  # paid where the busbar has no room for the inverters


class House(Part):
    """Everyday load is the meter where there is one, else the sum of the list.

    The list always gives the outage load by tier, the peaks and the starts.
    """

    name: str = ""
    time_zone: str
    latitude_deg: Annotated[float, Field(ge=-90, le=90)]
    longitude_deg: Annotated[float, Field(ge=-180, le=180)]
    altitude_m: Annotated[float, Field(ge=-430, le=6000)] = 0.0
    step_min: Literal[15, 30, 60] = 60
    service: Service = Service()
    weather: Weather | None = None
    meter: Meter | None = None
    boundary_m: Positive | None = None  # from the generator to the neighbour
    night_limit_db_a: Positive | None = None  # local limit for the night at the boundary
    dwelling: Dwelling | None = None  # nameplates of the whole house, for the code worksheet
    gas_service: GasService | None = None
    generator_to_opening_m: Positive | None = None  # to the nearest door, window or vent
    attended_hours: str = "0-24"  # local hours in which someone can start, refuel, plug in
    outage_people_home: bool = False  # in an outage weekdays are lived like weekends
    appliances: Annotated[dict[str, Appliance], Field(min_length=1)]

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        zone_of(value)
        return value

    @field_validator("attended_hours")
    @classmethod
    def _hours(cls, value: str) -> str:
        parse_hours(value)
        return value

    @model_validator(mode="after")
    def _circuits(self) -> House:
        first: dict[str, tuple[str, Appliance]] = {}
        for slug, piece in self.appliances.items():
            if not piece.circuit:
                continue
            other, known = first.setdefault(piece.circuit, (slug, piece))
            for key in ("voltage_v", "backed", "leg"):
                if getattr(piece, key) != getattr(known, key):
                    raise ValueError(
                        f"appliances {other} and {slug} stand on circuit {piece.circuit} but differ in {key}"
                    )
        return self
