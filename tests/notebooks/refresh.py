"""Run the committed notebooks anew and keep their text outputs: `python -m tests.notebooks.refresh`.

Chart cells are emptied, volatile metadata is stripped, so that a diff shows changed figures only.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from kit.report.run import clean, notebook_text, run_notebook
from kit.save import write_text
from tests.contract.sources import NOTEBOOKS

CHART_TAG = "nbval-ignore-output"


def refreshed(path: Path, scratch: Path, engine: str = "ridethrough") -> str:
    """Text of the notebook as it should be committed."""
    ran: Any = run_notebook(path, scratch / path.name, {}, engine=engine)
    clean(ran)
    for cell in ran.cells:
        if CHART_TAG in cell.metadata.get("tags", []):
            cell.outputs = []
    return notebook_text(ran)


def main() -> None:
    """Refresh every notebook in place."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        for path in NOTEBOOKS:
            write_text(path, refreshed(path, Path(folder)))
            print(path.name, file=sys.stderr)


if __name__ == "__main__":
    main()
