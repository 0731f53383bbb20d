"""JupyterLab really started by `ridethrough lab`, on copies, on this machine alone."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.contract.sources import ROOT

READY_S = 90.0
RUN_MS = 180_000
TOKEN = "invented"
ANSWER = ".rt-answer >> nth=0"


@contextmanager
def lab_server(folder: Path) -> Iterator[str]:
    """The address of a running JupyterLab whose working folder is `folder`; stopped afterwards."""
    port = _free_port()
    words = ["lab", "--folder", str(folder), "--no-browser", f"--port={port}", "--allow-root"]
    words += [f"--IdentityProvider.token={TOKEN}", "--ServerApp.port_retries=0"]
    command = [sys.executable, "-c", "from kit.cli import main; main()", *words]
    settings = {**os.environ, "PYTHONPATH": str(ROOT), "JUPYTER_CONFIG_DIR": str(folder / ".config")}
    log = folder.with_suffix(".log")
    with log.open("w", encoding="utf-8") as told:
        process = subprocess.Popen(
            command, env=settings, stdout=told, stderr=told, cwd=folder.parent, start_new_session=True
        )
    try:
        _wait(f"http://127.0.0.1:{port}/api/status?token={TOKEN}", process, log)
        yield f"http://127.0.0.1:{port}/lab/tree/notebooks/explore.ipynb?token={TOKEN}"
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(10)


def run_all(page: Any, address: str) -> None:
    """Open the notebook at `address`, run all its cells as a hand would, wait for the whole answer."""
    page.goto(address)
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=RUN_MS)
    page.wait_for_selector("text=Python 3 (ipykernel) | Idle", timeout=RUN_MS)
    page.wait_for_timeout(2000)  # run before the notebook knows its kernel, it would ask for one
    page.click("li.lm-MenuBar-item:has-text('Run')")
    page.click("li.lm-Menu-item:has-text('Run All Cells') >> nth=0")
    page.wait_for_selector(ANSWER, timeout=RUN_MS)
    page.wait_for_selector(".rt-whole table", timeout=RUN_MS)


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def _wait(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    ends = time.monotonic() + READY_S
    while time.monotonic() < ends:
        assert process.poll() is None, log.read_text(encoding="utf-8")
        try:
            urllib.request.urlopen(address, timeout=2).close()
            return
        except OSError:
            time.sleep(0.3)
    raise AssertionError(f"JupyterLab did not answer: {log.read_text(encoding='utf-8')}")
