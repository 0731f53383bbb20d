"""Many memos at once: what is done is left alone, what fails is kept and told, the rest goes on.

On Linux the first memo is made in this process, which loads and compiles all that a memo needs; each of the
others runs in a fork of it, so that no notebook sees another and none pays for the start. A fork must not
happen beside other threads (their locks never open in the child) and is not safe with the system libraries
of other platforms: there, and inside Jupyter, plain processes serve one memo after another.
"""

from __future__ import annotations

import gc
import hashlib
import multiprocessing
import signal
import sys
import threading
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import nullcontext, suppress
from dataclasses import dataclass, field, replace
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from tqdm import TMonitor, tqdm  # type: ignore[import-untyped]

from kit.recall import recalling
from kit.report.engine import can_run_here
from kit.report.paper import check_extra
from kit.report.run import BRIEF, NOTEBOOK, MemoError, MemoFiles, write_memo
from kit.save import SaveError, write_text
from kit.shipped import shipped
from kit.study import StudyError, read_study
from kit.vary.aside import in_place
from kit.vary.sweep import kit_sha256

MARK = "key.txt"
WORKERS = 2
ENDED = "its process ended before it was done (out of memory, or killed)"


@dataclass(frozen=True)
class Job:
    """One memo to write: a study with settings on top, and the folder it goes to.

    sha256: of the study with its settings and data, where the caller has it; else it is read for it.
    """

    study: Path
    folder: Path
    set_values: tuple[str, ...] = ()
    formats: tuple[str, ...] = ("html",)
    brief: bool = False
    with_data: bool = False
    sha256: str = ""
    own_notebook: Path | None = None

    @property
    def notebook(self) -> Path:
        """The notebook that runs: one of the kit's, or the caller's own."""
        return self.own_notebook or shipped() / "notebooks" / (BRIEF if self.brief else NOTEBOOK)

    def files(self) -> MemoFiles:
        """What it writes, there or not."""
        base = self.folder / self.notebook.name
        others = tuple(base.with_suffix(f".{end}") for end in self.formats if end != "html")
        summary = self.folder / "summary.csv"
        return MemoFiles(base, base.with_suffix(".html"), summary, summary.with_suffix(".json"), others)


@dataclass(frozen=True)
class Written:
    """What came of a job: its files, or why there are none. `taken`: it was there from before."""

    job: Job
    files: MemoFiles | None
    failed: str = ""
    taken: bool = False


class Bar(tqdm):
    """A progress bar without the thread that watches it: a fork must not happen beside one."""

    monitor_interval = 0


@dataclass
class _Worker:
    """A process and the line to it; `busy` with one job at a time."""

    process: BaseProcess
    line: Connection
    busy: tuple[Job, str] | None = field(default=None)


def write_memos(jobs: Sequence[Job], workers: int = WORKERS) -> list[Written]:
    """Write the memos, `workers` at a time; what came of each, in the order of the jobs.

    A memo whose key still holds (study, settings, data, notebook, the kit's sources) is left as it is. A
    notebook that stops is kept as NAME.failed.ipynb and told; the others go on. ValueError for two jobs
    with one folder; DocsMissingError before anything runs.
    """
    found = {one.job.folder: one for one in memos_as_done(jobs, workers)}
    return [found[job.folder] for job in jobs]


def memos_as_done(jobs: Sequence[Job], workers: int = WORKERS) -> Iterator[Written]:
    """The same, each told of as soon as it is done."""
    folders = [job.folder for job in jobs]
    if len(set(folders)) < len(folders):
        raise ValueError("two memos cannot go to one folder")
    for job in jobs:
        check_extra(job.formats)
    left: deque[tuple[Job, str]] = deque()
    for job in jobs:
        try:
            key = key_of(job)
        except (StudyError, OSError, ValueError) as error:
            yield Written(job, None, str(error))
            continue
        if _holds(job, key):
            yield Written(job, job.files(), taken=True)
        else:
            left.append((job, key))
    one_only = len(left) == 1
    with recalling(), nullcontext() if one_only else in_place():  # a fork finds what the first memo computed
        if left and (one_only or can_fork()):
            yield _with_mark(*left.popleft())  # loads and compiles what the forks then share
        if left:
            yield from _in_processes(left, max(1, workers), can_fork())


