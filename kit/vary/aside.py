"""Work that goes on in a process of its own while a notebook shows what it has.

Where this process may be forked (Linux, no other thread) the work begins at once beside it; elsewhere,
as in a Jupyter kernel with its threads, it is done when its result is asked for. Both give the same.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
import threading
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Generic, TypeVar

T = TypeVar("T")

_in_place = False


class Aside(Generic[T]):
    """A piece of work begun; `result` waits for it. What it gives must be picklable."""

    def __init__(self, work: Callable[[], T]) -> None:
        self._work = work
        self._pid, self._line = _forked(work) if can_fork() else (0, -1)

    def result(self) -> T:
        """What the work gave; asked for once. What it raised is raised here, from its own words."""
        if not self._pid:
            return self._work()
        with os.fdopen(self._line, "rb") as line:
            told = line.read()
        _, status = os.waitpid(self._pid, 0)
        self._pid = 0
        if status != 0 or not told:
            return self._work()  # its process was ended from outside: do it here
        given, failed, where = pickle.loads(told)
        if failed is not None:
            raise failed from RuntimeError(where)
        result: T = given
        return result

    def __del__(self) -> None:
        if getattr(self, "_pid", 0):  # nobody asked: end it
            os.kill(self._pid, signal.SIGKILL)
            os.close(self._line)
            os.waitpid(self._pid, 0)


def can_fork() -> bool:
    """Whether a fork of this process is safe: Linux, and no thread whose locks would stay shut."""
    return not _in_place and sys.platform == "linux" and threading.active_count() == 1


@contextmanager
def in_place() -> Iterator[None]:
    """While it lasts, work is done in this process: what it loads and keeps stays here, for forks to find."""
    global _in_place
    before, _in_place = _in_place, True
    try:
        yield
    finally:
        _in_place = before


def _forked(work: Callable[[], object]) -> tuple[int, int]:
    """Begin the work in a fork; its pid, and the line on which it will tell."""
    reads, writes = os.pipe()
    pid = os.fork()
    if pid:
        os.close(writes)
        return pid, reads
    status = 1
    try:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        os.close(reads)
        with os.fdopen(writes, "wb") as line:
            line.write(_told(work))
        status = 0
    finally:
        os._exit(status)  # nothing of the parent's is flushed or tidied twice


def _told(work: Callable[[], object]) -> bytes:
    try:
        return pickle.dumps((work(), None, ""))
    except Exception as error:  # told to the parent, which raises it
        where = traceback.format_exc()
        try:
            return pickle.dumps((None, error, where))
        except Exception:  # an error that cannot travel
            return pickle.dumps((None, RuntimeError(str(error)), where))
