"""A battery system as one source: units in parallel, their packs, power, voltage and limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

if TYPE_CHECKING:
    from kit.study.equipment_models import Battery

Place = Literal["indoors", "garage", "outdoors"]

INDOORS_C = 20.0  # assumption: a heated room
GARAGE_WARMER_C = 5.0  # assumption: an unheated attached garage, above outdoors (common practice, no source)


@dataclass(frozen=True)
class BatterySystem:
    """The whole system. Energies are stored (DC) kWh, counted from 0 = empty of usable energy.

    `floor_kwh` is the hard stop in an outage, `reserve_kwh` the everyday floor,
    `restart_kwh` the charge at which it starts again after running empty, and
    `wanted_above_kwh` the charge above which wanted loads may run from storage.
    Power is AC kW at the terminals. `leg_kw` is what one 120 V leg carries: half of a
    240 V system (common practice, no source), all of a 120 V one.
    `surge_s` is how long `surge_kw` lasts; 0 where it is not known.
    `unpaired_count` units are left out of everything: a 120 V unit without a partner in a
    split-phase system. `rated_kwh` is the nominal energy that storage limits count.
    """

    usable_kwh: float
    rated_kwh: float
    floor_kwh: float
    reserve_kwh: float
    restart_kwh: float
    wanted_above_kwh: float
    continuous_kw: float
    surge_kw: float
    surge_s: float
    charge_kw: float
    solar_charge_kw: float
    generator_charge_kw: float
    charge_efficiency_frac: float
    discharge_efficiency_frac: float
    idle_kw: float
    gives_120v: bool
    gives_240v: bool
    leg_kw: float
    unit_count: int
    unpaired_count: int
    transfer_time_s: float
    connected_to: str
    in_line: bool
    setup_min: float
    parallel_with_generator: bool
    grid_charge_allowed: bool
    place: Place
    no_charge_below_c: float
    noise_db_a_at_7m: float | None


def battery_system(b: Battery) -> BatterySystem:
    """Add up the units of a battery block.

    AC usable energy becomes stored energy by the discharge efficiency. A 240 V unit gives
    120 and 240 V. A 120 V unit gives 120 V only, unless `pair_gives_240v`: then each two
    units give both, and an odd unit is left out (`unpaired_count`). Idle is 0 where the
    quoted efficiency already holds it.
    """
    split_phase_pair = b.voltage_v == 120 and b.pair_gives_240v and b.unit_count >= 2
    unpaired = b.unit_count % 2 if split_phase_pair else 0
    working = b.unit_count - unpaired
    unit_usable = b.usable_kwh + b.packs_per_unit * b.pack_usable_kwh
    if b.usable_basis == "ac":
        unit_usable /= b.discharge_efficiency_frac
    unit_rated = b.nominal_kwh + b.packs_per_unit * b.pack_usable_kwh * b.nominal_kwh / b.usable_kwh
    usable = working * unit_usable
    continuous = working * b.continuous_kw
    gives_240v = b.voltage_v == 240 or split_phase_pair
    solar_charge = b.charge_kw if b.solar_charge_kw is None else b.solar_charge_kw
    return BatterySystem(
        usable_kwh=usable,
        rated_kwh=b.unit_count * unit_rated,
        floor_kwh=usable * b.outage_floor_frac,
        reserve_kwh=usable * b.reserve_frac,
        restart_kwh=usable * b.restart_frac,
        wanted_above_kwh=usable * b.wanted_above_frac,
        continuous_kw=continuous,
        surge_kw=continuous if b.surge_kw is None else working * b.surge_kw,
        surge_s=b.surge_s,
        charge_kw=working * b.charge_kw,
        solar_charge_kw=working * solar_charge,
        generator_charge_kw=working * b.generator_charge_kw,
        charge_efficiency_frac=b.charge_efficiency_frac,
        discharge_efficiency_frac=b.discharge_efficiency_frac,
        idle_kw=0.0 if b.efficiency_includes_idle else working * b.idle_w / 1000.0,
        gives_120v=True,
        gives_240v=gives_240v,
        leg_kw=continuous / 2.0 if gives_240v else continuous,
        unit_count=b.unit_count,
        unpaired_count=unpaired,
        transfer_time_s=b.transfer_time_s,
        connected_to=b.connected_to,
        in_line=b.in_line,
        setup_min=b.setup_min,
        parallel_with_generator=b.parallel_with_generator,
        grid_charge_allowed=b.grid_charge_allowed,
        place=b.place,
        no_charge_below_c=b.no_charge_below_c,
        noise_db_a_at_7m=b.noise_db_a_at_7m,
    )


def place_temperature_c(place: Place, outdoor_c: ArrayLike) -> NDArray[np.float64]:
    """Temperature where the battery stands (n,), degrees C.

    Indoors is 20 C; a garage is 5 C above outdoors (both assumptions); outdoors is as it is.
    Raises ValueError for another place.
    """
    outdoor = np.asarray(outdoor_c, dtype=np.float64)
    if place == "indoors":
        return np.full_like(outdoor, INDOORS_C)
    if place == "garage":
        return outdoor + GARAGE_WARMER_C
    if place == "outdoors":
        return outdoor.copy()
    raise ValueError(f"unknown place {place!r}: known are indoors, garage, outdoors")


def charge_allowed(place: Place, outdoor_c: ArrayLike, no_charge_below_c: float = 0.0) -> NDArray[np.bool_]:
    """True (n,) where the battery may charge: its place is at or above `no_charge_below_c`.

    Source of the default 0 C: LFP cell data sheets, charge 0 to 45/55 C.
    """
    return place_temperature_c(place, outdoor_c) >= no_charge_below_c
