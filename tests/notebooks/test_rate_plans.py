"""The notebook of rate plans shows the figures of the command, stored and run anew on another study."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from kit.cli import main
from kit.report.run import run_notebook
from tests.contract.sources import ROOT

NOTEBOOK = ROOT / "notebooks" / "rate_plans.ipynb"
PARAMS = ROOT / "params"
SHOWN = ("table", "best", "foresight", "notes")


def texts(cells: list[dict[str, Any]]) -> dict[str, str]:
    """Plain text that each cell shows, by its id."""
    outputs = {c["id"]: c.get("outputs", []) for c in cells if c["cell_type"] == "code"}
    shown = {
        k: [o["data"]["text/plain"] for o in v if "text/plain" in o.get("data", {})]
        for k, v in outputs.items()
    }
    return {k: "".join(v[0]) for k, v in shown.items() if v}


def printed(study: str) -> str:
    arguments = ["rates", str(PARAMS / "studies" / study), "--plans", str(PARAMS / "rates")]
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 0, result.output
    return result.output


def test_the_stored_figures_are_those_of_the_command() -> None:
    stored = texts(json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"])
    told = printed("metered_house.yaml")
    for cell in SHOWN:
        assert stored[cell] in told, cell
    assert stored["month"].startswith("The bill of January, line by line")


def test_another_study_by_parameters(tmp_path: Path) -> None:
    study = PARAMS / "studies" / "all_electric_house.yaml"
    parameters = {"study": str(study), "plans": str(PARAMS / "rates"), "month": 8}
    ran = run_notebook(NOTEBOOK, tmp_path / "ran.ipynb", parameters)
    shown = texts(ran.cells)
    told = printed("all_electric_house.yaml")
    for cell in SHOWN:
        assert shown[cell].replace(f"{PARAMS}/", "") in told.replace(f"{PARAMS}/", ""), cell
    assert shown["month"].startswith("The bill of August, line by line")
