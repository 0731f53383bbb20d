"""What is imported is declared; the wheel holds the kit, its notebooks and parameters, nothing else."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
import zipfile
from importlib import import_module
from pathlib import Path

import pytest

import kit
from kit.shipped import shipped
from tests.contract.sources import KIT_FILES, ROOT, imported_modules, label, tracked_files

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
DISTRIBUTION = {  # import name -> package
    "yaml": "PyYAML",
    "vl_convert": "vl-convert-python",
    "pypandoc": "pypandoc_binary",
}


@pytest.fixture(scope="module")
def wheel_names(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    pytest.importorskip("hatchling", reason="the extra `test` brings the build backend")
    folder = tmp_path_factory.mktemp("wheel")
    alone = ["--no-deps", "--no-build-isolation", "--no-index"]
    command = [sys.executable, "-m", "pip", "wheel", ".", "--quiet", *alone, "--wheel-dir", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, stdin=subprocess.DEVNULL)
    (wheel,) = folder.glob("ridethrough-*.whl")
    return set(zipfile.ZipFile(wheel).namelist())


def test_wheel_holds_what_the_clone_holds(wheel_names: set[str]) -> None:
    files = [name for name in tracked_files() if Path(ROOT, name).is_file()]
    code = {name for name in files if name.startswith("kit/")}
    beside = {f"kit/_shipped/{name}" for name in files if name.startswith(("notebooks/", "params/"))}
    assert {"kit/py.typed", "kit/cli.py"} <= code
    assert beside
    inside = {name for name in wheel_names if name.startswith("kit/")}
    assert inside == code | beside


def test_wheel_holds_nothing_else(wheel_names: set[str]) -> None:
    tops = {name.split("/")[0] for name in wheel_names}
    assert tops == {"kit", f"ridethrough-{kit.__version__}.dist-info"}
    assert any(name.endswith("licenses/LICENSE") for name in wheel_names)


def names_of(requirements: list[str]) -> set[str]:
    return {re.split(r"[<>=!~ ;\[]", text)[0].lower().replace("_", "-") for text in requirements}


def test_what_is_imported_is_declared() -> None:
    """Every library that kit/ imports is a dependency of its own, or of an extra that its user asks for."""
    extras = PROJECT["optional-dependencies"]
    declared = names_of(PROJECT["dependencies"] + extras["docs"] + extras["parquet"])
    imported = {module.split(".")[0] for path in KIT_FILES for _, module in imported_modules(path)}
    foreign = imported - set(sys.stdlib_module_names) - {"kit"}
    assert {DISTRIBUTION.get(name, name).lower().replace("_", "-") for name in foreign} <= declared


def test_every_dependency_has_bounds_and_a_locked_version() -> None:
    locked = dict(line.split("==") for line in (ROOT / ".ci" / "constraints.txt").read_text().splitlines())
    locked = {name.lower().replace("_", "-"): version for name, version in locked.items()}
    extras = PROJECT["optional-dependencies"]
    wanted = [*PROJECT["dependencies"], *(text for extra in extras.values() for text in extra)]
    assert [text for text in wanted if ">=" not in text] == []
    assert names_of(wanted) <= set(locked)


def test_entry_points_lead_somewhere() -> None:
    groups = [PROJECT["scripts"], *PROJECT.get("entry-points", {}).values()]
    for target in (text for group in groups for text in group.values()):
        module, name = target.split(":")
        assert callable(getattr(import_module(module), name)), target


def test_one_version() -> None:
    assert PROJECT["version"] == kit.__version__


def test_shipped_is_this_clone() -> None:
    assert shipped() == ROOT, label(shipped())
