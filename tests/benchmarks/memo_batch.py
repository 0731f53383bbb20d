"""Twenty memos by our command's engine against stock tools, one after another: the same figures.

Stock, a memo: `papermill decision_memo.ipynb OUT.ipynb` with the study and its settings as parameters,
then `jupyter nbconvert --to html OUT.ipynb`. Twenty of them take long, so `baseline` of them are run in full
(at least four, spread evenly over the twenty) and the sum is their mean times twenty; the row says how many.
Ours: one process from its start that writes all twenty by `write_memos`, two at a time, each with page,
notebook, CSV and JSON. Every figure of each memo that stock tools wrote is compared with ours.

Two sets of twenty. MONEY: settings that move money only (discount rate, fuel price), as in a talk with a
client: a fork finds the outage walks of the first memo. MACHINES: settings of the hours asked and of the
battery's reserve: each reserve needs exact runs of that battery, which other hours asked then find.

Both sides find the exact runs that earlier memos left in the user's cache folder, so the first run of a set
and a later one measure different work.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from tests.benchmarks.memo import NOTEBOOK, ROOT, STUDY, figures, run

BAR, AIM = 15.0, 45.0
LEAST_BASELINE = 4
MONEY = tuple(
    (f"money.discount_rate_frac={rate}", f"fuels.gasoline.price_usd_per_l={price}")
    for rate, price in product((0.02, 0.03, 0.04, 0.05), (0.8, 0.9, 1.0, 1.1, 1.2))
)
MACHINES = tuple(
    (f"asked.keep_on_h={hours}", f"options.battery.battery.reserve_frac={reserve}")
    for hours, reserve in product((8, 12, 24, 48), (0.1, 0.2, 0.3, 0.4, 0.5))
)
SETS = {"settings that move money only": MONEY, "settings of machines and hours": MACHINES}

OURS = """
import json, sys
from pathlib import Path
from kit.report.batch import Job, write_memos
study, folder, settings, workers = json.loads(sys.argv[1])
jobs = [Job(Path(study), Path(folder) / str(k), tuple(s)) for k, s in enumerate(settings)]
failed = [one.failed for one in write_memos(jobs, workers) if one.failed]
sys.exit("; ".join(failed) or None)
"""


def stock_s(folder: Path, settings: tuple[str, ...]) -> tuple[float, dict[str, Any]]:
    """Seconds that papermill, then nbconvert take for one memo, and its figures."""
    out = folder / "stock.ipynb"
    parameters = ["-y", json.dumps({"study": str(STUDY), "set_values": list(settings)})]
    begin = time.perf_counter()
    run("-m", "papermill", str(NOTEBOOK), str(out), *parameters, "-k", "python3")
    run("-m", "jupyter", "nbconvert", "--to", "html", str(out))
    spent = time.perf_counter() - begin
    assert (folder / "stock.html").stat().st_size > 100_000
    return spent, figures(out)


def ours_s(folder: Path, settings: tuple[tuple[str, ...], ...], workers: int) -> float:
    """Seconds from the start of one process to the last of all memos."""
    path = os.pathsep.join(p for p in (str(ROOT), os.environ.get("PYTHONPATH", "")) if p)
    told = json.dumps([str(STUDY), str(folder), settings, workers])
    begin = time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", OURS, told], cwd=ROOT, env={**os.environ, "PYTHONPATH": path}, check=True
    )
    return time.perf_counter() - begin


def ratio(name: str, baseline: int, workers: int) -> float:
    """Measure one set, print its row, return stock over ours; figures compared before anything is printed."""
    settings = SETS[name]
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        ours_s(folder / "warm-up", settings[:1], workers)  # compiled files and the page's script are there
        stock: list[float] = []
        told: dict[int, dict[str, Any]] = {}
        for place in np.linspace(0, len(settings) - 1, baseline).round().astype(int).tolist():
            spent, told[place] = stock_s(folder, settings[place])
            stock.append(spent)
        made = ours_s(folder / "ours", settings, workers)
        pages = list((folder / "ours").glob("*/decision_memo.html"))
        assert len(pages) == len(settings)
        for place, expected in told.items():
            assert figures(folder / "ours" / str(place) / NOTEBOOK.name) == expected, settings[place]
        different = {(folder / "ours" / str(k) / "summary.csv").read_bytes() for k in range(len(settings))}
        assert len(different) == len(settings), "two memos with different settings have one summary"
    whole = float(np.mean(stock)) * len(settings)
    print(f"\n{len(settings)} memos / papermill, then nbconvert, {len(settings)} times: {name}")
    print(
        f"  {STUDY.stem:24} {whole:8.0f} s ({baseline} of them run, {min(stock):.1f} to {max(stock):.1f} s) "
        f"{made:7.1f} s {whole / made:6.1f}  equal figures"
    )
    return whole / made


def report(baseline: int = LEAST_BASELINE, workers: int = 2) -> dict[str, float]:
    """Print the rows of both sets and whether the bar is reached; the ratios."""
    if baseline < LEAST_BASELINE:
        raise ValueError(f"at least {LEAST_BASELINE} baseline runs, got {baseline}")
    found = {name: ratio(name, baseline, workers) for name in SETS}
    for name, value in found.items():
        verdict = "reached" if value >= BAR else "NOT reached"
        print(f"  {name}: {value:.1f}, asked at least {BAR:g}: {verdict} (aim {AIM:g})")
    return found
