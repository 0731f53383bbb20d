"""A Comparison with INVENTED numbers, in the shape of the real one, to try the report on.

Nothing here was computed by the kit: the figures are made up so that every table, chart
and caution has something to show.
"""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd

HORIZON = 15
OPTIONS = {
    "do_nothing": "Do nothing",
    "portable_set": "Portable generator, gasoline",
    "standby_set": "Standby generator, propane",
    "battery_13": "Battery, 13 kWh",
    "battery_and_set": "Battery with a small generator",
}


def fake_comparison(name: str = "A metered house on the hill", life_support: bool = False) -> Any:
    """A comparison of five options, all figures invented."""
    outcomes = {slug: _outcome(i, slug, label) for i, (slug, label) in enumerate(OPTIONS.items())}
    study = _study(name, life_support)
    findings = (
        _finding(
            "inlet_limit",
            "portable_set",
            "note",
            "The 30 A inlet passes 5.8 kW for hours on end, less than the set's 6.5 kW.",
        ),
        _finding(
            "smooth_meter",
            None,
            "warning",
            "The metered year is smoother than one house (peak over mean 1.9): power checks use the list.",
        ),
        _finding(
            "panel_power",
            "battery_13",
            "stop",
            "The well pump needs 6.2 kW to start and the battery gives 5.0 kW for that long.",
        ),
    )
    assumptions = [
        _assumption("house.appliances", None, "assumed, no source given", None),
        _assumption("options.standby_set.generator.cost", "standby_set", "assumed, no source given", None),
        _assumption("outages.classes.major.duration", None, "assumption, invented", "assumption, invented"),
    ]
    verdict = SimpleNamespace(
        sentences=(
            "The portable generator is the cheapest option that keeps the must-run loads on for 24 h "
            "with a chance of at least 90%.",
            "Over 15 years it costs $212 a year more than doing nothing.",
            "Doing nothing is cheapest unless an hour without power is worth more than $31.",
        ),
        winner="portable_set",
        meets=("portable_set", "standby_set", "battery_and_set"),
        flips=(
            "Nobody home to start it by hand for 3 in 10 outages: the battery with a small generator wins.",
            "A battery price below $6,100 instead of $9,800: the battery with a small generator wins.",
        ),
    )
    comparison = SimpleNamespace(
        study=study,
        house=None,
        outcomes=outcomes,
        verdict=verdict,
        findings=findings,
        assumptions=assumptions,
    )
    comparison.summary = pd.DataFrame([{"option": s, **o.columns} for s, o in outcomes.items()])
    comparison.to_json = lambda: _json(comparison)
    return comparison


def _finding(code: str, option: str | None, severity: str, text: str) -> Any:
    return SimpleNamespace(code=code, option=option, path=None, text=text, source=None, severity=severity)


def _assumption(path: str, option: str | None, text: str, source: str | None) -> dict[str, Any]:
    return {"code": "assumption", "option": option, "path": path, "text": text, "source": source}


def _study(name: str, life_support: bool) -> Any:
    appliances = {
        "fridge": SimpleNamespace(name="Refrigerator", tier="must_run", life_support=False, count=1),
        "breathing_aid": SimpleNamespace(
            name="Breathing aid at night", tier="must_run", life_support=life_support, count=1
        ),
    }
    model = SimpleNamespace(
        name=name,
        invented=True,
        year=2023,
        units="us",
        seed=1,
        lifetime_count=2000,
        prepared=SimpleNamespace(by="An adviser", for_="A household", date="2026-11-25"),
        asked=SimpleNamespace(
            keep_on_h=24.0, chance_frac=0.9, loads="must_run", budget_usd=12000.0, stay_years=15
        ),
        allowed=SimpleNamespace(gas=True, outdoor_set=True, roof=True, wiring=True),
        house=SimpleNamespace(name="A metered house", appliances=appliances, altitude_m=120.0),
        rate_plan=SimpleNamespace(name="Two-period plan"),
        fuels={"gasoline": SimpleNamespace(legal_limit_l=95.0, keeps_months=6.0)},
        money=SimpleNamespace(
            currency="USD",
            money_basis="real",
            price_year=2026,
            discount_rate_frac=0.03,
            timing="end_of_year",
            lost_load_usd_per_h=None,
        ),
        outages=SimpleNamespace(horizon_h=336.0, name="County record"),
    )
    return SimpleNamespace(
        model=model,
        path=None,
        root=None,
        sha256="0f" * 32,
        provenance={
            "outages.classes.major.events_per_year": SimpleNamespace(
                source="A published reliability table, 2023 edition", as_of="2024-10-01", low=0.2, high=0.5
            ),
        },
        defaults_used={"asked.chance_frac": 0.9},
        data_files={"data/meter_invented.csv": "ab" * 32},
        resolved={"kit_file": 1, "name": name},
    )


