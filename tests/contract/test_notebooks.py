"""Notebooks stay thin: constants, imports, and one call into the kit a cell, with outputs that repeat."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.contract.sources import NOTEBOOKS, ROOT, label, tree

CHART_TAG = "nbval-ignore-output"
FORBIDDEN = (
    ast.For,
    ast.AsyncFor,
    ast.While,
    ast.ListComp,
    ast.SetComp,
    ast.DictComp,
    ast.GeneratorExp,
    ast.FunctionDef,
    ast.AsyncFunctionDef,
    ast.ClassDef,
    ast.Lambda,
    ast.BinOp,
    ast.AugAssign,
    ast.Try,
)
VOLATILE = {"papermill", "execution", "widgets"}

notebooks = pytest.mark.parametrize("path", NOTEBOOKS, ids=label)


def code_cells(path: Path) -> list[dict[str, Any]]:
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return [
        {**c, "text": "".join(c["source"]), "tags": c["metadata"].get("tags", [])}
        for c in cells
        if c["cell_type"] == "code"
    ]


def too_much(source: str) -> list[str]:
    """Loops, definitions and arithmetic in the text of a cell."""
    return [type(node).__name__ for node in ast.walk(ast.parse(source)) if isinstance(node, FORBIDDEN)]


def ends_in_value(source: str) -> bool:
    """Whether a cell shows something by itself: its last line is an expression, not ended by ';'."""
    body = ast.parse(source).body
    return bool(body) and isinstance(body[-1], ast.Expr) and not source.rstrip().endswith(";")


def test_there_is_a_decision_notebook() -> None:
    assert NOTEBOOKS


@notebooks
def test_cells_only_call(path: Path) -> None:
    wrong = {n: found for n, cell in enumerate(code_cells(path)) if (found := too_much(cell["text"]))}
    assert wrong == {}


@notebooks
def test_one_cell_of_parameters(path: Path) -> None:
    (cell,) = [c for c in code_cells(path) if "parameters" in c["tags"]]
    for statement in ast.parse(cell["text"]).body:
        assert isinstance(statement, ast.Assign | ast.AnnAssign), ast.unparse(statement)
        assert statement.value is not None
        ast.literal_eval(statement.value)  # a constant, or this raises
    # papermill lists a parameter only where its line holds one '='
    lines = [line for line in cell["text"].splitlines() if line.strip() and not line.startswith("#")]
    assert [line for line in lines if line.count("=") != 1] == []


@notebooks
def test_outputs_are_kept_but_for_charts(path: Path) -> None:
    cells = code_cells(path)
    assert any(c["outputs"] for c in cells), "committed without its outputs: nothing would be compared"
    for cell in cells:
        if CHART_TAG in cell["tags"]:
            assert cell["outputs"] == [], cell["text"]
        else:
            assert cell["execution_count"] is not None, cell["text"]
            assert not ends_in_value(cell["text"]) or cell["outputs"], cell["text"]
        assert [o for o in cell["outputs"] if o["output_type"] in ("error", "stream")] == [], cell["text"]


@notebooks
def test_a_sentence_stands_before_each_call(path: Path) -> None:
    """One call a cell, each after a sentence; the cells of parameters and imports come first."""
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    kinds = [c["cell_type"] for c in cells]
    assert kinds[:2] == ["code", "code"]
    assert [n for n, kind in enumerate(kinds) if n > 1 and kind == "code" == kinds[n - 1]] == []
    assert [c["text"] for c in code_cells(path)[2:] if len(ast.parse(c["text"]).body) != 1] == []


def imported_from(path: Path, package: str) -> list[ast.alias]:
    """Names that the notebook imports from a package of the kit."""
    tops = [n for cell in code_cells(path) for n in ast.parse(cell["text"]).body]
    froms = [n for n in tops if isinstance(n, ast.ImportFrom) and (n.module or "").startswith(f"{package}.")]
    return [alias for n in froms for alias in n.names]


def test_the_decision_notebook_walks_the_spine() -> None:
    """It makes the calls of `compare`, each with the same arguments, in the same order, and no other.

    After them it may keep what a function of kit/vary finds, to show it as a chart and as a table.
    """
    (path,) = [p for p in NOTEBOOKS if p.name == "decision_memo.ipynb"]
    read, *steps = [
        statement
        for cell in code_cells(path)[2:]
        for statement in ast.parse(cell["text"]).body
        if isinstance(statement, ast.Assign)
    ]
    (spine,) = [n for n in tree(ROOT / "kit" / "compare.py").body if isinstance(n, ast.FunctionDef)]
    calls = [s for s in spine.body if isinstance(s, ast.Assign | ast.Return) and s.value is not None]
    assert isinstance(read.targets[0], ast.Name)
    chosen = read.targets[0].id
    assert ast.unparse(read.value).startswith("read_study(")
    expected = [re.sub(r"\bstudy\b", chosen, ast.unparse(s.value)) for s in calls if s.value is not None]
    assert [ast.unparse(s.value) for s in steps[: len(expected)]] == expected
    varied = {name.name for name in imported_from(path, "kit.vary")}
    others = [s.value for s in steps[len(expected) :]]
    assert [
        ast.unparse(c) for c in others if not (isinstance(c, ast.Call) and ast.unparse(c.func) in varied)
    ] == []
    assert 8 <= len(expected) <= 13
    assert len(spine.body) == len(expected) + 1  # and its docstring


@notebooks
def test_metadata_is_stripped(path: Path) -> None:
    book = json.loads(path.read_text(encoding="utf-8"))
    assert not VOLATILE & set(book["metadata"])
    assert "version" not in book["metadata"].get("language_info", {})
    for cell in book["cells"]:
        assert not VOLATILE & set(cell["metadata"])
        assert cell.get("id"), "every cell has an id, so that changes can be told apart"


def test_the_scan_sees_what_is_too_much() -> None:
    assert too_much("x = [i for i in y]") == ["ListComp"]
    assert too_much("total = a + b") == ["BinOp"]
    assert too_much("def f():\n    return 1") == ["FunctionDef"]
    assert too_much("limit = -1\ncompare(study, limit)") == []
    assert ends_in_value("x = 1\nx")
    assert not ends_in_value("x = 1")
