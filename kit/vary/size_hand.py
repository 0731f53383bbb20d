"""The simple hand method beside the computed need, one reason at a time.

By hand: watts of everything that must run, times hours, over the usable share of the battery. What it
leaves out is put in step by step, each step the least battery that keeps the loads on for the asked
hours in the asked share of outages; the difference to the step before is what that reason is worth.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from kit.house import HouseYear, outage_loads
from kit.operate.events import EventKind, longest_kind, over_kinds
from kit.operate.outages import Backup
from kit.operate.ride import LARGEST_STORE_KWH, ride_through_h
from kit.operate.single import fuel_need
from kit.stages.daily import everyday_use
from kit.stages.outage import event_side, outage_use
from kit.stages.power import power_check
from kit.stages.sources import DO_NOTHING, asked_loads, sources
from kit.study import Study
from kit.systems.battery import BatterySystem, battery_system
from kit.systems.generator import fuel_per_h
from kit.units import chance_text
from kit.vary.size_catalogue import Configuration
from kit.vary.size_lacks import chance_of, never_failing

if TYPE_CHECKING:
    import pandas as pd

ENOUGH_KW = 400.0  # energy alone is asked here; power is checked by itself
CLOSE_KWH = 0.01


@dataclass(frozen=True)
class _Need:
    """What is counted in, and the battery (nominal kWh) or fuel (L) that takes; None: none is enough."""

    step: str
    need: float | None
    unit: str
    why: str


def hand_method(
    study: Study,
    house: HouseYear,
    chosen: Configuration,
    options: Mapping[str, Configuration],
    table: pd.DataFrame,
) -> pd.DataFrame:
    """Rows of (step, need, unit, change, why): the hand method, then one reason after the other.

    Battery sizes are nominal kWh of the least battery that carries the loads by itself for an hour or
    more, else of the first in the catalogue. Where the choice has a generator, its fuel follows.
    """
    import pandas as pd

    alone = table[(table["kind"] == "battery") & table["kept_on_h"].gt(0)]
    batteries = [*alone.sort_values("nominal_kwh", kind="stable")["configuration"], *options]
    reference = next((options[slug] for slug in batteries if options[slug].option.battery), None)
    rows = [] if reference is None else _battery_rows(study, house, reference, table)
    if chosen.option.generator is not None:
        rows += _fuel_rows(study, house, chosen)
    made = pd.DataFrame([vars(row) for row in rows], columns=["step", "need", "unit", "why"])
    made.insert(3, "change", made.groupby("unit", sort=False)["need"].diff())
    return made


def _battery_rows(
    study: Study, house: HouseYear, reference: Configuration, table: pd.DataFrame
) -> list[_Need]:
    block = reference.option.battery
    assert block is not None
    place, asked, hours = study.model.house, study.model.asked, study.model.asked.keep_on_h
    usable_frac = block.usable_kwh / block.nominal_kwh
    pieces = [place.appliances[slug] for slug in asked_loads(study)]
    watts_kw = sum(piece.count * piece.draw_w for piece in pieces) / 1000.0
    load_kw = _asked_kw(study, house, block.connected_to)
    kinds = event_side(study, house)
    one = battery_system(block)

    def nominal(kwh: float | None) -> float | None:
        return None if kwh is None else kwh / usable_frac

    def carried(idle_kw: float, efficiency_frac: float) -> float | None:
        def chance(kwh: float) -> float:
            return _energy_chance(load_kw + idle_kw, kwh, efficiency_frac, house, kinds, hours)

        return nominal(_least_kwh(chance, asked.chance_frac))

    mean_kw, out_frac = float(load_kw.mean()), one.discharge_efficiency_frac
    by_hand = f"{watts_kw:.2f} kW x {hours:g} h / {usable_frac:.2f} usable: everything at once, all the time"
    season = (
        f"enough in {chance_text(asked.chance_frac)} of the outages that last {hours:g} h, not on a mean day"
    )
    rows = [
        _Need("by hand", nominal(watts_kw * hours), "kWh", by_hand),
        _Need("duty", nominal(mean_kw * hours), "kWh", f"in turn they draw {mean_kw:.2f} kW on the mean"),
        _Need("worst season", carried(0.0, 1.0), "kWh", season),
        _Need("efficiency", carried(0.0, out_frac), "kWh", f"{out_frac:.0%} of what is stored comes out"),
        _Need(
            "idle", carried(one.idle_kw, out_frac), "kWh", f"its own {1000 * one.idle_kw:.0f} W, all hours"
        ),
    ]
    rows += _walked_rows(study, house, reference, kinds, nominal)
    return [*rows, *_on_offer(table)]


def _walked_rows(
    study: Study,
    house: HouseYear,
    reference: Configuration,
    kinds: tuple[EventKind, ...],
    nominal: Callable[[float | None], float | None],
) -> list[_Need]:
    """Reserve, solar, failures: the walk itself, with the battery made larger until it does."""
    asked = study.model.asked
    alone = reference.option.model_copy(update={"generator": None})
    backup = _backup(study, house, alone)
    if backup.battery is None:  # it cannot start or carry the loads at any size: the power check says why
        return []
    roof = backup.solar_charges and bool(backup.solar_kw.any())

    def least(b: Backup) -> float | None:
        return nominal(
            _least_kwh(
                lambda kwh: chance_of(_resized(b, kwh), kinds, study, asked.keep_on_h), asked.chance_frac
            )
        )

    sure = never_failing(backup)
    share = float((backup.stored_kwh / max(backup.battery.usable_kwh, 1e-9)).mean())
    dark, full = replace(sure, solar_charges=False), backup.battery.usable_kwh
    always_full = replace(dark, stored_kwh=np.full_like(backup.stored_kwh, full), forewarned_kwh={})
    gap_h = backup.tolerates_h
    rows = [
        _Need(
            "gaps borne", least(always_full), "kWh", f"the strictest load bears {gap_h:.3g} h without power"
        ),
        _Need("reserve", least(dark), "kWh", f"everyday use leaves it {share:.0%} full on the mean"),
    ]
    if roof:
        rows.append(
            _Need("solar", least(sure), "kWh", "what the array stores meanwhile, in the weather of outages")
        )
    rows.append(_Need("failures", least(backup), "kWh", "it may fail to take over, or stop on the way"))
    return rows


def _on_offer(table: pd.DataFrame) -> list[_Need]:
    """The least battery of the catalogue that does it without a generator."""
    alone = table[(table["kind"] == "battery") & table["reaches"].astype(bool)]
    if alone.empty:
        return [_Need("on offer", None, "kWh", "no battery of the catalogue does it by itself")]
    row = alone.sort_values(["nominal_kwh", "lifetime_cost_usd"], kind="stable").iloc[0]
    return [_Need("on offer", float(row["nominal_kwh"]), "kWh", f"the least of the catalogue: {row['name']}")]


def _fuel_rows(study: Study, house: HouseYear, chosen: Configuration) -> list[_Need]:
    """Fuel by hand is half load all the time; computed, the mean of the outages and what is stored."""
    hours, block = study.model.asked.keep_on_h, chosen.option.generator
    backup = _backup(study, house, chosen.option)
    if block is None or backup.generator is None or backup.generator.tank_l is None:
        return []
    curve, kinds = backup.generator, event_side(study, house)
    half = float(fuel_per_h(curve, curve.rated_kw / 2.0)) * hours
    mean_kw = float(backup.must_kw.mean())
    mean = float(fuel_per_h(curve, mean_kw)) * hours
    need = float(fuel_need(backup, longest_kind(kinds), (hours,))[0])
    stored = float(curve.fuel_on_site_l or 0.0)
    return [
        _Need("fuel by hand", half, "L", f"half of {curve.rated_kw:g} kW for {hours:g} h"),
        _Need(
            "at the load there is",
            mean,
            "L",
            f"{mean_kw:.2f} kW on the mean: near no load it burns a large part",
        ),
        _Need("fuel it takes", need, "L", "mean of outages that long, with the battery and its run times"),
        _Need("stored", stored, "L", "what this choice keeps on site, for the outages above the mean"),
    ]


def _asked_kw(study: Study, house: HouseYear, connected_to: str) -> np.ndarray:
    loads = outage_loads(study.model.house, house.lists, connected_to)
    both = study.model.asked.loads == "wanted"
    return loads.must_run_kw + loads.wanted_kw if both else loads.must_run_kw


def _backup(study: Study, house: HouseYear, option: object) -> Backup:
    """What the walk sees of one option."""
    few = replace(study, model=study.model.model_copy(update={"options": {"one": option}}))
    made = sources(few, house)
    made = {slug: one for slug, one in made.items() if slug != DO_NOTHING}
    fits, daily = power_check(few, house, made), everyday_use(few, house, made)
    return outage_use(few, house, event_side(few, house), made, daily, fits)["one"].backup


def _energy_chance(
    net_kw: np.ndarray,
    kwh: float,
    efficiency_frac: float,
    house: HouseYear,
    kinds: tuple[EventKind, ...],
    hours: float,
) -> float:
    ends_h = ride_through_h(
        net_kw,
        kwh,
        kwh,
        house.year.step_h,
        charge_kw=0.0,
        discharge_kw=ENOUGH_KW,
        discharge_efficiency_frac=efficiency_frac,
        horizon_h=hours,
    )
    kept = [float(kind.start_weight[ends_h >= hours - 1e-9].sum()) for kind in kinds]
    return over_kinds(kinds, hours, kept)


def _resized(b: Backup, usable_kwh: float) -> Backup:
    """The same machines with another store, as full as before in proportion."""
    assert b.battery is not None
    s = b.battery
    share = usable_kwh / s.usable_kwh
    stored = {name: getattr(s, name) * share for name in BatterySystem.__annotations__ if name in STORED}
    warned = {number: kwh * share for number, kwh in b.forewarned_kwh.items()}
    return replace(b, battery=replace(s, **stored), stored_kwh=b.stored_kwh * share, forewarned_kwh=warned)


STORED = ("usable_kwh", "rated_kwh", "floor_kwh", "reserve_kwh", "restart_kwh", "wanted_above_kwh")


def _least_kwh(chance: Callable[[float], float], asked_frac: float) -> float | None:
    """The least store whose chance is enough, to CLOSE_KWH; None where no store is."""
    low, high = 0.0, 1.0
    while chance(high) < asked_frac:
        if high >= LARGEST_STORE_KWH:
            return None
        low, high = high, min(2.0 * high, LARGEST_STORE_KWH)
    while high - low > CLOSE_KWH:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if chance(middle) >= asked_frac else (middle, high)
    return high
