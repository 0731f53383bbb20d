"""A household's page against one memo of the same study, and the size of every file a reader gets.

Both in this process, warm (one unmeasured run each) and alternating. The page computes its whole grid, every
point with the engine, by two workers as its command does; the memo runs the decision notebook. At the
study's own settings the page shows the memo's figures, or it is not written (the kit's own check).
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import numpy as np

from kit.report.page import write_page
from kit.report.page_grid import OFTEN, axes_of, hours_of
from kit.report.paper import DocsMissingError, check_extra
from kit.report.run import write_memo
from kit.study import read_study
from tests.benchmarks.memo import ROOT

STUDIES = tuple(
    ROOT / "params" / "studies" / f"{name}.yaml" for name in ("metered_house", "all_electric_house")
)
WORKERS = 2
MOST_PAGE_BYTES = 2_000_000
READS = {"decision_memo.html", "decision_memo.pdf", "decision_memo.docx", "brief.html", "page.html"}


def build_s(study: Path, folder: Path, rounds: int) -> tuple[float, float]:
    """Median seconds of the page and of the memo."""
    spent: dict[str, list[float]] = {"page": [], "memo": []}
    for round_number in range(rounds + 1):
        for side in spent:
            begin = time.perf_counter()
            if side == "page":
                write_page(study, folder, workers=WORKERS)
            else:
                write_memo(study, folder)
            if round_number:  # the first of each only warms up
                spent[side].append(time.perf_counter() - begin)
    return float(np.median(spent["page"])), float(np.median(spent["memo"]))


def sizes(study: Path, folder: Path) -> dict[str, int]:
    """Bytes of each file a reader is sent, after `build_s`: PDF and Word only where they can be made."""
    formats = ("html", "pdf", "docx")
    try:
        check_extra(formats)
    except DocsMissingError:
        formats = ("html",)
    write_memo(study, folder, formats=formats)
    write_memo(study, folder, brief=True)
    found = {path.name: path.stat().st_size for path in folder.iterdir() if path.name in READS}
    assert READS - set(found) <= {f"decision_memo.{end}" for end in {"pdf", "docx"} - set(formats)}
    return found


def report(rounds: int) -> dict[str, float]:
    """Print a row a study and the sizes below it; study -> page over memo. The page stays below 2 MB."""
    ratios = {}
    print(f"\na household's page / a memo, in one process (median of {rounds}, alternating)")
    for study in STUDIES:
        axes = axes_of(read_study(study)).values()
        points = 1 + sum(len(a.unit_count) * len(a.reserve_frac) for a in axes)
        shown = points * len(OFTEN) * len(hours_of(read_study(study)))
        with tempfile.TemporaryDirectory() as name:
            page_s, memo_s = build_s(study, Path(name), rounds)
            bytes_of = sizes(study, Path(name))
        ratios[study.stem] = page_s / memo_s
        grid = f"{points} systems, {shown:,} chances and sums"
        print(f"  {study.stem:24} {page_s:6.2f} s {memo_s:6.2f} s {page_s / memo_s:6.2f}  {grid}")
        print(f"  {'':24} {', '.join(f'{k} {v / 1000:,.0f} kB' for k, v in sorted(bytes_of.items()))}")
        assert bytes_of["page.html"] < MOST_PAGE_BYTES, "a page to send by mail is below 2 MB"
    return ratios
