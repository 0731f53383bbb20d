"""Sizing: the choice against a plain loop and against compare(), laws of the frontier, reasons, bad input."""

from __future__ import annotations

import re

import pandas as pd
import pytest

from kit.compare import compare
from kit.house import house_year, outage_loads
from kit.study import StudyError
from kit.vary.kept import Kept
from kit.vary.size import size
from kit.vary.size_catalogue import configurations
from kit.vary.size_lacks import ORDER
from kit.vary.size_work import TOLD, sized
from tests.twins import ride
from tests.unit.vary.size_study import BATTERY, BOTH, SMALL_SET, catalogue, small_study

RUNNING_KW = (180 + 150 + 600 + 25 + 90 + 1000) / 1000  # everything that must run, furnace months
START_KW = RUNNING_KW + (2100 - 1000) / 1000  # the well pump starts on top


@pytest.fixture(scope="module")
def both():
    study = small_study(BOTH)
    return study, size(study, workers=1)


def test_brute_force_with_a_plain_loop_picks_the_same():
    """Batteries held full, one uniform kind of outage: the share of starts that a step loop carries."""
    units, packs = [1, 2, 3, 4], [0, 1, 2]
    study = small_study(
        catalogue(f"{{battery: {BATTERY}, unit_count: {units}, pack_count: {packs}}}"),
        "asked.keep_on_h=20",
        "catalogue.batteries.unit.battery.usable_kwh=2",
        gap_s=1.0,
    )
    house = house_year(study.model.house, study.model.year)
    load_kw = list(outage_loads(study.model.house, house.lists, "backed_panel").must_run_kw)
    does = {}
    for unit in units:
        for pack in packs:
            able = 1.5 * unit >= RUNNING_KW and 3.0 * unit >= START_KW
            full = round(unit * (2 + 2 * pack) * ride.MICRO)
            change = ride.changes(load_kw, 1.0, 0.0, 1.5 * unit, 1.0, 0.9)
            rides = ride.ride_h(change, [full] * len(load_kw), full, 20, 1.0)
            share = sum(h >= 20.0 for h in rides) / len(rides)
            price = unit * (2000 + 700 * pack) + 500
            if able and share >= 0.9:
                does[price] = f"unit_{unit}x{pack}"
    found = size(study, workers=1)
    assert 1 < len(does) < len(units) * len(packs)
    assert "unit_2x0" not in does.values()  # strong enough, but soon empty
    assert found.best == does[min(does)]
    walked = found.table[found.table["reaches"]]
    assert set(walked["configuration"]) <= set(does.values())
    assert found.row(found.best)["up_front_usd"] == min(does)


def test_a_row_is_what_compare_gives_for_the_option_written_out(both):
    study, _ = both
    array = (
        "{from: ../systems/roof_solar.yaml, size_kw: 2, inverter_kw: 1.6666666666666667, "
        "cost: {price_usd: 3833.3333333333335, install_usd: 1333.3333333333333, permit_usd: 300}}"
    )
    stored = SMALL_SET.replace("install_usd: 100}", "install_usd: 106}")[:-1] + ", fuel_on_site_l: 3}"
    packed = BATTERY[:-1] + ", unit_count: 2, packs_per_unit: 1}"
    panel = "../systems/backed_panel_inlet.yaml"
    written = {
        "unit_2x1__set_3l": f"{{battery: {packed}, generator: {stored}, transfer: {panel}}}",
        "solar_2__set_3l": f"{{generator: {stored}, solar: {array}}}",
        "unit_2x1__solar_2": f"{{battery: {packed}, solar: {array}}}",
    }
    options = "{" + ", ".join(f"o{k}: {block}" for k, block in enumerate(written.values())) + "}"
    rows = compare(study.changed([f"options={options}"])).summary.set_index("option")
    all_rows = _everything(study).set_index("configuration")
    for k, slug in enumerate(written):
        for name in TOLD:
            assert all_rows.loc[slug, name] == pytest.approx(rows.loc[f"o{k}", name], rel=1e-12, abs=1e-9), (
                name
            )


