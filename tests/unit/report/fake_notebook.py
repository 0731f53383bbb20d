"""The decision notebook with its computing cells exchanged for the invented comparison."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.contract.sources import ROOT

DECISION = ROOT / "notebooks" / "decision_memo.ipynb"
_PARAMETERS = (
    "study = 'nowhere.yaml'\nset_values = []\nname = 'A metered house on the hill'\nlife_support = False"
)
_IMPORTS = (
    "import kit.report\nimport sys\nsys.path.insert(0, {root!r})\n"
    "from tests.unit.report.fake_comparison import fake_comparison, fake_frontier\n"
    "from tests.unit.report.fake_comparison import fake_neglected, fake_stays\n"
    "from kit.report import appendix, care, charts, expected, foresight, luck, memo\n"
    "from kit.report import money_charts, reserve, tables\n"
    "from kit.report.show import show"
)

# sections that read more of a study than the invented comparison has
_NOT_INVENTED = (
    "counted.",
    "doubt.",
    "doubt_made",
    "how_sure.",
    "outage_record.",
    "ageing.",
    "code_rules.",
    "load_list.",
    "rate_tables.",
)


def fake_notebook(folder: Path, extra: dict[str, str] | None = None) -> Path:
    """Write the notebook into `folder`; `extra` exchanges the source of cells by id."""
    book: dict[str, Any] = json.loads(DECISION.read_text(encoding="utf-8"))
    cells = {cell["id"]: cell for cell in book["cells"]}
    sources = {
        "parameters": _PARAMETERS,
        "imports": _IMPORTS.format(root=str(ROOT)),
        **(extra or {}),
    }
    computing = [c["id"] for c in book["cells"] if c["cell_type"] == "code"]
    computing = computing[computing.index("imports") + 1 : computing.index("head")]
    sources |= dict.fromkeys(computing, "")
    sources["comparison"] = "comparison = fake_comparison(name, life_support)"
    sources |= {"neglect": "poor_care = fake_neglected()", "frontier": "frontier = fake_frontier()"}
    sources["stays"] = "stays = fake_stays()"
    for cell in book["cells"]:
        if cell["cell_type"] == "code" and any(name in "".join(cell["source"]) for name in _NOT_INVENTED):
            sources.setdefault(cell["id"], "")
    sources |= extra or {}
    for cell_id, source in sources.items():
        cells[cell_id]["source"] = source
    path = folder / "decision_memo.ipynb"
    path.write_text(json.dumps(book), encoding="utf-8")
    return path