def _outcome(i: int, slug: str, label: str) -> Any:
    columns = _columns(i, slug)
    return SimpleNamespace(
        slug=slug,
        name=label,
        option=_option(slug),
        columns=columns,
        reasons={"irr_frac": "backup is not an investment with income: no year brings money in"},
        fuel_unit="l",
        fit=None if i == 0 else _fit(i),
        bill=None,
        everyday=None,
        hours_kept_on=_kept(i),
        cash=_cash(i),
        hard_outage=_hard(i),
        hard_event_h=36.0,
        foresight=_foresight() if i in (3, 4) else None,
        hard_outage_title="72 h from Tuesday 16 January, 02:00, ice storm (invented)",
        fuel_need=_need(i),
        findings=(),
    )


def _foresight() -> Any:
    names = ("price_usd_per_kwh", "hours_per_year", "grid_fills_to_frac", "serves_down_to_frac")
    rows = [(0.128, 6307.0, 0.9, 1.0), (0.429, 2453.0, 0.4, 0.55)]
    levels = [dict(zip(names, row, strict=True)) for row in rows]
    return SimpleNamespace(bill_usd=1990.9, adds_usd=31.4, levels=levels, note="Best for the prices it saw.")


def fake_frontier() -> pd.DataFrame:
    """What the reserve decides, in the shape of kit.vary.frontier.reserve_frontier."""
    rows = []
    for slug, best_usd in (("battery_13", 131.0), ("battery_and_set", 118.0)):
        for k in range(11):
            reserve = k / 10
            usd = best_usd - 190.0 * max(0.0, reserve - 0.25)
            chances = [0.995, 0.93 + 0.06 * reserve, 0.6 + 0.38 * reserve**2, 0.1 * reserve]
            shares = dict(zip((4, 8, 24, 72), chances, strict=True))
            rows.append(
                {"option": slug, "reserve_frac": reserve, "saving_usd_per_year": usd,
                 "foresight_usd_per_year": usd + 30.0,
                 **{f"ride_through_frac_{h}h": chance for h, chance in shares.items()}}
            )  # fmt: skip
    return pd.DataFrame(rows)


def fake_neglected() -> pd.DataFrame:
    """Two rows an option with a generator, in the shape of kit.vary.neglect.neglected."""
    cases = {
        "portable_set": ((0.93, True, 0.84, 48.0, 21471.0), (0.71, False, 2.1, 1.0, 20698.0)),
        "standby_set": ((0.97, True, 0.09, 310.0, 33796.0), (0.86, False, 0.9, 10.0, 30610.0)),
        "battery_and_set": ((0.985, True, 0.06, 52.0, 31028.0), (0.97, True, 0.2, 1.0, 30403.0)),
    }
    names = (
        "ride_through_frac_asked", "meets_target", "must_run_unserved_h_per_year", "upkeep_usd_per_year",
        "lifetime_cost_usd",
    )  # fmt: skip
    return pd.DataFrame(
        {"option": slug, "care": care, **dict(zip(names, row, strict=True))}
        for slug, both in cases.items()
        for care, row in zip(("well", "poor"), both, strict=True)
    )


def fake_stays() -> pd.DataFrame:
    """One row an option, in the shape of kit.vary.stays.whole_stays."""
    names = ("never_failed_frac", "failed_count_mean", "dark_h_p05", "dark_h_p50", "dark_h_p95")
    options = fake_comparison().outcomes
    return pd.DataFrame(
        {
            "option": slug,
            **dict(zip(names, (0.9 - 0.08 * k, 0.1 + 0.2 * k, 0.0, 0.5 * k, 9.0 * k), strict=True)),
        }
        for k, slug in enumerate(options)
    )


def _option(slug: str) -> Any:
    if slug == "do_nothing":
        return None
    standby = "standby" in slug
    generator = SimpleNamespace(
        name="", fuel="propane" if standby else "gasoline", start="automatic" if standby else "manual",
        noise_db_a_at_7m=66.0, tank_l=25.0, fuel_on_site_l=75.0, refuel_gap_min=15.0, refuels_at_night=False,
        connected_to="plug_in" if "portable" in slug else "backed_panel",
        setup_min=20.0, resupply_every_h=24.0,
    )  # fmt: skip
    battery = SimpleNamespace(
        name="",
        place="garage",
        transfer_time_s=0.02,
        noise_db_a_at_7m=None,
        connected_to="backed_panel",
        everyday="clock",
        reserve_frac=0.4,
    )
    return SimpleNamespace(
        name=OPTIONS[slug],
        generator=None if slug == "battery_13" else generator,
        battery=battery if "battery" in slug else None,
        solar=None,
        transfer=None,
        rate_plan=None,
    )


