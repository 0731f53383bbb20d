"""The worksheet of the farm house: its tables say what the list and the code say."""

from __future__ import annotations

import re

import pytest
from click.testing import CliRunner

from kit.cli import main
from kit.report.worksheet import study_worksheet
from kit.shipped import shipped
from kit.study import read_study

STUDIES = shipped() / "params" / "studies"


@pytest.fixture(scope="module")
def text() -> str:
    return study_worksheet(read_study(STUDIES / "farm_house.yaml")).text


def test_every_appliance_is_listed_once(text: str) -> None:
    house = read_study(STUDIES / "farm_house.yaml").model.house
    assert len(house.appliances) == 24
    listed = text[: text.index("Energy of must-run")]
    for piece in house.appliances.values():
        assert len(re.findall(rf"(?m)^{re.escape(piece.name)}  ", listed)) == 1, piece.name


def test_the_calculated_load_by_hand(text: str) -> None:
    """2,400 square feet: 7,200 + 3 x 1,500 = 11,700 VA of lighting and circuits.

    Standard: 3,000 + 0.35 x 8,700 = 6,045; 0.75 x 13,400 = 10,050; range 8,000; dryer 5,500; cooling
    4,600; motor 0.25 x 4,100 = 1,025: 35,220 VA. Optional: 11,700 + 13,400 + 12,000 + 5,500 = 42,600;
    10,000 + 0.4 x 32,600 = 23,040; with cooling 27,640 VA.
    """
    assert "35,220\N{NO-BREAK SPACE}VA" in text
    assert "27,640\N{NO-BREAK SPACE}VA" in text
    assert 6_045 + 10_050 + 8_000 + 5_500 + 4_600 + 1_025 == 35_220
    assert 10_000 + 0.4 * (11_700 + 13_400 + 12_000 + 5_500 - 10_000) + 4_600 == 27_640


def test_a_set_below_the_calculated_load_needs_load_management(text: str) -> None:
    row = next(line for line in text.splitlines() if "generator, automatic transfer   27.6" in line)
    assert "NO" in row
    assert "load management" in text


def test_the_pump_that_trips_the_battery_is_named(text: str) -> None:
    part = text[text.index("Starting the loads") :]
    battery = part[part.index("One battery") : part.index("Two batteries + solar")]
    assert "well pump" in battery
    assert "soft starter" in battery
    assert "6 of 7" in battery


def test_a_house_with_a_meter_is_held_against_it() -> None:
    found = study_worksheet(read_study(STUDIES / "metered_house.yaml")).text
    assert "The list against the meter" in found
    rows = re.findall(r"(?m)^(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec|Year)\s+([\d,]+).kWh", found)
    numbers = [float(r.replace(",", "")) for r in rows]
    assert len(numbers) == 13
    # the file's published sum, 4,425,305 Wh, doubled by the house; printed months are whole kWh
    assert numbers[-1] == pytest.approx(2 * 4425.305, abs=1.0)
    assert sum(numbers[:-1]) == pytest.approx(numbers[-1], abs=6.5)
    assert "gives no nameplates" in found


def test_it_never_approves(text: str) -> None:
    assert text.rstrip().endswith("local code and a licensed person decide.")


def test_html_holds_the_same_tables() -> None:
    study = read_study(STUDIES / "farm_house.yaml")
    shown = study_worksheet(study)
    assert shown.html.count("<caption>") == 6
    assert "&lt;" not in re.sub(r"<[^>]+>", "", shown.html)


def test_the_command() -> None:
    done = CliRunner().invoke(main, ["worksheet", str(STUDIES / "farm_house.yaml")])
    assert done.exit_code == 0, done.output
    assert "Calculated load of the house" in done.output
    missing = CliRunner().invoke(main, ["worksheet", "no_such.yaml"])
    assert missing.exit_code == 2
