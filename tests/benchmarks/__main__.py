"""Ratios side by side in one process, exactness asserted in the same run: ``python -m tests.benchmarks``.

Times depend on the machine and on what else it does; the ratios much less.  --full takes more systems, more
solver settings and more rounds; --only WORD keeps the parts whose name holds the word (ride, dispatch).
"""

import argparse
import time
from itertools import groupby

import numpy as np

from tests.benchmarks import demand_ratios, dispatch_ratios, memo, rates_ratio, ride_ratios
from tests.benchmarks.profiles import Row

PARTS = {
    "ride": ride_ratios.rows,
    "dispatch": dispatch_ratios.rows,
    "demand": demand_ratios.rows,
    "rates": rates_ratio.rows,
}
ASKED = {  # the median ratio the project sets itself
    rates_ratio.ITEM: rates_ratio.ASKED,
    "best use, few prices / HiGHS cold, hourly": 1000,
    "best use, few prices / HiGHS cold, 15 min": 4000,
    "best use, any prices / HiGHS cold, hourly": 200,
    "best use, any prices / HiGHS cold, 15 min": 200,
    "best use, a size more / HiGHS warm, hourly": 75,
    "best use, demand charge / HiGHS cold, hourly": 40,
    "ride-through / numpy across starts, hourly": 100,
    "ride-through / numpy across starts, 15 min": 300,
    "1,000 systems / plain compiled loop, hourly": 10,
    "1,000 systems / plain compiled loop, 15 min": 25,
}


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__.splitlines()[0])
    parser.add_argument("--full", action="store_true", help="more systems, settings and rounds")
    parser.add_argument("--only", default="", help="parts whose name holds this word")
    parser.add_argument("--memo", action="store_true", help="a memo against stock tools, as processes")
    parser.add_argument("--rounds", type=int, default=5, help="rounds of --memo (default 5)")
    given = parser.parse_args()
    if given.memo:
        memo.report(given.rounds)
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
        for row in cases:
            print(f"  {row.case:60} {row.slow_ms:10.3f} {row.fast_ms:9.4f} {row.ratio:9.1f}  {row.agrees}")
        median = float(np.median([row.ratio for row in cases]))
        asked = ASKED.get(item)
        verdict = (
            "" if asked is None else f"  asked {asked:,}: {'reached' if median >= asked else 'NOT reached'}"
        )
        print(f"  {'median of ' + str(len(cases)):60} {'':10} {'':9} {median:9.1f}{verdict}")
    print(f"\nAll results agreed. {time.perf_counter() - begin:.0f} s")


if __name__ == "__main__":
    main()
