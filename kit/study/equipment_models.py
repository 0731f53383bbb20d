"""Equipment: battery, generator, solar, transfer equipment."""

from __future__ import annotations

from math import isclose, prod
from typing import Annotated, Literal

from pydantic import Field, model_validator

from kit.study.cost_models import Cost as Cost
from kit.study.dwelling_models import PropaneTank
from kit.study.part import Count, Frac, NonNegative, Part, Positive

ConnectedTo = Literal["whole_house", "backed_panel", "plug_in"]


class Ageing(Part):
    """Capacity loss by a published form of LFP cell tests, along this house's own use (kit.systems.ageing).

    A cell of one make is no forecast for a pack of another: `scale_frac` turns the loss up or down.
    """

    form: Literal["naumann", "schimpe"] = "naumann"
    scale_frac: Positive = 1.0
    replace_at_frac: Annotated[float, Field(gt=0, lt=1)] = 0.7  # of the new usable capacity


class Warranty(Part):
    """A battery that falls to `floor_frac` inside years and throughput is replaced free of charge."""

    years: Positive
    throughput_kwh: Positive | None = None  # delivered kWh of one unit
    floor_frac: Annotated[float, Field(gt=0, lt=1)] = 0.7


class Battery(Part):
    """A battery system: `unit_count` units, each with `packs_per_unit` expansion packs.

    Figures are for ONE unit. Energies are stored (DC) kWh unless usable_basis is ac.
    """

    name: str = ""
    unit_count: Count = 1
    packs_per_unit: Annotated[int, Field(ge=0, le=100)] = 0
    nominal_kwh: Positive
    usable_kwh: Positive
    pack_usable_kwh: NonNegative = 0.0
    usable_basis: Literal["dc", "ac"] = "dc"
    continuous_kw: Positive
    surge_kw: Positive | None = None
    surge_s: NonNegative = 0.0
    voltage_v: Literal[120, 240] = 240  # one unit
    pair_gives_240v: bool = False  # two 120 V units together give split-phase 240 V
    charge_kw: NonNegative  # from the grid, AC
    solar_charge_kw: NonNegative | None = None  # default: charge_kw
    generator_charge_kw: NonNegative = 0.0
    charge_efficiency_frac: Annotated[float, Field(gt=0, le=1)]
    discharge_efficiency_frac: Annotated[float, Field(gt=0, le=1)]
    idle_w: NonNegative = 0.0
    efficiency_includes_idle: bool = False
    reserve_frac: Frac = 0.2  # everyday floor, available in an outage
    forewarned_reserve_frac: Frac = 1.0  # the reserve from the warning on, where an outage is forecast
    outage_floor_frac: Frac = 0.0  # hard stop in an outage
    restart_frac: Frac = 0.05  # charge at which it may start again after running empty
    wanted_above_frac: Frac = 1.0  # in an outage, wanted loads run from storage only above this charge
    transfer_time_s: NonNegative = 0.02
    connected_to: ConnectedTo = "backed_panel"
    in_line: bool = False  # plug_in only: the load always runs through it, nobody has to connect it
    setup_min: NonNegative = 20.0  # plug_in and not in_line: fetch, place, connect
    export_allowed: bool = False
    grid_charge_allowed: bool = True
    parallel_with_generator: bool = False
    everyday: Literal["hold", "clock", "best"] = "hold"
    wear_usd_per_kwh: NonNegative = 0.0  # steers `best` only; the cash is the replacement
    charge_periods: list[str] | None = None  # rate plan periods; default: the cheapest
    discharge_periods: list[str] | None = None  # default: the dearest
    place: Literal["indoors", "garage", "outdoors"] = "garage"
    no_charge_below_c: float = 0.0
    fails_to_island_frac: Frac = 0.0
    inverter_mttf_h: Positive | None = None
    life_years: Positive = 12.0
    throughput_kwh: Positive | None = None  # delivered kWh of one unit over its life
    fade_frac_per_year: Frac = 0.0
    ageing: Ageing | None = None  # instead of fade_frac_per_year
    warranty: Warranty | None = None
    noise_db_a_at_7m: NonNegative | None = None
    cost: Cost
    pack_price_usd: NonNegative = 0.0

    @model_validator(mode="after")
    def _order(self) -> Battery:
        if self.usable_kwh > self.nominal_kwh:
            raise ValueError(f"usable_kwh {self.usable_kwh:g} is above nominal_kwh {self.nominal_kwh:g}")
        if self.surge_kw is not None and self.surge_kw < self.continuous_kw:
            raise ValueError(f"surge_kw {self.surge_kw:g} is below continuous_kw {self.continuous_kw:g}")
        if self.ageing is not None and self.fade_frac_per_year:
            raise ValueError(
                "give ageing or fade_frac_per_year, not both: each is the whole loss of capacity"
            )
        if self.outage_floor_frac > self.reserve_frac:
            raise ValueError("outage_floor_frac is above reserve_frac: nothing would be left for an outage")
        return self


