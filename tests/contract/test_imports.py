"""A module imports only what stands earlier in the flow, and start-up loads nothing heavy."""

from __future__ import annotations

import ast
import subprocess
import sys

import pytest

import kit
from tests.contract.sources import KIT_FILES, ROOT, imported_modules, label, module_name, tree

ORDER = (
    ("units",),
    ("calendar", "recall", "save", "shipped"),
    ("disk",),
    ("study",),
    ("house", "grid", "systems"),
    ("fit",),
    ("operate",),
    ("account",),
    ("stages",),
    ("compare",),
    ("vary",),
    ("report",),
    ("screen", "told"),
    ("meter_command", "memo_command", "lab_command", "page_command"),
    ("cli",),
)
LEVEL = {part: level for level, parts in enumerate(ORDER) for part in parts}
DRAWING = {"altair", "vl_convert", "papermill", "nbconvert", "nbclient", "nbformat", "ipywidgets", "IPython"}
PHYSICS = {"systems", "fit", "operate", "account"}
HEAVY = {
    "pandas",
    "numba",
    "scipy",
    "pvlib",
    "altair",
    "papermill",
    "nbconvert",
    "IPython",
    "numpy",
    "pydantic",
}


def part(module: str) -> str | None:
    """`kit.house.load` -> `house`; the package itself and foreign modules have none."""
    names = module.split(".")
    return names[1] if names[0] == "kit" and len(names) > 1 else None


def test_the_kit_is_there() -> None:
    assert len(KIT_FILES) > 10
    assert {part(module_name(p)) for p in KIT_FILES} - {None} <= set(LEVEL)


def test_imports_follow_the_flow() -> None:
    wrong = []
    for path in KIT_FILES:
        mine = part(module_name(path))
        if mine is None:
            continue  # kit/__init__.py names every part and loads none: tested below
        for line, module in imported_modules(path):
            theirs = part(module)
            if theirs in (None, mine, "__version__"):
                continue
            if LEVEL[theirs] >= LEVEL[mine]:
                wrong.append(f"{label(path)}:{line}: kit.{mine} imports kit.{theirs}, which stands later")
    assert wrong == []


def test_only_the_report_draws() -> None:
    wrong = [
        f"{label(path)}:{line}: {module}"
        for path in KIT_FILES
        if part(module_name(path)) != "report"
        for line, module in imported_modules(path)
        if module.split(".")[0] in DRAWING
    ]
    assert wrong == []


def test_physics_reads_no_file_and_no_study() -> None:
    wrong = []
    for path in KIT_FILES:
        if part(module_name(path)) not in PHYSICS or label(path) == "kit/operate/compiled.py":
            continue
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.ImportFrom) and node.module in (
                "kit.study",
                "kit.study.models",
                "pathlib",
            ):
                wrong += [f"{label(path)}:{node.lineno}: {node.module}.{a.name}" for a in node.names]
            if isinstance(node, ast.Call):
                name = getattr(node.func, "id", getattr(node.func, "attr", ""))
                if name in ("open", "read_text", "read_csv", "read_bytes", "read_study"):
                    wrong.append(f"{label(path)}:{node.lineno}: {name}()")
    assert wrong == []


@pytest.mark.parametrize("statement", ["import kit", "import kit.cli"])
def test_start_up_is_lazy(statement: str) -> None:
    run = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", statement],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = {line.rsplit("|", 1)[1].strip().split(".")[0] for line in run.stderr.splitlines() if "|" in line}
    assert "kit" in loaded
    assert not loaded & HEAVY


def test_public_names_come_from_their_modules() -> None:
    for name in kit.__all__:
        assert getattr(kit, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nothing_of_the_kind'"):
        kit.nothing_of_the_kind  # noqa: B018
