"""Findings about where batteries stand, and about battery, generator and solar side by side."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from kit.fit.equipment import DEFER, Equipment
from kit.study.finding import Finding

AGGREGATE_LIMIT_KWH = {"indoors": 40.0, "garage": 80.0, "outdoors": 80.0}  # NFPA 855 chapter 15
UNIT_LIMIT_KWH = 20.0  # NFPA 855 chapter 15
NFPA_855 = "NFPA 855 chapter 15"


def storage(e: Equipment) -> Iterator[Finding]:
    """Energy in one place, distances, and a unit left without a partner."""
    b = e.battery
    if b is None:
        return
    limit_kwh = AGGREGATE_LIMIT_KWH[b.place]
    if b.rated_kwh > limit_kwh + 1e-9:
        text = (
            f"{b.rated_kwh:.1f} kWh of batteries {_where(b.place)} is above the {limit_kwh:g} kWh that "
            "homes may hold in one such place."
        )
        yield e.say("battery_aggregate", "battery", text + DEFER, NFPA_855)
    unit_kwh = b.rated_kwh / b.unit_count
    if unit_kwh > UNIT_LIMIT_KWH + 1e-9:
        text = (
            f"One unit with its packs holds {unit_kwh:.1f} kWh; home units are limited to "
            f"{UNIT_LIMIT_KWH:g} kWh."
        )
        yield e.say("battery_unit", "battery", text + DEFER, NFPA_855)
    text = (
        "Units stand 3 ft (0.9 m) apart and as far from doors and windows; never in bedrooms or on the "
        "way out. A smoke or heat alarm belongs in the same space."
    )
    yield e.say("battery_place", "battery.place", text + DEFER, NFPA_855, "note")
    if b.unpaired_count:
        text = (
            "One 120 V unit has no partner. Units make 240 V in pairs, so the odd one is left out of every "
            "figure: buy one more or one less."
        )
        yield e.say("battery_unpaired", "battery.unit_count", text)


def _where(place: str) -> str:
    return {"indoors": "indoors", "garage": "in the garage", "outdoors": "outdoors"}[place]


def together(e: Equipment) -> Iterator[Finding]:
    """What solar, battery and generator do and do not do for each other in an outage."""
    b, g, s = e.battery, e.generator, e.solar
    if s is not None and b is None:
        text = (
            "Solar tied to the grid shuts down with the grid, so that it cannot feed a street under "
            "repair. With no battery to hold up the house it serves nothing in an outage, not even at "
            "noon."
        )
        yield e.say("solar_off_in_outage", "solar", text + DEFER, "IEEE 1547-2018 8.1 (from memory)")
    elif s is not None and not s.charges_battery_in_outage:
        text = (
            "The solar array does not charge the battery in an outage, so the battery is not refilled by day."
        )
        yield e.say("solar_not_charging", "solar.charges_battery_in_outage", text, None, "note")
    if b is not None and g is not None:
        if b.generator_charge_kw == 0:
            text = "The generator does not charge the battery: no charge power from a generator is stated."
            yield e.say("generator_charge_none", "battery.generator_charge_kw", text, None, "note")
        else:
            text = (
                f"The generator charges the battery at up to {b.generator_charge_kw:g} kW. The inverter "
                "accepts a set only inside its window of frequency and voltage; small sets may fall "
                "outside."
            )
            yield e.say("generator_charge", "battery.generator_charge_kw", text + DEFER, None, "note")
        if not b.parallel_with_generator:
            text = (
                "Battery and generator do not add up: while the set runs it alone carries load and "
                f"charging, together at most {g.running_kw:.2f} kW."
            )
            yield e.say("not_parallel", "battery.parallel_with_generator", text, None, "note")
    if s is not None and g is not None:
        text = (
            "Solar beside a running generator can push power into it; the array is held back or blocked, "
            "and the controls must do that."
            if s.allowed_with_generator
            else "Solar is switched off while the generator runs."
        )
        severity: Literal["warning", "note"] = "warning" if s.allowed_with_generator else "note"
        yield e.say("solar_with_generator", "solar.allowed_with_generator", text + DEFER, None, severity)
