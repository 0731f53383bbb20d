"""The summary row of each option: the result vocabulary, one meaning a column."""

from __future__ import annotations

import numpy as np

from kit.fit import Fit
from kit.operate.outage_year import OutageYear
from kit.stages.daily import Daily
from kit.stages.losses import SEAMLESS_S
from kit.stages.money import Account, Flows
from kit.stages.outage import OutageSide
from kit.stages.sources import DO_NOTHING, Sources
from kit.study import Study
from kit.systems.generator import fuel_per_h

Value = float | bool | str | None
RIDE_HOURS = (4, 8, 24, 72, 168)
BLINK_S = 60.0  # a momentary interruption is over before this (common practice, no source)


def columns(
    study: Study,
    options: dict[str, Sources],
    fits: dict[str, Fit],
    daily: dict[str, Daily],
    outages: dict[str, OutageSide],
    accounts: dict[str, Account],
) -> dict[str, dict[str, Value]]:
    """Every option's columns, in the order in which they are read."""
    missed = outages[DO_NOTHING].year
    rows: dict[str, dict[str, Value]] = {}
    for slug, option in options.items():
        fitted, use, outage, money = fits[slug], daily[slug], outages[slug], accounts[slug]
        flows = money.flows
        feasible = slug == DO_NOTHING or fitted.feasible
        row: dict[str, Value] = {
            "feasible": feasible,
            "meets_target": meets_target(study, option, outage, feasible),
            "starts_all": fitted.starts_all,
        }
        row |= {
            "up_front_usd": flows.up_front_usd,
            "bill_usd_per_year": use.bill.total_usd + flows.recharge_usd,
            "saving_from_plan_usd_per_year": use.saving_from_plan_usd,
            "saving_from_solar_usd_per_year": use.saving_from_solar_usd,
            "saving_from_battery_usd_per_year": use.saving_from_battery_usd - flows.recharge_usd,
            "standby_usd_per_year": use.standby_usd,
            "foresight_adds_usd_per_year": use.foresight.adds_usd if use.foresight else None,
            "fuel_usd_per_year": flows.fuel_usd,
            "upkeep_usd_per_year": flows.upkeep_usd,
            "programme_usd_per_year": use.programme_usd,
            "lost_load_usd_per_year": flows.lost_load_usd,
        }
        row |= _expected_year(study, option, outage, flows, missed)
        row |= _when_it_comes(option, outage, study.model.asked.keep_on_h)
        row |= {
            "co2e_kg_per_year": flows.co2e_kg,
            "embodied_co2e_kg": flows.embodied_co2e_kg,
            "co2e_kg_of_stay": flows.co2e_kg_of_stay,
            "onsite_nox_g_per_year": flows.onsite_nox_g,
            "onsite_co_g_per_year": flows.onsite_co_g,
        }
        m = money.measures
        row |= {
            "lifetime_cost_usd": m.lifetime_cost_usd,
            "lifetime_cost_with_lost_load_usd": m.lifetime_cost_with_lost_load_usd,
            "equivalent_annual_cost_usd": m.equivalent_annual_cost_usd,
            "net_saving_usd": m.net_saving_usd if slug != DO_NOTHING else 0.0,
            "payback_years": m.payback_years if slug != DO_NOTHING else None,
            "discounted_payback_years": m.discounted_payback_years if slug != DO_NOTHING else None,
            "irr_frac": m.irr_frac if _earns(m.saving_to_investment_ratio) else None,
            "modified_irr_frac": m.modified_irr_frac if _earns(m.saving_to_investment_ratio) else None,
            "saving_to_investment_ratio": m.saving_to_investment_ratio,
            "adjusted_irr_frac": m.adjusted_irr_frac if slug != DO_NOTHING else None,
            "backup_usd_per_kwh": m.backup_usd_per_kwh if option.backs_up else None,
            "usd_per_avoided_outage_h": m.usd_per_avoided_outage_h if option.backs_up else None,
        }
        rows[slug] = {name: _plain(value) for name, value in row.items()}
    return rows


def _earns(ratio: float | None) -> bool:
    """A rate of return is told only where the option saves in operation at all."""
    return ratio is not None and ratio > 0


def ride_through_frac(option: Sources, outage: OutageSide, hours: float) -> float:
    """Chance that no gap longer than the must-run loads bear begins within `hours`."""
    if not option.backs_up or option.unreached:
        return 0.0
    return outage.year.ride_through_frac(hours)


