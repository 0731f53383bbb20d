"""A set that runs once: its moments are those of a walk in which no machine fails, in every start."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pytest

from kit.operate.events import luck
from kit.operate.outage_year import outage_year
from kit.operate.outages import option_numbers, run_walk, walk_kind
from kit.systems.reliability import Reliability
from kit.systems.transfer import Gap
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


@pytest.mark.parametrize("hours", [range(24), (4, 5, 6, 18, 19)])
def test_the_standard_error_of_the_hours_lost_is_the_spread_over_seeds(hours: Iterable[int]) -> None:
    """Thirty seeds: their spread is known to about an eighth, the error each states is near it."""
    care = Reliability(0.95, 0.05, 400.0, "invented", True)
    home = (YEAR.hour >= 7) & (YEAR.hour < 22)
    by_hand = Gap(900.0, True, "a quarter hour of set-up")
    b = backup(0.5, generator=tireless_set(), attended=home, set_gap=by_hand, reliability=care)
    major = MAJOR | {"hour_weights": [float(hour in hours) for hour in range(24)]}
    years = [outage_year(b, kinds_of(major=major), seed, HARD_H) for seed in range(1, 31)]
    spread_h = float(np.std([year.must_unserved_h for year in years], ddof=1))
    stated_h = [year.unserved_error_h for year in years]
    assert float(np.mean(stated_h)) == pytest.approx(spread_h, rel=0.4)
    assert spread_h > 0.0


def test_without_anything_drawn_the_hours_lost_have_no_error() -> None:
    b = backup(0.5, generator=tireless_set(), set_gap=Gap(900.0, False, "starts by itself"))
    year = outage_year(b, kinds_of(major=MAJOR), 1, HARD_H)
    assert year.must_unserved_h > 0.0
    assert year.unserved_error_h == 0.0
