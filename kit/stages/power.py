"""Can each option carry, start and reach the must-run loads: the power and start check."""

from __future__ import annotations

from dataclasses import replace

from kit.fit import Fit, Site, fit
from kit.house import HouseYear, outage_loads, peaks
from kit.stages.load_list import Reached, list_notes
from kit.stages.service import coldest_c
from kit.stages.sources import Sources, asked_loads
from kit.study import Study


def power_check(study: Study, house: HouseYear, options: dict[str, Sources]) -> dict[str, Fit]:
    """The fit of every option. Peaks are those of all the loads asked for, duty ignored.

    Notes say what would let a source start everything, and what the first hour after a long outage asks.
    """
    place = study.model.house
    worst = peaks(place, house.lists, asked_loads(study))
    everything = outage_loads(place, house.lists, "whole_house")
    mean_kw = float(everything.must_run_kw.mean())
    checked = {}
    reached: dict[tuple[str, ...], Reached] = {}
    for slug, option in options.items():
        block = option.option
        fuel = option.generator.fuel if option.generator else None
        terms = study.model.fuels.get(fuel) if fuel else None
        found = fit(
            worst,
            option=slug,
            battery=option.battery,
            generator=option.generator,
            path=option.path,
            solar=option.option.solar if option.option else None,
            unreached_must_run=option.unreached,
            tolerates_gap_s=option.loads.tolerates_gap_s,
            mean_must_run_kw=mean_kw,
            life_support=option.loads.life_support,
            allowed=study.model.allowed,
            site=Site(
                service_rating_a=place.service.rating_a,
                busbar_a=place.service.busbar_a,
                gas=place.gas_service,
                propane_tank=block.generator.propane_tank if block and block.generator else None,
                coldest_c=coldest_c(study, house),
                legal_limit_l=terms.legal_limit_l if terms else None,
                boundary_m=place.boundary_m,
                night_limit_db_a=place.night_limit_db_a,
            ),
        )
        checked[slug] = replace(found, findings=(*found.findings, *list_notes(study, house, option, reached)))
    return checked
