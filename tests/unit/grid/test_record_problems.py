"""Outage data that cannot be used: one line from the command, naming file or parameter; no traceback."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.cli import main
from tests.unit.grid.records import PARAMS


def run(command: str, study: Path, *settings: str) -> Result:
    sets = [part for setting in settings for part in ("--set", setting)]
    return CliRunner().invoke(main, [command, str(study), *sets])


@pytest.fixture
def study(tmp_path: Path) -> Path:
    copy = Path(shutil.copytree(PARAMS, tmp_path / "params"))
    return copy / "studies" / "metered_house.yaml"


@pytest.mark.parametrize("command", ["check", "compare"])
def test_a_log_whose_end_is_before_its_start(study: Path, command: str) -> None:
    log = study.parents[1] / "data" / "outages" / "rural_radial_log.csv"
    log.write_text("start,end\n2024-05-01T10:00,2024-05-01T09:00\n", encoding="utf-8")
    made = run(command, study, "outages=../outages/rural_radial_line.yaml")
    assert made.exit_code == 2
    text = "rural_radial_log.csv: line 2: the end 2024-05-01T09:00 is not after the start 2024-05-01T10:00"
    assert made.stderr.strip() == text


def test_events_too_few_to_fit_name_their_parameter(study: Path) -> None:
    setting = "outages.classes.major.duration={kind: fitted, events_h: [2.0, 3.0]}"
    made = run("check", study, setting)
    assert made.exit_code == 2
    assert made.stderr.startswith("outages.classes.major.duration: a fit needs at least 3 events")


def test_weights_that_leave_no_hour_name_their_class(study: Path) -> None:
    made = run("compare", study, "outages.classes.major.starts_below_c=-60")
    assert made.exit_code == 2
    assert made.stderr.startswith("outages.classes.major: no hour of the year is left")


def test_a_share_above_one_is_refused_with_its_line(study: Path) -> None:
    made = run("check", study, "outages.classes.major.forewarned_frac=1.5")
    assert made.exit_code == 2
    assert "outages.classes.major.forewarned_frac: must be at most 1 (got 1.5)" in made.stderr


def test_minutes_written_as_hours_get_a_question_in_the_result(study: Path) -> None:
    setting = "outages.indices={all_events: {saifi_per_year: 1.3, saidi_h_per_year: 400}}"
    few = "options={battery: {battery: {from: ../systems/home_battery.yaml}}}"
    made = CliRunner().invoke(
        main, ["compare", str(study), "--set", setting, "--set", few, "--format", "json"]
    )
    assert "SAIDI of 400 h a year (1.3 interruptions of 308 h): are these minutes?" in made.stdout
