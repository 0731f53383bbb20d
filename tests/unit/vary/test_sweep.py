"""Sweeps: kept results, killed runs, failures, the page and the command."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

from kit.cli import main
from kit.report.sweep_page import cheapest, write_sweep_page
from kit.study import StudyError
from kit.vary.sweep import CASES, TABLE, case_key, open_sweep, run_sweep
from tests.contract.sources import ROOT
from tests.unit.stages.small_study import study_text
from tests.unit.vary.case_work import asked_hours, fails_on_nine


@pytest.fixture
def sweep_file(tmp_path: Path) -> Path:
    study = tmp_path / "params" / "small.yaml"
    study.parent.mkdir()
    study.write_text(study_text(("portable", "battery")))
    file = tmp_path / "params" / "sweep.yaml"
    file.write_text(
        f"kit_file: 1\nstudy: {study.name}\nvary:\n"
        "  asked.keep_on_h: [8, 9, 24]\n  asked.chance_frac: {half: 0.5, most: 0.9}\n"
    )
    return file


def test_what_is_done_is_not_done_again(sweep_file: Path, tmp_path: Path) -> None:
    sweep = open_sweep(sweep_file)
    first = run_sweep(sweep, tmp_path / "out", workers=1, work=asked_hours)
    assert (first.taken_count, first.computed_count) == (0, 6)
    (tmp_path / "out" / CASES / "keep_on_h-24__half.json").unlink()
    (tmp_path / "out" / CASES / "keep_on_h-8__most.json").write_text('{"key": "half a fi')
    again = run_sweep(sweep, tmp_path / "out", workers=1, work=asked_hours)
    assert (again.taken_count, again.computed_count) == (4, 2)
    pd.testing.assert_frame_equal(first.table, again.table)
    assert list(again.table["case"].unique()) == [case.slug for case in sweep.cases]
    assert (tmp_path / "out" / TABLE).read_text().count("\n") == 1 + 2 * 6


def test_a_changed_input_is_computed_again(sweep_file: Path, tmp_path: Path) -> None:
    sweep = open_sweep(sweep_file)
    run_sweep(sweep, tmp_path / "out", workers=1, work=asked_hours)
    study = sweep_file.parent / "small.yaml"
    study.write_text(study.read_text().replace("discount_rate_frac: 0.03", "discount_rate_frac: 0.04"))
    changed = open_sweep(sweep_file)
    assert case_key(changed.study, changed.cases[0]) != case_key(sweep.study, sweep.cases[0])
    assert run_sweep(changed, tmp_path / "out", workers=1, work=asked_hours).computed_count == 6


def test_a_file_that_says_the_same_is_no_change(sweep_file: Path, tmp_path: Path) -> None:
    """A comment in the study's folder changes the quick key only: every case is looked at and kept."""
    run_sweep(open_sweep(sweep_file), tmp_path / "out", workers=1, work=asked_hours)
    study = sweep_file.parent / "small.yaml"
    study.write_text(study.read_text() + "# nothing new\n")
    again = run_sweep(open_sweep(sweep_file), tmp_path / "out", workers=1, work=asked_hours)
    assert (again.taken_count, again.computed_count) == (6, 0)


def test_a_failed_case_is_a_row_and_is_tried_again(sweep_file: Path, tmp_path: Path) -> None:
    sweep = open_sweep(sweep_file)
    for _ in range(2):
        swept = run_sweep(sweep, tmp_path / "out", workers=1, work=fails_on_nine)
        assert set(swept.failed) == {"keep_on_h-9__half", "keep_on_h-9__most"}
        assert swept.table["failed"].notna().sum() == 2
    assert swept.taken_count == 4


def test_a_path_that_leads_nowhere_is_told_before_anything_runs(sweep_file: Path) -> None:
    sweep_file.write_text(sweep_file.read_text().replace("keep_on_h", "kep_on_h"))
    with pytest.raises(StudyError, match="keep_on_h"):
        open_sweep(sweep_file)


def test_a_bad_value_is_a_failed_case_with_its_reason(sweep_file: Path, tmp_path: Path) -> None:
    sweep_file.write_text(sweep_file.read_text().replace("most: 0.9", "most: 9"))
    swept = run_sweep(open_sweep(sweep_file), tmp_path / "out", workers=1, work=asked_hours)
    assert set(swept.failed) == {f"keep_on_h-{h}__most" for h in (8, 9, 24)}
    assert "chance_frac" in swept.failed["keep_on_h-8__most"]


def test_killed_and_started_again_each_row_comes_once(sweep_file: Path, tmp_path: Path) -> None:
    """kill -9 as soon as a case is saved, twice; the third run finishes what is missing."""
    out = tmp_path / "out"
    code = (
        "import sys; from kit.vary.sweep import open_sweep, run_sweep; "
        "run_sweep(open_sweep(sys.argv[1]), sys.argv[2], workers=1)"
    )
    saved = 0
    for _ in range(2):
        run = subprocess.Popen(
            [sys.executable, "-c", code, str(sweep_file), str(out)], cwd=ROOT, stderr=subprocess.DEVNULL
        )
        until = time.monotonic() + 120
        while len(list((out / CASES).glob("*.json"))) <= saved and time.monotonic() < until:
            assert run.poll() is None
            time.sleep(0.02)
        os.kill(run.pid, signal.SIGKILL)
        run.wait()
        saved = len(list((out / CASES).glob("*.json")))
    assert 2 <= saved < 6
    swept = run_sweep(open_sweep(sweep_file), out, workers=1)
    assert swept.taken_count == saved
    assert swept.failed == {}
    assert not swept.table.duplicated(["case", "option"]).any()
    options = swept.table["option"].nunique()
    assert len(swept.table) == 6 * options
    assert swept.table["lifetime_cost_usd"].notna().all()


