"""Findings about a generator set: carbon monoxide, backfeed, its fuel."""

from __future__ import annotations

from collections.abc import Iterator

from kit.fit.equipment import DEFER, Equipment
from kit.fit.gas_supply import cannot_feed_below_c, full_heat_kw
from kit.fit.hazards import co_minutes_to_danger
from kit.fit.inputs import Site
from kit.study.finding import Finding
from kit.systems.transfer import stands_fixed
from kit.units import BTU_PER_KWH, GAL_L

CLOSED_GARAGE_M3 = 100.0
DWELLING_LIMIT_L = 25.0 * GAL_L  # NFPA 30 and NFPA 1, class I + II liquids of one dwelling, from memory
COMMON = "common practice, no source"
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
    if stands_fixed(g.connected_to, e.path):
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
        yield _gas_meter(e, site, full_heat_kw(g))
        return
    if g.fuel == "propane":
        yield _propane_cold(e, site, full_heat_kw(g))
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


def _gas_meter(e: Equipment, site: Site, heat_kw: float) -> Finding:
    text = f"At full load the set takes {heat_kw * BTU_PER_KWH:,.0f} Btu/h of gas ({heat_kw:,.0f} kW). "
    if site.gas is None:
        text += (
            "Together with the furnace, water heater and range it must stay within the rating of the gas "
            "meter and pipe."
        )
        return e.say("gas_meter", "generator", text + DEFER, COMMON, "note")
    total_kw, rating_kw = heat_kw + site.gas.other_appliances_kw, site.gas.meter_rating_kw
    text += f"With the other appliances that makes {total_kw:,.0f} kW; the meter passes {rating_kw:,.0f} kW."
    if total_kw > rating_kw + 1e-9:
        text += " A larger meter or pipe is due, and its cost."
        return e.say("gas_meter", "generator", text + DEFER, COMMON)
    return e.say("gas_meter", "generator", text + DEFER, COMMON, "note")


def _propane_cold(e: Equipment, site: Site, heat_kw: float) -> Finding:
    tank = site.propane_tank
    if tank is None:
        text = (
            "A cold or nearly empty propane tank boils off less gas than a large set burns. Have the "
            "supplier say below which temperature and fill this tank cannot feed this set."
        )
        return e.say("propane_cold", "generator.tank_l", text + DEFER, COMMON, "note")
    below_c = cannot_feed_below_c(tank, tank.refilled_at_frac, heat_kw)
    text = (
        f"Down to {tank.refilled_at_frac:.0%}, the least the truck lets it fall to, this propane tank "
        f"cannot feed the set at full load below {below_c:.0f} C ({below_c * 1.8 + 32:.0f} F)."
    )
    source = "D x L x K rule of the propane trade (from memory)"
    if site.coldest_c is not None and site.coldest_c < below_c:
        text += f" The weather year falls to {site.coldest_c:.0f} C: a larger or fuller tank is due."
        return e.say("propane_cold", "generator.propane_tank", text + DEFER, source)
    return e.say("propane_cold", "generator.propane_tank", text + DEFER, source, "note")
