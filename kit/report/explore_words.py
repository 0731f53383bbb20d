"""Plain words for a household: one sentence a term, and short cautions for one option."""

from __future__ import annotations

from typing import Any

from kit.report.cautions import DECIDES

HELP: dict[str, str] = {
    "option": "What could be bought; every option is compared with doing nothing.",
    "keep_on_h": "How long the must-run loads should stay on after the grid fails.",
    "unit_count": "How many battery units stand side by side.",
    "packs_per_unit": "Extra storage joined to each unit; it adds energy, not power.",
    "solar_kw": "Rated power of the solar panels; inverter and price follow in proportion.",
    "reserve_frac": "Share of the battery that everyday use leaves alone, to be there when the grid fails.",
    "fuel_price": "What a unit of the generator’s fuel costs here.",
    "outages": "How often, when and for how long the grid fails at such a place.",
    "rate_plan": "What the utility charges for electricity, hour by hour and month by month.",
}

TERMS: dict[str, str] = {
    "Must-run loads": "what has to stay on in an outage, by the study’s list.",
    "Chance to stay on": "share of outages of that length or longer in which no must-run load is cut off, "
    "machines that fail to start or break down included; printed rounded down, so that it is reached.",
    "Paid up front": "purchase, installation and permits less incentives, before anything is used.",
    "Electricity bill": "what the utility charges in the first year, credits taken off.",
    "Cost a year": "all costs over the years of the stay, spread evenly with interest, less those of "
    "doing nothing.",
    "Hours without power": "hours of an average year in which must-run loads are off.",
}

HELD = "This battery is kept full for outages, so no reserve is set."


def cautions_for(option: Any, life_support: bool) -> list[str]:
    """Short cautions for what one option holds, gravest first; empty for doing nothing."""
    if option is None:
        return [_LIFE] if life_support else []
    out = [_LIFE] if life_support else []
    if option.generator is not None:
        out.append(
            "Run a generator outdoors only, at least 20 ft (6 to 7 m) from doors, windows and vents, exhaust "
            "pointing away; keep carbon monoxide alarms working. The gas kills without a smell."
        )
        if option.generator.tank_l is not None:
            out.append(
                "Let it cool before refuelling; keep fuel in approved containers away from the house, and no "
                "more than the fire code allows."
            )
        else:
            out.append(
                "Pipeline gas can fail in the event that takes the grid down, an earthquake above all."
            )
    if option.generator is not None or option.battery is not None:
        out.append(
            "Never feed the house through a socket outlet: backfeed can kill. Wired connections are for a "
            "licensed electrician, with transfer equipment and a permit."
        )
    if option.battery is not None:
        out.append("A battery may stand only where code, fire service and its instructions allow.")
    if option.solar is not None:
        charges = option.battery is not None and option.solar.charges_battery_in_outage
        out.append(
            "In an outage the solar works through the battery’s inverter only."
            if charges
            else "This solar switches off with the grid: it gives nothing in an outage."
        )
    if not life_support and (option.generator is not None or option.battery is not None):
        out.append("Medical equipment that keeps someone alive needs a plan of its own.")
    return [*out, DECIDES]


_LIFE = (
    "Someone here depends on powered medical equipment: nothing shown is adequate for that. Make a plan "
    "with the care team and the utility."
)
