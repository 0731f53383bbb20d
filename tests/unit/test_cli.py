"""The command: exit codes, problems told without a traceback, forms of output."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest
from click.testing import CliRunner, Result

import kit
import kit.compare
import kit.report.run as memo_run
from kit.cli import main
from kit.shipped import shipped
from kit.study import StudyError, read_study

STUDY = shipped() / "params" / "studies" / "metered_house.yaml"


def ridethrough(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


@dataclass
class Small:
    """A comparison of two options, enough for the command."""

    study: Any
    meets: tuple[str, ...] = ("battery",)
    findings: tuple[Any, ...] = ()
    summary: pd.DataFrame = field(
        default_factory=lambda: pd.DataFrame(
            {
                "option": ["do_nothing", "battery"],
                "meets_target": [False, True],
                "up_front_usd": [0.0, 9750.5],
            }
        )
    )

    @property
    def verdict(self) -> Any:
        return SimpleNamespace(sentences=("One battery does it.",), meets=self.meets)

    @property
    def outcomes(self) -> dict[str, Any]:
        return {
            "do_nothing": SimpleNamespace(name="Do nothing"),
            "battery": SimpleNamespace(name="One battery"),
        }

    def to_json(self) -> dict[str, Any]:
        return {"schema_version": 1, "study": {"name": self.study.model.name}}


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kit.compare, "compare", Small)


def test_version() -> None:
    assert ridethrough("--version").output == f"ridethrough, version {kit.__version__}\n"


def test_usage_errors_are_code_2() -> None:
    assert ridethrough("compare").exit_code == 2
    assert ridethrough("compare", STUDY, "--format", "xml").exit_code == 2
    assert ridethrough("nothing_of_the_kind").exit_code == 2


def test_check_says_what_was_understood() -> None:
    result = ridethrough("check", STUDY)
    assert result.exit_code == 0
    assert result.output.startswith(read_study(STUDY).model.name)


def test_check_tells_every_problem_of_every_study(tmp_path: Path) -> None:
    first, second = tmp_path / "first.yaml", tmp_path / "second.yaml"
    first.write_text("kit_file: 1\nname: 3\nyaer: 2011\n")
    second.write_text("kit_file: 2\nname: x\n")
    result = ridethrough("check", first, STUDY, second)
    assert result.exit_code == 2
    assert "first.yaml:3" in result.stderr
    assert "'yaer'" in result.stderr or "yaer" in result.stderr
    assert "second.yaml:1" in result.stderr
    assert read_study(STUDY).model.name in result.stdout
    assert "Traceback" not in result.output


@pytest.mark.parametrize("command", ["check", "compare", "memo"])
def test_a_missing_study_is_bad_input(command: str, tmp_path: Path) -> None:
    result = ridethrough(command, tmp_path / "absent.yaml")
    assert result.exit_code == 2
    assert "absent.yaml" in result.stderr
    assert isinstance(result.exception, SystemExit)


@pytest.mark.parametrize("command", ["check", "compare", "memo"])
def test_a_wrong_set_is_told(command: str) -> None:
    result = ridethrough(command, STUDY, "--set", "asked.keep_on_hours=24")
    assert result.exit_code == 2
    assert "keep_on_h" in result.stderr


def test_set_changes_the_study() -> None:
    result = ridethrough("check", STUDY, "--set", "asked.keep_on_h=31")
    assert result.exit_code == 0
    assert "31 h" in result.stdout


@pytest.mark.usefixtures("small")
def test_compare_prints_a_table_by_default() -> None:
    result = ridethrough("compare", STUDY)
    assert result.exit_code == 0
    assert "One battery does it." in result.stdout
    assert "$9,750" in result.stdout or "$9,751" in result.stdout
    assert "local code and a licensed person decide" in result.stdout


@pytest.mark.usefixtures("small")
def test_compare_as_csv_and_json_keeps_every_digit() -> None:
    table = ridethrough("compare", STUDY, "--format", "csv").stdout
    assert table == "option,meets_target,up_front_usd\ndo_nothing,False,0.0\nbattery,True,9750.5\n"
    data = json.loads(ridethrough("compare", STUDY, "--format", "json").stdout)
    assert data["study"]["name"] == read_study(STUDY).model.name


def test_no_option_meets_the_target_is_code_1(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kit.compare, "compare", lambda study: Small(study, meets=()))
    assert ridethrough("compare", STUDY).exit_code == 1


@pytest.mark.parametrize(("meets", "code"), [(True, 0), (False, 1)])
def test_memo_names_its_files(
    meets: bool, code: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def write(study: Path, out_dir: Path, set_values: tuple[str, ...], **how: object) -> memo_run.MemoFiles:
        asked.append((study, out_dir, set_values, how))
        data = tmp_path / "summary.json"
        data.write_text(json.dumps({"options": [{"meets_target": False}, {"meets_target": meets}]}))
        return memo_run.MemoFiles(tmp_path / "a.ipynb", tmp_path / "a.html", tmp_path / "a.csv", data)

    monkeypatch.setattr(memo_run, "write_memo", write)
    result = ridethrough("memo", STUDY, "--set", "seed=2", "--engine", "nbclient")
    assert result.exit_code == code
    how = {"engine": "nbclient", "formats": ("html",), "brief": False, "with_data": False}
    assert asked == [(STUDY, Path("out") / "metered_house", ("seed=2",), how)]
    assert str(tmp_path / "a.html") in result.stdout.splitlines()


def test_a_stopped_notebook_is_told_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def write(*_args: object, **_options: object) -> None:
        raise memo_run.MemoError("decision_memo.ipynb stopped at `verdict(comparison)`")

    monkeypatch.setattr(memo_run, "write_memo", write)
    result = ridethrough("memo", STUDY)
    assert result.exit_code == 1
    assert result.stderr == "decision_memo.ipynb stopped at `verdict(comparison)`\n"


def test_a_fault_of_the_kit_keeps_its_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_study: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(kit.compare, "compare", broken)
    assert isinstance(ridethrough("compare", STUDY).exception, ZeroDivisionError)


def test_start_fills_an_empty_folder_only(tmp_path: Path) -> None:
    result = ridethrough("start", tmp_path / "mine")
    assert result.exit_code == 0
    copied = tmp_path / "mine" / "studies" / "metered_house.yaml"
    assert f"  ridethrough memo {copied}" in result.stdout.splitlines()
    assert read_study(copied).sha256 == read_study(STUDY).sha256
    again = ridethrough("start", tmp_path / "mine")
    assert again.exit_code == 2
    assert "is not empty" in again.stderr


def test_a_broken_copy_is_refused(tmp_path: Path) -> None:
    assert ridethrough("start", tmp_path / "mine").exit_code == 0
    study = tmp_path / "mine" / "studies" / "metered_house.yaml"
    (tmp_path / "mine" / "houses" / "metered.yaml").unlink()
    with pytest.raises(StudyError):
        read_study(study)
    assert ridethrough("check", study).exit_code == 2
