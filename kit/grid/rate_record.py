"""A rate plan from a record of the open US utility rate database (JSON, CC0).

A record holds prices by period, and for each month and hour of a weekday and of a weekend day which
period it is. What a plan of the kit cannot say is listed in `left_out`, what the record leaves open and
the plan needs in `assumed`; nothing is dropped without a word. Field names are those of the database's
own interface, version 8.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from kit.grid.record_fields import (
    KNOWN,
    LEFT_OUT,
    WITH_PARENT,
    RecordError,
    number,
    per_month,
    short,
    structure,
    twelve,
)
from kit.grid.record_hours import Schedule, season_months
from kit.study.rate_models import RatePlan

_INTERVALS_MIN = (15, 30, 60)


@dataclass(frozen=True)
class RateRecord:
    """A plan as read, and what its reader must know."""

    slug: str
    plan: RatePlan
    left_out: tuple[str, ...]
    assumed: tuple[str, ...]

    def as_yaml(self) -> str:
        """The plan as a parameter file, its notes as comments on top."""
        import yaml

        notes = [f"# Not in this plan: {text}" for text in self.left_out]
        notes += [f"# Assumed: {text}" for text in self.assumed]
        values = self.plan.model_dump(exclude_defaults=True)
        head = ["kit_file: 1", *(" ".join(note.split()) for note in notes)]
        source = {"source": "open US utility rate database, CC0"}
        return "\n".join(head) + "\n" + yaml.safe_dump(values | source, sort_keys=False, allow_unicode=True)


def read_records(file: Path) -> list[RateRecord]:
    """All records of a JSON file: one record, a list, or the database's answer with `items`.

    Raises:
        RecordError: no JSON, no record in it, or a record that cannot be read; the text names the file.
    """
    try:
        found = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, json.JSONDecodeError) as error:
        raise RecordError(f"{file}: is not JSON that can be read: {error}") from None
    items = found.get("items", [found]) if isinstance(found, dict) else found
    if not isinstance(items, list) or not items or not all(isinstance(one, dict) for one in items):
        raise RecordError(f"{file}: holds no rate record")
    made = []
    for place, item in enumerate(items, start=1):
        slug = file.stem if len(items) == 1 else f"{file.stem}_{place}"
        try:
            made.append(plan_of_record(item, re.sub(r"[^a-z0-9]+", "_", slug.lower()).strip("_")))
        except ValueError as error:
            raise RecordError(f"{file}: record {item.get('label', place)}: {error}") from None
    return made


def plan_of_record(record: dict[str, Any], slug: str = "record") -> RateRecord:
    """One record as a rate plan.

    Raises:
        RecordError: no energy prices, a schedule that is not 12 x 24, a tier counted in a unit other than
            kWh or kWh a day, a value that is no number.
        ValueError: what the plan itself refuses.
    """
    reader = _Reader(record)
    keys = reader.fixed() | reader.seasons_and_energy() | reader.demand() | reader.export()
    keys["name"] = ": ".join(str(record[k]) for k in ("utility", "name") if record.get(k))
    reader.others()
    return RateRecord(slug, RatePlan.model_validate(keys), tuple(reader.left_out), tuple(reader.assumed))


class _Reader:
    """Reads one record field by field and notes what it cannot say."""

    def __init__(self, record: dict[str, Any]) -> None:
        self.record = record
        self.left_out: list[str] = []
        self.assumed: list[str] = []
        self.period_of: dict[str, int] = {}  # energy block -> the record's number of its period
        self.prices = structure(record, "energyratestructure")
        if not self.prices:
            raise RecordError("energyratestructure is missing: the record has no energy prices")
        self.energy = Schedule.of(record, "energyweekdayschedule", "energyweekendschedule", len(self.prices))
        self.demands = structure(record, "demandratestructure")
        self.demand_hours = None
        if self.demands:
            fields = ("demandweekdayschedule", "demandweekendschedule")
            self.demand_hours = Schedule.of(record, *fields, len(self.demands))
        self.flat = structure(record, "flatdemandstructure")
        self.flat_of_month = [int(v) for v in twelve(record, "flatdemandmonths", 0)]
        self.fuel = [float(v) for v in twelve(record, "fueladjustmentsmonthly", 0.0)]
        parts: list[Sequence[Any]] = [self.energy.by_month, self.fuel]
        if self.demand_hours is not None:
            parts.append(self.demand_hours.by_month)
        if self.flat:
            parts.append(self.flat_of_month)
        self.seasons = season_months(parts)

    def fixed(self) -> dict[str, Any]:
        """Fixed charge, minimum, dates."""
        keys: dict[str, Any] = {}
        record = self.record
        amount = number(record, "fixedchargefirstmeter", number(record, "fixedmonthlycharge", 0.0))
        units = record.get("fixedchargeunits", "$/month")
        if units == "$/day":
            keys["fixed_usd_per_day"] = amount
        else:
            keys["fixed_usd_per_month"] = amount * per_month(units, "fixedchargeunits")
        least = number(record, "mincharge", number(record, "minmonthlycharge", 0.0))
        units = record.get("minchargeunits", "$/month")
        if units == "$/day":
            least *= 365.0 / 12.0
            self.assumed.append("the minimum a day is taken as 365/12 days a month")
        else:
            least *= per_month(units, "minchargeunits")
        if record.get("annualmincharge"):
            self.left_out.append(f"a minimum a year of {record['annualmincharge']}")
        keys["minimum_usd_per_month"] = least
        for field, key in (("startdate", "starts"), ("enddate", "ends")):
            if record.get(field):
                keys[key] = datetime.fromtimestamp(number(record, field, 0.0), UTC).date().isoformat()
        return keys

    def seasons_and_energy(self) -> dict[str, Any]:
        """Seasons, periods with their tiers, adjustments."""
        adjustments = {number(tier, "adj", 0.0) for tiers in self.prices for tier in tiers}
        same = len(adjustments) == 1
        riders: dict[str, Any] = {}
        if same and adjustments != {0.0}:
            riders["adjustment"] = {"price_usd_per_kwh": adjustments.pop()}
        for season, months in self.seasons.items():
            fuel = self.fuel[months[0] - 1]
            if fuel:
                riders[f"fuel_{season}"] = {"price_usd_per_kwh": fuel, "seasons": [season]}
        energy = {}
        for slug, period, block in self.energy.blocks("period", self.seasons):
            energy[slug] = block | _priced(self._tiers(period, with_adjustment=not same))
            self.period_of[slug] = period
        return {"seasons": self.seasons, "energy": energy, "riders": riders}

    def _tiers(self, period: int, with_adjustment: bool) -> list[dict[str, float]]:
        tiers = []
        for k, tier in enumerate(self.prices[period]):
            price = number(tier, "rate", 0.0) + (number(tier, "adj", 0.0) if with_adjustment else 0.0)
            made = {"price_usd_per_kwh": price}
            last = k == len(self.prices[period]) - 1
            unit = tier.get("unit", "kWh")
            if unit not in ("kWh", "kWh daily"):
                raise RecordError(
                    f"energyratestructure counts a tier in {unit!r}: only kWh and kWh daily are known"
                )
            if not last:
                key = "up_to_kwh_per_day" if unit == "kWh daily" else "up_to_kwh_per_month"
                made[key] = number(tier, "max", None)
            elif tier.get("max") is not None:
                self.left_out.append(f"the limit of the last tier of period {period}, {tier['max']} kWh")
            tiers.append(made)
        return tiers

    def demand(self) -> dict[str, Any]:
        """Demand charges by hour, and those of all hours by month."""
        charges: dict[str, Any] = {}
        units = (self.record.get("demandrateunit", "kW"), self.record.get("flatdemandunit", "kW"))
        if self.demand_hours is not None and self._unit(units[0], self.demands, "demandrateunit"):
            for slug, period, block in self.demand_hours.blocks("demand", self.seasons):
                charges |= self._charges(slug, self.demands[period], block)
        if self.flat and self._unit(units[1], self.flat, "flatdemandunit"):
            for season, months in self.seasons.items():
                period = self.flat_of_month[months[0] - 1]
                if not 0 <= period < len(self.flat):
                    raise RecordError(f"flatdemandmonths names period {period}; there are {len(self.flat)}")
                charges |= self._charges(f"any_hour_{season}", self.flat[period], {"seasons": [season]})
        if charges:
            self._ratchet(charges)
        return {"demand": charges}

    def _unit(self, unit: str, tiers: list[list[dict[str, Any]]], field: str) -> bool:
        if unit == "kW":
            return True
        if any(number(t, "rate", 0.0) or number(t, "adj", 0.0) for period in tiers for t in period):
            self.left_out.append(f"demand charges, since {field} is {unit}: bills are too low by them")
        return False

    def _charges(self, slug: str, tiers: list[dict[str, Any]], block: dict[str, Any]) -> dict[str, Any]:
        """A charge for each tier: each adds what it costs more than the one below, above its limit."""
        made, below_usd, below_kw = {}, 0.0, 0.0
        for place, tier in enumerate(tiers, start=1):
            price = number(tier, "rate", 0.0) + number(tier, "adj", 0.0)
            if price < below_usd:
                self.left_out.append(f"a lower price of {slug} above {below_kw:g} kW")
            elif price > below_usd:
                name = slug if len(tiers) == 1 else f"{slug}_tier_{place}"
                terms = {"price_usd_per_kw": price - below_usd, "free_kw": below_kw}
                made[name] = block | terms | {"interval_min": self._interval_min()}
                below_usd = price
            below_kw = number(tier, "max", below_kw)
        return made

    def _interval_min(self) -> int:
        given = self.record.get("demandwindow")
        if given in _INTERVALS_MIN:
            return int(given)
        text = "no demand interval is given: means of 60 min"
        if given is not None:
            text = f"demand is read every {given} min, taken as 60"
        if text not in self.assumed:
            self.assumed.append(text)
        return 60

    def _ratchet(self, charges: dict[str, Any]) -> None:
        shares = [float(v) for v in twelve(self.record, "demandratchetpercentage", 0.0)]
        if not any(shares):
            return
        if len(set(shares)) > 1:
            self.left_out.append(f"a demand ratchet that differs by month: {shares}")
            return
        frac = shares[0] / 100.0 if shares[0] > 1 else shares[0]
        self.assumed.append(f"the demand ratchet of {frac:.0%} looks back 11 months")
        for charge in charges.values():
            charge["ratchet"] = {"frac": frac, "months_back": 11}

    def export(self) -> dict[str, Any]:
        """What export earns, by the record's rule and its sell prices."""
        sells = [[number(tier, "sell", 0.0) for tier in tiers] for tiers in self.prices]
        priced = any(v for tiers in sells for v in tiers)
        rule = self.record.get("dgrules") or ("Net Metering" if self.record.get("usenetmetering") else None)
        if rule == "Net Metering":
            if priced:
                self.left_out.append("sell prices beside net metering")
            self.assumed.append("net metering credit is carried in dollars to later bills")
            return {"export": {"kind": "net_metering", "leftover": "carried_usd"}}
        if rule == "Buy All Sell All":
            self.left_out.append(
                "buy all, sell all: solar is sold apart from the load; export earns nothing here"
            )
            return {}
        if rule is None and not priced:
            self.assumed.append("no rule for export: it earns nothing")
            return {}
        if any(len(set(tiers)) > 1 for tiers in sells):
            self.left_out.append("sell prices that change with the tier: those of the first tier hold")
        if not priced:
            self.assumed.append(f"{rule} without a sell price: export earns nothing")
        if rule == "Net Billing Hourly":
            self.left_out.append("netting within the hour, where steps are shorter than an hour")
        price = {slug: sells[period][0] for slug, period in self.period_of.items()}
        return {"export": {"kind": "net_billing", "period_price_usd_per_kwh": price}}

    def others(self) -> None:
        """Every field that no charge was read from."""
        for field, value in self.record.items():
            if field in LEFT_OUT and value not in (None, "", [], 0):
                self.left_out.append(f"{LEFT_OUT[field]} ({field}: {short(value)})")
            elif field not in KNOWN and field not in LEFT_OUT and field not in WITH_PARENT:
                self.left_out.append(f"a field that is not known ({field}: {short(value)})")
        service = self.record.get("servicetype", "Bundled")
        if service != "Bundled":
            self.left_out.append(f"the other part of the bill: the record is for {service} only")
        self.assumed.append("no public holidays: the record knows weekdays and weekend days")


def _priced(tiers: list[dict[str, float]]) -> dict[str, Any]:
    return {"tiers": tiers} if len(tiers) > 1 else {"price_usd_per_kwh": tiers[0]["price_usd_per_kwh"]}
