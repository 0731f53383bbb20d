"""The guards of the test run itself: no network, and no skip unseen."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from tests.contract.sources import ROOT

SKIPS = """
import pytest

def test_passes():
    assert True

def test_skips():
    pytest.skip("no such tool")

@pytest.mark.xfail(reason="known")
def test_known():
    assert False
"""


def test_the_network_is_out_of_reach() -> None:
    with socket.socket() as plug, pytest.raises(AssertionError, match="network use in a test: connect"):
        plug.connect(("192.0.2.1", 9))  # a documentation address, RFC 5737
    with pytest.raises(AssertionError, match=r"look-up of name\.invalid"):
        socket.getaddrinfo("name.invalid", 443)


def test_this_machine_is_in_reach() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        socket.create_connection(server.getsockname(), timeout=5).close()


@pytest.mark.parametrize(("setting", "result"), [("0", "1 skipped"), ("1", "1 failed")])
@pytest.mark.parametrize("whole_file", [False, True])
def test_a_skip_fails_where_none_is_allowed(
    setting: str, result: str, whole_file: bool, tmp_path: Path
) -> None:
    file = tmp_path / "test_some.py"
    file.write_text("import pytest\npytest.importorskip('no_such_library')\n" if whole_file else SKIPS)
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-c", os.devnull, "-p", "tests.conftest", str(file)],
        cwd=tmp_path,
        env=os.environ
        | {"RIDETHROUGH_NO_SKIP": setting, "PYTHONPATH": str(ROOT), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    last = run.stdout.splitlines()[-1]
    assert (result.replace("failed", "error") if whole_file else result) in last, run.stdout
    if not whole_file:
        assert "1 passed" in last
        assert "1 xfailed" in last
