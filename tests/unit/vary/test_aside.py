"""Work in a process of its own: the same result, its errors, its end, and a machine that cannot fork."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time

import pytest

from kit.vary import aside
from kit.vary.aside import Aside


@pytest.fixture
def forks(monkeypatch):
    """A fork is taken whatever threads other tests left here: none of them holds what these need."""
    if sys.platform != "linux":
        pytest.skip("a fork is taken on Linux only")
    monkeypatch.setattr(aside, "can_fork", lambda: True)


@pytest.mark.usefixtures("forks")
def test_the_work_is_done_elsewhere_and_comes_back():
    begun = Aside(lambda: (os.getpid(), "x" * 300_000))  # more than a pipe holds
    pid, text = begun.result()
    assert pid != os.getpid()
    assert text == "x" * 300_000


@pytest.mark.usefixtures("forks")
def test_it_goes_on_while_this_process_does_other_things():
    begun = Aside(lambda: time.time())
    time.sleep(0.3)
    asked = time.time()
    assert begun.result() < asked


def test_what_the_work_raised_is_raised_here_with_its_place():
    def work() -> None:
        raise ValueError("no such number")

    with pytest.raises(ValueError, match="no such number"):
        Aside(work).result()


@pytest.mark.usefixtures("forks")
def test_a_result_that_cannot_travel_is_an_error_and_no_silence():
    with pytest.raises(Exception, match=r"pickle|lambda|local"):
        Aside(lambda: lambda: 1).result()


@pytest.mark.usefixtures("forks")
def test_a_process_ended_from_outside_is_made_up_for_here():
    here = os.getpid()

    def work() -> int:
        if os.getpid() != here:
            os.kill(os.getpid(), signal.SIGKILL)
        return os.getpid()

    assert Aside(work).result() == here


@pytest.mark.usefixtures("forks")
def test_nobody_asks_and_the_process_is_gone():
    begun = Aside(lambda: time.sleep(600))
    pid = begun._pid
    del begun
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_with_threads_it_is_done_here_when_asked(monkeypatch):
    hold = threading.Event()
    other = threading.Thread(target=hold.wait)
    other.start()
    try:
        assert not aside.can_fork()
        assert Aside(os.getpid).result() == os.getpid()
    finally:
        hold.set()
        other.join()


@pytest.mark.skipif(sys.platform != "linux", reason="a fork is taken on Linux only")
def test_in_place_no_fork_is_taken_and_what_it_loads_stays():
    with aside.in_place():
        assert Aside(os.getpid).result() == os.getpid()
        assert not aside.can_fork()
