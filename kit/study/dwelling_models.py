"""What the code worksheet asks of a house: floor area, nameplates, heating and cooling, gas service."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from kit.study.part import Count, NonNegative, Part, Positive


class FixedAppliance(Part):
    """An appliance fastened in place, by its nameplate. 120 V ones load the neutral."""

    name: str = ""
    count: Count = 1
    nameplate_kva: Positive
    voltage_v: Literal[120, 240] = 240


class Heating(Part):
    """Electric space heating. A heat pump's supplement is `resistance_kva`."""

    resistance_kva: NonNegative = 0.0
    separate_controls_count: Annotated[int, Field(ge=0)] = 1  # rooms or units with a thermostat each
    heat_pump_kva: NonNegative = 0.0
    supplement_with_heat_pump: bool = True  # both may run at the same time


class Dwelling(Part):
    """Nameplates of the whole house, for the calculated load of NEC Article 220.

    kW ratings of ranges, dryers and heaters are taken as kVA, as the Article does.
    """

    floor_area_m2: Positive
    small_appliance_circuit_count: Annotated[int, Field(ge=2, le=20)] = 2
    laundry_circuit_count: Annotated[int, Field(ge=0, le=5)] = 1
    cooking_kva: list[Positive] = []  # ranges, wall ovens and cooktops, one figure each
    dryer_kva: NonNegative = 0.0
    fixed: dict[str, FixedAppliance] = {}
    heating: Heating = Heating()
    cooling_kva: NonNegative = 0.0
    largest_motor_kva: NonNegative = 0.0  # a quarter of it is added by the standard method
    vehicle_charger_kva: NonNegative = 0.0


class GasService(Part):
    """Pipeline gas at the house: what the meter passes and what else burns."""

    meter_rating_kw: Positive  # heat (HHV); Btu/h are read too
    other_appliances_kw: NonNegative = 0.0
    upgrade_usd: NonNegative | None = None


class PropaneTank(Part):
    """Outer size of a lying propane tank above ground; its wetted wall boils the propane off."""

    diameter_m: Positive
    length_m: Positive
    refilled_at_frac: Annotated[float, Field(gt=0, le=0.8)] = 0.2  # of its volume, when the truck comes

    @model_validator(mode="after")
    def _shape(self) -> PropaneTank:
        if self.length_m < self.diameter_m:
            raise ValueError(f"length_m {self.length_m:g} is below diameter_m {self.diameter_m:g}")
        return self