_UP_FRONT = [0.0, 1900.0, 8700.0, 11800.0, 10900.0]


def _columns(i: int, slug: str) -> dict[str, Any]:
    gen, bat = i in (1, 2, 4), i in (3, 4)
    chance = [0.0, 0.93, 0.97, 0.71, 0.985][i]
    return {
        "feasible": i != 3,
        "meets_target": None if i == 0 else chance >= 0.9,
        "starts_all": None if i == 0 else i != 3,
        "up_front_usd": _UP_FRONT[i],
        "bill_usd_per_year": 2140.35 - 118 * bat,
        "saving_from_plan_usd_per_year": 0.0,
        "saving_from_battery_usd_per_year": 118.2 if bat else None,
        "foresight_adds_usd_per_year": 31.4 if bat else None,
        "fuel_usd_per_year": [None, 61.4, 148.9, None, 22.6][i],
        "upkeep_usd_per_year": [0.0, 48.0, 310.0, 0.0, 52.0][i],
        "outage_h_per_year": 6.07,
        "must_run_unserved_h_per_year": [6.07, 0.84, 0.09, 1.92, 0.06][i],
        "must_run_unserved_kwh_per_year": [4.4, 0.6, 0.06, 1.4, 0.04][i],
        "generator_run_h_per_year": [None, 5.1, 31.0, None, 2.2][i],
        "fuel_l_per_year": [None, 9.6, 88.0, None, 3.7][i],
        "interruption_felt_count_per_year": [4.1, 4.1, 4.1, 0.4, 0.2][i],
        "failed_outage_count_per_10y": [12.0, 1.3, 0.4, 2.9, 0.2][i],
        "ride_through_frac_asked": chance,
        "ride_through_frac_4h": [0.0, 0.98, 0.99, 0.995, 0.9996][i],
        "ride_through_frac_24h": chance,
        "ride_through_frac_72h": [0.0, 0.55, 0.93, 0.0004, 0.88][i],
        "longest_unserved_h": [336.0, 61.0, 38.0, 310.0, 44.0][i],
        "transfer_gap_s": [None, 1200.0, 15.0, 0.02, 0.02][i],
        "fuel_on_hand_h": [None, 26.0, 120.0, None, 61.0][i],
        "refuel_count_per_24h": [None, 3.0, 0.0, None, 1.0][i],
        "recharge_h": 3.4 if bat else None,
        "co2e_kg_per_year": [0.0, 21.0, 402.0, 96.0, 104.0][i],
        "onsite_nox_g_per_year": [None, 118.0, 260.0, None, 41.0][i] if gen else None,
        "onsite_co_g_per_year": [None, 3100.0, 1900.0, None, 1180.0][i],
        "lifetime_cost_usd": _present_value(_cash(i)),
        "lifetime_cost_with_lost_load_usd": None,
        "equivalent_annual_cost_usd": _present_value(_cash(i)) / 11.9379,
        "net_saving_usd": _present_value(_cash(0)) - _present_value(_cash(i)),
        "payback_years": None,
        "irr_frac": None,
        "backup_usd_per_kwh": [None, 55.1, 178.0, 160.2, 149.5][i],
    }


def _present_value(cash: pd.DataFrame) -> float:
    flows = cash.drop(columns="lost_load").sum(axis=1).to_numpy()
    return float(-(flows / 1.03 ** np.arange(len(flows))).sum())


def _cash(i: int) -> pd.DataFrame:
    years = np.arange(HORIZON + 1)
    running = (years > 0).astype(float)
    frame = pd.DataFrame(index=pd.Index(years, name="year"))
    frame["purchase"] = np.where(years == 0, -_UP_FRONT[i], 0.0)
    frame["incentive"] = np.where(years == 0, [0, 0, 0, 900, 700][i], 0.0)
    frame["bill"] = -running * [2140, 2140, 2156, 2022, 2024][i]
    frame["fuel"] = -running * [0, 61, 149, 0, 23][i]
    frame["upkeep"] = -running * [0, 48, 310, 0, 52][i]
    frame["replacement"] = np.where(years == 12, [0, -600, 0, -6200, -5200][i], 0.0)
    frame["residual"] = np.where(years == HORIZON, [0, 150, 800, 2900, 2500][i], 0.0)
    frame["disposal"] = np.where(years == HORIZON, [0, 0, -100, -250, -200][i], 0.0)
    frame["lost_load"] = 0.0
    return frame


