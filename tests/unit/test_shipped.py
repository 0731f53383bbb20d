"""Parameters that travel with the kit, and the copy a user starts from."""

from __future__ import annotations

from pathlib import Path

import pytest

import kit.shipped as module
from kit.shipped import shipped, start


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A package as a wheel lays it out, with two small studies."""
    package = tmp_path / "site" / "kit"
    for name in (
        "notebooks/decision.ipynb",
        "params/studies/b.yaml",
        "params/studies/a.yaml",
        "params/x/y.csv",
    ):
        file = package / "_shipped" / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(f"text of {name}\n")
    monkeypatch.setattr(module, "__file__", str(package / "shipped.py"))
    return package


def test_an_installed_kit_uses_what_is_inside_it(installed: Path) -> None:
    assert shipped() == installed / "_shipped"


def test_a_kit_without_parameters_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "__file__", str(tmp_path / "kit" / "shipped.py"))
    with pytest.raises(FileNotFoundError, match="reinstall ridethrough"):
        shipped()


def test_start_copies_everything(installed: Path, tmp_path: Path) -> None:
    target = tmp_path / "new" / "mine"
    assert start(target) == [target / "studies" / "a.yaml", target / "studies" / "b.yaml"]
    assert (target / "x" / "y.csv").read_text() == "text of params/x/y.csv\n"
    assert [p.name for p in target.parent.iterdir()] == ["mine"]


def test_start_takes_an_empty_folder(installed: Path, tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    assert len(start(tmp_path / "mine")) == 2


def test_start_leaves_a_full_folder_alone(installed: Path, tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("keep me")
    with pytest.raises(FileExistsError, match="is not empty"):
        start(tmp_path / "mine")
    assert [p.name for p in (tmp_path / "mine").iterdir()] == ["letter.txt"]


def test_start_refuses_a_file(installed: Path, tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("keep me")
    with pytest.raises(NotADirectoryError, match="is a file"):
        start(tmp_path / "mine")


def test_a_broken_copy_leaves_nothing(
    installed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full_disk(*_args: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(module.os, "replace", full_disk)
    with pytest.raises(OSError, match="No space left"):
        start(tmp_path / "new" / "mine")
    assert list((tmp_path / "new").iterdir()) == []
