"""A small study to size: the metered house, one kind of outage, a catalogue whose arithmetic is short."""

from __future__ import annotations

from dataclasses import replace

from kit.shipped import shipped
from kit.study import Study, read_study

OUTAGES = "{classes: {storm: {events_per_year: 2, duration: {kind: exponential, mean_h: 6}}}, horizon_h: 24}"
BATTERY = (
    "{name: unit, nominal_kwh: 4.4, usable_kwh: 4, continuous_kw: 1.5, surge_kw: 3, surge_s: 10, "
    "charge_kw: 1.5, charge_efficiency_frac: 1, discharge_efficiency_frac: 0.9, pack_usable_kwh: 2, "
    "pack_price_usd: 700, everyday: hold, reserve_frac: 0.2, generator_charge_kw: 1, "
    "parallel_with_generator: true, life_years: 40, cost: {price_usd: 2000, install_usd: 500}}"
)
SMALL_SET = (
    "{name: set, fuel: gasoline, running_kw: 3, starting_kw: 3.5, tank_l: 10, setup_min: 5, "
    "fuel_points: [{output_kw: 0, fuel_l_per_h: 0.5}, {output_kw: 3, fuel_l_per_h: 2}], "
    "onsite_nox_g_per_kwh: 1, onsite_co_g_per_kwh: 100, life_years: 40, life_h: 100000, "
    "cost: {price_usd: 900, install_usd: 100}}"
)
PIECES = ("refrigerator", "freezer", "furnace_fan", "internet", "lights", "well_pump")


def catalogue(batteries: str = "", generators: str = "", solar: str = "") -> str:
    """A setting of the study's catalogue."""
    parts = [f"batteries: {{unit: {batteries}}}"] * bool(batteries)
    parts += [f"generators: {{set: {generators}}}"] * bool(generators)
    parts += [f"solar: {solar}"] * bool(solar)
    return f"catalogue={{{', '.join(parts)}}}"


BOTH = catalogue(
    f"{{battery: {BATTERY}, unit_count: [1, 2, 3], pack_count: [0, 1], "
    "transfer_with_generator: ../systems/backed_panel_inlet.yaml}",
    f"{{generator: {SMALL_SET}, stored_fuel_l: [3, 10], storage_usd_per_l: 2}}",
    "{solar: ../systems/roof_solar.yaml, size_kw: [0, 2]}",
)


def small_study(*set_values: str, gap_s: float = 3600.0) -> Study:
    """The study with settings on top; every must-run load bears a gap of `gap_s`."""
    whole = read_study(shipped() / "params/studies/metered_house.yaml")
    options = whole.tree.value["options"]
    tree = replace(
        whole.tree,
        value={**whole.tree.value, "options": replace(options, value={"battery": options.value["battery"]})},
    )
    gaps = [f"house.appliances.{slug}.tolerates_gap_s={gap_s}" for slug in PIECES]
    asked = ["asked.keep_on_h=8", "asked.chance_frac=0.9", "asked.stay_years=4", f"outages={OUTAGES}"]
    return replace(whole, tree=tree).changed([*asked, *gaps, "rate_plan=../rates/flat.yaml", *set_values])
