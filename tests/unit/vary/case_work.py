"""Work that the tests hand to cases: plain functions of a module, so that processes can take them."""

from __future__ import annotations

import os

from kit.vary.kept import kept_house


def asked_hours(study, kept):
    """A cheap subset of the stages: two rows a case."""
    must_kwh = float(kept_house(study, kept).lists.everyday_kw.sum())
    return [{"row": n, "keep_on_h": study.model.asked.keep_on_h, "must_kwh": must_kwh} for n in (1, 2)]


def fails_on_nine(study, kept):
    """Every case but one."""
    if study.model.asked.keep_on_h == 9:
        raise RuntimeError("nine is not to be had")
    return asked_hours(study, kept)


def dies_on_nine(study, kept):
    """One case takes its whole process with it, as when memory runs out."""
    if study.model.asked.keep_on_h == 9:
        os._exit(17)
    return [{"keep_on_h": study.model.asked.keep_on_h, "pid": os.getpid()}]
