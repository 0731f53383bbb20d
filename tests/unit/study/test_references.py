"""Parts in other files: found, kept inside ROOT, overridden key by key."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from kit.study import Study, StudyError, read_study
from tests.unit.study.conftest import Spoil

BASE = "studies/base.yaml"
Swap = Callable[[str, str, str], None]
FROM = "battery: {from: ../systems/pack.yaml, "


def test_root_is_the_parent_of_a_folder_named_studies(good: Study, study: Path) -> None:
    assert good.root == study.parents[1]
    assert good.path == study


def test_root_is_else_the_studys_folder(study: Path) -> None:
    other = study.parents[1] / "cases"
    study.parent.rename(other)
    with pytest.raises(StudyError, match="leads outside the root folder"):
        read_study(other / "base.yaml")
    assert read_study(other / "base.yaml", root=study.parents[1]).model.name == "Invented house"


def test_a_link_that_leaves_root_is_refused(spoil: Spoil, study: Path) -> None:
    outside = study.parents[2] / f"{study.parents[1].name}_outside.yaml"
    outside.write_text((study.parents[1] / "systems/pack.yaml").read_text())
    (study.parents[1] / "systems/link.yaml").symlink_to(outside)
    try:
        (problem,) = spoil((BASE, "../systems/pack.yaml", "../systems/link.yaml"))
    finally:
        outside.unlink()
    assert (problem.line, problem.path) == (25, "options.pack.battery")
    assert problem.rule.startswith("leads outside the root folder")


def test_a_study_that_is_a_link_out_of_root_is_refused(study: Path, tmp_path: Path) -> None:
    inner = tmp_path / "inner"
    inner.mkdir()
    (inner / "x.yaml").symlink_to(study)
    with pytest.raises(StudyError, match="leads outside the root folder"):
        read_study(inner / "x.yaml")


def test_a_link_inside_root_is_followed(swap: Swap, study: Path) -> None:
    (study.parents[1] / "systems/link.yaml").symlink_to("pack.yaml")
    swap(BASE, "../systems/pack.yaml", "../systems/link.yaml")
    assert read_study(study).value("options.pack.battery.nominal_kwh") == 10


def test_a_circle_is_told_once(spoil: Spoil, study: Path) -> None:
    folder = study.parents[1] / "systems"
    pack = (folder / "pack.yaml").read_text()
    (folder / "a.yaml").write_text(pack.replace("{price_usd: 8000, source: invented}", "b.yaml"))
    (folder / "b.yaml").write_text("kit_file: 1\nprice_usd: a.yaml\n")
    (problem,) = spoil((BASE, "../systems/pack.yaml", "../systems/a.yaml"))
    assert problem.file.endswith("systems/b.yaml")
    assert problem.line == 2
    assert problem.rule.startswith("refers back to itself: ")
    assert problem.rule.count("a.yaml") == 2


def test_a_reference_is_relative_to_the_file_that_holds_it(swap: Swap, study: Path) -> None:
    swap("systems/pack.yaml", "{price_usd: 8000, source: invented}", "prices/pack.yaml")
    (study.parents[1] / "systems/prices").mkdir()
    (study.parents[1] / "systems/prices/pack.yaml").write_text("kit_file: 1\nprice_usd: 7000\n")
    assert read_study(study).value("options.pack.battery.cost.price_usd") == 7000


def test_from_overrides_key_by_key_in_either_unit(swap: Swap, study: Path) -> None:
    swap(
        BASE,
        "battery: ../systems/pack.yaml",
        FROM + "unit_count: 2, usable_wh: 8000, cost: {install_usd: 500}}",
    )
    read = read_study(study)
    battery = read.model.options["pack"].battery
    assert battery is not None
    assert (battery.unit_count, battery.usable_kwh, battery.nominal_kwh) == (2, 8.0, 10)
    assert (battery.cost.price_usd, battery.cost.install_usd) == (8000, 500)
    told = {
        key: read.provenance[f"options.pack.battery.{key}"] for key in ("cost.price_usd", "cost.install_usd")
    }
    assert [p.source for p in told.values()] == ["invented", None]  # a source covers its own file only
    assert [p.file for p in told.values()] == ["systems/pack.yaml", "studies/base.yaml"]


def test_from_replaces_a_record_whole(swap: Swap, study: Path) -> None:
    swap(BASE, "../systems/set.yaml", "{from: ../systems/set.yaml, cost: {price_usd: 9000}}")
    told = read_study(study).provenance["options.small_set.generator.cost.price_usd"]
    assert (told.low, told.high, told.source) == (None, None, None)


def test_from_may_take_a_key_back(spoil: Spoil) -> None:
    (problem,) = spoil((BASE, "battery: ../systems/pack.yaml", FROM + "charge_kw: null}"))
    assert (problem.line, problem.path, problem.got) == (25, "options.pack.battery.charge_kw", "nothing")


def test_a_data_file_is_absolute_in_the_model_and_hashed(swap: Swap, study: Path) -> None:
    data = study.parents[1] / "data"
    data.mkdir()
    (data / "abc.csv").write_bytes(b"abc")
    swap("houses/small.yaml", "altitude_ft: 1000", "altitude_ft: 1000\nmeter: {file: ../data/abc.csv}")
    read = read_study(study)
    assert read.model.house.meter is not None
    assert read.model.house.meter.file == str(data / "abc.csv")
    assert read.resolved["house"]["meter"]["file"] == "data/abc.csv"
    # FIPS 180-2, appendix B.1: the digest of "abc"
    digest = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert read.data_files == {"data/abc.csv": digest}
    (data / "abc.csv").write_bytes(b"abd")
    assert read_study(study).sha256 != read.sha256


@pytest.mark.parametrize(
    ("name", "rule"),
    [("../data/none.csv", "no such file"), ("../../x.csv", "leads outside"), ("../systems", "is a folder")],
)
def test_a_data_file_must_be_there_and_inside(spoil: Spoil, name: str, rule: str) -> None:
    (problem,) = spoil(
        ("houses/small.yaml", "altitude_ft: 1000", f"altitude_ft: 1000\nmeter: {{file: {name}}}")
    )
    assert problem.path == "house.meter.file"
    assert problem.rule.startswith(rule)
    assert problem.got == repr(name)


def test_a_relative_study_is_tried_here_then_near(study: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(study.parents[2])
    assert read_study("base.yaml", near=study.parent).path == study
    monkeypatch.chdir(study.parent)
    assert read_study("base.yaml").path == study
    assert read_study("base.yaml", near=study.parents[1]).path == study


def test_references_without_end_are_stopped(spoil: Spoil, study: Path) -> None:
    folder = study.parents[1] / "systems"
    keys = "".join(f"k{i}: NEXT\n" for i in range(40))
    for level in range(8):
        (folder / f"l{level}.yaml").write_text("kit_file: 1\n" + keys.replace("NEXT", f"l{level + 1}.yaml"))
    (folder / "l8.yaml").write_text("kit_file: 1\na: 1\n")
    problems = spoil((BASE, "../systems/pack.yaml", "../systems/l0.yaml"))
    assert len(problems) >= 40  # 320 references; followed one by one they would be 40 ** 8
