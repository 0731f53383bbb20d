"""The code worksheet of one option: what the rules compare, line by line. It never approves.

Each row sets a figure the rule asks for (`need`) beside what the option has (`have`). `outcome` is
'within', 'beyond' or 'open': open where an input is missing or the rule leaves the choice to people.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Literal

from kit.fit.battery_cautions import AGGREGATE_LIMIT_KWH, NFPA_855, UNIT_LIMIT_KWH
from kit.fit.gas_supply import boil_off_kw, full_heat_kw
from kit.fit.hazards import busbar_room_a, inverter_breaker_a
from kit.systems.battery import BatterySystem
from kit.systems.generator import GeneratorSet
from kit.systems.transfer import PowerPath, stands_fixed

if TYPE_CHECKING:
    import pandas as pd

    from kit.study.dwelling_models import GasService, PropaneTank

EXISTING_FACTOR = 1.25  # NEC 220.87
CONDUCTOR_FACTOR = 1.15  # NEC 445.13, from memory
SET_DISTANCE_M = 5 * 0.3048  # NFPA 37, from memory
PORTABLE_DISTANCE_M = 20 * 0.3048  # CPSC and NFPA guidance

Outcome = Literal["within", "beyond", "open"]


@dataclass(frozen=True)
class Line:
    """One row; `need` and `have` are in `unit`, a suffix of kit.units, and None where unknown."""

    rule: str
    need: float | None
    have: float | None
    unit: str
    outcome: Outcome
    text: str
    source: str


@dataclass(frozen=True)
class ServiceFacts:
    """The connection of the house and what is known of its load.

    calculated_kw: NEC 220 load of the whole house, the smaller of the two methods, None without
    nameplates. metered_peak_kw: highest metered mean over metered_step_min; None without a meter.
    coldest_c: of the weather year. Amperes are at `voltage_v`.
    """

    rating_a: float
    busbar_a: float
    voltage_v: float = 240.0
    calculated_kw: float | None = None
    metered_peak_kw: float | None = None
    metered_step_min: float = 60.0
    coldest_c: float | None = None
    gas: GasService | None = None
    opening_m: float | None = None


def inverters_kw(battery: BatterySystem | None, solar_inverter_kw: float) -> float:
    """Inverter power that feeds the panel: a plug-in battery feeds none."""
    fixed = battery is not None and battery.connected_to != "plug_in"
    return solar_inverter_kw + (battery.continuous_kw if battery is not None and fixed else 0.0)


def panel_work_due(service: ServiceFacts, inverter_kw: float) -> bool:
    """True where the busbar rule leaves no room: then panel work is priced, where the study gives it."""
    if not inverter_kw:
        return False
    return inverter_breaker_a(inverter_kw) > busbar_room_a(service.busbar_a, service.rating_a) + 1e-9


def gas_work_due(service: ServiceFacts, generator: GeneratorSet | None) -> bool:
    """True where the gas meter cannot pass the set's full-load heat beside the other appliances."""
    if generator is None or generator.fuel != "natural_gas" or service.gas is None:
        return False
    return full_heat_kw(generator) + service.gas.other_appliances_kw > service.gas.meter_rating_kw + 1e-9


def worksheet(
    service: ServiceFacts,
    *,
    battery: BatterySystem | None,
    generator: GeneratorSet | None,
    path: PowerPath | None,
    solar_inverter_kw: float,
    running_kw: float,
    propane_tank: PropaneTank | None = None,
) -> pd.DataFrame:
    """The rows of one option: columns rule, need, have, unit, outcome, text, source.

    running_kw: all loads asked for running at once. Empty for an option with nothing to wire.
    """
    import pandas as pd

    lines: list[Line] = []
    if battery is not None or generator is not None:
        lines += _transfer(service, battery, generator, path, running_kw)
    lines += _service(service, battery, solar_inverter_kw)
    lines += _batteries(battery)
    lines += _generator(service, generator, path)
    lines += _gas(service, generator, propane_tank)
    columns = [f.name for f in fields(Line)]
    return pd.DataFrame([[getattr(line, c) for c in columns] for line in lines], columns=columns)


def _outcome(need: float | None, have: float | None) -> Outcome:
    if need is None or have is None:
        return "open"
    return "within" if need <= have + 1e-9 else "beyond"


def _transfer(
    service: ServiceFacts,
    battery: BatterySystem | None,
    generator: GeneratorSet | None,
    path: PowerPath | None,
    running_kw: float,
) -> Iterator[Line]:
    """NEC 702.4(B): what an automatic transfer of the whole panel asks for against load management."""
    if path is None or path.kind == "none":
        return
    if path.kind == "manual":
        have = max(
            generator.running_kw if generator else 0.0,
            battery.continuous_kw if battery else 0.0,
        )
        text = "Manual transfer: the user picks what runs together, here all loads asked for at once."
        yield Line(
            "capacity, manual transfer",
            running_kw,
            have,
            "kw",
            _outcome(running_kw, have),
            text,
            "NEC 702.4(B)",
        )
        return
    for name, source, have in (
        ("battery", battery, battery.continuous_kw if battery else 0.0),
        ("generator", generator, generator.running_kw if generator else 0.0),
    ):
        if source is None:
            continue
        if source.connected_to != "whole_house":
            need: float | None = running_kw if path.panel_kw is None else path.panel_kw
            text = (
                "Automatic transfer of a backed panel: the source carries all of that panel, or load "
                "management holds it down."
            )
        else:
            need = service.calculated_kw
            text = (
                "Automatic transfer of the whole panel: the source carries the calculated load of the house, "
                "or load management lets it connect no more than it can."
            )
        if need is None:
            text += " The house block gives no nameplates (`dwelling`), so the load is not known."
        yield Line(
            f"capacity of the {name}, automatic transfer",
            need,
            have,
            "kw",
            _outcome(need, have),
            text,
            "NEC 702.4(B)",
        )


