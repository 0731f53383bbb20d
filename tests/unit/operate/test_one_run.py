"""A set that runs once: its moments are those of a walk in which no machine fails, in every start."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.operate.events import luck
from kit.operate.outages import option_numbers, run_walk, walk_kind
from kit.systems.reliability import Reliability
from tests.unit.operate.outage_cases import MAJOR, YEAR, backup, kinds_of, tireless_set

HARD_H = 48.0


@pytest.mark.parametrize(
    "care", [Reliability(0.9, 0.2, 30.0, "invented", True), Reliability(1.0, 0.01, 1e4, "invented", True)]
)
@pytest.mark.parametrize("attended", ["always", "by day"])
def test_failures_leave_no_trace_in_the_moments_of_the_formula(care: Reliability, attended: str) -> None:
    kind = replace(kinds_of(major=MAJOR)[0], resupply_delay_h=20.0)
    home = (YEAR.hour >= 7) & (YEAR.hour < 22) if attended == "by day" else np.ones(YEAR.n, dtype=bool)
    must_kw = 0.5 + 0.4 * np.sin(YEAR.hour)
    b = backup(
        must_kw, generator=tireless_set(fuel_on_site_l=60.0, tank_l=20.0), attended=home, reliability=care
    )
    walked = walk_kind(b, kind, 7, HARD_H)[0]
    starts = np.arange(YEAR.n)
    sound = luck(7, kind, starts, None, 0.0, None)
    numbers = option_numbers(b, kind.resupply_delay_h, HARD_H)
    weight = kind.start_weight
    whole = run_walk(b, numbers, kind, starts, sound, b.stored_kwh, kind.event_h.size, weight, kind.event_h)
    assert walked.survives is not None
    assert (walked.ends_h == whole.ends_h).all()
    assert (walked.longest_h == whole.longest_h).all()
    assert walked.totals[0] > whole.totals.sum(axis=0)[0]  # and the sums do hold the failures
