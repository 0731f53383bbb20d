"""How each battery ages in this house: capacity by year, and the date it is replaced, and why."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from kit.house import HouseYear
from kit.operate.everyday import Everyday
from kit.stages.sources import Sources
from kit.study.equipment_models import Battery
from kit.systems.ageing import YearStress, held_full, year_stress
from kit.systems.battery import BatterySystem, place_temperature_c


@dataclass(frozen=True)
class Wear:
    """One battery over its life. `life_years` ends it and `ends_by` says why.

    stress: a year of this house's everyday use, by the published form; None for a fixed yearly fade.
    rested: a year at rest, full, at the same temperatures (None likewise). free_count: how many of the
    first replacements the warranty pays.
    """

    life_years: float
    ends_by: str
    fade_frac_per_year: float = 0.0
    stress: YearStress | None = None
    rested: YearStress | None = None
    scale_frac: float = 1.0
    free_count: int = 0

    def left_frac(self, age_years: float) -> float:
        """Share of the new usable capacity at an age; a replaced battery is new again."""
        age = age_years % self.life_years
        if self.stress is None:
            return max(0.0, 1.0 - self.fade_frac_per_year * age)
        return 1.0 - self.stress.loss_frac(age, self.scale_frac)

    @property
    def fades(self) -> bool:
        return self.stress is not None or self.fade_frac_per_year > 0.0


def wear_of(house: HouseYear, option: Sources, new_use: Everyday) -> Wear | None:
    """Wear of an option's battery under the everyday use of its first year; None without a battery.

    With `ageing` the published form is walked along the year's state of charge at the temperature of
    the battery's place; the path of the new battery stands for every year. Without, the fixed fade.
    """
    block = option.option.battery if option.option else None
    if option.battery is None or block is None:
        return None
    if block.ageing is None:
        return Wear(block.life_years, "its life in years", fade_frac_per_year=block.fade_frac_per_year)
    terms = block.ageing
    temperature_c = place_temperature_c(block.place, house.temperature_c)
    stress = year_stress(charge_frac(option.battery, new_use), temperature_c, house.year.step_h, terms.form)
    wear = Wear(
        block.life_years,
        "its life in years",
        stress=stress,
        rested=held_full(temperature_c, terms.form),
        scale_frac=terms.scale_frac,
    )
    worn_years = stress.age_at_loss_years(1.0 - terms.replace_at_frac, terms.scale_frac)
    if worn_years < block.life_years:
        text = f"capacity down to {terms.replace_at_frac:.0%}"
        wear = replace(wear, life_years=max(worn_years, 0.1), ends_by=text)
    return _under_warranty(wear, block, new_use.throughput_kwh / option.battery.unit_count)


def _under_warranty(wear: Wear, block: Battery, unit_kwh_per_year: float) -> Wear:
    """A battery that falls to the warranty's floor inside its years and throughput: replaced then, free.

    Only the first one: the warranty runs from the purchase, and a replacement rarely renews it.
    """
    terms = block.warranty
    if terms is None or wear.stress is None:
        return wear
    floor_years = wear.stress.age_at_loss_years(1.0 - terms.floor_frac, wear.scale_frac)
    used_up = terms.throughput_kwh is not None and unit_kwh_per_year * floor_years > terms.throughput_kwh
    if floor_years > min(terms.years, wear.life_years) or used_up:
        return wear
    text = f"capacity down to {terms.floor_frac:.0%} inside the warranty, which pays"
    return replace(wear, life_years=max(floor_years, 0.1), ends_by=text, free_count=1)


def charge_frac(battery: BatterySystem, use: Everyday) -> np.ndarray:
    """State of charge of the cells (n,), 0 to 1: full is full, the unusable rest lies below empty."""
    nominal_kwh = battery.rated_kwh * max(battery.unit_count - battery.unpaired_count, 1) / battery.unit_count
    nominal_kwh = max(nominal_kwh, battery.usable_kwh)
    return np.asarray(1.0 - (battery.usable_kwh - use.stored_kwh) / nominal_kwh)


def aged(battery: BatterySystem, left_frac: float) -> BatterySystem:
    """The battery with this share of its capacity: every stored energy shrinks in proportion."""
    return replace(
        battery,
        usable_kwh=battery.usable_kwh * left_frac,
        floor_kwh=battery.floor_kwh * left_frac,
        reserve_kwh=battery.reserve_kwh * left_frac,
        restart_kwh=battery.restart_kwh * left_frac,
        wanted_above_kwh=battery.wanted_above_kwh * left_frac,
    )
