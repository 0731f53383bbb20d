"""Cases on several processes, in their order, whatever happens to one of them.

Processes are started fresh (not forked: the stages and their libraries run threads, and a forked
thread's lock never opens). Each reads the study once and keeps physics of its own.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
import time
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import TYPE_CHECKING

from kit.study import Study
from kit.vary.kept import Kept

if TYPE_CHECKING:
    from kit.vary.cases import Case, Done, Work

AHEAD = 2  # cases handed out per process, so that none waits and few are in doubt when one dies
ENDED = "its process ended before it was done (out of memory, or killed)"

_mine: tuple[Study, Work, Kept] | None = None


def in_processes(study: Study, cases: Sequence[Case], work: Work, workers: int) -> Iterator[Done]:
    """What came of each case, in order. A case that ends its process is one that failed."""
    left = deque(cases)
    while left:
        try:
            yield from _batch(study, left, len(left), work, workers, AHEAD * workers)
        except BrokenProcessPool:
            yield from _one_by_one(study, left, min(len(left), AHEAD * workers), work)


def _one_by_one(study: Study, left: deque[Case], count: int, work: Work) -> Iterator[Done]:
    """The next `count` cases, one of which ended its process: the one that does it again is told apart."""
    from kit.vary.cases import Done

    until = len(left) - count
    while len(left) > until:
        try:
            yield from _batch(study, left, len(left) - until, work, 1, 1)
        except BrokenProcessPool:
            yield Done(left.popleft(), (), ENDED)


def _batch(
    study: Study, left: deque[Case], count: int, work: Work, workers: int, ahead: int
) -> Iterator[Done]:
    """Take `count` cases from `left` as they are done; one still in `left` was not told of."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, context, _begin, (study, work, os.getpid())) as pool:
        given: deque[Future[Done]] = deque()
        try:
            for case in list(left)[:count]:
                given.append(pool.submit(_run, case))
                if len(given) >= ahead:
                    yield _next(given, left)
            while given:
                yield _next(given, left)
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


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
