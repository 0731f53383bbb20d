"""Appliances and motors against published tables: see appliance_cases.py for their sources."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import numpy as np
import pytest
import yaml

from kit.calendar import calendar_year
from kit.house.appliances import list_loads
from kit.house.peaks import peaks
from kit.study.appliance_models import Appliance, Use
from kit.study.house_models import House
from kit.study.motor_models import LOCKED_ROTOR_KVA_PER_HP, Motor, locked_rotor_a, locked_rotor_kva
from tests.published.appliance_cases import (
    DOE_COMPUTER,
    DOE_FAN,
    DOE_RANGES,
    HALF_HP_L_KVA,
    LOCKED_ROTOR_CASES,
    LOCKED_ROTOR_ROWS,
    START_CASES,
    SUM_3950,
    LockedRotorCase,
    StartCase,
)

LIBRARY = Path(__file__).parents[2] / "params/appliances/household.yaml"
YEAR = calendar_year(2025, "America/New_York", 60)


def house_of(**appliances: Appliance) -> House:
    return House(time_zone="America/New_York", latitude_deg=36.0, longitude_deg=-80.0, appliances=appliances)


def test_every_row_of_the_locked_rotor_table() -> None:
    printed = dict(re.findall(r"([A-Z]) ([\d.+-]+)", LOCKED_ROTOR_ROWS))
    assert list(printed) == list(LOCKED_ROTOR_KVA_PER_HP)
    assert len(printed) == 19
    for letter, (low, high) in LOCKED_ROTOR_KVA_PER_HP.items():
        if high is None:
            assert printed[letter] == f"{low}+"
        else:
            first, last = map(float, printed[letter].split("-"))
            assert (low, high) == (first, last)


def test_the_table_leaves_no_gap() -> None:
    ends = list(LOCKED_ROTOR_KVA_PER_HP.values())
    for (_, high), (low, _) in itertools.pairwise(ends):
        assert low == pytest.approx((high or 0) + 0.01)


@pytest.mark.parametrize("case", LOCKED_ROTOR_CASES, ids=lambda c: f"{c.shaft_hp:g} hp {c.code_letter}")
def test_amperes_at_standstill(case: LockedRotorCase) -> None:
    low_a, high_a = locked_rotor_a(case.code_letter, case.shaft_hp, case.voltage_v)
    assert low_a == pytest.approx(case.low_a, abs=0.051)  # half of the last printed digit, 131.25 as 131.3
    assert high_a == pytest.approx(case.high_a, abs=0.051)


def test_half_a_horsepower_of_letter_l() -> None:
    assert locked_rotor_kva("L", 0.5) == pytest.approx(HALF_HP_L_KVA, abs=0.006)
    pump = Appliance(
        running_w=900.0, motor=Motor(shaft_hp=0.5, code_letter="L"), voltage_v=240, tier="must_run"
    )
    assert pump.start_total_w == pytest.approx(1000 * HALF_HP_L_KVA[1], abs=6)


@pytest.mark.parametrize("case", START_CASES, ids=lambda c: f"{c.name}, {c.source[:14]}")
def test_each_table_keeps_its_own_meaning_of_a_start(case: StartCase) -> None:
    piece = Appliance(
        running_w=case.running_w, starting_total_w=case.total_w, starting_extra_w=case.extra_w, tier="wanted"
    )
    assert piece.start_total_w == case.is_total_w


def test_the_published_sum_takes_the_refrigerator_while_it_starts() -> None:
    running_w, starting_w = SUM_3950["refrigerator"]
    house = house_of(
        lamp=Appliance(running_w=float(SUM_3950["lamp"]), tier="must_run"),
        cooker=Appliance(running_w=float(SUM_3950["cooker"]), tier="must_run"),
        refrigerator=Appliance(
            running_w=float(running_w), starting_total_w=float(starting_w), duty_frac=0.33, tier="must_run"
        ),
        tv=Appliance(running_w=float(SUM_3950["tv"]), tier="must_run"),
    )
    found = peaks(house, list_loads(house, YEAR, np.full(YEAR.n, 20.0)), house.appliances)
    assert found.worst_start_w == SUM_3950["sum"]
    assert found.worst_start_slug == "refrigerator"


def test_the_computer_of_the_energy_page() -> None:
    parts = {
        f"part_{k}": Appliance(running_w=float(w), use=Use(weekday="18-22", weekend="18-22"), tier="wanted")
        for k, w in enumerate(DOE_COMPUTER["watts"])
    }
    house = house_of(**parts)
    kwh = list_loads(house, YEAR, np.full(YEAR.n, 20.0)).everyday_kw.sum()
    assert kwh == pytest.approx(DOE_COMPUTER["kwh"], abs=0.5)
    assert round(kwh) * 0.11 == pytest.approx(DOE_COMPUTER["usd"])


def test_the_window_fan_in_a_season_of_its_own() -> None:
    """120 days: June to September less two days; here 1 June to 30 September, 122 days, scaled back."""
    fan = Appliance(
        running_w=float(DOE_FAN["watts"]),
        use=Use(
            weekday="",
            weekend="",
            seasons={"warm": {"months": [6, 7, 8, 9], "weekday": "18-22", "weekend": "18-22"}},
        ),
        tier="wanted",
    )
    kwh = list_loads(house_of(fan=fan), YEAR, np.full(YEAR.n, 20.0)).everyday_kw.sum()
    assert kwh * DOE_FAN["days"] / 122 == pytest.approx(DOE_FAN["kwh"])
    assert DOE_FAN["kwh"] * 0.11 == pytest.approx(DOE_FAN["usd_at_11_cents"])


LIBRARY_BLOCKS = {k: v for k, v in yaml.safe_load(LIBRARY.read_text()).items() if k != "kit_file"}


@pytest.mark.parametrize(("name", "printed"), DOE_RANGES.items())
def test_the_library_spans_the_published_range(name: str, printed: tuple[int, int]) -> None:
    record = LIBRARY_BLOCKS[name]["running_w"]
    assert record["low"] <= printed[0] <= printed[1] <= record["high"]


@pytest.mark.parametrize(
    "case", [c for c in START_CASES if "worked" not in c.name], ids=lambda c: f"{c.name}, {c.source[:14]}"
)
def test_the_library_spans_the_published_starts(case: StartCase) -> None:
    """Every row of the three tables lies inside its range in the library, brought to one meaning."""
    block = {
        "refrigerator": "refrigerator",
        "freezer 24 ft3": "freezer",
        "freezer": "freezer",
        "furnace fan": "furnace_fan",
        "furnace fan 1/2 hp": "furnace_fan",
        "sump pump 1/3 hp": "sump_pump_third_hp",
        "well pump 1/2 hp": "well_pump_half_hp",
        "central air conditioner 3 ton": "central_air_3_ton",
    }[case.name]
    record = LIBRARY_BLOCKS[block]["starting_total_w"]
    assert record["low"] <= case.is_total_w <= record["high"]
    running = LIBRARY_BLOCKS[block]["running_w"]
    assert running["low"] <= case.running_w <= running["high"]


def test_there_are_thirty_and_more() -> None:
    assert len(LIBRARY_BLOCKS) >= 30