class FuelPoint(Part):
    """Fuel at one load. Give one of litres (liquids), m3 (gas) or heat (HHV)."""

    output_kw: NonNegative
    fuel_l_per_h: NonNegative | None = None
    fuel_m3_per_h: NonNegative | None = None
    heat_kw: NonNegative | None = None

    @model_validator(mode="after")
    def _one(self) -> FuelPoint:
        if sum(v is not None for v in (self.fuel_l_per_h, self.fuel_m3_per_h, self.heat_kw)) != 1:
            raise ValueError("give exactly one of fuel_l_per_h, fuel_m3_per_h, heat_kw")
        return self


class Derating(Part):
    """Loss of engine power with altitude and heat; factors multiply (or add, if said)."""

    altitude_frac_per_300m: Frac = 0.03
    altitude_above_m: NonNegative = 0.0
    heat_frac_per_5p6c: Frac = 0.01
    heat_above_c: float = 25.0
    combine: Literal["multiply", "add"] = "multiply"


class ServiceTask(Part):
    """Regular service: due by run hours or by calendar, whichever comes first."""

    every_h: Positive | None = None
    every_years: Positive | None = None
    price_usd: NonNegative

    @model_validator(mode="after")
    def _due(self) -> ServiceTask:
        if self.every_h is None and self.every_years is None:
            raise ValueError("give every_h, every_years, or both")
        return self


class Exercise(Part):
    """Test runs. They count as run hours and burn fuel at `output_frac` of running_kw."""

    runs_per_year: NonNegative = 0.0
    minutes: NonNegative = 0.0
    output_frac: Frac = 0.0


class RunSchedule(Part):
    """Rotation: run `run_h` at the start of every `cycle_h` of an outage."""

    run_h: Positive
    cycle_h: Annotated[float, Field(gt=0, le=24)]

    @model_validator(mode="after")
    def _order(self) -> RunSchedule:
        if self.run_h > self.cycle_h:
            raise ValueError(f"run_h {self.run_h:g} is above cycle_h {self.cycle_h:g}")
        return self


class Generator(Part):
    """A fuel generator. Ratings are for the standard place (sea level, 25 C) and its fuel."""

    name: str = ""
    fuel: Literal["gasoline", "diesel", "propane", "natural_gas"]
    running_kw: Positive
    starting_kw: Positive
    starting_basis: Literal["kw", "kva"] = "kw"
    voltage_v: Literal[120, 240] = 240
    connected_to: ConnectedTo = "backed_panel"
    fuel_points: Annotated[list[FuelPoint], Field(min_length=2)]
    derating: Derating = Derating()
    tank_l: NonNegative | None = None  # None: pipeline gas
    propane_tank: PropaneTank | None = None  # its outer size, for what it boils off in the cold
    fuel_on_site_l: NonNegative | None = None  # all of it, the tank included; default: a full tank
    resupply_l: NonNegative = 0.0  # brought by each trip, once fuel is to be had
    resupply_every_h: Positive = 24.0
    refuel_gap_min: NonNegative = 0.0  # 0: refilled while running or from a large tank
    refuels_at_night: bool = False
    start: Literal["manual", "automatic"] = "manual"
    start_time_s: NonNegative = 15.0
    setup_min: NonNegative = 20.0  # manual only: fetch, place, connect
    run_schedule: RunSchedule | None = None
    start_below_frac: Frac = 0.3  # with a battery: starts below, stops at
    stop_at_frac: Frac = 0.8
    best_load_frac: Frac = 0.75
    minimum_load_frac: Frac = 0.3
    care: Literal["well", "poor"] = "well"  # poor: no regular service is done, nor paid for
    availability_frac: Frac | None = None  # None: by `care`, with its source
    fails_to_start_frac: Frac | None = None
    mttf_h: Positive | None = None
    repair_h: Positive = 72.0
    break_in_h: Positive | None = None
    break_in_usd: NonNegative = 0.0
    service: dict[str, ServiceTask] = {}
    exercise: Exercise = Exercise()
    standby_w: NonNegative = 0.0  # controller, charger, from the grid
    life_h: Positive = 1000.0
    life_years: Positive = 20.0
    onsite_nox_g_per_kwh: NonNegative
    onsite_co_g_per_kwh: NonNegative
    noise_db_a_at_7m: NonNegative | None = None
    cost: Cost

    @model_validator(mode="after")
    def _order(self) -> Generator:
        if self.starting_kw < self.running_kw:
            raise ValueError(f"starting_kw {self.starting_kw:g} is below running_kw {self.running_kw:g}")
        outputs = [p.output_kw for p in self.fuel_points]
        if outputs != sorted(set(outputs)):
            raise ValueError(f"fuel_points must rise in output_kw, got {outputs}")
        if self.start_below_frac >= self.stop_at_frac:
            raise ValueError("start_below_frac must be below stop_at_frac")
        if self.fuel == "natural_gas" and any(p.fuel_l_per_h is not None for p in self.fuel_points):
            raise ValueError(
                "natural_gas is metered: write fuel_points in fuel_m3_per_h (or _ft3), or heat_kw"
            )
        if self.fuel in ("gasoline", "diesel") and any(p.fuel_m3_per_h is not None for p in self.fuel_points):
            raise ValueError(
                f"{self.fuel} is a liquid: write fuel_points in fuel_l_per_h (or _gal), or heat_kw"
            )
        if (self.tank_l is None) != (self.fuel == "natural_gas"):
            raise ValueError("tank_l is for liquid fuels; natural_gas comes by pipe and takes none")
        return self


