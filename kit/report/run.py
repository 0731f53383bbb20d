"""Run the decision notebook on a study and write the memo: notebook, page, CSV and JSON."""

from __future__ import annotations

import ast
import atexit
import csv
import gc
import io
import json
import logging
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

import kit.report  # noqa: F401  # before papermill and nbformat: see there
from kit.report.paper import check_extra, documents, paper_for
from kit.report.show import RESULT
from kit.save import open_folder, write_bytes, write_text
from kit.shipped import shipped

NOTEBOOK = "decision_memo.ipynb"
BRIEF = "brief.ipynb"
DEFAULT_ENGINE = "ridethrough"

atexit.register(gc.freeze)  # a process that ends need not search half a million objects for garbage


class MemoError(Exception):
    """A memo could not be made; the text says at which step, why, and what was kept."""


@dataclass(frozen=True)
class MemoFiles:
    """What was written. As text: one path a line."""

    notebook: Path
    html: Path
    csv: Path
    json: Path
    others: tuple[Path, ...] = ()

    def __str__(self) -> str:
        return "\n".join(str(p) for p in (self.html, *self.others, self.notebook, self.csv, self.json))


def write_memo(
    study_path: str | Path,
    out_dir: str | Path,
    set_values: Sequence[str] = (),
    *,
    notebook: str | Path | None = None,
    engine: str = DEFAULT_ENGINE,
    progress: bool = False,
    formats: Sequence[str] = ("html",),
    brief: bool = False,
    with_data: bool = False,
) -> MemoFiles:
    """Write the memo of a study into `out_dir`; names follow the notebook and `summary`.

    The study is read and the folder tried first (StudyError, with every problem; SaveError).
    MemoError when the notebook stops: it is kept beside as NAME.failed.ipynb, until it runs through.
    Nothing half-written is left.
    `engine`: 'ridethrough' (in this process) or 'nbclient' (a kernel of its own). `formats`: html
    always, pdf and docx by the extra `docs` (DocsMissingError before anything runs). `brief`: one
    page. `with_data`: the page carries the data files, so that it can be made again without them.
    """
    check_extra(formats)
    source = (
        Path(notebook) if notebook is not None else shipped() / "notebooks" / (BRIEF if brief else NOTEBOOK)
    )
    with _no_collections():
        return _write(study_path, out_dir, set_values, source, engine, progress, formats, brief, with_data)


def _write(
    study_path: str | Path,
    out_dir: str | Path,
    set_values: Sequence[str],
    source: Path,
    engine: str,
    progress: bool,
    formats: Sequence[str],
    brief: bool,
    with_data: bool,
) -> MemoFiles:
    from kit.report.again import carried_by
    from kit.report.exporter import page
    from kit.study import read_study

    study = read_study(study_path, set_values)
    final = Path(out_dir) / source.name
    ends = ("ipynb", *formats)
    folder = open_folder(out_dir, (*(f"{source.stem}.{end}" for end in ends), "summary.csv", "summary.json"))
    parameters = {"study": Path(study_path).as_posix(), "set_values": list(set_values)}
    ran = run_notebook(source, final, parameters, engine=engine, progress=progress)
    data = result_of(ran)
    if data["study"]["sha256"] != study.sha256:
        raise MemoError(f"{study_path} changed while the memo was made; run it again")
    check_result(data)
    text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)
    name, kind = study.model.name, "brief" if brief else "memo"
    paper = paper_for(study.model.units)
    whole = page(ran, name, carried_by(study, with_data), paper=paper, kind=kind)
    others = documents(ran, name, formats, paper, kind)
    return MemoFiles(
        notebook=final,
        html=write_text(final.with_suffix(".html"), whole),
        csv=write_text(folder / "summary.csv", summary_csv(data)),
        json=write_text(folder / "summary.json", text + "\n"),
        others=tuple(write_bytes(final.with_suffix(f".{end}"), made) for end, made in others.items()),
    )


