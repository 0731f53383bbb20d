"""Sweep files: what is read, and what is wrong with a bad one."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.study import StudyError
from kit.study.sweep_file import read_sweep


@pytest.fixture
def place(tmp_path: Path) -> Path:
    (tmp_path / "studies").mkdir()
    (tmp_path / "rates").mkdir()
    (tmp_path / "studies" / "s.yaml").write_text("kit_file: 1\n")
    for name in ("b", "a"):
        (tmp_path / "rates" / f"{name}.yaml").write_text("kit_file: 1\n")
    (tmp_path / "sweeps").mkdir()
    return tmp_path


def written(place: Path, text: str) -> Path:
    file = place / "sweeps" / "x.yaml"
    file.write_text(text)
    return file


def test_values_labels_and_files(place: Path) -> None:
    sweep = read_sweep(
        written(
            place,
            "kit_file: 1\nstudy: ../studies/s.yaml\nhow: paired\nvary:\n"
            '  rate_plan: {files: "../rates/*.yaml"}\n'
            "  seed: [1, 2]\n"
            "  asked.loads: {must: must_run, all: wanted}\n"
            "  house: [../rates/a.yaml, ../rates/b.yaml]\n"
            "  options.x.battery: {big: {from: ../rates/a.yaml, usable_kwh: 5}}\n",
        )
    )
    assert sweep.how == "paired"
    assert sweep.varied == {
        "rate_plan": {"a": "../rates/a.yaml", "b": "../rates/b.yaml"},
        "seed": [1, 2],
        "asked.loads": {"must": "must_run", "all": "wanted"},
        "house": {"a": "../rates/a.yaml", "b": "../rates/b.yaml"},
        "options.x.battery": {"big": {"from": "../rates/a.yaml", "usable_kwh": 5}},
    }


def test_a_folder_of_files(place: Path) -> None:
    text = "kit_file: 1\nstudy: ../studies/s.yaml\nvary:\n  rate_plan: {files: ../rates}\n"
    assert read_sweep(written(place, text)).varied == {
        "rate_plan": {"a": "../rates/a.yaml", "b": "../rates/b.yaml"}
    }


GOOD = "kit_file: 1\nstudy: ../studies/s.yaml\nvary: {seed: [1]}\n"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("kit_file: 1\n", "", "kit_file: is missing"),
        ("kit_file: 1", "kit_file: 9", "unknown version"),
        ("s.yaml", "none.yaml", "study: no such file"),
        ("study: ../studies/s.yaml\n", "", "study: must name a study file"),
        ("vary: {seed: [1]}", "", "vary: must be a block of paths"),
        ("[1]", "[]", "vary.seed: must be a list of values"),
        ("[1]", "3", "vary.seed: must be a list of values"),
        ("[1]", '{files: "../nothing/*.yaml"}', "no file matches"),
        ("[1]", '{files: "/etc/*"}', "relative to this file"),
        ("vary:", "how: cross\nvary:", "how: must be full_grid or paired (got 'cross')"),
        ("vary:", "varies: 1\nvary:", "Did you mean vary?"),
    ],
)
def test_bad_files(place: Path, old: str, new: str, says: str) -> None:
    assert old in GOOD
    with pytest.raises(StudyError) as caught:
        read_sweep(written(place, GOOD.replace(old, new, 1)))
    assert says in str(caught.value)
    assert "x.yaml:" in str(caught.value)


def test_no_file(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match="no such file"):
        read_sweep(tmp_path / "none.yaml")
