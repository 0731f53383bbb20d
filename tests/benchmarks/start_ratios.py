"""Cold start: `ridethrough compare` as a process against one that only imports pandas, numba and pydantic.

The compiled code, Python's own included, is kept from a first run that is not timed.  In these rows a smaller
ratio is better.
"""

import json
import os
import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np
import yaml

from tests.benchmarks.profiles import Row

PARAMS = Path(__file__).parents[2] / "params"
ITEM = "cold start {} / importing pandas, numba, pydantic"
IMPORTS = "import pandas, numba, pydantic"
FIRST = "first compilation of every kernel / one second of the processor"
KERNELS = (
    "from kit.operate import alone, clock, demand_walk, drawing, hybrid; "
    "from kit.operate import policy, ride, segments, thresholds, walk"
)
COMPARE = "import sys; from kit.cli import main; main(['compare', '--format', 'json', sys.argv[1]])"


def spent_ms(*words: str, out: Path) -> float:
    """Processor time, all threads, of a process of the interpreter with these words; it writes to `out`."""
    writes = [(os.POSIX_SPAWN_OPEN, 1, str(out), os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)]
    process = os.posix_spawn(sys.executable, [sys.executable, *words], os.environ, file_actions=writes)
    _, status, used = os.wait4(process, 0)
    assert os.waitstatus_to_exitcode(status) in (0, 1), words  # 1: no option meets what was asked
    return (used.ru_utime + used.ru_stime) * 1e3


def studies(folder: Path) -> dict[str, Path]:
    """The metered example, and the same without the options that have solar."""
    shutil.copytree(PARAMS, folder / "params")
    whole = folder / "params" / "studies" / "metered_house.yaml"
    study = yaml.safe_load(whole.read_text(encoding="utf-8"))
    study["options"] = {slug: block for slug, block in study["options"].items() if "solar" not in block}
    without = whole.with_name("without_solar.yaml")
    without.write_text(yaml.safe_dump(study, sort_keys=False), encoding="utf-8")
    return {"without solar": without, "with solar": whole}


def rows(full: bool) -> list[Row]:
    table = []
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # an installer keeps the bytecode of both sides
    with tempfile.TemporaryDirectory() as name:
        out = Path(name) / "out.txt"
        for case, study in studies(Path(name)).items():
            spent_ms("-c", COMPARE, str(study), out=out)  # compiles where nothing is kept yet
            told = json.loads(out.read_text(encoding="utf-8"))
            ours, base = [], []
            for _ in range(5 if full else 3):
                base.append(spent_ms("-c", IMPORTS, out=out))
                ours.append(spent_ms("-c", COMPARE, str(study), out=out))
                assert json.loads(out.read_text(encoding="utf-8"))["options"] == told["options"]
            words = f"{len(told['options'])} options, {case}"
            times = float(np.median(base)), float(np.median(ours))
            table.append(Row(ITEM.format(case), words, *times, "every figure"))
        os.environ["RIDETHROUGH_CACHE"] = str(Path(name) / "empty")
        try:
            first, again = (spent_ms("-c", KERNELS, out=out) for _ in range(2))
        finally:
            del os.environ["RIDETHROUGH_CACHE"]
        assert again < first / 3, "the compiled code was not kept"
        table.append(Row(FIRST, f"an empty folder; {again / 1e3:.1f} s once kept", 1e3, first, "kept"))
    return table
