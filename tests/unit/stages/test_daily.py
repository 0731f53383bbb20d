"""Everyday use of options: the saving in three parts, and solar never credited to the battery."""

from __future__ import annotations

import numpy as np
import pytest

from kit.compare import Comparison
from kit.stages.ageing import Wear, aged
from kit.systems.battery import battery_system
from tests.unit.stages.small_study import OPTIONS, compared, study_text
from tests.unit.systems.blocks import a_battery

PARTS = ("plan", "solar", "battery")
FLAT = """
      fixed_usd_per_month: 10
      energy: {all: {hours: rest, price_usd_per_kwh: 0.15}}
      export: {kind: net_billing, price_usd_per_kwh: 0.05, leftover: carried_usd}"""


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Comparison:
    more = {
        "battery_other_plan": OPTIONS["battery"] | {"rate_plan": FLAT},
        "solar_other_plan": OPTIONS["solar_only"] | {"rate_plan": FLAT},
    }
    return compared(tmp_path_factory.mktemp("daily"), text=study_text(**more))


def of(c: Comparison, slug: str, column: str) -> float:
    value = c.outcomes[slug].columns[column]
    assert isinstance(value, float)
    return value


def test_three_savings_add_up_to_the_whole(small: Comparison) -> None:
    """plan + solar + battery - standby = bill of doing nothing - bill of the option, recharge included."""
    nothing = of(small, "do_nothing", "bill_usd_per_year")
    for slug in small.outcomes:
        parts = [of(small, slug, f"saving_from_{part}_usd_per_year") for part in PARTS]
        whole = nothing - of(small, slug, "bill_usd_per_year")
        standby = of(small, slug, "standby_usd_per_year")
        assert sum(parts) - standby == pytest.approx(whole, abs=1e-6), slug


def test_solar_is_never_credited_to_the_battery(small: Comparison) -> None:
    """Solar saves the same beside nothing, a generator or a battery (T3)."""
    alone = of(small, "solar_only", "saving_from_solar_usd_per_year")
    assert alone > 100.0
    for slug in ("standby_solar", "battery_solar"):
        assert of(small, slug, "saving_from_solar_usd_per_year") == pytest.approx(alone, abs=1e-9)
    assert of(small, "solar_only", "saving_from_battery_usd_per_year") == pytest.approx(0.0, abs=1e-9)
    for slug in ("standby", "portable", "battery", "gas_set"):
        assert of(small, slug, "saving_from_solar_usd_per_year") == 0.0


def test_a_generator_saves_nothing_but_its_standby_draw(small: Comparison) -> None:
    """20 W all year: 5 x 5 peak hours a week at 0.40, the rest at 0.12."""
    year = small.house.year
    peak = (year.weekday < 5) & (year.hour >= 16) & (year.hour < 21)
    draw_usd = 0.020 * (0.40 * peak.sum() + 0.12 * (~peak).sum())
    for slug in ("standby", "gas_set"):
        assert of(small, slug, "standby_usd_per_year") == pytest.approx(draw_usd, abs=1e-6)
    for slug in ("standby", "gas_set", "standby_solar", "portable"):
        assert of(small, slug, "saving_from_battery_usd_per_year") == pytest.approx(0.0, abs=1e-9)
    assert of(small, "portable", "standby_usd_per_year") == 0.0
    # beside solar some of the draw is surplus that is worth the export price only
    assert 0.0 < of(small, "standby_solar", "standby_usd_per_year") <= draw_usd


def test_the_battery_is_measured_with_the_same_solar(small: Comparison) -> None:
    both, solar = (of(small, slug, "bill_usd_per_year") for slug in ("battery_solar", "solar_only"))
    saving = of(small, "battery_solar", "saving_from_battery_usd_per_year")
    assert saving == pytest.approx(solar - both, abs=1e-6)


