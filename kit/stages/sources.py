"""What each option is, in plain numbers: its machines, its path to the loads, its solar, its plan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kit.house import HouseYear, OutageLoads, outage_loads, solar_kw
from kit.house.appliances import reaches
from kit.stages.service import panel_and_gas_work_usd, service_facts
from kit.study import Study
from kit.study.models import Option
from kit.study.names import option_names
from kit.study.rate_models import RatePlan
from kit.systems.battery import BatterySystem, battery_system, charge_allowed
from kit.systems.generator import GeneratorSet, generator_set
from kit.systems.transfer import PowerPath, path_power, power_path

DO_NOTHING = "do_nothing"
HOT_DAY_SHARE = 0.95  # derating at the temperature that 95 % of the year's hours stay below


@dataclass(frozen=True, eq=False)
class Sources:
    """One option's machines and the loads they reach; arrays (n,) over the steps of the year.

    set_kw, battery_kw: continuous power that reaches the loads by the power path. unreached: the
    loads asked for that are on no circuit the option feeds; without them it never meets the target.
    site_work_usd: panel or gas work the house needs for it, where the study prices that.
    """

    slug: str
    name: str
    option: Option | None
    plan: RatePlan
    battery: BatterySystem | None
    generator: GeneratorSet | None
    path: PowerPath | None
    loads: OutageLoads
    unreached: tuple[str, ...]
    solar_kw: np.ndarray
    may_charge: np.ndarray
    set_kw: float
    battery_kw: float
    standby_kw: float
    site_work_usd: float = 0.0

    @property
    def backs_up(self) -> bool:
        """False for doing nothing and for solar alone."""
        return self.battery is not None or self.generator is not None


def sources(study: Study, house: HouseYear) -> dict[str, Sources]:
    """All options of a study in its order, doing nothing first."""
    model = study.model
    made = {DO_NOTHING: _sources(study, house, DO_NOTHING, None)}
    for slug, option in model.options.items():
        made[slug] = _sources(study, house, slug, option)
    return made


def machines(
    study: Study, house: HouseYear, option: Option | None
) -> tuple[BatterySystem | None, GeneratorSet | None, PowerPath | None]:
    """Battery, derated generator and power path of an option block, in plain numbers."""
    if option is None:
        return None, None, None
    battery = battery_system(option.battery) if option.battery else None
    generator = None
    if option.generator:
        hot_c = float(np.quantile(house.temperature_c, HOT_DAY_SHARE))
        generator = generator_set(option.generator, study.model.house.altitude_m, hot_c)
    return battery, generator, power_path(option.transfer)


def _sources(study: Study, house: HouseYear, slug: str, option: Option | None) -> Sources:
    model = study.model
    place = model.house
    generator_block = option.generator if option else None
    battery, generator, path = machines(study, house, option)
    reached_by = battery.connected_to if battery else generator.connected_to if generator else None
    solar = np.zeros(house.year.n)
    if option is not None and option.solar is not None:
        if house.weather is None:
            raise ValueError(f"options.{slug}.solar needs house.weather: a tmy3 or epw file, or clear_sky")
        solar = np.asarray(solar_kw(place, house.weather, house.year, option.solar), dtype=np.float64)
    may_charge = np.ones(house.year.n, dtype=bool)
    if battery is not None:
        may_charge = charge_allowed(battery.place, house.temperature_c, battery.no_charge_below_c)
    return Sources(
        slug=slug,
        name="Do nothing" if option is None else option_names(model.options)[slug],
        option=option,
        plan=option.rate_plan if option and option.rate_plan else model.rate_plan,
        battery=battery,
        generator=generator,
        path=path,
        loads=outage_loads(place, house.lists, reached_by),
        unreached=_unreached(study, reached_by) if reached_by else (),
        solar_kw=solar,
        may_charge=may_charge,
        set_kw=_reaching_kw(generator.running_kw, generator.starting_kw, path, True) if generator else 0.0,
        battery_kw=_reaching_kw(battery.continuous_kw, battery.surge_kw, path, False) if battery else 0.0,
        standby_kw=generator_block.standby_w / 1000.0 if generator_block else 0.0,
        site_work_usd=panel_and_gas_work_usd(
            place,
            service_facts(study, house),
            battery,
            generator,
            option.solar.inverter_kw if option and option.solar else 0.0,
        ),
    )


def asked_loads(study: Study) -> list[str]:
    """Slugs of the appliances that must stay on: the must-run ones, and the wanted where asked."""
    tiers = ("must_run",) if study.model.asked.loads == "must_run" else ("must_run", "wanted")
    return [slug for slug, piece in study.model.house.appliances.items() if piece.tier in tiers]


def _unreached(study: Study, connected_to: str) -> tuple[str, ...]:
    pieces = study.model.house.appliances
    return tuple(slug for slug in asked_loads(study) if not reaches(pieces[slug], connected_to))


def _reaching_kw(running_kw: float, peak_kw: float, path: PowerPath | None, inlet: bool) -> float:
    return path_power(running_kw, peak_kw, path, inlet).continuous_kw
