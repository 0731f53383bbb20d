"""Many cases of one study: a list of settings, a plain function on each, one tidy table.

A case is a slug and settings PATH -> VALUE, the same paths as `--set`. A value is a number, a text,
a list or a block; a text that names a parameter file stands for that file, so equipment, a rate plan
or a whole option is replaced by a setting like any other::

    cases = full_grid({
        "options.battery.battery.unit_count": [1, 2, 3],
        "rate_plan": {"flat": "../rates/flat.yaml", "peak": "../rates/evening_peak.yaml"},
    })
    table = run_cases(study, cases)               # the summary of every option in every case

The work done on each case is a plain function of a module, `work(study, kept) -> rows`, so that a
process pool or a distributed scheduler can take it. The default gives the summary of compare(). `kept`
(kit.vary.kept) shares what a case does not change with earlier cases in the same process; a function
of one's own may use `kept_house`, `kept_sources` or `physics` from there and stop at the stage it needs.
Every case keeps the study's seed, so all meet the same outages and the same luck; a case may set
another. The table does not depend on the number of workers.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from typing import TYPE_CHECKING, Any

from kit.stages.columns import Value
from kit.study import Study, StudyError
from kit.study.models import Option
from kit.vary.kept import Kept, summary_rows

if TYPE_CHECKING:
    import pandas as pd

Work = Callable[[Study, Kept], Sequence[Mapping[str, Value]]]
WORKERS = 2
FEW = 4  # so few cases run in this process: starting another takes longer


@dataclass(frozen=True)
class Case:
    """One case: a slug that is safe as a file name, and what it sets, PATH -> VALUE.

    `shown`: what the table says in the column of each path; default: the value itself. `options`:
    blocks already made, put in the place of all options of the study without reading them again.
    """

    slug: str
    settings: Mapping[str, Any] = field(default_factory=dict)
    shown: Mapping[str, Any] = field(default_factory=dict)
    options: Mapping[str, Option] | None = None

    def texts(self) -> list[str]:
        """The settings as PATH=VALUE, as `--set` takes them."""
        return [f"{path}={_written(value)}" for path, value in self.settings.items()]

    def study(self, base: Study) -> Study:
        """The base study with the settings on top. Raises StudyError."""
        study = base.changed(self.texts()) if self.settings else base
        if self.options is None:
            return study
        model = study.model.model_copy(update={"options": dict(self.options)})
        return replace(study, model=model)

    def columns(self) -> dict[str, Value]:
        """The case and its settings as the first columns of a table."""
        said = {path: self.shown.get(path, _plain(value)) for path, value in self.settings.items()}
        return {"case": self.slug, **said}


@dataclass(frozen=True)
class Done:
    """What came of one case: rows, or the reason why there are none."""

    case: Case
    rows: tuple[dict[str, Value], ...]
    failed: str | None = None

    def table_rows(self) -> list[dict[str, Value]]:
        """Rows of the tidy table: case, settings, results, failed."""
        rows = self.rows or ({},)
        return [self.case.columns() | dict(row) | {"failed": self.failed} for row in rows]


def full_grid(varied: Mapping[str, Sequence[Any] | Mapping[str, Any]]) -> list[Case]:
    """Every combination; the last path varies fastest. A mapping gives each of its values a label.

    Raises ValueError for a path without values, or two cases with one slug.
    """
    return _cases(varied, product)


def paired(varied: Mapping[str, Sequence[Any] | Mapping[str, Any]]) -> list[Case]:
    """First values together, second values together, and so on. Raises ValueError where lengths differ."""
    lengths = {path: len(values) for path, values in varied.items()}
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"{path} has {count}" for path, count in lengths.items())
        raise ValueError(f"paired lists must be of one length: {told}")
    return _cases(varied, zip)


def _cases(varied: Mapping[str, Any], together: Callable[..., Iterable[tuple[Any, ...]]]) -> list[Case]:
    empty = [path for path, values in varied.items() if not len(values)]
    if empty or not varied:
        raise ValueError(f"nothing to vary: {', '.join(empty) or 'no path'} has no values")
    choices = [_labelled(path, values) for path, values in varied.items()]
    cases = []
    for chosen in together(*choices):
        slug = "__".join(label for label, _, _ in chosen)
        settings = {path: value for path, (_, value, _) in zip(varied, chosen, strict=True)}
        shown = {path: said for path, (_, _, said) in zip(varied, chosen, strict=True)}
        cases.append(Case(slug, settings, shown))
    return unlike(cases)


def unlike(cases: Sequence[Case]) -> list[Case]:
    """The cases, or ValueError naming a slug that two of them share."""
    seen: set[str] = set()
    for case in cases:
        if case.slug in seen:
            raise ValueError(f"two cases are called {case.slug!r}: give their values labels that differ")
        seen.add(case.slug)
    return list(cases)


def _labelled(path: str, values: Sequence[Any] | Mapping[str, Any]) -> list[tuple[str, Any, Value]]:
    """(slug part, value, what the table says) of each value of one path."""
    if isinstance(values, Mapping):
        return [(_safe(label), value, label) for label, value in values.items()]
    name = path.split(".")[-1]
    return [(_safe(f"{name}-{_plain(value)}"), value, _plain(value)) for value in values]


def _safe(text: str) -> str:
    """A piece of a file name."""
    return re.sub(r"[^A-Za-z0-9._-]+", "-", text).strip("-.") or "blank"


def _written(value: Any) -> str:
    """A value as a setting has it; a text is quoted, so that it stays a text."""
    if isinstance(value, str | Mapping | list | tuple):
        return json.dumps(value)
    return (
        {True: "true", False: "false", None: "null"}[value] if isinstance(value, bool | None) else str(value)
    )


def _plain(value: Any) -> Value:
    return value if isinstance(value, bool | int | float | str | None) else _written(value)


def run_cases(
    study: Study,
    cases: Sequence[Case],
    work: Work = summary_rows,
    *,
    workers: int = WORKERS,
    progress: str = "cases",
) -> pd.DataFrame:
    """Put every case through `work`; one tidy table in the order of the cases.

    Columns: case, one a path set, those of the rows, failed (None, or why this case has no figures:
    a case that fails is a row, and the others go on). `workers`: processes; 1 stays in this one, and
    so do fewer than FEW cases. A progress bar named `progress` shows on a terminal only.
    """
    import pandas as pd

    done = each_case(study, unlike(cases), work, workers=workers, progress=progress)
    table = pd.DataFrame([row for one in done for row in one.table_rows()])
    if "failed" not in table:
        return pd.DataFrame(columns=["case", "failed"])
    return table[[*table.columns.drop("failed"), "failed"]]


def each_case(
    study: Study,
    cases: Iterable[Case],
    work: Work = summary_rows,
    *,
    workers: int = WORKERS,
    progress: str = "cases",
) -> Iterator[Done]:
    """As `run_cases`, one case at a time as soon as it and those before it are done: to save on the way.

    `cases` may be made on the way too; a few are taken ahead of what is told.
    """
    from tqdm import tqdm  # type: ignore[import-untyped]

    from kit.vary.pool import in_processes

    if workers < 1:
        raise ValueError(f"workers is {workers}; it must be at least 1")
    kept = Kept()
    count = len(cases) if isinstance(cases, Sequence) else None
    here = workers == 1 or (count is not None and count < FEW)
    found = (
        (one_case(study, case, work, kept) for case in cases)
        if here
        else in_processes(study, cases, work, workers)
    )
    yield from tqdm(found, total=count, desc=progress, unit="", disable=None, leave=False)


def one_case(study: Study, case: Case, work: Work, kept: Kept) -> Done:
    """One case, its failure told in words."""
    try:
        return Done(case, tuple(dict(row) for row in work(case.study(study), kept)))
    except StudyError as error:
        return Done(case, (), "; ".join(str(problem) for problem in error.problems))
    except Exception as error:
        return Done(case, (), f"{type(error).__name__}: {error}")