def _everything(study) -> pd.DataFrame:
    """Every configuration walked, none left out."""
    from kit.vary.cases import Case

    case = Case("all", options={one.slug: one.option for one in configurations(study)})
    return pd.DataFrame(sized(case.study(study), Kept()))


def test_what_is_not_walked_would_change_nothing(both):
    study, found = both
    every = _everything(study)
    able = every[every["reaches"].astype(bool)]
    cheapest = able.sort_values(["lifetime_cost_usd", "configuration"]).iloc[0]
    assert found.best == cheapest["configuration"]
    least = found.table.set_index("configuration")["least_cost_usd"]
    for row in every.to_dict("records"):
        assert least[row["configuration"]] <= row["lifetime_cost_usd"] + 0.01
    checked = every[~every["fails"].isin(ORDER[:9])]
    for row in found.frontier().to_dict("records"):
        better = checked[checked["kept_on_h"] >= row["kept_on_h"]]["lifetime_cost_usd"].min()
        assert row["lifetime_cost_usd"] == pytest.approx(better, abs=1e-6)


def test_the_frontier_costs_more_for_more_hours(both):
    for column in ("frontier", "frontier_without_solar"):
        frontier = both[1].frontier(column)
        assert len(frontier) > 1
        assert frontier["kept_on_h"].is_monotonic_increasing
        assert frontier["lifetime_cost_usd"].is_monotonic_increasing
    assert (both[1].frontier("frontier_without_solar")["solar_kw"] == 0).all()


def test_asking_for_more_costs_no_less():
    battery = f"{{battery: {BATTERY}, unit_count: [2, 3, 4], pack_count: [0, 1, 2]}}"
    costs = []
    small = "catalogue.batteries.unit.battery.usable_kwh=2"
    for hours, chance in ((4, 0.8), (20, 0.8), (20, 0.97)):
        asked = [f"asked.keep_on_h={hours}", f"asked.chance_frac={chance}"]
        study = small_study(catalogue(battery), small, *asked)
        found = size(study, workers=1)
        costs.append(found.row(found.best)["lifetime_cost_usd"])
    assert costs == sorted(costs)
    assert costs[0] < costs[-1]


@pytest.mark.parametrize(
    ("settings", "slug", "fails", "need", "have"),
    [
        ([], "unit_1x0", "power", RUNNING_KW, 1.5),
        (["catalogue.batteries.unit.battery.surge_kw=1.5"], "unit_2x0", "start", START_KW, 3.0),
        (["catalogue.batteries.unit.battery.voltage_v=120"], "unit_2x0", "voltage", 240.0, 120.0),
        (["allowed.wiring=false"], "unit_2x0", "not allowed", 1.0, 0.0),
        (["allowed.outdoor_set=false"], "set_3l", "not allowed", 1.0, 0.0),
        (["fuels.gasoline.legal_limit_l=5"], "set_10l", "legal fuel", 5.0, 10.0),
        (["asked.budget_usd=1000"], "unit_2x1", "budget", 1000.0, 5900.0),
        (["asked.keep_on_h=40"], "unit_2x0", "energy", 40.0, None),
        (["asked.keep_on_h=20", 'house.attended_hours="0-24"'], "set_3l", "fuel", 20.0, None),
        (["catalogue.batteries.unit.battery.fails_to_island_frac=0.2"], "unit_3x1", "failures", 0.9, None),
        (['house.attended_hours="12-12.5"'], "set_10l", "taking over", 0.9, None),
    ],
)  # fmt: skip
def test_the_first_check_failed_is_told(settings, slug, fails, need, have):
    study = small_study(BOTH, "catalogue.solar.size_kw=[0]", *settings)
    rows = {one.slug: one.option for one in configurations(study)}
    from kit.vary.cases import Case

    (row,) = sized(Case("one", options={slug: rows[slug]}).study(study), Kept())
    assert (row["fails"], row["reaches"]) == (fails, False)
    assert row["need"] == pytest.approx(need)
    if have is not None:
        assert row["have"] == pytest.approx(have)
    elif row["unit"] == "h":
        assert row["have"] < row["need"]
        assert row["have"] == row["kept_on_h"]
    assert row["text"]


