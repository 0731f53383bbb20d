"""A house: place, service, appliances, meter, weather."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from kit.study.dwelling_models import Dwelling, GasService
from kit.study.part import Count, Frac, NonNegative, Part, Positive


class Thermostat(Part):
    """Duty driven by outdoor temperature: 0 at `idle_at_c`, 1 at `full_at_c`, linear between.

    Heating has full_at_c below idle_at_c, cooling above it.
    """

    idle_at_c: float
    full_at_c: float

    @model_validator(mode="after")
    def _differ(self) -> Thermostat:
        if self.idle_at_c == self.full_at_c:
            raise ValueError("idle_at_c and full_at_c must differ")
        return self


class Use(Part):
    """Hours of use on the local clock, e.g. '6-9, 17-22.5'; empty text means never."""

    weekday: str = "0-24"
    weekend: str = "0-24"
    months: list[Annotated[int, Field(ge=1, le=12)]] = list(range(1, 13))


class Appliance(Part):
    """One line of the load list. Watts are for one piece; `count` pieces are alike."""

    name: str = ""
    count: Count = 1
    running_w: Positive
    starting_w: Positive | None = None  # TOTAL while it starts
    starting_extra_w: NonNegative | None = None  # on top of running_w
    voltage_v: Literal[120, 240] = 120
    power_factor_frac: Frac = 1.0
    duty_frac: Frac = 1.0  # share of the hours of use it really draws running_w
    thermostat: Thermostat | None = None
    use: Use = Use()
    outage_use: Use | None = None  # hours of use in an outage; `use` where absent
    outage_duty_frac: Frac | None = None
    tier: Literal["must_run", "wanted", "can_wait"]
    life_support: bool = False
    tolerates_gap_s: NonNegative = 14400.0
    connection: Literal["cord", "wired"] = "wired"
    backed: bool = True  # on the backed panel, where there is one

    @model_validator(mode="after")
    def _start(self) -> Appliance:
        if self.starting_w is not None and self.starting_extra_w is not None:
            raise ValueError("give starting_w (total) or starting_extra_w (on top of running), not both")
        if self.starting_w is not None and self.starting_w < self.running_w:
            raise ValueError(
                f"starting_w {self.starting_w:g} is below running_w {self.running_w:g}: "
                "starting_w is the total while it starts; use starting_extra_w for the part on top"
            )
        return self

    @property
    def start_total_w(self) -> float:
        """Watts of one piece while it starts, its running watts included."""
        if self.starting_w is not None:
            return self.starting_w
        return self.running_w + (self.starting_extra_w or 0.0)


class Meter(Part):
    """Interval meter file. `multiply_by` scales a sample to this house, and the memo says so."""

    file: str
    multiply_by: Positive = 1.0


class Weather(Part):
    """Hourly weather for solar, temperature-driven loads and derating."""

    kind: Literal["tmy3", "clear_sky"]
    file: str | None = None
    temperature_c: float = 20.0  # used by clear_sky, which knows none

    @model_validator(mode="after")
    def _file(self) -> Weather:
        if (self.kind == "tmy3") != (self.file is not None):
            raise ValueError("kind tmy3 needs `file`; clear_sky takes none")
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
    appliances: Annotated[dict[str, Appliance], Field(min_length=1)]
