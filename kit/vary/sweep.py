"""A sweep: every case of a sweep file, saved one by one, so that a killed run goes on where it was.

Each finished case is a small file named by its slug and holding the key of its inputs: the sha256 of
the resolved study, its data and the kit's own sources. A run takes the files whose key still holds,
computes the rest, and writes the table from all of them; a case that failed is tried again.

Resolving a study takes a tenth of a second, so a second key stands beside: the base study, the case's
settings, and every file below ROOT as it is. Where that one holds the case is taken without a look.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kit.save import ensure_folder, write_bytes, write_text
from kit.stages.columns import Value
from kit.study import Study, StudyError, read_study
from kit.study.paths import PathError
from kit.study.sweep_file import SweepFile, nowhere, read_sweep
from kit.vary.cases import WORKERS, Case, Done, Work, each_case, full_grid, paired
from kit.vary.kept import Kept, summary_rows

if TYPE_CHECKING:
    import pandas as pd

TABLE = "sweep.csv"
SIGNED = "study_sha256"
CASES = "cases"


@dataclass(frozen=True, eq=False)
class Sweep:
    """A sweep file read with its study, and the cases in their order."""

    file: SweepFile
    study: Study
    cases: tuple[Case, ...]


@dataclass(frozen=True, eq=False)
class Swept:
    """What a run left: the tidy table (one row an option a case), and how its cases came about."""

    sweep: Sweep
    table: pd.DataFrame
    taken_count: int
    computed_count: int
    failed: dict[str, str]


def open_sweep(path: str | Path) -> Sweep:
    """Read a sweep file and its study. Raises StudyError, with every path that leads nowhere."""
    file = read_sweep(path)
    study = read_study(file.study)
    problems = []
    for where in file.varied:
        try:
            study.value(where)
        except PathError as error:
            problems.append(nowhere(file, where, error.rule, error.hint))
    if problems:
        raise StudyError(problems)
    try:
        cases = (full_grid if file.how == "full_grid" else paired)(file.varied)
    except ValueError as error:
        raise StudyError([nowhere(file, "", str(error), "")]) from error
    return Sweep(file, study, tuple(cases))


def run_sweep(
    sweep: Sweep, folder: str | Path, *, workers: int = WORKERS, work: Work = summary_rows
) -> Swept:
    """Compute what is missing in `folder`, then write sweep.csv there. Raises SaveError.

    A progress bar over the missing cases shows on a terminal.
    """
    home = ensure_folder(folder)
    kept = ensure_folder(home / CASES)
    below = files_sha256(sweep.study.root)
    done = {case.slug: taken for case in sweep.cases if (taken := _taken(kept, sweep.study, case, below))}
    taken_count = len(done)
    missing = [case for case in sweep.cases if case.slug not in done]
    for one in _computed(sweep.study, missing, partial(_signed, work), workers):
        if one.failed is None:
            write_text(kept / f"{one.case.slug}.json", _saved(one, sweep.study, below))
        done[one.case.slug] = one
    ordered = [done[case.slug] for case in sweep.cases]
    table = table_of(ordered)
    write_text(home / TABLE, table.to_csv(index=False, lineterminator="\n"))
    failed = {one.case.slug: one.failed for one in ordered if one.failed is not None}
    return Swept(sweep, table, taken_count, len(missing), failed)


def write_parquet(swept: Swept, folder: str | Path) -> Path:
    """The table as Parquet. Raises ParquetMissingError without the extra."""
    from kit.house.tidy import tidy_bytes

    return write_bytes(Path(folder) / "sweep.parquet", tidy_bytes(swept.table, "parquet"))


def table_of(done: Sequence[Done]) -> pd.DataFrame:
    """Rows of all cases, in their order; `failed` last."""
    import pandas as pd

    table = pd.DataFrame([row for one in done for row in one.table_rows()])
    return table[[*table.columns.drop("failed"), "failed"]]


def _computed(study: Study, cases: Sequence[Case], work: Work, workers: int) -> Iterator[Done]:
    if cases:
        yield from each_case(study, cases, work, workers=workers)


def _signed(work: Work, study: Study, kept: Kept) -> list[dict[str, Value]]:
    """The rows of a case, each with the hash of its study: the process that did it knows it already."""
    return [{**row, SIGNED: study.sha256} for row in work(study, kept)]


def case_key(study: Study, case: Case) -> str:
    """sha256 of what a case's figures come from: resolved study, data files, the kit's sources.

    Raises StudyError where the case's study does not hold together.
    """
    return _key(case.study(study).sha256)


def _key(study_sha256: str) -> str:
    return hashlib.sha256(f"{study_sha256} {kit_sha256()}".encode()).hexdigest()


def _quick(study: Study, case: Case, below: str) -> str:
    whole = json.dumps([study.sha256, case.texts(), below, kit_sha256()])
    return hashlib.sha256(whole.encode()).hexdigest()


def files_sha256(root: Path) -> str:
    """sha256 over all files below a folder: parameter files by content, data by size and time of change."""
    whole = hashlib.sha256()
    for file in sorted(p for p in root.rglob("*") if p.is_file()):
        state = file.stat()
        whole.update(file.relative_to(root).as_posix().encode())
        small = file.suffix in (".yaml", ".yml")
        whole.update(file.read_bytes() if small else f"{state.st_size} {state.st_mtime_ns}".encode())
    return whole.hexdigest()


@cache
def kit_sha256() -> str:
    """sha256 over the kit's own sources, in the order of their names."""
    import kit

    root = Path(kit.__file__).parent
    whole = hashlib.sha256()
    for source in sorted(root.rglob("*.py")):
        whole.update(source.relative_to(root).as_posix().encode())
        whole.update(source.read_bytes())
    return whole.hexdigest()


def _saved(one: Done, study: Study, below: str) -> str:
    signed = str(one.rows[0][SIGNED]) if one.rows else case_key(study, one.case)
    data = {
        "key": _key(signed),
        "quick": _quick(study, one.case, below),
        "case": one.case.slug,
        "settings": one.case.texts(),
        "rows": list(one.rows),
    }
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def _taken(folder: Path, study: Study, case: Case, below: str) -> Done | None:
    """An earlier result of this case whose key holds; anything unreadable counts as missing."""
    try:
        data: Mapping[str, Any] = json.loads((folder / f"{case.slug}.json").read_text(encoding="utf-8"))
        if data["quick"] != _quick(study, case, below) and data["key"] != case_key(study, case):
            return None
        return Done(case, tuple(dict(row) for row in data["rows"]))
    except (OSError, ValueError, KeyError, TypeError, StudyError):
        return None
