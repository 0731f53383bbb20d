"""Records of the open US utility rate database (CC0) as plans: each hour's price read straight from the JSON.

The two records are answers of the database's own interface; what they hold is compared, not whether the
prices are those of today.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from kit.calendar import calendar_year
from kit.grid.bill import bill
from kit.grid.rate_record import RateRecord, plan_of_record, read_records
from kit.grid.rates import prices
from kit.grid.record_fields import RecordError
from kit.study.rate_models import RatePlan

FOLDER = Path(__file__).parents[1] / "data" / "rates"
FILES = ("open_rate_record_tou_demand.json", "open_rate_record_tiered_daily.json")
YEAR = calendar_year(2025, "America/Phoenix", 60)
Record = dict[str, Any]


def raw(name: str) -> Record:
    record: Record = json.loads((FOLDER / name).read_text(encoding="utf-8"))["items"][0]
    return record


def read(name: str) -> RateRecord:
    (found,) = read_records(FOLDER / name)
    return found


def hourly(record: Record, kind: str) -> list[int]:
    """The record's period of each hour of the year, by its two schedules."""
    rows = {False: record[f"{kind}weekdayschedule"], True: record[f"{kind}weekendschedule"]}
    return [rows[t.day_of_week >= 5][t.month - 1][t.hour] for t in YEAR.index]


@pytest.mark.parametrize("name", FILES)
def test_the_price_of_every_hour_is_the_records(name: str) -> None:
    record = raw(name)
    first = [tiers[0] for tiers in record["energyratestructure"]]
    expected = [first[k]["rate"] + first[k].get("adj", 0.0) for k in hourly(record, "energy")]
    assert prices(read(name).plan, YEAR).import_usd_per_kwh == pytest.approx(expected)


def test_what_a_record_says_besides_is_listed() -> None:
    demand, tiered = read(FILES[0]), read(FILES[1])
    assert [text.split(" (")[0] for text in demand.left_out] == [
        "a comment on demand, not read as a charge",
        "a comment on energy, not read as a charge",
    ]
    assert "Net Billing Instantaneous without a sell price: export earns nothing" in demand.assumed
    assert tiered.left_out == ("who may take the plan (phasewiring: Single and 3-Phase)",)
    assert demand.plan.export.kind == "net_billing"
    assert tiered.plan.export.kind == "net_metering"


@pytest.mark.parametrize("name", FILES)
def test_a_record_written_as_a_parameter_file_is_the_same_plan(name: str) -> None:
    found = read(name)
    text = found.as_yaml()
    assert text.startswith("kit_file: 1\n# ")
    assert all(" ".join(note.split()) in text for note in (*found.left_out, *found.assumed))
    values = yaml.safe_load(text)
    assert (values.pop("kit_file"), values.pop("source")) == (1, "open US utility rate database, CC0")
    assert RatePlan.model_validate(values) == found.plan


def grid(value: int = 0) -> list[list[int]]:
    return [[value] * 24 for _ in range(12)]


def small(**fields: Any) -> Record:
    schedules = {"energyweekdayschedule": grid(), "energyweekendschedule": grid()}
    return {"name": "x", "energyratestructure": [[{"rate": 0.1}]], **schedules, **fields}


def test_demand_tiers_become_charges_above_a_free_part() -> None:
    """5 USD up to 3 kW, 8 USD above: 4 kW cost 3 x 5 + 1 x 8 = 23 = 4 x 5 + (4 - 3) x 3."""
    tiers = [[{"max": 3, "rate": 5.0}, {"rate": 8.0}]]
    record = small(flatdemandstructure=tiers, flatdemandmonths=[0] * 12, demandwindow=15)
    plan = plan_of_record(record).plan
    import_kwh = np.zeros(YEAR.n)
    import_kwh[100] = 4.0
    assert bill(plan, YEAR, import_kwh).part_usd["demand"] == pytest.approx(23.0)
    assert {c.interval_min for c in plan.demand.values()} == {15}


def test_sell_prices_fuel_by_month_units_and_ratchet() -> None:
    fuel = [0.01] * 6 + [0.02] * 6
    record = small(
        energyratestructure=[[{"rate": 0.1, "sell": 0.04, "adj": 0.003}]],
        dgrules="Net Billing Hourly",
        fueladjustmentsmonthly=fuel,
        fixedchargefirstmeter=0.5,
        fixedchargeunits="$/day",
        mincharge=120.0,
        minchargeunits="$/year",
        flatdemandstructure=[[{"rate": 2.0}]],
        demandratchetpercentage=[80] * 12,
    )
    found = plan_of_record(record)
    plan = found.plan
    assert (plan.fixed_usd_per_day, plan.minimum_usd_per_month) == (0.5, 10.0)
    told = prices(plan, YEAR)
    assert told.import_usd_per_kwh[[0, -1]] == pytest.approx([0.113, 0.123])
    assert told.export_usd_per_kwh == pytest.approx(np.full(YEAR.n, 0.04))
    assert all(c.ratchet and c.ratchet.frac == 0.8 for c in plan.demand.values())
    assert "the demand ratchet of 80% looks back 11 months" in found.assumed