def _kept(i: int) -> pd.DataFrame:
    hours = np.arange(169.0)
    share = [
        np.where(hours == 0, 1.0, 0.0),
        0.98 * np.exp(-((hours / 95) ** 2.2)),
        0.985 * np.exp(-hours / 1400),
        1 / (1 + np.exp((hours - 28) / 5)),
        0.999 * np.exp(-((hours / 150) ** 2.4)),
    ][i]
    return pd.DataFrame({"hours": hours, "share_frac": share})


def _hard(i: int) -> pd.DataFrame:
    hour = np.arange(72.0)
    must = 0.55 + 0.25 * np.sin((hour - 8) / 24 * 2 * math.pi) ** 2
    wanted = 0.3 + 0.9 * np.exp(-((((hour + 2) % 24) - 19) ** 2) / 8)
    frame = pd.DataFrame({"hour": hour, "must_run_kw": must, "wanted_kw": wanted})
    frame["solar_kw"] = 0.0
    runs = np.zeros(72, bool) if i in (0, 3) else (hour % 24 >= 5) & (hour % 24 < 20) if i == 4 else hour >= 1
    load = must + wanted
    frame["generator_kw"] = np.where(runs, load + (0.5 if i == 4 else 0.0), 0.0)
    battery = np.where(runs, -0.5 if i == 4 else 0.0, load if i in (3, 4) else 0.0)
    if i == 3:
        battery = np.where(hour < 9, load, 0.0)
    frame["battery_kw"] = battery
    frame["unserved_kw"] = np.maximum(0.0, load - frame["generator_kw"] - np.maximum(battery, 0.0))
    stored = 12.0 - np.cumsum(battery) if i in (3, 4) else np.zeros(72)
    frame["stored_kwh"] = np.clip(stored, 0.0, 13.0)
    frame["fuel_l"] = np.where(runs, 1.1, 0.0)
    frame["event_text"] = ""
    if i in (1, 4):
        frame.loc[[8, 30, 54], "event_text"] = "Refuelled from cans, set off for 15 min"
    if i == 3:
        frame.loc[9, "event_text"] = "Battery empty"
    return frame


def _need(i: int) -> pd.DataFrame:
    litres = [[0, 0, 0], [26, 78, 182], [45, 134, 310], [0, 0, 0], [14, 43, 101]][i]
    return pd.DataFrame({"hours": [24, 72, 168], "fuel_l": np.array(litres, float), "on_hand_l": [75.0] * 3})


def _fit(i: int) -> pd.DataFrame:
    rows = [
        ("running power", 3.2, [0, 5.8, 12.0, 5.0, 5.0][i], "kW", True, "All must-run loads together."),
        (
            "hardest start", 6.2, [0, 7.1, 14.4, 5.0, 7.5][i], "kW", i != 3,
            "The well pump needs 6.2 kW while it starts, the furnace fan running; the battery gives 5.0 kW.",
        ),
        ("240 V", 240.0, 240.0, "V", True, "The pump takes 240 V."),
    ]  # fmt: skip
    frame = pd.DataFrame(rows, columns=["check", "need", "have", "unit", "ok", "text"])
    return SimpleNamespace(
        rows=frame, available_kw=frame["have"][0], starts_all=i != 3, carries_all=True, findings=()
    )


def _json(comparison: Any) -> dict[str, Any]:
    options = [
        {k: (v.item() if isinstance(v, np.generic) else v) for k, v in {"option": s, **o.columns}.items()}
        for s, o in comparison.outcomes.items()
    ]
    keys = ("code", "option", "path", "text", "source")
    return {
        "schema_version": 1,
        "study": {
            "name": comparison.study.model.name,
            "sha256": comparison.study.sha256,
            "kit_version": "0.1.0",
            "seed": 1,
            "asked": vars(comparison.study.model.asked),
            "baseline_option": "do_nothing",
            "currency": "USD",
            "money_basis": "real",
            "price_year": 2026,
            "horizon_years": HORIZON,
        },
        "options": options,
        "findings": [{k: getattr(f, k) for k in keys} for f in comparison.findings],
        "warnings": [],
        "assumptions": comparison.assumptions,
    }
