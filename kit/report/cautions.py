"""Cautions: what could hurt someone, short, general, and only for the equipment shown.

They stand in a memo whatever the figures say, and approve nothing. Local code and a
licensed person decide.
"""

from __future__ import annotations

from typing import Any

DECIDES = "Local code and a licensed person decide."

LIFE_SUPPORT = (
    "Someone in this house depends on powered medical equipment. Nothing in this memo is adequate for"
    " that: any gap counts, and every option shown can fail. Make a plan of its own with the care "
    "team, the equipment supplier and the utility’s medical register: a second source, a place to go,"
    " and when to call for help."
)

GENERATOR = (
    "Carbon monoxide kills without a smell. Run a generator outdoors only, at least 20 ft (about 6 to"
    " 7 m) from every door, window and vent, with the exhaust pointing away; never in a garage, a "
    "basement or under an open window. Keep working carbon monoxide alarms on every floor. (US "
    "Consumer Product Safety Commission guidance on portable generators.)",
    "Let an engine cool before refuelling. Store fuel in approved cans away from the house and from "
    "flames; how much may be kept, and where, is limited by the local fire code.",
)

BACKFEED = (
    "Never feed a house through a socket outlet. Backfeed can kill a line worker or a neighbour. "
    "Wired connections need transfer equipment, a permit and a licensed electrician. " + DECIDES
)

BATTERY = (
    "Battery systems may stand only where the local code, the fire service and the maker’s "
    "instructions allow: limits cover rooms, clearances, total energy and outdoor placement. " + DECIDES
)

SOLAR = (
    "Grid-tied solar stops with the grid. It works in an outage only behind an inverter that forms a "
    "grid of its own, and only as this memo says for the option."
)

MEDICAL = (
    "A person who depends on powered medical equipment needs a plan of their own; "
    "this memo cannot be that plan."
)

FINDINGS = (
    "A finding in this memo never approves an installation, and the absence of one approves nothing. "
    + DECIDES
)

PIPELINE = "Pipeline gas can fail in the same event that takes the grid down, an earthquake above all."


def has_life_support(comparison: Any) -> bool:
    """Whether any appliance of the house is marked life_support."""
    return any(a.life_support for a in comparison.study.model.house.appliances.values())


def cautions(comparison: Any) -> list[str]:
    """The cautions that the options of this comparison call for, gravest first."""
    options = [o.option for o in comparison.outcomes.values() if o.option is not None]
    out: list[str] = []
    if any(o.generator for o in options):
        out += GENERATOR
    if any(o.generator or o.battery for o in options):
        out.append(BACKFEED)
    if any(o.battery for o in options):
        out.append(BATTERY)
    if any(o.solar for o in options):
        out.append(SOLAR)
    if any(o.generator and o.generator.fuel == "natural_gas" for o in options):
        out.append(PIPELINE)
    if not has_life_support(comparison):
        out.append(MEDICAL)
    return [*out, FINDINGS]


_SHORT_GENERATOR = (
    "Generator: outdoors only, at least 20 ft (about 6 to 7 m) from every door, window and vent; never in a "
    "garage or basement. Carbon monoxide alarms on every floor. (US Consumer Product Safety Commission.)",
    "Fuel: in approved cans, away from house and flames, into a cooled engine; the local fire code limits "
    "how much.",
)
_SHORT_BACKFEED = (
    "Never feed a house through a socket outlet: transfer equipment, a permit and a licensed electrician."
)
_SHORT_BATTERY = "Battery: only where local code, the fire service and the maker’s instructions allow."
_SHORT_SOLAR = "Solar stops with the grid unless an inverter forms a grid of its own behind it."


def short_cautions(comparison: Any) -> list[str]:
    """The same cautions, a line each, for a single page."""
    options = [o.option for o in comparison.outcomes.values() if o.option is not None]
    out: list[str] = []
    if any(o.generator for o in options):
        out += _SHORT_GENERATOR
    if any(o.generator or o.battery for o in options):
        out.append(_SHORT_BACKFEED)
    if any(o.battery for o in options):
        out.append(_SHORT_BATTERY)
    if any(o.solar for o in options):
        out.append(_SHORT_SOLAR)
    if any(o.generator and o.generator.fuel == "natural_gas" for o in options):
        out.append(PIPELINE)
    if not has_life_support(comparison):
        out.append(MEDICAL.replace("memo", "page"))
    return [*out, "Nothing on this page approves an installation. " + DECIDES]
