"""Shared by all tests: property profiles, no network, no silent skips, notebook comparison."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "ci", deadline=None, derandomize=True, max_examples=200, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile(
    "deep", deadline=None, max_examples=5_000, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))

NO_SKIP = os.environ.get("RIDETHROUGH_NO_SKIP") == "1"


def pytest_collectstart(collector: pytest.Collector) -> None:
    """Notebook outputs are compared but for drawings and the notes libraries write to stderr."""
    if getattr(collector, "path", None) is not None and collector.path.suffix == ".ipynb":
        collector.skip_compare += ("image/svg+xml", "stderr")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    """With RIDETHROUGH_NO_SKIP=1 a skipped test is a failed one: nothing is left untried unseen."""
    report = yield
    if NO_SKIP and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome, report.longrepr = "failed", f"skipped, and RIDETHROUGH_NO_SKIP=1: {report.longrepr}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector: pytest.Collector) -> Iterator[None]:
    """The same for a whole file skipped while it is collected."""
    report = yield
    if NO_SKIP and report.outcome == "skipped":
        report.outcome, report.longrepr = "failed", f"skipped, and RIDETHROUGH_NO_SKIP=1: {report.longrepr}"
    return report


def _is_here(address: object) -> bool:
    """Whether a socket address stays on this machine (loopback, or a Unix socket's path)."""
    if not isinstance(address, tuple):
        return True
    host = str(address[0])
    return host in ("localhost", "::1", "") or host.startswith("127.")


@pytest.fixture(autouse=True)
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """A test that reaches beyond this machine fails. Kernels and browsers are processes of their own."""
    real = {name: getattr(socket.socket, name) for name in ("connect", "connect_ex")}
    lookup = socket.getaddrinfo

    def guard(name: str):  # type: ignore[no-untyped-def]
        def call(self: socket.socket, address: object) -> object:
            if not _is_here(address):
                raise AssertionError(f"network use in a test: {name} to {address}")
            return real[name](self, address)

        return call

    def local_lookup(host, *args, **kwargs):  # type: ignore[no-untyped-def]
        if host is not None and not _is_here((host,)):
            raise AssertionError(f"network use in a test: look-up of {host}")
        return lookup(host, *args, **kwargs)

    for name in real:
        monkeypatch.setattr(socket.socket, name, guard(name))
    monkeypatch.setattr(socket, "getaddrinfo", local_lookup)
