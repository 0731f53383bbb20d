"""Writing is whole or not at all."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from kit.save import SaveError, ensure_folder, open_folder, write_bytes, write_text

_LIMITED = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
from kit.save import SaveError, write_text
try:
    write_text(sys.argv[1], "x" * 100_000)
except SaveError as error:
    print(error)
    sys.exit(3)
"""

_KILLED = """
import os, signal, sys
import kit.save
os.fsync = lambda descriptor: os.kill(os.getpid(), signal.SIGKILL)
kit.save.write_text(sys.argv[1], "x" * 100_000)
"""

_READ_ONLY = """
import os, sys
from kit.save import SaveError, open_folder
if os.geteuid() == 0:
    os.setuid(65534)  # nobody: for root there is no read-only folder
try:
    open_folder(sys.argv[1])
except SaveError as error:
    print(error)
    sys.exit(3)
"""


def _run(code: str, target: Path) -> subprocess.CompletedProcess[str]:
    here = Path(__file__).parents[2]
    environment = {**os.environ, "PYTHONPATH": str(here)}
    return subprocess.run(
        [sys.executable, "-c", code, str(target)],
        cwd=target.parent,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_text_is_written_as_given(tmp_path: Path) -> None:
    target = tmp_path / "deep" / "er" / "memo.md"
    assert write_text(target, "a\r\nb\n°C") == target
    assert target.read_bytes() == b"a\r\nb\n\xc2\xb0C"
    assert [p.name for p in target.parent.iterdir()] == ["memo.md"]


def test_an_old_file_is_replaced_and_keeps_its_permissions(tmp_path: Path) -> None:
    target = tmp_path / "table.csv"
    target.write_bytes(b"old")
    target.chmod(0o640)
    write_bytes(target, b"new")
    assert target.read_bytes() == b"new"
    assert target.stat().st_mode & 0o777 == 0o640


def test_a_full_disk_leaves_no_file(tmp_path: Path) -> None:
    done = _run(_LIMITED, tmp_path / "memo.html")
    assert done.returncode == 3, done.stderr
    assert "memo.html: cannot be written" in done.stdout
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_leaves_the_old_file_whole(tmp_path: Path) -> None:
    target = tmp_path / "memo.html"
    target.write_text("old memo")
    assert _run(_LIMITED, target).returncode == 3
    assert target.read_text() == "old memo"
    assert [p.name for p in tmp_path.iterdir()] == ["memo.html"]


def test_a_killed_process_leaves_the_old_file_whole(tmp_path: Path) -> None:
    target = tmp_path / "memo.html"
    target.write_text("old memo")
    assert _run(_KILLED, target).returncode == -9
    assert target.read_text() == "old memo"


def test_a_file_where_a_folder_should_be(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("in the way")
    with pytest.raises(SaveError, match="cannot be used as a folder"):
        write_text(tmp_path / "out" / "memo.md", "text")
    with pytest.raises(SaveError, match="cannot be used as a folder"):
        ensure_folder(tmp_path / "out")
    assert (tmp_path / "out").read_text() == "in the way"


def test_a_folder_that_may_only_be_read_is_told_before_the_work() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o555)
        done = _run(_READ_ONLY, folder)
        assert done.returncode == 3, done.stderr
        assert done.stdout == (
            f"{folder}: no file can be written into this folder: Permission denied; name another folder\n"
        )


def test_a_folder_that_can_be_used_is_left_as_it_was(tmp_path: Path) -> None:
    folder = open_folder(tmp_path / "deep" / "er", ("memo.html",))
    assert folder == tmp_path / "deep" / "er"
    assert list(folder.iterdir()) == []
    (folder / "memo.html").write_text("old")
    assert open_folder(folder, ("memo.html",)) == folder
    assert [p.name for p in folder.iterdir()] == ["memo.html"]
    (folder / "page.html").mkdir()
    with pytest.raises(SaveError, match=r"er/page\.html: a folder has the name of a file to be written"):
        open_folder(folder, ("memo.html", "page.html"))


def test_a_folder_where_the_file_should_be(tmp_path: Path) -> None:
    (tmp_path / "memo.md").mkdir()
    with pytest.raises(SaveError, match="cannot be written"):
        write_text(tmp_path / "memo.md", "text")
    assert [p.name for p in tmp_path.iterdir()] == ["memo.md"]