def test_weekday_and_weekend_hours_of_one_period_share_its_tiers() -> None:
    weekday, weekend = grid(), grid()
    for row in weekday:
        row[16:20] = [1] * 4
    for row in weekend:
        row[18:20] = [1] * 2
    record = small(
        energyratestructure=[[{"rate": 0.1}], [{"max": 10, "rate": 0.2}, {"rate": 0.3}]],
        energyweekdayschedule=weekday,
        energyweekendschedule=weekend,
    )
    import_kwh = np.zeros(YEAR.n)
    at = {18: 8.0, 17: 6.0}  # Saturday 4 January 18:00, Friday 3 January 17:00
    import_kwh[3 * 24 + 18], import_kwh[2 * 24 + 17] = at[18], at[17]
    assert bill(plan_of_record(record).plan, YEAR, import_kwh).total_usd == pytest.approx(10 * 0.2 + 4 * 0.3)


LISTED = {
    "buy all": ({"dgrules": "Buy All Sell All"}, "buy all, sell all"),
    "coincident": ({"coincidentratestructure": [[{"rate": 3.0}]]}, "the utility's own peak"),
    "reactive": ({"demandreactivepowercharge": 0.4}, "reactive power"),
    "hp": ({"flatdemandstructure": [[{"rate": 2.0}]], "flatdemandunit": "hp"}, "flatdemandunit is hp"),
    "unknown": ({"surcharge_of_the_future": 7}, "a field that is not known (surcharge_of_the_future: 7)"),
    "delivery": ({"servicetype": "Delivery"}, "the other part of the bill"),
    "last limit": ({"energyratestructure": [[{"rate": 0.1, "max": 900}]]}, "the limit of the last tier"),
    "year's minimum": ({"annualmincharge": 60.0}, "a minimum a year of 60.0"),
    "ratchet by month": (
        {"flatdemandstructure": [[{"rate": 2.0}]], "demandratchetpercentage": [0.5] * 6 + [0.0] * 6},
        "a demand ratchet that differs by month",
    ),
    "falling demand": (
        {"flatdemandstructure": [[{"rate": 5.0, "max": 3}, {"rate": 2.0}]]},
        "a lower price of any_hour_all_year above 3 kW",
    ),
}


@pytest.mark.parametrize("name", LISTED)
def test_what_cannot_be_said_is_listed(name: str) -> None:
    fields, text = LISTED[name]
    assert any(text in told for told in plan_of_record(small(**fields)).left_out)


REFUSED = {
    "no energy": ({"energyratestructure": []}, "energyratestructure is missing"),
    "tier per kW": ({"energyratestructure": [[{"rate": 0.1, "unit": "kWh/kW"}]]}, "only kWh and kWh daily"),
    "short schedule": ({"energyweekdayschedule": grid()[:11]}, "must hold 12 months of 24 hours"),
    "unknown period": ({"energyweekdayschedule": grid(4)}, "names period 4; there are 1, from 0"),
    "no number": ({"energyratestructure": [[{"rate": "cheap"}]]}, "rate must be a number, got 'cheap'"),
    "units": ({"fixedchargeunits": "$/week"}, "$/month, $/day and $/year are known"),
    "flat period": (
        {"flatdemandstructure": [[{"rate": 2.0}]], "flatdemandmonths": [3] * 12},
        "flatdemandmonths names period 3; there are 1",
    ),
    "eleven months": (
        {"fueladjustmentsmonthly": [0.1] * 11},
        "fueladjustmentsmonthly must hold twelve values",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_record_that_makes_no_bill_is_refused(name: str) -> None:
    fields, text = REFUSED[name]
    with pytest.raises(ValueError) as caught:
        plan_of_record(small(**fields))
    assert text in str(caught.value)


def test_files_that_hold_no_record(tmp_path: Path) -> None:
    for text, told in (
        ("{", "is not JSON"),
        ("[]", "holds no rate record"),
        ('{"items": [1]}', "holds no rate"),
    ):
        file = tmp_path / "plan.json"
        file.write_text(text, encoding="utf-8")
        with pytest.raises(RecordError, match=f"plan.json: {told}"):
            read_records(file)
    both = tmp_path / "both.json"
    both.write_text(json.dumps([small(), small(name="y")]), encoding="utf-8")
    assert [r.slug for r in read_records(both)] == ["both_1", "both_2"]
