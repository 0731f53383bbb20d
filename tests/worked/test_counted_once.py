"""What could be counted twice, counted by two routes; `pytest -s` prints both sides.

Wear and replacement, idle draw and efficiency, routine and major events, loan and purchase, replacement and
yearly equivalent, the worth of staying on. The arithmetic beside each is plain; the event indices are those
of the United States in 2023: EIA Electric Power Annual, Table 11.1, IEEE reporters.
"""

from __future__ import annotations

from pathlib import Path

import numpy_financial as npf
import pytest

from kit.account.cash import Loan, Piece, cash_lines
from kit.account.measures import equivalent_annual_cost_usd, lifetime_cost_usd
from kit.compare import compare
from kit.grid.known import known_classes
from kit.operate.best import BestUse, best_use
from kit.study import read_study
from kit.study.equipment_models import Cost
from kit.study.outage_models import OutageRecord
from tests.contract.sources import ROOT

STUDY = ROOT / "params" / "studies" / "metered_house.yaml"


def same(what: str, left: float, right: float, rel: float = 1e-12) -> None:
    print(f"{what}: {left!r} = {right!r}")
    assert left == pytest.approx(right, rel=rel)


def a_day(
    wear_usd_per_kwh: float = 0.0, idle_kw: float = 0.0, steps_an_hour: int = 1, usable_kwh: float = 8.0
) -> BestUse:
    """A dear evening after a cheap day."""
    prices = [0.1] * 17 + [0.5] * 4 + [0.1] * 3
    return best_use(
        [1.0] * 24 * steps_an_hour,
        [usd for usd in prices for _ in range(steps_an_hour)],
        0.0,
        1.0 / steps_an_hour,
        usable_kwh=usable_kwh,
        start_kwh=0.0,
        charge_kw=3.0,
        discharge_kw=3.0,
        charge_efficiency_frac=0.9,
        wear_usd_per_kwh=wear_usd_per_kwh,
        idle_kw=idle_kw,
    )


@pytest.mark.parametrize("path", sorted(STUDY.parent.glob("*.yaml")), ids=lambda path: path.stem)
def test_stale_fuel_is_paid_by_the_terms_of_the_fuel_and_by_no_service(path: Path) -> None:
    model = read_study(path).model
    sets = [option.generator for option in model.options.values() if option.generator is not None]
    assert sets
    for one in sets:
        keeps = model.fuels[one.fuel].keeps_months
        assert keeps is None or not any("stale" in name for name in one.service)


def test_the_bill_does_not_know_the_price_of_wear() -> None:
    plain, worn = a_day(), a_day(wear_usd_per_kwh=0.05)
    assert worn.stored_kwh.tolist() == plain.stored_kwh.tolist()  # the same path
    assert worn.steered_by_usd > plain.steered_by_usd  # which wear did weigh
    same("energy bill of a day [usd]", worn.energy_cost_usd, plain.energy_cost_usd)
    same("by hand [usd]", plain.energy_cost_usd, 0.1 * (20 + 4 / 0.9))


def test_idle_draw_is_bought_once_an_hour_at_any_step() -> None:
    hours, quarters = a_day(idle_kw=0.04), a_day(idle_kw=0.04, steps_an_hour=4)
    same("bought in a day [kWh]", hours.import_kwh.sum(), quarters.import_kwh.sum(), 1e-9)
    idle_kwh = hours.import_kwh.sum() - a_day().import_kwh.sum()
    same("idle of a day, four hours of it from the store [kWh]", idle_kwh, 20 * 0.04 + 4 * 0.04 / 0.9, 1e-9)


def test_routine_and_major_together_are_all_events() -> None:
    all_rate, all_h = 1.348, 6.11
    record = OutageRecord.model_validate(
        {
            "indices": {
                "all_events": {"saifi_per_year": all_rate, "saidi_h_per_year": all_h},
                "without_major": {"saifi_per_year": 1.022, "caidi_h": 2.0205},
            },
            "classes": {
                slug: {"from_indices": slug, "duration": {"kind": "exponential"}}
                for slug in ("routine", "major")
            },
        }
    )
    classes = known_classes(record)
    rates = {slug: float(one.events_per_year) for slug, one in classes.items()}
    same("events a year", sum(rates.values()), all_rate)
    hours = sum(rates[slug] * float(one.duration.mean_h) for slug, one in classes.items())
    same("hours a year", hours, all_h)


def test_a_loan_at_the_discount_rate_costs_what_was_lent() -> None:
    pieces = [Piece(Cost(price_usd=9_000.0, install_usd=1_000.0))]
    lent = cash_lines(12, pieces, bill_usd_by_year=0.0, loan=Loan(1.0, 0.05, 8))
    assert lent["purchase"].sum() == 0.0  # the payments stand in its place
    paid = cash_lines(12, pieces, bill_usd_by_year=0.0)
    same("lifetime cost [usd]", lifetime_cost_usd(lent, 0.05), lifetime_cost_usd(paid, 0.05))


def test_replaced_over_the_stay_or_spread_over_its_life_is_the_same_cost() -> None:
    """A set of 5 years, bought twice for a stay of 10, costs a year what it costs bought once for 5."""
    cost = Cost(price_usd=800.0)
    twice = cash_lines(10, [Piece(cost, (5.0,))], bill_usd_by_year=0.0)
    once = cash_lines(5, [Piece(cost)], bill_usd_by_year=0.0)
    left = equivalent_annual_cost_usd(lifetime_cost_usd(twice, 0.04), 0.04, 10)
    right = equivalent_annual_cost_usd(lifetime_cost_usd(once, 0.04), 0.04, 5)
    same("a year [usd]", left, right)
    same("by the loan table [usd]", left, -float(npf.pmt(0.04, 5, 800.0)))


def test_going_without_is_in_one_line_of_its_own() -> None:
    few = (
        "options={battery: {battery: {from: ../systems/home_battery.yaml}, "
        "transfer: ../systems/backed_panel.yaml}}"
    )
    made = compare(read_study(STUDY, [few, "lifetime_count=100", "money.lost_load_usd_per_h=10"]))
    plain = compare(read_study(STUDY, [few, "lifetime_count=100"]))
    for slug in ("do_nothing", "battery"):
        row, other = made.outcomes[slug].columns, plain.outcomes[slug].columns
        same(f"{slug}, without [usd]", float(row["lifetime_cost_usd"]), float(other["lifetime_cost_usd"]))
        hours = float(row["must_run_unserved_h_per_year"])
        worth = -float(npf.pv(0.03, 12, 10.0 * hours))
        valued = float(row["lifetime_cost_with_lost_load_usd"])
        same(f"{slug}, with [usd]", valued, float(row["lifetime_cost_usd"]) + worth, 1e-9)
