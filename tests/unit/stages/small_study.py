"""A small invented study on disk, and what compare() says of it; a test changes what it is about."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from kit.compare import Comparison, compare
from kit.study import Study, read_study

HEAD = """\
kit_file: 1
name: Small house
invented: true
year: 2025
asked: {keep_on_h: 8, chance_frac: 0.8, stay_years: 10}
grid_co2e_kg_per_kwh: 0.35
house:
  time_zone: America/New_York
  latitude_deg: 36
  longitude_deg: -80
  step_min: 60
  weather: {kind: clear_sky, temperature_c: 15}
  attended_hours: "6-23"
  appliances:
    refrigerator: {running_w: 180, starting_total_w: 900, duty_frac: 0.4, tier: must_run, connection: cord}
    lights: {running_w: 100, tier: must_run, use: {weekday: "6-8, 17-23", weekend: "7-23"}}
    well_pump: {running_w: 1000, starting_total_w: 2200, voltage_v: 240, duty_frac: 0.1, tier: must_run}
    television: {running_w: 150, tier: wanted, connection: cord, use: {weekday: "18-23", weekend: "16-23"}}
    heater: {running_w: 1500, duty_frac: 0.5, tier: can_wait, backed: false}
rate_plan:
  fixed_usd_per_month: 12
  energy:
    peak: {days: weekday, hours: 16-21, price_usd_per_kwh: 0.40}
    off_peak: {hours: rest, price_usd_per_kwh: 0.12}
  export: {kind: net_billing, price_usd_per_kwh: 0.05, leftover: carried_usd}
outages:
  horizon_h: 336
  blinks_per_year: 2
  classes:
    routine: {events_per_year: 1.0, duration: {kind: exponential, mean_h: 2}}
    major: {events_per_year: 0.3, duration: {kind: lognormal, median_h: 10, spread: 1.0}, attended_frac: 0.9}
fuels:
  gasoline: {price_usd_per_gal: 3.5}
  propane: {price_usd_per_gal: 2.5}
  natural_gas: {price_usd_per_m3: 0.5, fixed_usd_per_year: 120}
money: {price_year: 2026, discount_rate_frac: 0.03}
"""
SOLAR = "{size_kw: 4, inverter_kw: 4, cost: {price_usd: 9000}}"
PORTABLE = """{fuel: gasoline, running_kw: 5, starting_kw: 6, tank_gal: 6, fuel_on_site_gal: 20,
      fuel_points: [{output_kw: 0, fuel_gal_per_h: 0.25}, {output_kw: 5, fuel_gal_per_h: 0.8}],
      refuel_gap_min: 20, start: manual, onsite_nox_g_per_kwh: 6, onsite_co_g_per_kwh: 200,
      service: {oil: {every_h: 50, every_years: 1, price_usd: 20}}, cost: {price_usd: 900}}"""
STANDBY = """{fuel: propane, running_kw: 12, starting_kw: 14, tank_gal: 250, connected_to: whole_house,
      fuel_points: [{output_kw: 0, fuel_gal_per_h: 0.8}, {output_kw: 12, fuel_gal_per_h: 2.4}],
      start: automatic, standby_w: 20, onsite_nox_g_per_kwh: 6, onsite_co_g_per_kwh: 100,
      service: {visit: {every_years: 1, price_usd: 240}}, cost: {price_usd: 8500}}"""
GAS_SET = """{fuel: natural_gas, running_kw: 12, starting_kw: 14, connected_to: whole_house,
      fuel_points: [{output_kw: 0, fuel_m3_per_h: 2.5}, {output_kw: 12, fuel_m3_per_h: 6.5}],
      start: automatic, standby_w: 20, onsite_nox_g_per_kwh: 6, onsite_co_g_per_kwh: 100,
      service: {visit: {every_years: 1, price_usd: 240}}, cost: {price_usd: 8500}}"""
BATTERY = """{nominal_kwh: 11, usable_kwh: 10, continuous_kw: 5, surge_kw: 8, surge_s: 10, charge_kw: 5,
      charge_efficiency_frac: 0.94, discharge_efficiency_frac: 0.94, idle_w: 30, reserve_frac: 0.5,
      everyday: clock, cost: {price_usd: 8000, install_usd: 2000}}"""
INLET = "{kind: manual, inlet_a: 30, rating_a: 60, cost: {price_usd: 1000}}"
SWITCH = "{kind: automatic, rating_a: 200, transfer_time_s: 2, cost: {price_usd: 1500}}"
PANEL = "{kind: automatic, rating_a: 60, cost: {price_usd: 1000}}"
OPTIONS: dict[str, dict[str, str]] = {
    "solar_only": {"name": "Solar only", "solar": SOLAR},
    "portable": {"name": "Portable set", "generator": PORTABLE, "transfer": INLET},
    "standby": {"name": "Standby set", "generator": STANDBY, "transfer": SWITCH},
    "standby_solar": {
        "name": "Standby set with solar",
        "generator": STANDBY,
        "solar": SOLAR,
        "transfer": SWITCH,
    },
    "battery": {"name": "Battery", "battery": BATTERY, "transfer": PANEL},
    "battery_solar": {"name": "Battery with solar", "battery": BATTERY, "solar": SOLAR, "transfer": PANEL},
    "gas_set": {"name": "Set on pipeline gas", "generator": GAS_SET, "transfer": SWITCH},
}

Change = tuple[str, str]


def study_text(slugs: Sequence[str] = tuple(OPTIONS), **more: dict[str, str]) -> str:
    """The study with just these options, in this order, and `more` of them."""
    text = HEAD + "options:\n"
    for slug, parts in ({slug: OPTIONS[slug] for slug in slugs} | more).items():
        text += f"  {slug}:\n" + "".join(f"    {part}: {value}\n" for part, value in parts.items())
    return text


def study_at(
    folder: Path, *changes: Change, set_values: Sequence[str] = (), text: str | None = None
) -> Study:
    """Write the study with texts replaced, and read it with settings on top."""
    text = study_text() if text is None else text
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    path = folder / "small.yaml"
    path.write_text(text)
    return read_study(path, set_values)


def compared(
    folder: Path, *changes: Change, set_values: Sequence[str] = (), text: str | None = None
) -> Comparison:
    """compare() of the study so changed."""
    return compare(study_at(folder, *changes, set_values=set_values, text=text))
