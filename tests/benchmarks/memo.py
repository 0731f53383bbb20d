"""A memo by our command against stock tools as processes: the same notebook, the same figures.

Stock: `papermill decision_memo.ipynb OUT.ipynb -p study S`, then `jupyter nbconvert --to html OUT.ipynb`.
Nothing of ours runs in those parents; the notebook itself imports kit.report, whose import stub
spares the kernel about two seconds, so the baseline profits from it. Ours: `ridethrough memo S`,
which checks the study first and writes the page, the notebook, CSV and JSON. Both are warm (one
unmeasured run each) and alternate. The clock on the wall counts; processor time, kernels included,
is printed beside it, since it suffers less from a busy machine.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
NOTEBOOK = ROOT / "notebooks" / "decision_memo.ipynb"
STUDY = ROOT / "params" / "studies" / "metered_house.yaml"
RESULT = "application/vnd.ridethrough.result+json"
COMMAND = "from kit.cli import main; main()"


def stock(folder: Path) -> dict[str, Any]:
    """Run papermill, then nbconvert; the figures of the notebook that came out."""
    out = folder / "stock.ipynb"
    run("-m", "papermill", str(NOTEBOOK), str(out), "-p", "study", str(STUDY), "-k", "python3")
    run("-m", "jupyter", "nbconvert", "--to", "html", str(out))
    assert (folder / "stock.html").stat().st_size > 100_000
    return figures(out)


def ours(folder: Path) -> dict[str, Any]:
    """Run our command; the figures of the notebook that came out."""
    run("-c", COMMAND, "memo", str(STUDY), "--out", str(folder / "ours"))
    assert (folder / "ours" / "decision_memo.html").stat().st_size > 100_000
    return figures(folder / "ours" / "decision_memo.ipynb")


def run(*arguments: str) -> None:
    """One Python process that must succeed, from the root of the clone."""
    path = os.pathsep.join(p for p in (str(ROOT), os.environ.get("PYTHONPATH", "")) if p)
    done = subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, env={**os.environ, "PYTHONPATH": path},
        capture_output=True, text=True,
    )  # fmt: skip
    if done.returncode not in (0, 1) or (done.returncode == 1 and arguments[0] == "-m"):
        raise RuntimeError(f"{' '.join(arguments)}: {done.stderr[-2000:]}")


def figures(notebook: Path) -> dict[str, Any]:
    """The summary's data that the notebook carries."""
    book = json.loads(notebook.read_text(encoding="utf-8"))
    for cell in reversed(book["cells"]):
        for output in cell.get("outputs", []):
            if RESULT in output.get("data", {}):
                data: dict[str, Any] = output["data"][RESULT]
                return data
    raise AssertionError(f"{notebook} carries no result")


def spent_s() -> np.ndarray:
    """Seconds on the wall, and of processor time of the processes started and ended so far."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return np.array([time.perf_counter(), children.ru_utime + children.ru_stime])


def measure(rounds: int) -> dict[str, np.ndarray]:
    """Median seconds (wall, processor) of stock tools and of ours; equal figures asserted in every round."""
    spent: dict[str, list[np.ndarray]] = {"stock": [], "ours": []}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for round_number in range(rounds + 1):
            seen = {}
            for side, call in (("stock", stock), ("ours", ours)):
                begin = spent_s()
                seen[side] = call(folder)
                if round_number:  # the first of each only warms the caches
                    spent[side].append(spent_s() - begin)
            assert seen["stock"] == seen["ours"], "the two memos differ in their figures"
            assert len(seen["ours"]["options"]) > 1
    return {side: np.median(rows, axis=0) for side, rows in spent.items()}


def report(rounds: int) -> float:
    """Print a row of wall clock and one of processor time; return the ratio of the wall clock."""
    found = measure(rounds)
    ratios = found["stock"] / found["ours"]
    for place, clock in enumerate(("wall clock", "processor time")):
        slow_s, fast_s = found["stock"][place], found["ours"][place]
        print(f"\na memo / papermill, then nbconvert ({clock}, median of {rounds}, alternating)")
        print(
            f"  {STUDY.stem:60} {slow_s * 1e3:10.0f} {fast_s * 1e3:9.0f} {ratios[place]:9.1f}  equal figures"
        )
    print(f"  asked at least 3: {'reached' if ratios[0] >= 3 else 'NOT reached'}")
    return float(ratios[0])
