"""Where a memo or a page cannot be made: told in one line, before any notebook runs or grid is computed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from kit.cli import main
from kit.report import page as page_module
from kit.report import paper, run
from kit.report.again import carried_by
from kit.study import read_study
from tests.contract.sources import ROOT
from tests.unit.report.test_again import page_of

STUDY = ROOT / "params" / "studies" / "farm_house.yaml"
linux = pytest.mark.skipif(sys.platform != "linux", reason="/proc is of Linux")

_WITHOUT = """
import sys
from importlib.abc import MetaPathFinder

class Gone(MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] == GONE:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

GONE = sys.argv.pop(1)
sys.meta_path.insert(0, Gone())
import kit.report.run
kit.report.run.run_notebook = lambda *a, **k: print("THE NOTEBOOK RAN")
from kit.cli import main
main()
"""


def ridethrough(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


@pytest.fixture(autouse=True)
def nothing_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    def ran(*_: Any, **__: Any) -> None:
        raise AssertionError("the work was begun")

    monkeypatch.setattr(run, "run_notebook", ran)
    monkeypatch.setattr(page_module, "page_html", ran)


@pytest.mark.parametrize("words", [("memo", "--brief"), ("memo",), ("page",)], ids=" ".join)
def test_a_file_where_a_folder_should_be(words: tuple[str, ...], tmp_path: Path) -> None:
    """Nothing can be written there, by root neither."""
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    result = ridethrough(*words, STUDY, "--out", tmp_path / "taken" / "made")
    told_in_one_line(result, f"{tmp_path / 'taken' / 'made'}: cannot be used as a folder: ")
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "a file"


def test_a_file_where_the_folder_of_a_memo_made_again_should_be(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    memo = page_of(carried_by(read_study(STUDY), with_data=True), tmp_path / "memo.html")
    result = ridethrough("memo", "--from", memo, "--out", tmp_path / "taken" / "memo")
    told_in_one_line(result, f"{tmp_path / 'taken' / 'memo'}: cannot be used as a folder: ")


@linux
@pytest.mark.parametrize("words", [("memo",), ("page",)], ids=" ".join)
def test_a_folder_that_takes_no_files(words: tuple[str, ...]) -> None:
    """It is there and can be listed, and no user may write into it."""
    result = ridethrough(*words, STUDY, "--out", "/proc/self/fd")
    told_in_one_line(result, "/proc/self/fd: no file can be written into this folder: ")


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (("memo",), "decision_memo.html"),
        (("memo", "--brief"), "brief.ipynb"),
        (("memo",), "summary.csv"),
        (("page",), "page.html"),
    ],
)
def test_a_folder_under_the_name_of_a_file_to_come(words: tuple[str, ...], name: str, tmp_path: Path) -> None:
    (tmp_path / name).mkdir()
    result = ridethrough(*words, STUDY, "--out", tmp_path)
    told_in_one_line(result, f"{tmp_path / name}: a folder has the name of a file to be written")


def told_in_one_line(result: Result, begins: str) -> None:
    assert result.exit_code == 2, result.output
    (line,) = result.stderr.splitlines()
    assert line.startswith(begins)
    assert line.endswith("name another folder")
    assert result.stdout == ""


@pytest.mark.parametrize("gone", ["pypandoc", "typst"])
def test_without_the_extra_nothing_runs(gone: str, tmp_path: Path) -> None:
    """A process in which one of the packages truly cannot be imported."""
    words = [sys.executable, "-c", _WITHOUT, gone, "memo", str(STUDY)]
    place = {**os.environ, "PYTHONPATH": str(ROOT)}
    for told in (["--as", "pdf,docx"], ["--as", "pdf", "--brief"]):
        done = subprocess.run(
            [*words, *told, "--out", str(tmp_path / "out")],
            env=place, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert (done.returncode, done.stdout) == (2, ""), done.stderr
        assert done.stderr == f"{paper.NEEDS_EXTRA}\n"
    assert not (tmp_path / "out").exists()
    assert "pip install 'ridethrough[docs]'" in paper.NEEDS_EXTRA
    assert "\n" not in paper.NEEDS_EXTRA


def test_a_converter_without_its_program_is_told_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    """One of the two packages of that name brings no program along."""
    pypandoc = pytest.importorskip("pypandoc")

    def none() -> str:
        raise OSError("no program found")

    monkeypatch.setattr(pypandoc, "get_pandoc_path", none)
    paper.check_extra(("html",))
    with pytest.raises(paper.DocsMissingError, match="which is not installed"):
        paper.check_extra(("html", "docx"))
