"""A year of bills by pandas group-by, from the plan as plain text. Imports nothing from kit.

Whole clock hours only. Each rule is written as a tariff sheet would say it, one bill at a time.
"""

from __future__ import annotations

import math
from typing import Any

import holidays
import numpy as np
import pandas as pd

Plan = dict[str, Any]


def hours_of(text: str) -> set[int]:
    """Clock hours of '16-21', '22-6' or '7-9, 17-20'."""
    found: set[int] = set()
    for part in text.split(","):
        low, high = (int(v) for v in part.split("-"))
        found |= set(range(low, high)) if low < high else set(range(low, 24)) | set(range(high))
    return found


def cents(usd: float, plan: Plan) -> float:
    """To the cent, half a cent away from zero, where the plan rounds by line."""
    if plan.get("rounding") != "line":
        return usd
    return math.copysign(math.floor(abs(usd) * 100 + 0.5 + 1e-7) / 100, usd)


def with_labels(plan: Plan, index: pd.DatetimeIndex, import_kwh: Any, export_kwh: Any) -> pd.DataFrame:
    """One row a step: bill 0 to 11, season, kind of day, period, event."""
    f = pd.DataFrame({"at": index, "drawn": import_kwh, "sent": export_kwh})
    f["month"], f["day"], f["hour"] = f["at"].dt.month, f["at"].dt.day, f["at"].dt.hour
    f["date"] = 100 * f["month"] + f["day"]
    begins = plan.get("billing_cycle", {}).get("begins_on_day", 1)
    f["bill"] = f["month"] - 1 if begins == 1 else (f["month"] - 1 + (f["day"] >= begins)) % 12
    of_month = {m: s for s, months in plan["seasons"].items() for m in months}
    f["season"] = f["month"].map(of_month)
    f["kind"] = np.where(f["at"].dt.day_of_week >= 5, "weekend", "weekday")
    if "holidays" in plan:
        free = holidays.country_holidays(plan["holidays"]["country"], years=int(index[0].year))
        named = {100 * d.month + d.day for d in free if d.year == index[0].year}
        f.loc[f["date"].isin(named), "kind"] = plan["holidays"].get("count_as", "weekend")
    f["period"] = ""
    rest = ""
    for slug, block in plan["energy"].items():
        if block["hours"] == "rest":
            rest = slug
            continue
        here = inside(f, block) & f["hour"].isin(hours_of(block["hours"]))
        f.loc[here, "period"] = slug
    f.loc[f["period"] == "", "period"] = rest
    f["event"] = ""
    for slug, event in plan.get("critical_peaks", {}).items():
        day = f["date"].isin([int(text.replace("-", "")) for text in event["dates"]])
        f.loc[day & f["hour"].isin(hours_of(event["hours"])), "event"] = slug
    return f


def inside(f: pd.DataFrame, block: Plan) -> pd.Series:
    """Steps in the seasons and kinds of day of a block."""
    days = block.get("days", "all")
    kinds = {"all": ["weekday", "weekend", "holiday"], "weekend_and_holiday": ["weekend", "holiday"]}
    here = f["kind"].isin(kinds.get(days, [days]))
    return here & f["season"].isin(block.get("seasons") or list(f["season"].unique()))


def tier_lines(kwh: float, tiers: list[Plan], days: float, share: float, plan: Plan) -> float:
    """USD of kWh in tiers; `share`: only that share of each tier's kWh is billed."""
    total, below = 0.0, 0.0
    for tier in tiers:
        upto = tier.get("up_to_kwh_per_month", math.inf)
        if "up_to_kwh_per_day" in tier:
            upto = tier["up_to_kwh_per_day"] * days
        total += cents(max(min(kwh, upto) - below, 0.0) * share * tier["price_usd_per_kwh"], plan)
        below = upto
    return total


