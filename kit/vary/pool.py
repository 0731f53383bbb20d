"""Cases on several processes, in their order, whatever happens to one of them.

Processes are started fresh (not forked: the stages and their libraries run threads, and a forked
thread's lock never opens). Each reads the study once and keeps physics of its own.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import TYPE_CHECKING

from kit.study import Study
from kit.vary.kept import Kept

if TYPE_CHECKING:
    from kit.vary.cases import Case, Done, Work

AHEAD = 2  # cases handed out per process, so that none waits and few are in doubt when one dies
ENDED = "its process ended before it was done (out of memory, or killed)"

_mine: tuple[Study, Work, Kept] | None = None


def in_processes(study: Study, cases: Iterable[Case], work: Work, workers: int) -> Iterator[Done]:
    """What came of each case, in order. A case that ends its process is one that failed.

    Cases are taken from `cases` only as they are handed out, a few ahead of what is told.
    """
    source = iter(cases)
    left: deque[Case] = deque()  # handed out, not told of
    while True:
        try:
            yield from _batch(study, left, source, work, workers)
        except BrokenProcessPool:
            yield from _one_by_one(study, left, work)
        else:
            return


def _batch(
    study: Study, left: deque[Case], source: Iterator[Case], work: Work, workers: int
) -> Iterator[Done]:
    """Hand out what is left, then what comes; each leaves `left` when it is told."""
    with _pool(study, work, workers) as pool:
        try:
            given = deque(pool.submit(_run, case) for case in left)
            for case in source:
                left.append(case)
                given.append(pool.submit(_run, case))
                if len(given) >= AHEAD * workers:
                    yield _next(given, left)
            while given:
                yield _next(given, left)
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _one_by_one(study: Study, left: deque[Case], work: Work) -> Iterator[Done]:
    """The cases among which one ended its process: the one that does it again is told apart."""
    from kit.vary.cases import Done

    while left:
        try:
            with _pool(study, work, 1) as pool:
                while left:
                    yield _next(deque([pool.submit(_run, left[0])]), left)
        except BrokenProcessPool:
            yield Done(left.popleft(), (), ENDED)


def _pool(study: Study, work: Work, workers: int) -> ProcessPoolExecutor:
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(workers, context, _begin, (study, work, os.getpid()))
    with _deaf_to_the_keyboard():
        for _ in range(workers):
            pool.submit(os.getpid)  # each starts a process
    return pool


@contextmanager
def _deaf_to_the_keyboard() -> Iterator[None]:
    """Processes started while it lasts never hear Ctrl-C; this one hears it afterwards and ends them."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _next(given: deque[Future[Done]], left: deque[Case]) -> Done:
    done = given.popleft().result()
    left.popleft()
    return done


def _begin(study: Study, work: Work, parent: int) -> None:
    global _mine
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    _mine = (study, work, Kept())


def _end_with(parent: int) -> None:
    """End this process once its parent is gone: a killed run leaves no worker behind."""
    while os.getppid() == parent:
        time.sleep(1.0)
    os._exit(1)


def _run(case: Case) -> Done:
    from kit.vary.cases import one_case

    assert _mine is not None
    study, work, kept = _mine
    return one_case(study, case, work, kept)