def test_stopped_by_hand_it_says_so_in_one_line_and_goes_on(sweep_file: Path, tmp_path: Path) -> None:
    """Ctrl-C reaches the whole group of a terminal: neither the run nor its workers print a traceback."""
    out = tmp_path / "out"
    line = [
        sys.executable,
        "-c",
        "from kit.cli import main; main()",
        "sweep",
        str(sweep_file),
        "--out",
        str(out),
    ]
    run = subprocess.Popen(
        line,
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    until = time.monotonic() + 120
    while not list((out / CASES).glob("*.json")) and time.monotonic() < until:
        assert run.poll() is None
        time.sleep(0.02)
    os.killpg(run.pid, signal.SIGINT)
    said, errors = run.communicate(timeout=60)
    assert run.returncode == 130
    assert said == ""
    assert errors == "stopped by hand; a sweep keeps what it has finished and goes on from there\n"
    swept = run_sweep(open_sweep(sweep_file), out, workers=1)
    assert swept.taken_count >= 1
    assert swept.failed == {}


def test_a_killed_run_leaves_no_worker(sweep_file: Path, tmp_path: Path) -> None:
    """The processes of a run that is killed end by themselves."""
    code = (
        "import sys\n"
        "from kit.vary.sweep import open_sweep, run_sweep\n"
        "if __name__ == '__main__':\n"
        "    run_sweep(open_sweep(sys.argv[1]), sys.argv[2], workers=2)\n"
    )
    script = tmp_path / "run.py"
    script.write_text(code)
    run = subprocess.Popen(
        [sys.executable, str(script), str(sweep_file), str(tmp_path / "out")],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stderr=subprocess.DEVNULL,
    )

    def running() -> dict[int, int]:
        """Workers that run and their parents: from /proc, since `ps` cuts its lines where it likes."""
        found = {}
        for folder in Path("/proc").glob("[0-9]*"):
            try:
                state, parent = (folder / "stat").read_text().rpartition(")")[2].split()[:2]
                if state != "Z" and b"spawn_main" in (folder / "cmdline").read_bytes():
                    found[int(folder.name)] = int(parent)
            except OSError:
                pass  # it ended meanwhile
        return found

    def children() -> set[int]:
        return {worker for worker, parent in running().items() if parent == run.pid}

    until = time.monotonic() + 120
    while len(found := children()) < 2 and time.monotonic() < until:
        time.sleep(0.05)
    time.sleep(3.0)  # let them begin
    os.kill(run.pid, signal.SIGKILL)
    run.wait()
    until = time.monotonic() + 30
    while found & running().keys() and time.monotonic() < until:
        time.sleep(0.1)
    assert len(found) == 2
    assert found & running().keys() == set()


def test_cheapest_is_among_those_that_meet_the_target() -> None:
    rows = pd.DataFrame(
        {
            "option": ["do_nothing", "a", "b"],
            "meets_target": [False, True, True],
            "lifetime_cost_usd": [1.0, 3.0, 2.0],
        }
    )
    assert cheapest(rows) == "b"
    assert cheapest(rows.iloc[:1]) is None


def test_the_command_writes_table_and_page(sweep_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = CliRunner().invoke(main, ["sweep", str(sweep_file), "--out", str(out), "--workers", "1"])
    assert done.exit_code == 0, done.output
    assert "6 cases: 0 kept from before, 6 computed, 0 failed" in done.output
    page = (out / "index.html").read_text()
    assert "keep_on_h-24__most" in page
    assert "<script" not in page
    table = pd.read_csv(out / TABLE)
    assert set(table["asked.chance_frac"]) == {"half", "most"}
    again = CliRunner().invoke(main, ["sweep", str(sweep_file), "--out", str(out), "--workers", "1"])
    assert "6 kept from before, 0 computed" in again.output


def test_the_page_escapes_what_a_study_says(sweep_file: Path, tmp_path: Path) -> None:
    study = sweep_file.parent / "small.yaml"
    study.write_text(study.read_text().replace("name: Small house", "name: '<script>alert(1)</script>'"))
    swept = run_sweep(open_sweep(sweep_file), tmp_path / "out", workers=1)
    text = write_sweep_page(swept, tmp_path / "out").read_text()
    assert "<script>" not in text
    assert "&lt;script&gt;" in text


def test_a_saved_case_says_what_it_set(sweep_file: Path, tmp_path: Path) -> None:
    run_sweep(open_sweep(sweep_file), tmp_path / "out", workers=1, work=asked_hours)
    data = json.loads((tmp_path / "out" / CASES / "keep_on_h-8__half.json").read_text())
    assert data["settings"] == ["asked.keep_on_h=8", "asked.chance_frac=0.5"]


def test_bad_usage_leaves_with_two(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["sweep", str(tmp_path / "none.yaml")])
    assert done.exit_code == 2
    assert "no such file" in done.output