@contextmanager
def _no_collections() -> Iterator[None]:
    """Leave the garbage of one memo uncollected: imports and charts make much to look at, little to free."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def run_notebook(
    source: Path,
    final: Path,
    parameters: Mapping[str, Any],
    *,
    engine: str = DEFAULT_ENGINE,
    progress: bool = False,
) -> Any:
    """Run a notebook with checked parameters through papermill; returns the notebook as run.

    It is written to NAME.part.ipynb, then moved to `final` once whole and free of times and
    paths; one kept from a run that stopped is then removed. Raises ValueError for parameters the
    notebook does not declare or JSON cannot hold.
    """
    import papermill

    values = plain_json(parameters)
    unknown = sorted(set(values) - declared_parameters(source))
    if unknown:
        raise ValueError(
            f"{source.name} declares no parameter {', '.join(unknown)}; "
            f"it has {', '.join(sorted(declared_parameters(source)))}"
        )
    engine = _engine_here(engine)
    logging.getLogger("papermill").setLevel(logging.WARNING)
    part = final.with_name(f"{final.stem}.part.ipynb")
    try:
        ran = papermill.execute_notebook(
            _braces_kept(source),
            _braces_kept(part),
            parameters=values,
            engine_name=engine,
            kernel_name="python3",
            progress_bar=progress,
            request_save_on_cell_execute=False,
            **_engine_options(engine),
        )
    except papermill.PapermillExecutionError as error:
        raise MemoError(_failed(source, part, final, error)) from error
    finally:
        part.unlink(missing_ok=True)
    clean(ran)
    write_text(final, notebook_text(ran))
    _kept_as(final).unlink(missing_ok=True)  # of an earlier run that stopped
    return ran


def _engine_options(engine: str) -> dict[str, Any]:
    if engine != "nbclient":
        return {}
    from kit.report.kernel import OwnKernel

    # nothing in a memo's kernel is worth a slow good-bye, and a polite one prints an error line
    return {"kernel_manager_class": OwnKernel, "shutdown_kernel": "immediate"}


def _engine_here(engine: str) -> str:
    """The engine asked for, registered; inside Jupyter the one with a kernel of its own."""
    if engine != DEFAULT_ENGINE:
        return engine
    from kit.report.engine import can_run_here, register

    register()
    return engine if can_run_here() else "nbclient"


def _failed(source: Path, part: Path, final: Path, error: Any) -> str:
    """Keep the notebook as far as it went and say in one line where it stopped."""
    kept = _kept_as(final)
    os.replace(part, kept)
    call = str(error.source).strip().splitlines()[-1] if str(error.source).strip() else "an empty cell"
    return f"{source.name} stopped at `{call}`: {error.ename}: {error.evalue} (kept as {kept})"


def _kept_as(final: Path) -> Path:
    """Where a notebook that stopped is kept, beside the place it would have had."""
    return final.with_name(f"{final.stem}.failed.ipynb")


def _braces_kept(path: Path) -> str:
    """papermill formats its paths; a brace in a folder's name must survive that."""
    return str(path).replace("{", "{{").replace("}", "}}")


def plain_json(parameters: Mapping[str, Any]) -> dict[str, Any]:
    """The parameters as plain JSON values. ValueError for anything that JSON would change."""
    try:
        values: dict[str, Any] = json.loads(json.dumps(dict(parameters), allow_nan=False))
    except (TypeError, ValueError) as error:
        raise ValueError(f"parameters must be plain finite JSON values: {error}") from error
    if values != dict(parameters):
        raise ValueError(f"parameters must be plain JSON values, got {dict(parameters)!r}")
    return values


def declared_parameters(source: Path) -> set[str]:
    """Names assigned in the cell tagged `parameters`."""
    book = json.loads(source.read_text(encoding="utf-8"))
    names: set[str] = set()
    for cell in book["cells"]:
        if "parameters" in cell["metadata"].get("tags", []):
            for node in ast.parse("".join(cell["source"])).body:
                targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
                names |= {t.id for t in targets if isinstance(t, ast.Name)}
    return names


def clean(notebook: Any) -> None:
    """Strip times, paths and versions, so that two runs of one study give the same bytes."""
    for key in ("papermill", "widgets"):
        notebook.metadata.pop(key, None)
    notebook.metadata.get("language_info", {}).pop("version", None)
    injected = 0
    for cell in notebook.cells:
        for key in ("papermill", "execution"):
            cell.metadata.pop(key, None)
        if not cell.metadata.get("tags", True):
            cell.metadata.pop("tags")
        if "injected-parameters" in cell.metadata.get("tags", []):
            injected += 1
            cell["id"] = f"injected-{injected}"


def notebook_text(notebook: Any) -> str:
    """The notebook as the JSON text that is written."""
    import nbformat

    return str(nbformat.writes(notebook, version=4)).rstrip("\n") + "\n"


def result_of(notebook: Any) -> dict[str, Any]:
    """The comparison's data out of a run notebook. MemoError where the notebook shows none."""
    for cell in reversed(notebook.cells):
        for output in cell.get("outputs", []):
            if RESULT in output.get("data", {}):
                data: dict[str, Any] = json.loads(json.dumps(output["data"][RESULT]))
                return data
    raise MemoError("the notebook shows no result: its last call must be `result(comparison)`")


def check_result(data: dict[str, Any]) -> None:
    """Validate the data against kit/report/result.schema.json; MemoError names the place."""
    import jsonschema  # type: ignore[import-untyped]

    schema = json.loads((resources.files("kit.report") / "result.schema.json").read_text(encoding="utf-8"))
    problems = sorted(
        jsonschema.Draft202012Validator(schema).iter_errors(data), key=lambda e: list(map(str, e.path))
    )
    if problems:
        first = problems[0]
        place = ".".join(str(p) for p in first.absolute_path) or "the result"
        raise MemoError(f"the result does not fit result.schema.json: {place}: {first.message}")


def summary_csv(data: dict[str, Any]) -> str:
    """One row an option; empty where there is no figure. Text that a spreadsheet would run is quoted."""
    columns = list(dict.fromkeys(key for row in data["options"] for key in row))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in data["options"]:
        writer.writerow([_csv_value(row.get(column)) for column in columns])
    return out.getvalue()


def _csv_value(value: Any) -> Any:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str) and re.match(r"[=+\-@\t\r]", value):
        return f"'{value}"
    return "" if value is None else value
