"""The code worksheet: the calculated load of the house, and what the rules compare for each option."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kit.fit.dwelling_load import CalculatedLoad
from kit.fit.worksheet import ServiceFacts, worksheet
from kit.house import HouseYear, peaks
from kit.stages.service import calculated_loads, service_facts
from kit.stages.sources import asked_loads, machines
from kit.study import Study

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


def code_worksheet(study: Study, house: HouseYear) -> Worksheet:
    """The worksheet of a study. It informs; local code and a licensed person decide."""
    service = service_facts(study, house)
    running_kw = peaks(study.model.house, house.lists, asked_loads(study)).running_w / 1000.0
    rows = {}
    for slug, option in study.model.options.items():
        battery, generator, path = machines(study, house, option)
        rows[slug] = worksheet(
            service,
            battery=battery,
            generator=generator,
            path=path,
            solar_inverter_kw=option.solar.inverter_kw if option.solar else 0.0,
            running_kw=running_kw,
            propane_tank=option.generator.propane_tank if option.generator else None,
        )
    return Worksheet(service, calculated_loads(study.model.house), rows)
