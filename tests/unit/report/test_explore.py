"""The explore controls without a browser: settings, the file they write, what is said when it fails."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from kit.compare import compare
from kit.report import explore
from kit.report.explore_faces import words
from kit.report.explore_file import write_study
from kit.report.explore_settings import Choices, Moves, changes, moved_words, moves_of, settings
from kit.report.explore_words import HELP, cautions_for
from kit.report.formats import CHANCE, figure
from kit.save import SaveError
from kit.study import Study, read_study

PARAMS = Path(__file__).parents[3] / "params"


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder = tmp_path_factory.mktemp("work") / "params"
    shutil.copytree(PARAMS, folder)
    return read_study(folder / "studies" / "farm_house.yaml")


@pytest.fixture(scope="module")
def choices(study: Study) -> Choices:
    return Choices.of(study)


def all_moved(choices: Choices, slug: str) -> Moves:
    own = moves_of(choices, slug)
    return replace(
        own,
        keep_on_h=33.0,
        unit_count=own.unit_count and 3,
        solar_kw=own.solar_kw and 4.5,
        reserve_frac=own.reserve_frac and 0.55,
        fuel_price=own.fuel_price and 5.1,
        outages=list(choices.outages.values())[-1],
        rate_plan=list(choices.rate_plans.values())[-1],
    )


@pytest.mark.parametrize("slug", ["portable", "standby", "battery", "two_batteries_solar"])
def test_a_written_study_is_the_study_that_was_explored(study: Study, choices: Choices, slug: str) -> None:
    assert changes(choices, moves_of(choices, slug)) == {}
    moved = changes(choices, all_moved(choices, slug))
    file = write_study(study, moved)
    text = file.read_text(encoding="utf-8")
    again = read_study(file)
    expected = study.changed(settings(moved))
    assert {**again.resolved, "name": ""} == {**expected.resolved, "name": ""}
    assert again.model.name == "Farmhouse with a workshop, as explored"
    assert again.model.outages.name == list(choices.outages)[-1]
    assert "../houses/workshop_farm.yaml" in text
    assert len(text) < 4000
    assert write_study(study, moved) != file, "an earlier file is never written over"


def test_a_study_that_starts_from_another_is_written_whole(study: Study) -> None:
    medical = read_study(study.path.with_name("farm_house_medical.yaml"))
    file = write_study(medical, {"outages": "../outages/quiet_city_feeder.yaml", "asked.keep_on_h": 8.0})
    assert read_study(file).model.outages.name == "Quiet city feeder (invented)"
    assert "oxygen_concentrator" in read_study(file).model.house.appliances


def test_what_cannot_be_written_is_said_and_leaves_nothing(
    study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = sorted(study.path.parent.iterdir())
    with pytest.raises(SaveError, match="not kept"):
        write_study(study, {"options.battery.battery.reserve_frac": 1.5})
    assert sorted(study.path.parent.iterdir()) == before

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(SaveError, match="No space left on device"):
        write_study(study, {"asked.keep_on_h": 9.0})
    assert sorted(study.path.parent.iterdir()) == before


def test_solar_of_another_size_keeps_its_price_a_kw(study: Study, choices: Choices) -> None:
    own = study.model.options["two_batteries_solar"].solar
    moved = changes(choices, replace(moves_of(choices, "two_batteries_solar"), solar_kw=3.0))
    other = study.changed(settings(moved)).model.options["two_batteries_solar"].solar
    assert own is not None
    assert other is not None
    assert other.cost.price_usd / 3.0 == pytest.approx(own.cost.price_usd / own.size_kw)
    assert other.inverter_kw / 3.0 == pytest.approx(own.inverter_kw / own.size_kw)


def test_moving_a_control_shows_what_compare_says(study: Study, tmp_path: Path) -> None:
    """Without a running loop the whole comparison follows each move straight away."""
    controls = explore.Explorer(study, tmp_path)
    controls.control["option"].value = "battery"
    controls.control["unit_count"].value = 3
    controls.control["keep_on_h"].value = 10.0
    row = compare(study.changed(["options.battery.battery.unit_count=3", "asked.keep_on_h=10"]))
    columns = row.outcomes["battery"].columns
    for column, unit in (
        ("ride_through_frac_asked", CHANCE),
        ("up_front_usd", "usd"),
        ("bill_usd_per_year", "usd"),
    ):
        assert figure(columns[column], unit) in controls.answer.value, column
    assert "One battery (3 units)" in controls.answer.value
    assert "being worked out" not in controls.answer.value
    assert controls.session.whole.to_json()["options"] == row.to_json()["options"]
    assert controls.message.value == ""
    assert controls._line["solar_kw"].layout.display == "none"
    assert controls._line["unit_count"].layout.display is None


def test_help_and_cautions(study: Study, choices: Choices) -> None:
    said = words(study).text
    assert all(text in said for text in HELP.values())
    assert all(text.count(".") == 1 for text in HELP.values()), "one sentence a term"
    options = study.model.options
    generator, battery = (" ".join(cautions_for(options[s], False)) for s in ("portable", "battery"))
    assert "outdoors only" in generator
    assert "outdoors only" not in battery
    assert "backfeed can kill" in generator
    assert "backfeed can kill" in battery
    assert cautions_for(options["battery"], True)[0].startswith("Someone here depends")
    assert cautions_for(options["battery"], False)[-1] == "Local code and a licensed person decide."
    assert cautions_for(None, False) == []
    moves = replace(moves_of(choices, "battery"), unit_count=2)
    assert moved_words(moves_of(choices, "battery"), moves) == "2 units"