def month_usd(plan: Plan, index: pd.DatetimeIndex, import_kwh: Any, export_kwh: Any) -> list[float]:
    """Bills of January to December."""
    f = with_labels(plan, index, import_kwh, export_kwh)
    export = plan.get("export", {"kind": "none"})
    net_metering = export["kind"] == "net_metering"
    f["net"] = f["drawn"] - f["sent"] if net_metering else f["drawn"]
    events = plan.get("critical_peaks", {})
    f["left"] = f["event"].map(lambda e: bool(e) and "price_usd_per_kwh" in events[e])
    bills = [one_bill(plan, g, export, net_metering) for _, g in f.groupby("bill")]
    add_demand(plan, f, bills)
    for b in bills:
        due = b["fixed"] + b["demand"]
        if export.get("leftover") != "settled_yearly":
            due += b["energy"] + b["rider"]
        b["minimum"] = cents(max(plan.get("minimum_usd_per_month", 0.0) - due, 0.0), plan)
    last = export.get("true_up_month", 12)
    in_order = [(last + k) % 12 for k in range(12)]
    if export.get("leftover") in ("carried_usd", "lost"):
        hold_back(plan, export, bills, in_order)
    if export.get("leftover") == "settled_yearly":
        settle(plan, export, f, bills, in_order[-1])
    return [total(plan, b) for b in bills]


def one_bill(plan: Plan, g: pd.DataFrame, export: Plan, net_metering: bool) -> dict[str, float]:
    """Energy, riders, fixed charges and the credit earned, before limits that look at other bills."""
    days = float(g["date"].nunique())
    day_season = g.drop_duplicates("date")["season"].value_counts() / days
    share = {s: float(day_season.get(s, 0.0)) for s in plan["seasons"]}
    b = dict.fromkeys(("energy", "rider", "demand", "credit", "minimum", "true_up"), 0.0)
    b["fixed"] = cents(plan.get("fixed_usd_per_month", 0.0), plan)
    b["fixed"] += cents(plan.get("fixed_usd_per_day", 0.0) * days, plan)
    counted = 0.0
    riders = plan.get("riders", {}).values()
    billed_riders = sum(r["price_usd_per_kwh"] for r in riders if r.get("counts", "billed") == "billed")

    def bill_or_credit(kwh: float, usd: Any, first_price: float, counts: bool) -> float:
        if kwh >= 0:
            b["energy"] += usd(kwh)
            return kwh if counts else 0.0
        price = first_price + (billed_riders if counts else 0.0)
        b["credit"] -= cents(-kwh * price, plan)
        return 0.0

    staying = g[~g["left"]]
    over_all = plan.get("season_tiers") or (
        {s: plan["tiers"] for s in plan["seasons"]} if "tiers" in plan else None
    )
    if over_all is not None:
        kwh = float(staying["net"].sum())
        if "tiers" in plan:
            usd = lambda k: tier_lines(k, plan["tiers"], days, 1.0, plan)  # noqa: E731
        else:
            usd = lambda k: sum(tier_lines(k, over_all[s], days, share[s], plan) for s in over_all)  # noqa: E731
        first = sum(share[s] * over_all[s][0]["price_usd_per_kwh"] for s in over_all)
        counted += bill_or_credit(kwh, usd, first, True)
    by_period = staying.groupby("period")["net"].sum()
    for slug, block in plan["energy"].items():
        kwh = float(by_period.get(slug, 0.0))
        tiers = block.get("tiers") or [{"price_usd_per_kwh": block.get("price_usd_per_kwh", 0.0)}]
        if over_all is not None and not block.get("price_usd_per_kwh"):
            continue
        usd = lambda k, t=tiers: tier_lines(k, t, days, 1.0, plan)  # noqa: E731
        counted += bill_or_credit(kwh, usd, tiers[0]["price_usd_per_kwh"], over_all is None)
    by_event = g.groupby("event")["net"].sum()
    for slug, event in plan.get("critical_peaks", {}).items():
        kwh = float(by_event.get(slug, 0.0))
        replaces = "price_usd_per_kwh" in event
        price = event["price_usd_per_kwh"] if replaces else event["adder_usd_per_kwh"]
        counted += bill_or_credit(kwh, lambda k, p=price: cents(k * p, plan), price, replaces)
    for rider in riders:
        quantity = counted if rider.get("counts", "billed") == "billed" else float(g["drawn"].sum())
        b["rider"] += cents(quantity * rider["price_usd_per_kwh"], plan)
    if export["kind"] == "net_billing":
        add_export_credit(plan, export, g, b)
    return b