def _service(
    service: ServiceFacts, battery: BatterySystem | None, solar_inverter_kw: float
) -> Iterator[Line]:
    inverter_kw = inverters_kw(battery, solar_inverter_kw)
    if inverter_kw:
        need = inverter_breaker_a(inverter_kw, service.voltage_v)
        have = busbar_room_a(service.busbar_a, service.rating_a)
        text = (
            f"{inverter_kw:g} kW of inverters on a {service.busbar_a:g} A bus behind a "
            f"{service.rating_a:g} A main breaker."
        )
        source = "NEC 705.12 (from memory)"
        yield Line("room on the busbar", need, have, "a", _outcome(need, have), text, source)
    if battery is None or not battery.charge_kw:
        return
    rating_kw = service.rating_a * service.voltage_v / 1000.0
    if service.metered_peak_kw is None:
        text = "No meter record: the existing-load rule needs a year of it."
        yield Line(
            "existing load with battery charging", None, rating_kw, "kw", "open", text, "NEC 220.87 (2017)"
        )
        return
    need_kw = EXISTING_FACTOR * service.metered_peak_kw + battery.charge_kw
    coarse = service.metered_step_min > 15
    text = (
        f"125 % of the metered peak of {service.metered_peak_kw:.1f} kW, and {battery.charge_kw:g} kW of "
        "charging."
    )
    if coarse:
        text += (
            f" The record holds means of {service.metered_step_min:g} min; the rule asks for 15 min, which "
            "peak higher."
        )
    found = _outcome(need_kw, rating_kw)
    outcome: Outcome = "open" if coarse and found == "within" else found
    yield Line(
        "existing load with battery charging", need_kw, rating_kw, "kw", outcome, text, "NEC 220.87 (2017)"
    )


def _batteries(battery: BatterySystem | None) -> Iterator[Line]:
    if battery is None:
        return
    unit_kwh = battery.rated_kwh / battery.unit_count
    limit = AGGREGATE_LIMIT_KWH[battery.place]
    text = f"All units with their packs, {battery.place}."
    yield Line(
        "energy in one place",
        battery.rated_kwh,
        limit,
        "kwh",
        _outcome(battery.rated_kwh, limit),
        text,
        NFPA_855,
    )
    yield Line(
        "energy of one unit",
        unit_kwh,
        UNIT_LIMIT_KWH,
        "kwh",
        _outcome(unit_kwh, UNIT_LIMIT_KWH),
        "One unit with its packs.",
        NFPA_855,
    )


def _generator(
    service: ServiceFacts, generator: GeneratorSet | None, path: PowerPath | None
) -> Iterator[Line]:
    if generator is None:
        return
    volts = 240.0 if generator.gives_240v else 120.0
    amps = CONDUCTOR_FACTOR * generator.rated_kw * 1000.0 / volts
    text = (
        f"Conductors from the set: 115 % of its {generator.rated_kw:g} kW at {volts:g} V, power factor one."
    )
    yield Line("conductors of the generator", amps, None, "a", "open", text, "NEC 445.13 (from memory)")
    fixed = stands_fixed(generator.connected_to, path)
    need = SET_DISTANCE_M if fixed else PORTABLE_DISTANCE_M
    source = "NFPA 37 (from memory)" if fixed else "CPSC and NFPA guidance"
    have = service.opening_m
    text = "From the set to the nearest door, window or vent" + (
        "." if have is not None else "; not stated (`generator_to_opening_m` of the house)."
    )
    yield Line("distance of the generator", need, have, "m", _outcome(need, have), text, source)


def _gas(
    service: ServiceFacts, generator: GeneratorSet | None, propane_tank: PropaneTank | None
) -> Iterator[Line]:
    if generator is None or generator.fuel not in ("natural_gas", "propane"):
        return
    heat = full_heat_kw(generator)
    if generator.fuel == "natural_gas":
        gas = service.gas
        need = None if gas is None else heat + gas.other_appliances_kw
        text = f"The set at full load takes {heat:,.0f} kW of gas." + (
            " The rating of the gas meter is not stated (`gas_service` of the house)."
            if gas is None
            else f" Other appliances {gas.other_appliances_kw:,.0f} kW."
        )
        have = None if gas is None else gas.meter_rating_kw
        source = "common practice, no source"
        yield Line("gas through the meter", need, have, "kw", _outcome(need, have), text, source)
        return
    if propane_tank is None or service.coldest_c is None:
        missing = "size of the tank (`propane_tank`)" if propane_tank is None else "weather"
        text = f"The {missing} is not stated, so what it boils off in the cold is not known."
        yield Line(
            "propane boiled off in the cold", heat, None, "kw", "open", text, "common practice, no source"
        )
        return
    have = boil_off_kw(propane_tank, propane_tank.refilled_at_frac, service.coldest_c)
    text = (
        f"Full load for hours on end, at the coldest hour of the weather year ({service.coldest_c:.0f} C, "
        f"{service.coldest_c * 1.8 + 32:.0f} F) and the {propane_tank.refilled_at_frac:.0%} fill at which "
        "the truck comes."
    )
    source = "D x L x K rule of the propane trade (from memory)"
    yield Line("propane boiled off in the cold", heat, have, "kw", _outcome(heat, have), text, source)


def beyond(rows: Sequence[Line] | pd.DataFrame) -> list[str]:
    """Names of the rules an option is beyond."""
    import pandas as pd

    table = rows if isinstance(rows, pd.DataFrame) else pd.DataFrame(rows)
    return [] if table.empty else table.loc[table["outcome"] == "beyond", "rule"].tolist()
