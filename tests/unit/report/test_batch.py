"""Many memos: the bytes of single ones, done work left alone, failures kept, told, and no reason to stop."""

from __future__ import annotations

import json
import os
import sys
import threading
from pathlib import Path

import pytest
from click.testing import CliRunner

from kit.cli import main
from kit.report import batch
from kit.report.batch import ENDED, MARK, Job, Written, can_fork, memos_as_done, write_memos
from kit.report.run import MemoError, MemoFiles, write_memo
from kit.report.sweep_page import sweep_memos
from kit.vary.sweep import open_sweep
from tests.unit.stages.small_study import study_text

NAMES = ("decision_memo.ipynb", "decision_memo.html", "summary.csv", "summary.json")
linux = pytest.mark.skipif(sys.platform != "linux", reason="forks are for Linux")


@pytest.fixture
def study(tmp_path: Path) -> Path:
    path = tmp_path / "params" / "small.yaml"
    path.parent.mkdir()
    path.write_text(study_text(("portable", "battery")))
    return path


def jobs_of(study: Path, folder: Path, hours: tuple[int, ...] = (8, 12, 24)) -> list[Job]:
    return [Job(study, folder / f"h{h}", (f"asked.keep_on_h={h}",)) for h in hours]


def told_write(study: Path, folder: Path, set_values: tuple[str, ...], **_: object) -> MemoFiles:
    """In the place of write_memo: writes the process that made it, stops or ends at certain hours."""
    if "keep_on_h=12" in set_values[0]:
        raise MemoError("decision_memo.ipynb stopped at `verdict(comparison)`")
    if "keep_on_h=13" in set_values[0]:
        os._exit(9)
    folder.mkdir(parents=True, exist_ok=True)
    for name in NAMES:
        (folder / name).write_text(str(os.getpid()))
    return Job(study, folder).files()


def test_the_files_are_those_of_single_memos(study: Path, tmp_path: Path) -> None:
    """Made here, in two forks, and in a plain process: the same bytes."""
    jobs = jobs_of(study, tmp_path / "many")
    made = write_memos(jobs)
    assert [one.job for one in made] == jobs
    assert all(one.files is not None and not one.failed and not one.taken for one in made)
    for job in jobs:
        write_memo(study, tmp_path / "single" / job.folder.name, job.set_values)
        for name in NAMES:
            assert (job.folder / name).read_bytes() == (
                tmp_path / "single" / job.folder.name / name
            ).read_bytes(), name
    hours = [
        json.loads((job.folder / "summary.json").read_text())["study"]["asked"]["keep_on_h"] for job in jobs
    ]
    assert hours == [8, 12, 24]
    before = {path: path.stat().st_mtime_ns for path in (tmp_path / "many").rglob("*.*")}
    again = write_memos(jobs)
    assert all(one.taken for one in again)
    assert [one.files for one in again] == [one.files for one in made]
    assert before == {path: path.stat().st_mtime_ns for path in (tmp_path / "many").rglob("*.*")}


def test_plain_processes_where_a_fork_is_not_to_be_had(
    study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "can_fork", lambda: False)
    jobs = jobs_of(study, tmp_path / "many", (8, 24))
    (tmp_path / "stops.ipynb").write_text(stopping_notebook())
    jobs.append(Job(study, tmp_path / "many" / "stops", own_notebook=tmp_path / "stops.ipynb"))
    *made, stopped = write_memos(jobs, workers=1)
    assert all(one.files is not None for one in made)
    assert "stops.ipynb stopped at `1 / 0`: ZeroDivisionError" in stopped.failed
    write_memo(study, tmp_path / "single", jobs[1].set_values)
    for name in NAMES:
        assert (jobs[1].folder / name).read_bytes() == (tmp_path / "single" / name).read_bytes(), name