def test_nothing_reaches_it_and_what_comes_nearest_is_told():
    found = size(
        small_study(BOTH, "asked.keep_on_h=100", "catalogue.generators={}", "catalogue.solar=null"), workers=1
    )
    assert found.best is None
    assert found.without_solar is None
    row = found.row(found.nearest)
    assert row["fails"] == "energy"
    walked = found.table[found.table["kept_on_h"].notna()]
    assert row["ride_through_frac_asked"] == walked["ride_through_frac_asked"].max()


def test_the_hand_method_and_what_it_leaves_out(both):
    hand = both[1].hand.set_index("step")
    assert hand.loc["by hand", "need"] == pytest.approx(RUNNING_KW * 8 / (4 / 4.4))
    assert hand.loc["duty", "need"] < hand.loc["by hand", "need"]
    assert hand.loc["worst season", "need"] > hand.loc["duty", "need"]
    assert hand.loc["efficiency", "need"] == pytest.approx(hand.loc["worst season", "need"] / 0.9, abs=0.02)
    assert hand.loc["idle", "need"] == pytest.approx(hand.loc["efficiency", "need"], abs=0.02)  # it has none
    assert hand.loc["gaps borne", "need"] <= hand.loc["idle", "need"] + 0.02
    assert hand.loc["reserve", "need"] == pytest.approx(hand.loc["gaps borne", "need"], abs=0.02)  # held full
    assert hand.loc["failures", "need"] >= hand.loc["reserve", "need"] - 0.02
    changes = hand[hand["unit"] == "kWh"]
    assert changes["change"].iloc[1:].sum() == pytest.approx(
        changes["need"].iloc[-1] - changes["need"].iloc[0]
    )


def test_a_constant_load_needs_what_arithmetic_says():
    """0.025 kW for 8 h through 90 % is 0.2222 kWh stored, and 1.1 times that nominal."""
    only = [f"house.appliances.{slug}.tier=can_wait" for slug in
            ("refrigerator", "freezer", "furnace_fan", "lights", "well_pump")]  # fmt: skip
    battery = f"{{battery: {BATTERY}, unit_count: [1]}}"
    found = size(small_study(catalogue(battery), *only, gap_s=1.0), workers=1)
    hand = found.hand.set_index("step")["need"]
    assert hand["by hand"] == pytest.approx(0.025 * 8 * 1.1)
    assert hand["duty"] == pytest.approx(0.025 * 8 * 1.1)
    assert hand["efficiency"] == pytest.approx(0.025 * 8 / 0.9 * 1.1, abs=0.012)
    assert hand["failures"] == pytest.approx(0.025 * 8 / 0.9 * 1.1, abs=0.012)
    assert hand["on offer"] == pytest.approx(4.4)


@pytest.mark.parametrize(
    ("setting", "says"),
    [
        ("catalogue=null", "catalogue: is missing: there is nothing to size from"),
        ("fuels={propane: {price_usd_per_l: 1}}", "`fuels` has no price for gasoline"),
        ("house.weather=null", "catalogue.solar: needs house.weather"),
        ("catalogue.batteries.unit.battery.charge_periods=[noon]", "the rate plan has no period 'noon'"),
        ("catalogue.batteries.unit.unit_count=[1, 1]", "unit_count names a size twice"),
        ("catalogue.batteries.unit.unit_count=[]", "must have at least 1 item"),
        ("catalogue.batteries.unit.battery.pack_usable_kwh=0", "pack_count above 0 need"),
        ("catalogue={}", "a catalogue needs a battery or a generator"),
        (f"catalogue.solar.size_kw={list(range(600))}", "at most 20,000 are tried"),
        ("catalogue.solar.size_kw=[-1]", "must be at least 0"),
        ("asked.chance_frac=95", "must be at most 1"),
    ],
)  # fmt: skip
def test_a_catalogue_that_cannot_be_used_is_told(setting, says):
    grown = [f"catalogue.batteries.unit.unit_count={list(range(1, 12))}"] if "at most 20" in says else []
    with pytest.raises(StudyError, match=re.escape(says)):
        configurations(small_study(BOTH, *grown, setting))
