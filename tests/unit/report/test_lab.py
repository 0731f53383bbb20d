"""Where `ridethrough lab` works, and what JupyterLab is started with."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from kit.report import lab


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Shipped parts as a wheel has them, not to be written to."""
    place = tmp_path / "site" / "_shipped"
    for part, name in (("notebooks", "explore.ipynb"), ("params", "a.yaml")):
        (place / part).mkdir(parents=True)
        (place / part / name).write_text("shipped", encoding="utf-8")
        (place / part / name).chmod(0o444)
        (place / part).chmod(0o555)
    monkeypatch.setattr(lab, "shipped", lambda: place)
    monkeypatch.chdir(tmp_path)
    return place


def test_an_installed_kit_is_copied_to_a_folder_that_may_be_written(installed: Path, tmp_path: Path) -> None:
    place = lab.lab_folder()
    assert place == tmp_path / "ridethrough-lab"
    copy = place / "notebooks" / "explore.ipynb"
    assert copy.read_text(encoding="utf-8") == "shipped"
    assert copy.stat().st_mode & 0o200
    assert copy.parent.stat().st_mode & 0o200
    copy.write_text("mine", encoding="utf-8")
    assert lab.lab_folder() == place
    assert copy.read_text(encoding="utf-8") == "mine", "what is there is left as it is"


def test_a_clone_is_used_as_it_stands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for part in ("notebooks", "params"):
        (tmp_path / part).mkdir()
    monkeypatch.setattr(lab, "shipped", lambda: tmp_path)
    assert lab.lab_folder() == tmp_path
    assert lab.lab_folder(tmp_path / "other") == tmp_path / "other"


def test_nothing_is_asked_of_the_network(tmp_path: Path) -> None:
    words = lab.lab_arguments(tmp_path, ["--no-browser"])
    assert "--LabApp.news_url=None" in words
    assert "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate" in words
    assert "--LabApp.extension_manager=readonly" in words
    assert words[-1] == "--no-browser"
    path = lab.config_path(tmp_path, "/already")
    assert path.split(os.pathsep) == [str(tmp_path), "/already"]
    settings = json.loads((tmp_path / "labconfig" / "page_config.json").read_text(encoding="utf-8"))
    assert settings == {"disabledExtensions": {lab.NEWS_PLUGIN: True}}
