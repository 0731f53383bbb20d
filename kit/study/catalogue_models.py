"""A catalogue: what could be bought, in which sizes, at which price; sizing tries every combination."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from kit.study.equipment_models import Battery, Generator, Solar, Transfer
from kit.study.part import Count, NonNegative, Part

MOST_CONFIGURATIONS = 20_000


def _no_twice(name: str, values: list[float] | list[int]) -> None:
    if len(set(values)) < len(values):
        raise ValueError(f"{name} names a size twice: {values}")


class BatteryChoice(Part):
    """One make of battery in several sizes. Counts in the block itself are replaced by those here.

    `transfer`: bought with it. `transfer_with_generator`: bought instead where a generator stands
    beside it; without one this battery is not combined with a generator.
    """

    battery: Battery
    unit_count: Annotated[list[Count], Field(min_length=1)] = [1]
    pack_count: Annotated[list[Annotated[int, Field(ge=0, le=100)]], Field(min_length=1)] = [0]  # per unit
    transfer: Transfer | None = None
    transfer_with_generator: Transfer | None = None

    @model_validator(mode="after")
    def _sizes(self) -> BatteryChoice:
        _no_twice("unit_count", self.unit_count)
        _no_twice("pack_count", self.pack_count)
        if max(self.pack_count) > 0 and self.battery.pack_usable_kwh == 0:
            raise ValueError("pack_count above 0 need battery.pack_usable_kwh")
        return self


class GeneratorChoice(Part):
    """One generator with several amounts of fuel on site (the tank included), and what storing it costs."""

    generator: Generator
    stored_fuel_l: Annotated[list[NonNegative], Field(min_length=1)] | None = None  # default: the block's
    storage_usd_per_l: NonNegative = 0.0  # cans or tank, once
    transfer: Transfer | None = None

    @model_validator(mode="after")
    def _fuel(self) -> GeneratorChoice:
        if self.stored_fuel_l is not None:
            _no_twice("stored_fuel_l", self.stored_fuel_l)
            if self.generator.tank_l is None:
                raise ValueError("stored_fuel_l is for liquid fuels; natural_gas comes by pipe")
        return self


class SolarChoice(Part):
    """One array in several sizes; 0 is none. Inverter and all but the permit grow with its size."""

    solar: Solar
    size_kw: Annotated[list[NonNegative], Field(min_length=1)]

    @model_validator(mode="after")
    def _sizes(self) -> SolarChoice:
        _no_twice("size_kw", self.size_kw)
        return self


class Catalogue(Part):
    """Batteries, generators and solar; every battery, every generator and every pair, with each array."""

    batteries: dict[str, BatteryChoice] = {}
    generators: dict[str, GeneratorChoice] = {}
    solar: SolarChoice | None = None

    @model_validator(mode="after")
    def _something(self) -> Catalogue:
        if not self.batteries and not self.generators:
            raise ValueError("a catalogue needs a battery or a generator: solar alone backs nothing up")
        if self.count > MOST_CONFIGURATIONS:
            raise ValueError(
                f"the catalogue makes {self.count:,} configurations; "
                f"at most {MOST_CONFIGURATIONS:,} are tried"
            )
        return self

    @property
    def count(self) -> int:
        """How many configurations the catalogue makes."""
        arrays = len(self.solar.size_kw) if self.solar else 1
        sets = sum(len(g.stored_fuel_l or [0.0]) for g in self.generators.values())
        alone = {name: len(b.unit_count) * len(b.pack_count) for name, b in self.batteries.items()}
        paired = sum(n for name, n in alone.items() if self.batteries[name].transfer_with_generator)
        return arrays * (sets + sum(alone.values()) + paired * sets)
