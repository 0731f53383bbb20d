"""The decision notebook: same stages as compare(), same figures by every way of running it."""

from __future__ import annotations

import ast
import inspect
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import kit.compare
from kit.report.memo import unbroken
from kit.report.run import MemoFiles, result_of, write_memo
from kit.study import read_study
from tests.contract.sources import ROOT

STUDY = ROOT / "params" / "studies" / "metered_house.yaml"
NOTEBOOK = ROOT / "notebooks" / "decision_memo.ipynb"


def called(source: str) -> list[str]:
    """Names of plain functions called, in order."""
    calls = [
        n for n in ast.walk(ast.parse(source)) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)
    ]
    ordered = sorted(calls, key=lambda n: (n.lineno, n.col_offset))
    return [n.func.id for n in ordered if isinstance(n.func, ast.Name)]


def test_the_notebook_computes_as_compare_does() -> None:
    cells = json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]
    source = "\n".join("".join(c["source"]) for c in cells if c["cell_type"] == "code")
    shows = {
        "read_study",
        "shipped",
        "show",
        "reserve_frontier",
        "neglected",
        "whole_stays",
        "Ground",
        "Stages",
        "doubt_beside",
        "doubt_made",
    }  # variations are shown, not compared
    mine = [name for name in called(source) if name not in shows]
    assert mine == called(inspect.getsource(kit.compare.compare))
    assert len(mine) >= 9


@pytest.fixture(scope="module")
def memo(tmp_path_factory: pytest.TempPathFactory) -> MemoFiles:
    return write_memo(STUDY, tmp_path_factory.mktemp("memo"), ["asked.keep_on_h=24"])


@pytest.fixture(scope="module")
def direct() -> dict[str, Any]:
    return kit.compare.compare(read_study(STUDY, ["asked.keep_on_h=24"])).to_json()


def test_memo_figures_are_those_of_compare(memo: MemoFiles, direct: dict[str, Any]) -> None:
    assert json.loads(memo.json.read_text(encoding="utf-8")) == direct
    assert direct["study"]["asked"]["keep_on_h"] == 24
    lines = memo.csv.read_text(encoding="utf-8").splitlines()
    assert [line.split(",")[0] for line in lines[1:]] == [o["option"] for o in direct["options"]]
    page = memo.html.read_text(encoding="utf-8")
    for sentence in direct["verdict"]["sentences"]:
        assert unbroken(sentence).replace("&", "&amp;") in page
    assert str(ROOT) not in page


def test_plain_papermill_gives_the_same_figures(tmp_path: Path, direct: dict[str, Any]) -> None:
    """Run from the root, with the study given relative to the notebook."""
    out = tmp_path / "out.ipynb"
    subprocess.run(
        [
            sys.executable, "-m", "papermill", str(NOTEBOOK), str(out), "-k", "python3",
            "-y", '{study: "../params/studies/metered_house.yaml", set_values: ["asked.keep_on_h=24"]}',
            "--no-progress-bar",
        ],
        check=True, capture_output=True, cwd=ROOT,
    )  # fmt: skip
    import nbformat

    assert result_of(nbformat.read(out, as_version=4)) == direct