def meets_target(study: Study, option: Sources, outage: OutageSide, feasible: bool) -> bool:
    """The asked hours with the asked chance, by an option that may be built; life support is never met."""
    asked = study.model.asked
    reached = ride_through_frac(option, outage, asked.keep_on_h) >= asked.chance_frac
    return feasible and reached and not option.loads.life_support


def _expected_year(
    study: Study, option: Sources, outage: OutageSide, flows: Flows, missed: OutageYear
) -> dict[str, Value]:
    year = outage.year
    out_h, out_kwh = year.must_unserved_h, year.must_unserved_kwh
    failed = year.failed_count
    if option.unreached:
        out_h = missed.must_unserved_h
        out_kwh = missed.must_unserved_kwh - (year.must_kwh - year.must_unserved_kwh)
        failed = missed.failed_count
    gap_s = _gap_s(option, outage)
    blinks = study.model.outages.blinks_per_year
    felt = blinks if gap_s is None or min(gap_s, BLINK_S) > SEAMLESS_S else 0.0
    felt += (
        sum(one.kind.events_per_year for one in year.walks)
        if gap_s is None or gap_s > SEAMLESS_S
        else year.cut_count
    )
    return {
        "outage_h_per_year": year.outage_h,
        "must_run_unserved_h_per_year": out_h,
        "must_run_unserved_kwh_per_year": out_kwh,
        "wanted_unserved_kwh_per_year": missed.wanted_kwh - (year.wanted_kwh - year.wanted_unserved_kwh),
        "generator_run_h_per_year": flows.run_h,
        "fuel_l_per_year": flows.fuel if flows.fuel_unit == "l" else None,
        "fuel_gas_m3_per_year": flows.fuel if flows.fuel_unit == "m3" else None,
        "interruption_felt_count_per_year": felt,
        "failed_outage_count_per_10y": 10.0 * failed,
    }


def _gap_s(option: Sources, outage: OutageSide) -> float | None:
    gaps = [g.gap_s for g in (outage.backup.battery_gap, outage.backup.set_gap) if g is not None]
    return min(gaps) if gaps else None


def _when_it_comes(option: Sources, outage: OutageSide, asked_h: float) -> dict[str, Value]:
    row: dict[str, Value] = {
        f"ride_through_frac_{h}h": ride_through_frac(option, outage, float(h)) for h in RIDE_HOURS
    }
    row["ride_through_frac_asked"] = ride_through_frac(option, outage, asked_h)
    row["ride_through_frac_asked_aged"] = 0.0 if option.unreached and option.battery else outage.aged_frac
    row["longest_unserved_h"] = outage.year.hard_h
    if option.backs_up and not option.unreached:
        row["longest_unserved_h"] = outage.year.longest_unserved_h
    row["transfer_gap_s"] = _gap_s(option, outage)
    row["fuel_on_hand_h"] = fuel_on_hand_h(option, outage)
    row["refuel_count_per_24h"] = None
    row["recharge_h"] = None
    g = option.generator
    if g is not None and g.tank_l:
        row["refuel_count_per_24h"] = float(outage.fuel_need[0]) / g.tank_l
    if option.battery is not None and option.battery.charge_kw > 0:
        b = option.battery
        row["recharge_h"] = (b.usable_kwh - b.floor_kwh) / (b.charge_kw * b.charge_efficiency_frac)
    return row


def fuel_on_hand_h(option: Sources, outage: OutageSide) -> float | None:
    """Hours that the fuel on site lasts at the mean need of outages up to a week; None without a tank."""
    g = option.generator
    if g is None or g.fuel_on_site_l is None:
        return None
    needs = np.concatenate([[0.0], outage.fuel_need])
    hours = np.concatenate([[0.0], outage.fuel_hours])
    if g.fuel_on_site_l <= needs[-1]:
        return float(np.interp(g.fuel_on_site_l, needs, hours))
    rate = needs[-1] / hours[-1] if needs[-1] > 0 else float(fuel_per_h(g, 0.0))
    return g.fuel_on_site_l / rate if rate > 0 else None


def _plain(value: Value) -> Value:
    """A value for a table: Python's own types, and no number that is not finite."""
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, float, np.floating, np.integer)):
        return float(value) if np.isfinite(value) else None
    return value
