"""Legs of a split-phase panel and sets of loads that may be on together, against trying everything."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.house.peaks import peaks, worst_starts
from kit.house.pieces import assign_legs, balanced, start_list
from kit.study.appliance_models import Appliance, Motor, Use
from tests.unit.house.list_houses import house_of, lists_of

FRIDGE = Appliance(running_w=600.0, starting_total_w=2000.0, duty_frac=0.3, leg=1, tier="must_run")
PUMP = Appliance(running_w=1000.0, motor=Motor(shaft_hp=1.0, code_letter="K"), voltage_v=240, tier="must_run")
LAMPS = Appliance(count=5, running_w=20.0, leg=2, use=Use(weekday="18-22", weekend="18-22"), tier="must_run")
FAN = Appliance(running_w=450.0, starting_extra_w=900.0, tier="must_run")
HOUSE = house_of(fridge=FRIDGE, pump=PUMP, lamps=LAMPS, fan=FAN)
LISTS = lists_of(HOUSE)


@settings(max_examples=60)
@given(st.lists(st.integers(1, 2000), max_size=9), st.integers(0, 3000), st.integers(0, 3000))
def test_no_placing_balances_better(weights: list[int], leg_1_w: int, leg_2_w: int) -> None:
    chosen = balanced(weights, leg_1_w, leg_2_w)

    def apart(sides: tuple[int, ...]) -> int:
        one = leg_1_w + sum(w for w, s in zip(weights, sides, strict=True) if s)
        return abs(one - (leg_1_w + leg_2_w + sum(weights) - one))

    best = min(apart(sides) for sides in product((0, 1), repeat=len(weights)))
    assert apart(tuple(int(k in chosen) for k in range(len(weights)))) == best


def test_given_legs_stay_and_the_rest_balances() -> None:
    """600 W stand on leg 1, 100 W on leg 2: the fan's 450 W go to leg 2, 600 against 550."""
    assert assign_legs(HOUSE, HOUSE.appliances) == {"fridge": "1", "pump": "both", "lamps": "2", "fan": "2"}


def test_a_circuit_stands_on_one_leg() -> None:
    """700 alone, 400 + 200 on one circuit, 100 alone: 700 | 400 + 200 + 100, never 400 apart from 200."""
    house = house_of(
        a=Appliance(running_w=700.0, tier="must_run"),
        b=Appliance(running_w=400.0, circuit="7", tier="must_run"),
        c=Appliance(running_w=200.0, circuit="7", tier="must_run"),
        d=Appliance(running_w=100.0, tier="must_run"),
    )
    legs = assign_legs(house, house.appliances)
    assert legs["b"] == legs["c"] == legs["d"] != legs["a"]


def test_one_circuit_cannot_differ_in_leg() -> None:
    with pytest.raises(ValueError, match="appliances a and b stand on circuit 7 but differ in leg"):
        house_of(
            a=Appliance(running_w=7.0, circuit="7", leg=1, tier="must_run"),
            b=Appliance(running_w=4.0, circuit="7", leg=2, tier="must_run"),
        )


def test_pieces_and_the_largest_sets() -> None:
    """Heat in January, cooling in July, lamps in the evening of either: two sets, neither in the other."""
    house = house_of(
        heat=Appliance(running_w=1000.0, use=Use(months=[1]), tier="must_run"),
        cool=Appliance(running_w=900.0, use=Use(months=[7]), tier="must_run"),
        lamps=Appliance(count=2, running_w=20.0, use=Use(weekday="18-22", weekend="18-22"), tier="must_run"),
        never=Appliance(running_w=5.0, duty_frac=0.0, tier="must_run"),
    )
    listed = start_list(house, lists_of(house), house.appliances)
    assert [p.slug for p in listed.pieces] == ["heat", "cool", "lamps", "lamps"]
    assert {tuple(listed.pieces[i].slug for i in one) for one in listed.together} == {
        ("heat", "lamps", "lamps"),
        ("cool", "lamps", "lamps"),
    }
    assert not listed.legs_given


def test_every_step_s_loads_are_in_some_set() -> None:
    listed = start_list(HOUSE, LISTS, HOUSE.appliances)
    sets = [{listed.pieces[i].slug for i in one} for one in listed.together]
    names = list(HOUSE.appliances)
    patterns = np.unique(np.stack([LISTS.outage_by_appliance_kw[s] > 0 for s in names], axis=1), axis=0)
    for row in patterns:
        on = {s for s, state in zip(names, row, strict=True) if state}
        assert any(on <= one for one in sets)


def test_worst_starts_worked_by_hand() -> None:
    """All run in the evening: 600 + 1000 + 100 + 450 = 2150 W. Leg 1: 600 + 500, leg 2: 100 + 450 + 500."""
    table = worst_starts(HOUSE, LISTS, HOUSE.appliances).set_index("appliance")
    # 1 hp of letter K: 8.99 kVA. On top of 1150 W: 10140 W.
    assert table.loc["pump", "start_w"] == pytest.approx(8990)
    assert table.loc["pump", "total_w"] == pytest.approx(10140)
    assert table.loc["pump", "leg_1_w"] == pytest.approx(600 + 4495)
    assert table.loc["pump", "leg_2_w"] == pytest.approx(550 + 4495)
    assert table.loc["fridge", "total_w"] == 2150 - 600 + 2000
    assert table.loc["fridge", "leg_1_w"] == 2000 + 500
    assert table.loc["fridge", "leg_2_w"] == 550 + 500
    assert table.loc["lamps", "others_w"] == 2150 - 20
    assert next(iter(table.index)) == "pump"


def test_the_first_row_is_the_peak_of_the_fit() -> None:
    found = peaks(HOUSE, LISTS, HOUSE.appliances)
    first = worst_starts(HOUSE, LISTS, HOUSE.appliances).iloc[0]
    assert (found.worst_start_slug, found.worst_start_w) == (first["appliance"], first["total_w"])
    assert found.worst_start_va == pytest.approx(first["total_va"])
    assert found.leg_w == 1100.0  # leg 1 running: 600 + 500
    assert found.leg_start_w == pytest.approx(5095.0)  # the pump's half on top of the refrigerator


def test_volt_amperes_by_power_factor() -> None:
    """3 hp of letter K at a power factor of 0.5: 26.97 kVA, 13.485 kW; running 1000 W at 0.85, 1176 VA."""
    tool = Appliance(
        running_w=1000.0,
        power_factor_frac=0.85,
        motor=Motor(shaft_hp=3.0, code_letter="K", start_power_factor_frac=0.5),
        voltage_v=240,
        tier="must_run",
    )
    house = house_of(tool=tool, lamp=Appliance(running_w=100.0, tier="must_run"))
    found = peaks(house, lists_of(house), house.appliances)
    assert found.worst_start_w == pytest.approx(13485 + 100)
    assert found.worst_start_va == pytest.approx(26970 + 100)
    assert tool.draw_va == pytest.approx(1176.47, abs=0.01)


def test_no_volt_amperes_where_none_are_told() -> None:
    house = house_of(fan=FAN)
    found = peaks(house, lists_of(house), house.appliances)
    assert found.worst_start_va is None
    assert found.leg_start_w is None


def test_a_soft_starter_takes_its_share_of_the_whole_start() -> None:
    soft = PUMP.model_copy(update={"soft_start_frac": 0.45})
    assert soft.start_total_w == pytest.approx(0.45 * 8990)
    nearly_none = PUMP.model_copy(update={"soft_start_frac": 0.01})
    assert nearly_none.start_total_w == 1000.0  # never below running
