"""A memo made again from the study inside its own page, with and without the data."""

from __future__ import annotations

import html
import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from kit.cli import main
from kit.report.again import FORM, FromError, carried_by, read_carried, restore
from kit.report.exporter import json_for_script
from kit.study import read_study
from kit.study.given import given, study_text
from kit.vary.ranges import ranges_of
from tests.contract.sources import ROOT

STUDIES = sorted((ROOT / "params" / "studies").glob("*.yaml"))
STUDY = ROOT / "params" / "studies" / "farm_house.yaml"
METERED = ROOT / "params" / "studies" / "metered_house.yaml"


def ridethrough(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


def page_of(values: dict[str, Any], file: Path) -> Path:
    script = f'<script type="application/json" id="study-parameters">{json_for_script(values, True)}</script>'
    file.write_text(f"<!DOCTYPE html><html><body><p>memo</p>{script}</body></html>", encoding="utf-8")
    return file


@pytest.mark.parametrize("path", STUDIES, ids=lambda p: p.stem)
def test_a_study_in_one_piece_is_the_same_study(path: Path, tmp_path: Path) -> None:
    study = read_study(path, ["money.discount_rate_frac=0.045", "seed=9"])
    (tmp_path / "study.yaml").write_text(study_text(json.loads(json.dumps(given(study)))), encoding="utf-8")
    for name in study.data_files:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(study.root / name, tmp_path / name)
    again = read_study(tmp_path / "study.yaml")
    assert again.sha256 == study.sha256
    assert again.resolved == study.resolved
    assert list(again.model.options) == list(study.model.options)
    assert again.defaults_used == study.defaults_used

    def known(of: Any) -> dict[str, Any]:
        return {p: (v.source, v.as_of, v.low, v.high) for p, v in of.provenance.items()}

    assert known(again) == known(study)
    assert ranges_of(again) == ranges_of(study)


def test_the_same_summary_again(tmp_path: Path) -> None:
    """The whole way by the command: a brief with its data, and a brief from that page alone."""
    first = ridethrough("memo", STUDY, "--brief", "--with-data", "--set", "seed=4", "--out", tmp_path / "one")
    assert first.exit_code in (0, 1), first.output
    moved = tmp_path / "elsewhere" / "mail.html"
    moved.parent.mkdir()
    shutil.move(tmp_path / "one" / "brief.html", moved)
    second = ridethrough("memo", "--from", moved, "--brief", "--out", tmp_path / "two")
    assert (second.exit_code, second.stderr) == (first.exit_code, ""), second.output
    for name in ("summary.csv", "summary.json"):
        assert (tmp_path / "two" / name).read_bytes() == (tmp_path / "one" / name).read_bytes()
    words = [re.sub(r"(?s)<script.*?</script>", "", f.read_text(encoding="utf-8")) for f in (
        moved, tmp_path / "two" / "brief.html")]  # fmt: skip
    assert words[0] == words[1]


def test_missing_data_is_named_with_its_hash_and_where_it_was_sought(tmp_path: Path) -> None:
    study = read_study(METERED)
    memo = page_of(carried_by(study), tmp_path / "memo.html")
    result = ridethrough("memo", "--from", memo, "--out", tmp_path / "again", "--root", tmp_path)
    assert result.exit_code == 2
    (line,) = result.stderr.splitlines()
    for name, digest in study.data_files.items():
        assert f"data file {name} (sha256 {digest}) is not in the memo" in line
        assert str(tmp_path / name) in line
    assert "--root DIR" in line
    assert not (tmp_path / "again").exists()


def test_data_is_found_below_the_root_by_its_content(tmp_path: Path) -> None:
    study = read_study(METERED)
    memo = page_of(carried_by(study), tmp_path / "memo.html")
    file, warning = restore(memo, tmp_path / "again", [tmp_path, study.root])
    assert warning == ""
    assert read_study(file).sha256 == study.sha256
    (name,) = list(study.data_files)[:1]
    other = tmp_path / "other"
    (other / name).parent.mkdir(parents=True)
    (other / name).write_text("another content", encoding="utf-8")
    with pytest.raises(FromError, match="which has another content"):
        restore(memo, tmp_path / "third", [other])


def test_a_study_that_this_kit_reads_otherwise_is_told(tmp_path: Path) -> None:
    values = carried_by(read_study(STUDY), with_data=True)
    values["sha256"] = "0" * 64
    _, warning = restore(page_of(values, tmp_path / "memo.html"), tmp_path / "again", [])
    assert "figures may differ" in warning


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"<html><body>a page of somebody</body></html>", "not a memo made by ridethrough: no study inside"),
        (b"\x89PNG\r\n\x1a\n\xff\xfe", "not a memo made by ridethrough: it is not a text file"),
        (b'<script id="study-parameters">{"name": "x"}</script>', "cannot be read: 'form'"),
        (b'<script id="study-parameters">{broken</script>', "cannot be read"),
        (b'<script id="study-parameters">[1]</script>', "cannot be read"),
        (b"", "no study inside"),
    ],
)
def test_a_file_that_is_not_ours_is_refused_in_one_line(content: bytes, words: str, tmp_path: Path) -> None:
    (tmp_path / "page.html").write_bytes(content)
    result = ridethrough("memo", "--from", tmp_path / "page.html", "--out", tmp_path / "again")
    assert result.exit_code == 2
    (line,) = result.stderr.splitlines()
    assert line.startswith(f"{tmp_path / 'page.html'}: ")
    assert words in line
    assert not (tmp_path / "again").exists()


@pytest.mark.parametrize("name", ["../outside.csv", "/etc/outside.csv", "a/../../b.csv", "c:\\x.csv", ""])
def test_no_data_file_leaves_the_folder(name: str, tmp_path: Path) -> None:
    values = {
        "form": FORM, "kit_version": "0", "sha256": "0", "data_files": {name: "0"}, "study": {},
    }  # fmt: skip
    with pytest.raises(FromError, match="is no name of a data file"):
        read_carried(page_of(values, tmp_path / "memo.html"))


def test_a_name_cannot_leave_the_script(tmp_path: Path) -> None:
    name = '</script><script>bad()</script> <!-- & \u2028 "q"'
    study = read_study(STUDY, [f"name={json.dumps(name)}"])
    memo = page_of(carried_by(study, with_data=True), tmp_path / "memo.html")
    assert "<script>bad" not in memo.read_text(encoding="utf-8")
    assert read_carried(memo).study["name"] == study.model.name
    file, _ = restore(memo, tmp_path / "again", [])
    assert read_study(file).sha256 == study.sha256


def test_a_folder_in_use_is_left_alone(tmp_path: Path) -> None:
    memo = page_of(carried_by(read_study(STUDY), with_data=True), tmp_path / "memo.html")
    (tmp_path / "again").mkdir()
    (tmp_path / "again" / "mine.txt").write_text("kept", encoding="utf-8")
    result = ridethrough("memo", "--from", memo, "--out", tmp_path / "again")
    assert result.exit_code == 2
    assert "is not empty" in result.stderr
    assert [p.name for p in (tmp_path / "again").iterdir()] == ["mine.txt"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((STUDY, "--as", "html,odt"), "unknown format 'odt'; there are html, pdf, docx"),
        ((), "Name one of the two"),
        ((STUDY, "--from", STUDY), "Name one of the two"),
        ((STUDY, "--root", ROOT), "--root goes with --from"),
    ],
)
def test_wrong_use_is_told(arguments: tuple[object, ...], words: str) -> None:
    result = ridethrough("memo", *arguments)
    assert result.exit_code == 2
    assert words in html.unescape(result.stderr)