def key_of(job: Job) -> str:
    """sha256 of all that a memo comes from. Raises StudyError."""
    study_sha256 = job.sha256 or read_study(job.study, job.set_values).sha256
    notebook_sha256 = hashlib.sha256(job.notebook.read_bytes()).hexdigest()
    how = f"{job.formats} {job.brief} {job.with_data}"
    return hashlib.sha256(f"{study_sha256} {kit_sha256()} {notebook_sha256} {how}".encode()).hexdigest()


def _holds(job: Job, key: str) -> bool:
    mark, files = job.folder / MARK, job.files()
    whole = all(
        path.is_file() for path in (mark, files.notebook, files.html, files.csv, files.json, *files.others)
    )
    return whole and mark.read_text(encoding="utf-8") == key


def _with_mark(job: Job, key: str) -> Written:
    """Write one memo; its mark goes before anything is touched and comes back when all is whole."""
    try:
        (job.folder / MARK).unlink(missing_ok=True)
        files = write_memo(
            job.study,
            job.folder,
            job.set_values,
            notebook=job.notebook,
            formats=job.formats,
            brief=job.brief,
            with_data=job.with_data,
        )
        write_text(job.folder / MARK, key)
    except (MemoError, StudyError, SaveError) as error:
        return Written(job, None, str(error))
    except Exception as error:  # of one memo: the others are made all the same
        return Written(job, None, f"{type(error).__name__}: {error}")
    return Written(job, files)


def can_fork() -> bool:
    """Whether a fork of this process is safe: Linux, no other thread, not inside IPython or Jupyter.

    The thread that watches progress bars is ended first; the next bar starts another.
    """
    for thread in threading.enumerate():
        if isinstance(thread, TMonitor):
            thread.exit()
    return sys.platform == "linux" and threading.active_count() == 1 and can_run_here()


def _in_processes(left: deque[tuple[Job, str]], workers: int, forks: bool) -> Iterator[Written]:
    """The jobs on several processes: a fork serves one of them, a fresh process one after another."""
    crew: list[_Worker] = []
    if forks:
        gc.collect()
        gc.freeze()  # what is shared stays shared: nobody's collector writes to it
    try:
        while left or crew:
            while left and len(crew) < workers:
                crew.append(_hired(forks))
                _give(crew[-1], left)
            ready = wait([one.line for one in crew])
            for one in [one for one in crew if one.line in ready]:
                yield _told(one)
                if left and not forks and one.process.is_alive():
                    _give(one, left)
                else:
                    crew.remove(one)
                    _dismiss(one)
    finally:
        for one in crew:
            one.process.terminate()
            _dismiss(one)
        if forks:
            gc.unfreeze()


def _hired(forks: bool) -> _Worker:
    context: Any = multiprocessing.get_context("fork" if forks else "spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(theirs, forks), daemon=True)
    process.start()
    theirs.close()
    return _Worker(process, ours)


def _give(one: _Worker, left: deque[tuple[Job, str]]) -> None:
    one.busy = left.popleft()
    with suppress(OSError):  # of a process that is gone already `_told` tells
        one.line.send(one.busy)


def _told(one: _Worker) -> Written:
    """What a worker says of its job; a line that breaks says that its process is gone."""
    assert one.busy is not None
    try:
        made: Written = one.line.recv()
    except (EOFError, OSError):
        one.process.join()
        return Written(one.busy[0], None, ENDED)
    return replace(made, job=one.busy[0])


def _dismiss(one: _Worker) -> None:
    one.line.close()
    one.process.join()


def _serve(line: Connection, once: bool) -> None:
    """Write the memo that is asked for, or one after another until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent hears it and ends its workers
    with suppress(EOFError, BrokenPipeError):
        while True:
            line.send(_with_mark(*line.recv()))
            if once:
                return
