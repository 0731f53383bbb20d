"""The notebook of published checks shows the registry of the tests, stored and run anew."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from kit.report.run import run_notebook
from tests.contract.sources import ROOT
from tests.published.not_checked import NOT_CHECKED
from tests.published.registry import CHECKS

NOTEBOOK = ROOT / "notebooks" / "published_checks.ipynb"


def texts(cells: list[dict[str, Any]]) -> dict[str, str]:
    """Plain text that each cell shows, by its id."""
    return {
        cell["id"]: "".join(cell["outputs"][0]["data"]["text/plain"])
        for cell in cells
        if cell["cell_type"] == "code" and cell.get("outputs")
    }


def test_the_stored_tables_hold_every_check() -> None:
    cells = json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]
    stored = texts(cells)
    memory = sum(check.provenance == "memory" for check in CHECKS)
    assert stored["summary"].startswith(f"{len(CHECKS)} of {len(CHECKS)} agree; {memory} from memory.")
    assert stored["differ"] == "Every case agrees within what its source allows."
    assert stored["cases"].count(" agrees") == len(CHECKS)
    for check in CHECKS:
        assert check.name in stored["cases"]
        assert check.source in stored["cases"]
    shown = [cell["id"] for cell in cells if cell["id"] in stored]
    assert shown[0] == "not-checked"
    assert all(sentence in stored["not-checked"] for sentence in NOT_CHECKED)
    said = "".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown")
    assert "for a clone" in said


def test_one_subject_by_a_parameter(tmp_path: Path) -> None:
    ran = run_notebook(NOTEBOOK, tmp_path / "ran.ipynb", {"subject": "Random numbers"})
    shown = texts(ran.cells)
    assert shown["summary"].startswith("3 of 3 agree; 3 from memory.")
    assert "Bills" not in shown["cases"]