def stopping_notebook() -> str:
    def cell(source: str, *tags: str) -> dict[str, object]:
        return {
            "cell_type": "code",
            "execution_count": None,
            "id": f"c{len(source)}",
            "metadata": {"tags": list(tags)},
            "outputs": [],
            "source": source,
        }

    cells = [cell("study = ''\nset_values = []", "parameters"), cell("1 / 0")]
    kernel = {"kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}}
    return json.dumps({"cells": cells, "metadata": kernel, "nbformat": 4, "nbformat_minor": 5})


def test_a_notebook_that_stops_is_kept_and_made_again(study: Path, tmp_path: Path) -> None:
    source = tmp_path / "decision_memo.ipynb"
    source.write_text(stopping_notebook())
    job = Job(study, tmp_path / "out", own_notebook=source)
    (stopped,) = write_memos([job])
    assert stopped.files is None
    kept = tmp_path / "out" / "decision_memo.failed.ipynb"
    assert "ZeroDivisionError" in kept.read_text()
    assert not (tmp_path / "out" / MARK).exists()
    (whole,) = write_memos([Job(study, tmp_path / "out")])
    assert whole.files is not None
    assert not kept.exists()


@linux
def test_the_others_go_on(study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch, "write_memo", told_write)
    jobs = jobs_of(study, tmp_path / "many", (8, 12, 13, 24, 36))
    monkeypatch.setattr(batch, "can_fork", lambda: True)  # threads of other tests may still be about
    made = write_memos(jobs)
    assert [one.failed for one in made] == [
        "",
        "decision_memo.ipynb stopped at `verdict(comparison)`",
        ENDED,
        "",
        "",
    ]
    makers = {(job.folder / NAMES[0]).read_text() for job in (jobs[0], jobs[3], jobs[4])}
    assert len(makers) == 3  # this process and a fork each
    assert str(os.getpid()) in makers
    again = write_memos(jobs)
    assert [one.taken for one in again] == [True, False, False, True, True]


@linux
@pytest.mark.parametrize("missing", NAMES)
def test_a_memo_that_lost_a_file_is_made_again(
    missing: str, study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "write_memo", told_write)
    (job,) = jobs_of(study, tmp_path, (8,))
    write_memos([job])
    (job.folder / missing).unlink()
    assert [one.taken for one in write_memos([job])] == [False]
    assert [one.taken for one in write_memos([job])] == [True]


@linux
def test_the_key_knows_what_a_memo_comes_from(
    study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "write_memo", told_write)
    job = Job(study, tmp_path / "out", ("asked.keep_on_h=8",))
    write_memos([job])
    other = Job(study, tmp_path / "out", ("asked.keep_on_h=9",))
    assert [one.taken for one in write_memos([other])] == [False]
    assert [one.taken for one in write_memos([job])] == [False]
    study.write_text(study.read_text().replace("stay_years: ", "stay_years: 1"))
    assert [one.taken for one in write_memos([job])] == [False]
    monkeypatch.setattr(batch, "kit_sha256", lambda: "another kit")
    assert [one.taken for one in write_memos([job])] == [False]


@linux
def test_a_memo_made_anew_has_no_mark_until_it_is_whole(
    study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "write_memo", told_write)
    folder = tmp_path / "out"
    write_memos([Job(study, folder, ("asked.keep_on_h=8",))])
    (stopped,) = write_memos([Job(study, folder, ("asked.keep_on_h=12",))])
    assert stopped.failed
    assert not (folder / MARK).exists()


def test_two_memos_cannot_go_to_one_folder(study: Path, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="two memos cannot go to one folder"):
        write_memos([Job(study, tmp_path), Job(study, tmp_path)])


@linux
def test_a_study_with_problems_is_one_that_failed(
    study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "write_memo", told_write)
    wrong = Job(study, tmp_path / "wrong", ("asked.keep_on_hours=8",))
    told: list[Written] = list(memos_as_done([wrong, *jobs_of(study, tmp_path, (8,))]))
    assert told[0].files is None
    assert "keep_on_hours" in told[0].failed
    assert told[1].files is not None


def test_no_fork_beside_a_thread() -> None:
    stop = threading.Event()
    thread = threading.Thread(target=stop.wait)
    thread.start()
    try:
        assert not can_fork()
    finally:
        stop.set()
        thread.join()


@linux
def test_the_memos_of_a_sweep(study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The command links the memos that are there, tells of the one that is not, and goes on from there."""
    monkeypatch.setattr(batch, "write_memo", told_write)
    monkeypatch.setattr(batch, "can_fork", lambda: True)
    file = study.with_name("sweep.yaml")
    file.write_text(f"kit_file: 1\nstudy: {study.name}\nvary:\n  asked.keep_on_h: [8, 12, 24]\n")
    command = ["sweep", str(file), "--out", str(tmp_path / "out"), "--memos", "--workers", "2"]
    run = CliRunner().invoke(main, command)
    assert run.exit_code == 1, run.output
    assert run.stderr == "keep_on_h-12: decision_memo.ipynb stopped at `verdict(comparison)`\n"
    page = (tmp_path / "out" / "index.html").read_text()
    assert 'href="memos/keep_on_h-8/decision_memo.html"' in page
    assert 'href="memos/keep_on_h-24/decision_memo.html"' in page
    assert "memos/keep_on_h-12" not in page
    opened = open_sweep(file)
    again = sweep_memos(opened, tmp_path / "out", {"keep_on_h-12": "left out"})
    assert list(again.pages) == ["keep_on_h-8", "keep_on_h-24"]
    assert again.failed == {}
