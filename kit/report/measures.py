"""The result vocabulary in the words of a reader: label, unit and group of every column."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from kit.report.formats import CHANCE

Needs = Literal["generator", "battery", "solar"]


@dataclass(frozen=True)
class Measure:
    """One column of the summary. `unit` is a suffix `formats.figure` knows.

    `needs` names the equipment without which the figure has no meaning; `when_none` is the
    reason printed when the figure is empty though the equipment is there.
    """

    column: str
    label: str
    unit: str
    group: str
    needs: tuple[Needs, ...] = ()
    when_none: str = "not computed for this option"


WHAT = "What it is"
MONEY = "Money up front and in year 1"
EXPECTED = "Outages in an expected year"
WHEN = "When an outage comes"
BURDENS = "Emissions a year"
LIFE = "Over the study’s horizon"
_NOT_MADE = "not given for every piece of equipment: all or none"
_NEVER = "not within the horizon"


def _rides(hours: int) -> Measure:
    return Measure(
        f"ride_through_frac_{hours}h",
        f"Chance to keep must-run loads on for {hours} h",
        CHANCE,
        WHEN,
        when_none=f"no event of the record lasts {hours} h",
    )


MEASURES: tuple[Measure, ...] = (
    Measure("feasible", "Can be built and used as described", "", WHAT),
    Measure("meets_target", "Meets what was asked", "", WHAT),
    Measure("starts_all", "Starts every must-run load it reaches", "", WHAT, when_none="nothing to start"),
    Measure("up_front_usd", "Paid up front", "usd", MONEY),
    Measure("bill_usd_per_year", "Electricity bill", "usd", MONEY),
    Measure("saving_from_plan_usd_per_year", "Bill saving from the rate plan", "usd", MONEY),
    Measure("saving_from_solar_usd_per_year", "Bill saving from solar", "usd", MONEY, ("solar",)),
    Measure("saving_from_battery_usd_per_year", "Bill saving from the battery", "usd", MONEY, ("battery",)),
    Measure(
        "standby_usd_per_year", "Electricity the generator draws on standby", "usd", MONEY, ("generator",)
    ),
    Measure(
        "foresight_adds_usd_per_year",
        "What perfect foresight would add to the battery's saving",
        "usd",
        MONEY,
        ("battery",),
    ),
    Measure("fuel_usd_per_year", "Fuel", "usd", MONEY, ("generator",)),
    Measure("upkeep_usd_per_year", "Service and upkeep", "usd", MONEY),
    Measure(
        "programme_usd_per_year",
        "Programme income while its contract runs",
        "usd",
        MONEY,
        ("battery",),
        "no programme",
    ),
    Measure(
        "lost_load_usd_per_year", "Value of lost load", "usd", MONEY, when_none="lost load is not valued"
    ),
    Measure("outage_h_per_year", "Hours the grid is down", "h", EXPECTED),
    Measure("must_run_unserved_h_per_year", "Hours must-run loads are without power", "h", EXPECTED),
    Measure("must_run_unserved_kwh_per_year", "Must-run energy not served", "kwh", EXPECTED),
    Measure("wanted_unserved_kwh_per_year", "Wanted energy not served", "kwh", EXPECTED),
    Measure(
        "generator_run_h_per_year", "Generator run time, test runs included", "h", EXPECTED, ("generator",)
    ),
    Measure("fuel_l_per_year", "Fuel burned", "l", EXPECTED, ("generator",), "pipeline gas, not a liquid"),
    Measure(
        "fuel_gas_m3_per_year",
        "Pipeline gas burned",
        "m3",
        EXPECTED,
        ("generator",),
        "a liquid fuel, not pipeline gas",
    ),
    Measure("interruption_felt_count_per_year", "Interruptions felt, blinks included", "count", EXPECTED),
    Measure("failed_outage_count_per_10y", "Outages not ridden through in ten years", "count", EXPECTED),
    Measure("ride_through_frac_asked", "Chance to keep must-run loads on for the hours asked", CHANCE, WHEN),
    Measure(
        "ride_through_frac_asked_aged",
        "The same with the battery as old as it gets in the stay",
        CHANCE,
        WHEN,
        ("battery",),
        when_none="the study lets it keep its capacity",
    ),
    _rides(4),
    _rides(8),
    _rides(24),
    _rides(72),
    _rides(168),
    Measure("longest_unserved_h", "Longest stretch without must-run power", "h", WHEN),
    Measure("transfer_gap_s", "Gap before power returns", "s", WHEN, ("generator", "battery")),
    Measure("fuel_on_hand_h", "Fuel on hand lasts", "h", WHEN, ("generator",), "pipeline gas, no stock"),
    Measure("refuel_count_per_24h", "Refuelling stops in 24 h", "count", WHEN, ("generator",)),
    Measure("recharge_h", "Recharge afterwards takes", "h", WHEN, ("battery",)),
    Measure("co2e_kg_per_year", "CO₂e, grid and fuel", "kg", BURDENS),
    Measure("embodied_co2e_kg", "CO₂e of making the equipment", "kg", BURDENS, when_none=_NOT_MADE),
    Measure("co2e_kg_of_stay", "CO₂e over the stay, making included", "kg", BURDENS, when_none=_NOT_MADE),
    Measure("onsite_nox_g_per_year", "NOx at the house", "g", BURDENS, ("generator",)),
    Measure("onsite_co_g_per_year", "Carbon monoxide at the house", "g", BURDENS, ("generator",)),
    Measure("lifetime_cost_usd", "Lifetime cost, present value", "usd", LIFE),
    Measure(
        "lifetime_cost_with_lost_load_usd",
        "Lifetime cost with lost load valued",
        "usd",
        LIFE,
        when_none="lost load is not valued",
    ),
    Measure("equivalent_annual_cost_usd", "Equivalent annual cost", "usd", LIFE),
    Measure("net_saving_usd", "Net saving against doing nothing", "usd", LIFE),
    Measure("payback_years", "Payback", "years", LIFE, when_none=_NEVER),
    Measure("discounted_payback_years", "Discounted payback", "years", LIFE, when_none=_NEVER),
    Measure(
        "irr_frac",
        "Internal rate of return",
        "frac",
        LIFE,
        when_none="none: backup is not an investment with income",
    ),
    Measure(
        "modified_irr_frac",
        "Modified internal rate of return",
        "frac",
        LIFE,
        when_none="none: backup is not an investment with income",
    ),
    Measure(
        "adjusted_irr_frac",
        "Adjusted internal rate of return",
        "frac",
        LIFE,
        when_none="it saves nothing in operation",
    ),
    Measure(
        "saving_to_investment_ratio", "Saving to investment ratio", "", LIFE, when_none="nothing invested"
    ),
    Measure(
        "backup_usd_per_kwh",
        "Backup cost per must-run kWh kept on",
        "usd",
        LIFE,
        when_none="doing nothing would miss no must-run energy",
    ),
    Measure(
        "usd_per_avoided_outage_h", "Cost per outage hour avoided", "usd", LIFE, when_none="no hour avoided"
    ),
)

BY_COLUMN: dict[str, Measure] = {m.column: m for m in MEASURES}
GROUPS: tuple[str, ...] = (WHAT, MONEY, EXPECTED, WHEN, BURDENS, LIFE)

HEADLINE: dict[str, str] = {  # column -> its name where it heads a narrow column
    "meets_target": "Meets what was asked",
    "ride_through_frac_asked": "Chance for the hours asked",
    "starts_all": "Starts what it reaches",
    "up_front_usd": "Paid up front",
    "lifetime_cost_usd": "Lifetime cost",
    "equivalent_annual_cost_usd": "Cost a year",
    "saving_from_battery_usd_per_year": "Battery saves a year",
    "fuel_usd_per_year": "Fuel a year",
    "must_run_unserved_h_per_year": "Must-run off a year",
    "transfer_gap_s": "Gap before power",
    "fuel_on_hand_h": "Fuel lasts",
}
