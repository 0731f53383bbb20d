"""The built wheel holds the kit, its notebooks and its parameters, and nothing else."""

from __future__ import annotations

import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

import kit
from kit.shipped import shipped
from tests.contract.sources import ROOT, label, tracked_files


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


def test_one_version() -> None:
    assert tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"] == kit.__version__


def test_shipped_is_this_clone() -> None:
    assert shipped() == ROOT, label(shipped())