def add_export_credit(plan: Plan, export: Plan, g: pd.DataFrame, b: dict[str, float]) -> None:
    sent = g.groupby("period")["sent"].sum()
    most_kwh = export.get("earns_up_to_kwh_per_month", math.inf)
    earns = min(1.0, most_kwh / max(float(sent.sum()), 1e-12))
    if "price_usd_per_kwh" in export:
        b["credit"] -= cents(float(sent.sum()) * earns * export["price_usd_per_kwh"], plan)
    else:
        for slug, price in export["period_price_usd_per_kwh"].items():
            b["credit"] -= cents(float(sent.get(slug, 0.0)) * earns * price, plan)
    b["credit"] = -min(-b["credit"], export.get("earns_up_to_usd_per_month", math.inf))


def add_demand(plan: Plan, f: pd.DataFrame, bills: list[dict[str, float]]) -> None:
    """The highest mean import of an hour in the charge's hours, or a share of earlier bills' highest."""
    for charge in plan.get("demand", {}).values():
        here = inside(f, charge) & f["hour"].isin(hours_of(charge["hours"]))
        peaks = f["drawn"].where(here, 0.0).groupby(f["bill"]).max()
        active = f["season"].isin(charge.get("seasons") or list(plan["seasons"]))
        part = active.groupby([f["bill"], f["date"]]).first().groupby(level=0).mean()
        ratchet = charge.get("ratchet")
        for k, b in enumerate(bills):
            read = float(peaks[k])
            if ratchet:
                before = [float(peaks[(k - j) % 12]) for j in range(1, ratchet["months_back"] + 1)]
                read = max(read, ratchet["frac"] * max(before))
            kw = max(read - charge.get("free_kw", 0.0), 0.0)
            b["demand"] += cents(kw * charge["price_usd_per_kw"] * float(part[k]), plan)


def hold_back(plan: Plan, export: Plan, bills: list[dict[str, float]], in_order: list[int]) -> None:
    bank = 0.0
    for k in in_order:
        b = bills[k]
        most = b["fixed"] + b["demand"] + b["energy"] + b["rider"] + b["minimum"]
        most -= plan.get("minimum_usd_per_month", 0.0)
        if export.get("offsets") == "energy":
            most = min(most, b["energy"] + b["rider"])
        most = cents(max(most, 0.0) * export.get("offsets_up_to_frac", 1.0), plan)
        at_hand = bank - b["credit"]
        used = min(at_hand, most)
        bank = at_hand - used if export["leftover"] == "carried_usd" else 0.0
        b["credit"] = -used


def settle(plan: Plan, export: Plan, f: pd.DataFrame, bills: list[dict[str, float]], last: int) -> None:
    waiting = [b["energy"] + b["rider"] + b["credit"] for b in bills]
    for b, due in zip(bills, waiting, strict=True):
        b["true_up"] = -due
    bills[last]["true_up"] += max(sum(waiting), 0.0)
    surplus = max(float((f["sent"] - f["drawn"]).sum()), 0.0)
    bills[last]["true_up"] -= cents(surplus * export.get("year_end_usd_per_kwh", 0.0), plan)


def total(plan: Plan, b: dict[str, float]) -> float:
    charges = b["fixed"] + b["energy"] + b["rider"] + b["demand"] + b["minimum"]
    base = {"charges": charges, "subtotal": charges + b["credit"] + b["true_up"]}
    base |= {part: b[part] for part in ("energy", "demand", "fixed")}
    taxes = 0.0
    for tax in plan.get("taxes", {}).values():
        before = taxes if tax.get("with_lines_before") else 0.0
        taxes += cents(max(base[tax.get("of", "subtotal")] + before, 0.0) * tax["frac"], plan)
    return charges + b["credit"] + b["true_up"] + taxes
