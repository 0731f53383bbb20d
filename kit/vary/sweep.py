"""A sweep: every case of a sweep file, saved one by one, so that a killed run goes on where it was.

Each finished case is a small file named by its slug and holding the key of its inputs: the sha256 of
the resolved study, its data and the kit's own sources. A run takes the files whose key still holds,
computes the rest, and writes the table from all of them; a case that failed is tried again.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kit.save import ensure_folder, write_bytes, write_text
from kit.study import Study, StudyError, read_study
from kit.study.paths import PathError
from kit.study.sweep_file import SweepFile, nowhere, read_sweep
from kit.vary.cases import WORKERS, Case, Done, Work, each_case, full_grid, paired
from kit.vary.kept import summary_rows

if TYPE_CHECKING:
    import pandas as pd

TABLE = "sweep.csv"
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
    keys = {case.slug: case_key(sweep.study, case) for case in sweep.cases}
    done = {case.slug: taken for case in sweep.cases if (taken := _taken(kept, case, keys[case.slug]))}
    taken_count = len(done)
    missing = [case for case in sweep.cases if case.slug not in done]
    for one in _computed(sweep.study, missing, work, workers):
        if one.failed is None:
            write_text(kept / f"{one.case.slug}.json", _saved(one, keys[one.case.slug]))
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


def case_key(study: Study, case: Case) -> str:
    """sha256 of what a case's figures come from: resolved study, data files, the kit's sources.

    A case whose study does not hold together is known by its settings alone.
    """
    try:
        inputs = case.study(study).sha256
    except StudyError:
        inputs = study.sha256 + json.dumps(case.texts())
    return hashlib.sha256(f"{inputs} {kit_sha256()}".encode()).hexdigest()


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


def _saved(one: Done, key: str) -> str:
    data = {"key": key, "case": one.case.slug, "settings": one.case.texts(), "rows": list(one.rows)}
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def _taken(folder: Path, case: Case, key: str) -> Done | None:
    """An earlier result of this case with the same key; anything unreadable counts as missing."""
    try:
        data: Mapping[str, Any] = json.loads((folder / f"{case.slug}.json").read_text(encoding="utf-8"))
        if data["key"] != key:
            return None
        return Done(case, tuple(dict(row) for row in data["rows"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