def test_a_plan_change_is_a_saving_of_its_own(small: Comparison) -> None:
    """12 x 2 USD less in fixed charges, and every kWh at 0.15."""
    kwh = float(small.house.load_kw.sum())
    expected = of(small, "do_nothing", "bill_usd_per_year") - (120.0 + 0.15 * kwh)
    for slug in ("battery_other_plan", "solar_other_plan"):
        assert of(small, slug, "saving_from_plan_usd_per_year") == pytest.approx(expected, abs=1e-6)
    for slug in OPTIONS:
        assert of(small, slug, "saving_from_plan_usd_per_year") == 0.0
    # one price all day and no solar: the battery only costs its idle draw and what outages took
    idle_usd = 0.030 * len(small.house.load_kw) * 0.15
    saving = of(small, "battery_other_plan", "saving_from_battery_usd_per_year")
    assert -idle_usd - 1.0 < saving <= -idle_usd + 1e-6


def test_foresight_never_pays_more_than_the_clock(small: Comparison) -> None:
    for slug in ("battery", "battery_solar", "battery_other_plan"):
        assert of(small, slug, "foresight_adds_usd_per_year") >= -0.5  # a year that begins and ends full


def test_the_battery_serves_only_its_own_circuits(small: Comparison) -> None:
    """The heater is not on the backed panel: no more is ever discharged than the loads behind it."""
    behind = small.house.load_kw - small.house.lists.everyday_by_appliance_kw["heater"]
    use = small.outcomes["battery"].everyday
    assert (use.discharge_kwh <= behind + 1e-9).all()
    assert use.throughput_kwh > 0


def test_a_worn_battery_holds_less() -> None:
    new = battery_system(a_battery(reserve_frac=0.3))
    old = aged(new, Wear(10.0, "its life in years", fade_frac_per_year=0.02).left_frac(5))
    assert old.usable_kwh == pytest.approx(9.0)
    assert old.reserve_kwh == pytest.approx(2.7)
    assert Wear(10.0, "its life in years", fade_frac_per_year=0.2).left_frac(9) == 0.0


def test_fade_shows_in_the_bills_of_later_years(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("fade")
    settings = [
        "options.battery_solar.battery.fade_frac_per_year=0.16",
        "options.battery_solar.battery.life_years=6",
    ]
    c = compared(folder, text=study_text(("battery_solar",)), set_values=settings)
    bills = -c.outcomes["battery_solar"].cash["bill"].to_numpy()[1:]
    assert (np.diff(bills[:6]) > 0).all()  # solar and battery fade
    assert bills[6] < bills[5]  # a new battery in year 7


DEMAND = """
      fixed_usd_per_month: 10
      energy: {all: {hours: rest, price_usd_per_kwh: 0.15}}
      demand:
        anytime: {price_usd_per_kw: 2}
        evening: {days: weekday, hours: "16-21", price_usd_per_kw: 9, free_kw: 1}
      taxes: {city: {frac: 0.1, of: subtotal}}
      export: {kind: net_billing, price_usd_per_kwh: 0.05, leftover: carried_usd}"""


def test_demand_read_over_several_steps_is_left_out_and_said(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Quarter hours and a demand charge on means of an hour: the schedule cannot look at it."""
    more = {"battery_demand": OPTIONS["battery"] | {"rate_plan": DEMAND}}
    folder = tmp_path_factory.mktemp("long")
    c = compared(folder, ("step_min: 60", "step_min: 15"), text=study_text((), **more))
    foresight = c.outcomes["battery_demand"].foresight
    assert foresight is not None
    assert "demand anytime, demand evening is read over several steps" in foresight.note
    assert "no schedule costs less" not in foresight.note


def test_foresight_looks_at_demand_charges(tmp_path_factory: pytest.TempPathFactory) -> None:
    """One price for energy: all that a battery can save by foresight is on the two demand lines."""
    more = {"battery_demand": OPTIONS["battery"] | {"rate_plan": DEMAND}}
    c = compared(tmp_path_factory.mktemp("demand"), text=study_text((), **more))
    foresight = c.outcomes["battery_demand"].foresight
    assert foresight is not None
    assert "With the demand charges, no schedule costs less by more than a share of" in foresight.note
    assert "leave out demand charges" not in foresight.note
    # by the clock the battery rests at one price, and a schedule for prices alone would let it rest too
    assert of(c, "battery_demand", "saving_from_battery_usd_per_year") <= 0.0
    assert of(c, "battery_demand", "foresight_adds_usd_per_year") > 10.0
