"""`ridethrough meter`: what it prints, where it writes, how it refuses."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.cli import main

HALF_HOURS = "start,Load\n" + "".join(f"2025-01-06 {m // 60:02}:{m % 60:02},2\n" for m in range(0, 1440, 30))


@pytest.fixture
def table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "january.csv"
    path.write_text(HALF_HOURS)
    return path


def meter(*words: str) -> Result:
    return CliRunner().invoke(main, ["meter", *words, "--time-zone", "America/New_York"])


def test_it_prints_and_writes_to_the_default_folder(table: Path) -> None:
    run = meter("january.csv", "--values-in", "kw")
    assert run.exit_code == 0, run.output
    assert "energy     48.000 kWh from the grid, 2.000 kW on average" in run.output
    assert "readings   48 of 30 min, 100.00% covered" in run.output
    lines = (table.parent / "out/january/january_tidy.csv").read_text().splitlines()
    assert lines[:2] == ["start,minutes,kwh", "2025-01-06T00:00:00-05:00,30.0,1.0"]
    assert len(lines) == 49


def test_what_is_left_open_is_asked_for(table: Path) -> None:
    run = meter("january.csv")
    assert run.exit_code == 2
    assert "no unit: column 'Load' may be kWh or kW; say values_in" in run.stderr
    assert run.stdout == ""
    assert not (table.parent / "out").exists()


def test_facts_are_shown_where_a_study_cannot_use_the_file(table: Path) -> None:
    run = meter("january.csv", "--values-in", "kwh", "--billed-kwh", "48")
    assert run.exit_code == 2
    assert "energy     96.000 kWh" in run.stdout
    assert "the values are power in kW, not energy: values_in: kw" in run.stderr
    assert not (table.parent / "out").exists()


def test_bad_words(table: Path) -> None:
    for words, says in (
        (["january.csv", "--billed-kwh", "-3"], "is not in the range x>0"),
        (["january.csv", "--values-in", "MWh"], "is not one of"),
        (["absent.csv"], "absent.csv: there is no such file"),
    ):
        run = meter(*words)
        assert run.exit_code == 2
        assert says in run.stderr
    run = CliRunner().invoke(main, ["meter", "january.csv", "--time-zone", "Mars/Base"])
    assert run.exit_code == 2
    assert "unknown time zone 'Mars/Base'" in run.stderr


def test_a_file_in_place_of_the_folder(table: Path) -> None:
    (table.parent / "out").write_text("in the way")
    run = meter("january.csv", "--values-in", "kw")
    assert run.exit_code == 2
    assert "cannot be used as a folder" in run.stderr
