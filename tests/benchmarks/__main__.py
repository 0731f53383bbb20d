"""Ratios side by side in one process, exactness asserted in the same run: ``python -m tests.benchmarks``.

Times depend on the machine and on what else it does; the ratios much less.  --full takes more systems, more
solver settings and more rounds; --only WORD keeps the parts whose name holds the word (ride, dispatch).
"""

import argparse
import time
from itertools import groupby

import numpy as np

from tests.benchmarks import (
    demand_ratios,
    dispatch_ratios,
    draws_ratio,
    hybrid_ratios,
    lifetime_ratios,
    memo,
    memo_batch,
    page_build,
    rates_ratio,
    ride_ratios,
    start_ratios,
    whole_ratios,
)
from tests.benchmarks.profiles import Row

PARTS = {
    "ride": ride_ratios.rows,
    "dispatch": dispatch_ratios.rows,
    "demand": demand_ratios.rows,
    "rates": rates_ratio.rows,
    "draws": draws_ratio.rows,
    "hybrid": hybrid_ratios.rows,
    "lifetimes": lifetime_ratios.rows,
    "whole": whole_ratios.rows,
    "start": start_ratios.rows,
}
ASKED = {  # the median ratio the project sets itself
    rates_ratio.ITEM: rates_ratio.ASKED,
    "best use, few prices / HiGHS cold, hourly": 1000,
    "best use, few prices / HiGHS cold, 15 min": 4000,
    "best use, any prices / HiGHS cold, hourly": 200,
    "best use, any prices / HiGHS cold, 15 min": 200,
    "best use, a size more / HiGHS warm, hourly": 75,
    "best use, demand charge / HiGHS cold, hourly": 40,
    "best use, demand charge / HiGHS cold, 15 min": 100,
    "ride-through / numpy across starts, hourly": 100,
    "ride-through / numpy across starts, 15 min": 300,
    "1,000 systems / plain compiled loop, hourly": 10,
    "1,000 systems / plain compiled loop, 15 min": 25,
    "hybrid with solar / plain compiled loop, 15 min": 4,
    lifetime_ratios.ITEM: 6,
}
AT_MOST = {  # rows in which less is better: what the kit takes, in units of the other
    whole_ratios.WALK: 3,
    whole_ratios.REST: 0.5,
    start_ratios.ITEM.format("without solar"): 2.2,
    start_ratios.ITEM.format("with solar"): 3.2,
    start_ratios.FIRST: 20,
    draws_ratio.ITEM: draws_ratio.AT_MOST,
}


def verdict(item: str, median: float) -> str:
    """Whether the bar of a row is reached; nothing where it has none."""
    if item in AT_MOST:
        return f"  at most {AT_MOST[item]:g}: {'reached' if median <= AT_MOST[item] else 'NOT reached'}"
    if item in ASKED:
        return f"  asked {ASKED[item]:,}: {'reached' if median >= ASKED[item] else 'NOT reached'}"
    return ""


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__.splitlines()[0])
    parser.add_argument("--full", action="store_true", help="more systems, settings and rounds")
    parser.add_argument("--only", default="", help="parts whose name holds this word")
    parser.add_argument("--memo", action="store_true", help="a memo against stock tools, as processes")
    parser.add_argument("--memo-batch", action="store_true", help="twenty memos against stock tools")
    parser.add_argument("--baseline", type=int, default=4, help="stock runs of --memo-batch (default 4)")
    parser.add_argument("--page", action="store_true", help="a household's page against a memo; files' sizes")
    parser.add_argument("--rounds", type=int, default=5, help="rounds of --memo and --page (default 5)")
    given = parser.parse_args()
    if given.memo:
        memo.report(given.rounds)
        return
    if given.memo_batch:
        memo_batch.report(given.baseline)
        return
    if given.page:
        page_build.report(given.rounds)
        return
    begin = time.perf_counter()
    rows: list[Row] = []
    for name, part in PARTS.items():
        if given.only in name:
            rows += part(given.full)
    rows.sort(key=lambda row: row.item)
    print(f"{'case':62} {'other ms':>10} {'kit ms':>9} {'ratio':>9}  agreement")
    for item, group in groupby(rows, key=lambda row: row.item):
        cases = list(group)
        print(f"\n{item}")
        ratios = [1 / row.ratio if item in AT_MOST else row.ratio for row in cases]
        for row, ratio in zip(cases, ratios, strict=True):
            print(f"  {row.case:60} {row.slow_ms:10.3f} {row.fast_ms:9.4f} {ratio:9.1f}  {row.agrees}")
        median = float(np.median(ratios))
        print(f"  {'median of ' + str(len(cases)):60} {'':10} {'':9} {median:9.2f}{verdict(item, median)}")
    print(f"\nAll results agreed. {time.perf_counter() - begin:.0f} s")


if __name__ == "__main__":
    main()
