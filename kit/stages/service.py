"""The connection of the house: its calculated load, its panel, its gas, as code rules see them."""

from __future__ import annotations

from kit.fit.dwelling_load import CalculatedLoad, optional_method, standard_method
from kit.fit.worksheet import ServiceFacts, gas_work_due, inverters_kw, panel_work_due
from kit.house import HouseYear
from kit.study import Study
from kit.study.house_models import House
from kit.systems.battery import BatterySystem
from kit.systems.generator import GeneratorSet


def calculated_loads(house: House) -> tuple[CalculatedLoad, ...]:
    """Both methods of NEC Article 220, or none without nameplates."""
    if house.dwelling is None:
        return ()
    return standard_method(house.dwelling), optional_method(house.dwelling)


def service_facts(study: Study, house: HouseYear) -> ServiceFacts:
    """The connection of the house as the rules see it."""
    place = study.model.house
    service = place.service
    loads = calculated_loads(place)
    peak = float(house.load_kw.max()) if place.meter is not None else None
    return ServiceFacts(
        rating_a=service.rating_a,
        busbar_a=service.busbar_a or service.rating_a,
        voltage_v=float(service.voltage_v),
        calculated_kw=min((load.total_va for load in loads), default=0.0) / 1000.0 if loads else None,
        metered_peak_kw=peak,
        metered_step_min=60.0 * house.year.step_h,
        coldest_c=coldest_c(study, house),
        gas=place.gas_service,
        opening_m=place.generator_to_opening_m,
    )


def panel_and_gas_work_usd(
    place: House,
    service: ServiceFacts,
    battery: BatterySystem | None,
    generator: GeneratorSet | None,
    solar_inverter_kw: float,
) -> float:
    """What the house's own side must pay for an option, where the study prices it [usd]."""
    total_usd = 0.0
    if panel_work_due(service, inverters_kw(battery, solar_inverter_kw)):
        total_usd += place.service.panel_upgrade_usd or 0.0
    if place.gas_service and gas_work_due(service, generator):
        total_usd += place.gas_service.upgrade_usd or 0.0
    return total_usd


def coldest_c(study: Study, house: HouseYear) -> float | None:
    """The coldest hour of the weather year; None where the weather is a clear sky that knows none."""
    weather = study.model.house.weather
    if weather is None or weather.kind == "clear_sky":
        return None
    return float(house.temperature_c.min())
