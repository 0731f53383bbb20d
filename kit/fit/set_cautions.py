"""Findings about a generator set: carbon monoxide, backfeed, its fuel."""

from __future__ import annotations

from collections.abc import Iterator

from kit.fit.equipment import DEFER, Equipment
from kit.fit.hazards import co_minutes_to_danger
from kit.fit.inputs import Site
from kit.study.finding import Finding
from kit.systems.fuels import fuel_facts
from kit.units import BTU_PER_KWH, GAL_L

CLOSED_GARAGE_M3 = 100.0
DWELLING_LIMIT_L = 25.0 * GAL_L  # NFPA 30 and NFPA 1, class I + II liquids of one dwelling, from memory
PLACEMENT = "CPSC and NFPA guidance on portable generators"


def carbon_monoxide(e: Equipment) -> Iterator[Finding]:
    """Where a set may never run, and how fast a closed garage turns deadly."""
    g = e.generator
    if g is None:
        return
    text = (
        "A generator kills with carbon monoxide. Never run it in a house, garage, shed or on a porch, "
        "even with doors open. Keep it at least 20 ft (7 m) from doors, windows and vents, exhaust "
        "pointing away, and have battery-powered carbon monoxide alarms on every floor."
    )
    output_kw = min(1.0, g.running_kw)
    minutes = co_minutes_to_danger(g.onsite_co_g_per_kwh, output_kw, CLOSED_GARAGE_M3)
    if minutes < 24 * 60:
        text += (
            f" At {output_kw:.2g} kW and {g.onsite_co_g_per_kwh:g} g/kWh, a closed garage of "
            f"{CLOSED_GARAGE_M3:g} m3 passes 1,200 ppm, immediately dangerous, in {minutes:.1f} min."
        )
    yield e.say("carbon_monoxide", "generator", text + DEFER, PLACEMENT)
    if g.connected_to != "plug_in":
        text = (
            "A fixed set stands at least 5 ft (1.5 m) from openings and walls that burn, unless "
            "tested closer."
        )
        yield e.say("set_distance", "generator", text + DEFER, "NFPA 37 (from memory)", "note")


def backfeed(e: Equipment) -> Iterator[Finding]:
    """A set on house wiring without transfer equipment, and the care cords need."""
    no_transfer = e.path is None or e.path.kind == "none"
    g = e.generator
    if g is not None and g.connected_to != "plug_in" and no_transfer:
        text = (
            "This generator feeds the house wiring but the option has no transfer equipment. Without it "
            "the set feeds back into the street and can kill a line worker. Add a transfer switch or "
            "interlock."
        )
        yield e.say("backfeed", "transfer", text + DEFER, "NEC 702.5 (from memory)")
    if any(s is not None and s.connected_to == "plug_in" for s in (e.battery, g)):
        text = (
            "Loads are fed by cords: use heavy outdoor cords, one load each, none under rugs. Never feed "
            "the house through a wall outlet: that sends power back into the street."
        )
        yield e.say("cords", None, text + DEFER, "common practice, no source")


def fuel(e: Equipment, site: Site) -> Iterator[Finding]:
    """Gas meter, propane in the cold, or liquid fuel on site against the legal limit."""
    g = e.generator
    if g is None:
        return
    if g.fuel == "natural_gas":
        heat_kw = float(g.fuel_per_h.max()) * fuel_facts(g.fuel).hhv_kwh_per_unit
        text = (
            f"At full load the set takes {heat_kw * BTU_PER_KWH:,.0f} Btu/h of gas ({heat_kw:,.0f} kW). "
            "Together with the furnace, water heater and range it must stay within the rating of the gas "
            "meter and pipe."
        )
        yield e.say("gas_meter", "generator", text + DEFER, "common practice, no source", "note")
        return
    if g.fuel == "propane":
        text = (
            "A cold or nearly empty propane tank boils off less gas than a large set burns. Have the "
            "supplier say below which temperature and fill this tank cannot feed this set."
        )
        yield e.say("propane_cold", "generator.tank_l", text + DEFER, "common practice, no source", "note")
        return
    text = "Keep fuel outside living space in approved cans; stop the set and let it cool before refuelling."
    yield e.say("fuel_handling", "generator.fuel_on_site_l", text + DEFER, PLACEMENT, "note")
    on_site_l = g.fuel_on_site_l or 0.0
    stated = site.legal_limit_l is not None
    limit_l = site.legal_limit_l if site.legal_limit_l is not None else DWELLING_LIMIT_L
    if on_site_l > limit_l + 1e-9:
        whose = (
            "the limit of this study"
            if stated
            else "the 25 gal common for one dwelling (10 gal in some codes)"
        )
        text = (
            f"{on_site_l:,.0f} L ({on_site_l / GAL_L:,.1f} gal) of {g.fuel} on site is above "
            f"{limit_l:,.0f} L ({limit_l / GAL_L:,.1f} gal), {whose}."
        )
        source = None if stated else "NFPA 30, NFPA 1, IFC 5704.3.4.2 (from memory)"
        yield e.say("fuel_on_site", "generator.fuel_on_site_l", text + DEFER, source)
