"""Every parameter file that comes with the kit loads, is marked invented, and says where its data is from."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
import yaml

from kit.study import Study, read_study
from kit.vary.sweep import open_sweep
from tests.contract.sources import ROOT, label

PARAMS = ROOT / "params"
STUDIES = sorted((PARAMS / "studies").glob("*.yaml"))
PARTS = sorted(p for p in PARAMS.rglob("*.yaml") if p not in STUDIES)

studies = pytest.mark.parametrize("path", STUDIES, ids=label)


@pytest.fixture(scope="module")
def loaded() -> dict[Path, Study]:
    return {path: read_study(path) for path in STUDIES}


def test_there_are_studies() -> None:
    assert PARAMS / "studies" / "metered_house.yaml" in STUDIES


@studies
def test_a_study_loads_and_is_marked_invented(path: Path, loaded: dict[Path, Study]) -> None:
    study = loaded[path]
    assert study.model.invented is True
    assert study.model.kit_file == 1
    assert study.root == PARAMS


@pytest.mark.parametrize("path", [*STUDIES, *PARTS], ids=label)
def test_kit_file_comes_first(path: Path) -> None:
    keys = list(yaml.safe_load(path.read_text(encoding="utf-8")))
    assert keys[0] == "kit_file"


def test_every_part_loads_in_a_study(tmp_path: Path) -> None:
    """A part no study refers to (another rate plan, another place's outages) is put into the first one."""
    copy = Path(shutil.copytree(PARAMS, tmp_path / "params"))
    study = copy / "studies" / "metered_house.yaml"
    text = study.read_text(encoding="utf-8")
    referring = "".join(p.read_text(encoding="utf-8") for p in [*STUDIES, *PARTS])
    for part in PARTS:
        if part.name in referring:
            continue
        if part.parent.name == "sweeps":
            assert len(open_sweep(part).cases) > 1, label(part)
            continue
        key = {"rates": "rate_plan", "outages": "outages"}[part.parent.name]
        changed, count = re.subn(rf"(?m)^{key}: .*$", f"{key}: ../{part.parent.name}/{part.name}", text)
        assert count == 1
        study.write_text(changed, encoding="utf-8")
        assert getattr(read_study(study).model, key).name, label(part)


def test_every_data_file_has_its_origin() -> None:
    files = [p for p in (PARAMS / "data").rglob("*") if p.is_file() and p.suffix in (".csv", ".xml", ".json")]
    origins = (PARAMS / "data" / "SOURCES.md").read_text(encoding="utf-8")
    assert files
    assert [label(p) for p in files if p.name not in origins] == []


def test_data_of_a_study_is_under_its_root(loaded: dict[Path, Study]) -> None:
    for study in loaded.values():
        for name in study.data_files:
            assert (study.root / name).resolve().is_relative_to(study.root)
            assert (study.root / name).is_file()