class SolarPlane(Part):
    """One plane of an array that looks several ways; all planes feed one inverter."""

    size_kw: Positive  # DC at standard test conditions
    tilt_deg: Annotated[float, Field(ge=0, le=90)]
    azimuth_deg: Annotated[float, Field(ge=0, le=360)]


class SolarLosses(Part):
    """Losses of an array by cause, NREL/TP-6A20-62641 (2014); what is left of each multiplies."""

    soiling_frac: Frac = 0.02
    shading_frac: Frac = 0.03
    snow_frac: Frac = 0.0
    mismatch_frac: Frac = 0.02
    wiring_frac: Frac = 0.02
    connections_frac: Frac = 0.005
    light_induced_frac: Frac = 0.015
    nameplate_frac: Frac = 0.01
    age_frac: Frac = 0.0
    availability_frac: Frac = 0.03

    @property
    def total_frac(self) -> float:
        """1 minus the product of what each loss leaves: 14.0757 % where none is given."""
        return 1.0 - prod(1.0 - loss for loss in self.model_dump().values())


class Solar(Part):
    """A solar array. Grid-tied it stops with the grid; wired to the battery it keeps charging it."""

    name: str = ""
    size_kw: Positive  # DC at standard test conditions, all planes together
    inverter_kw: Positive
    tilt_deg: Annotated[float, Field(ge=0, le=90)] = 25.0
    azimuth_deg: Annotated[float, Field(ge=0, le=360)] = 180.0
    planes: dict[str, SolarPlane] | None = None  # an array that looks several ways
    loss_frac: Frac = 0.1408
    losses: SolarLosses | None = None  # by cause, in place of loss_frac
    month_loss_frac: Annotated[list[Frac], Field(min_length=12, max_length=12)] | None = None  # snow, shade
    dc_input_kw: Positive | None = None  # most that the battery's solar input takes, wired to it in DC
    inverter_efficiency_frac: Annotated[float, Field(gt=0, le=1)] = 0.96
    charges_battery_in_outage: bool = True
    allowed_with_generator: bool = False  # AC-coupled solar beside a running set
    fade_frac_per_year: Frac = 0.005
    life_years: Positive = 25.0
    cost: Cost

    @model_validator(mode="after")
    def _one_way_to_say(self) -> Solar:
        given = self.model_fields_set
        if self.losses is not None and "loss_frac" in given:
            raise ValueError("give loss_frac or losses, not both")
        if not self.planes:
            return self
        if given & {"tilt_deg", "azimuth_deg"}:
            raise ValueError("with planes, tilt_deg and azimuth_deg stand in each plane")
        total_kw = sum(plane.size_kw for plane in self.planes.values())
        if not isclose(total_kw, self.size_kw, rel_tol=1e-6):
            raise ValueError(f"size_kw {self.size_kw:g} is not the sum of its planes, {total_kw:g}")
        return self


class Transfer(Part):
    """Transfer equipment, inlet and panel work between sources and the house."""

    name: str = ""
    kind: Literal["automatic", "manual", "none"]
    rating_a: Positive | None = None
    inlet_a: Positive | None = None
    voltage_v: Literal[120, 240] = 240
    transfer_time_s: NonNegative = 0.0
    panel_kw: Positive | None = None  # what the backed panel may carry
    switches_neutral: bool | None = None
    cost: Cost
