"""The code worksheet: the calculated load of the house, and what the rules compare for each option."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kit.fit.dwelling_load import CalculatedLoad, optional_method, standard_method
from kit.fit.worksheet import ServiceFacts, worksheet
from kit.house import HouseYear, peaks
from kit.stages.sources import Sources, asked_loads
from kit.study import Study
from kit.study.house_models import House

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Worksheet:
    """What a licensed designer starts from. `options` maps a slug to its rows (kit.fit.worksheet).

    `loads` holds the standard and the optional method; empty where the house gives no nameplates.
    """

    service: ServiceFacts
    loads: tuple[CalculatedLoad, ...]
    options: dict[str, pd.DataFrame]


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
        coldest_c=float(house.temperature_c.min()) if house.weather is not None else None,
        gas=place.gas_service,
        opening_m=place.generator_to_opening_m,
    )


def code_worksheet(study: Study, house: HouseYear, options: dict[str, Sources]) -> Worksheet:
    """The worksheet of a study. It informs; local code and a licensed person decide."""
    service = service_facts(study, house)
    running_kw = peaks(study.model.house, house.lists, asked_loads(study)).running_w / 1000.0
    rows = {}
    for slug, option in options.items():
        block = option.option
        if block is None:
            continue
        rows[slug] = worksheet(
            service,
            battery=option.battery,
            generator=option.generator,
            path=option.path,
            solar_inverter_kw=block.solar.inverter_kw if block.solar else 0.0,
            running_kw=running_kw,
            propane_tank=block.generator.propane_tank if block.generator else None,
        )
    return Worksheet(service, calculated_loads(study.model.house), rows)
