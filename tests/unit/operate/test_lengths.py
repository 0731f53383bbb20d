"""Outages of other lengths out of one long walk: the same as walking each law afresh."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from kit.operate import walk as w
from kit.operate.events import EventKind
from kit.operate.lengths import long_walk, of_law
from kit.operate.outage_year import after_gap, outlasts_frac
from kit.operate.outages import Backup, KindWalk, walk_kind
from kit.systems.reliability import Reliability
from tests.unit.operate.outage_cases import AT_ONCE, YEAR, backup, kinds_of, plain_battery, tireless_set

SEED = 3
FAILS = Reliability(0.99, 0.02, 90.0, "invented", True)
BY_DAY = {"solar_frac_by_day": [0.1, 0.5, 0.9], "attended_frac": 0.7}
LONG = {"kind": "lognormal", "median_h": 30.0, "spread": 0.8}
LAWS: dict[str, dict[str, Any]] = {
    "shorter": {"kind": "lognormal", "median_h": 6.0, "spread": 0.5},
    "exponential": {"kind": "exponential", "mean_h": 9.0},
    "fixed": {"kind": "fixed", "mean_h": 9.5},
    "itself": LONG,
}


def kind_of(duration: dict[str, Any], **given: Any) -> EventKind:
    return kinds_of(events=BY_DAY | {"events_per_year": 1.5, "duration": duration} | given)[0]


def machines(name: str) -> Backup:
    """Loads and sun of an invented house that differ from hour to hour; machines that fail."""
    rng = np.random.default_rng(11)
    day = np.maximum(0.0, np.sin((YEAR.hour - 6.0) / 12.0 * np.pi))
    house: dict[str, Any] = {
        "must_kw": rng.uniform(0.1, 1.2, YEAR.n) * (rng.random(YEAR.n) > 0.1),
        "wanted_kw": rng.uniform(0.0, 0.5, YEAR.n),
        "solar_kw": 2.5 * day,
        "attended": (YEAR.hour >= 7) & (YEAR.hour < 23),
        "tolerates_h": 0.5,
    }
    by_hand = replace(AT_ONCE, gap_s=900.0, needs_person=True)
    if name == "battery and solar":
        return backup(battery=plain_battery(idle_w=30.0, restart_frac=0.1), solar_charges=True, **house)
    set_ = {
        "generator": tireless_set(tank_l=12.0, fuel_on_site_l=60.0, refuel_gap_min=20.0),
        "reliability": FAILS,
    }
    if name == "set by hand":
        return backup(**set_, **house, set_gap=by_hand)
    if name == "set that runs once":
        return backup(generator=tireless_set(refuel_gap_min=0.0), reliability=FAILS, **house)
    if name == "both":
        return backup(battery=plain_battery(), **set_, **house)
    return backup(**house)


def felt(one: KindWalk, borne_h: float) -> float:
    """Chance that an event of the kind leaves a gap longer than is borne."""
    return after_gap(one, lambda hours: outlasts_frac(one, hours + borne_h))


NAMES = ("battery and solar", "set by hand", "set that runs once", "both", "nothing")


@pytest.fixture(scope="module", params=NAMES)
def walked(request: pytest.FixtureRequest) -> tuple[Backup, tuple[KindWalk, ...]]:
    b = machines(request.param)
    walks = long_walk(b, kind_of(LONG), SEED)
    assert walks is not None
    return b, walks


@pytest.mark.parametrize("law", LAWS)
def test_a_law_out_of_the_long_walk_is_a_walk_of_its_own(walked, law):
    b, walks = walked
    kind = kind_of(LAWS[law])
    assert kind.event_h.size <= walks[0].kind.event_h.size
    made, fresh = of_law(walks, b, kind, SEED), walk_kind(b, kind, SEED, 0.0)
    assert len(made) == len(fresh)
    for one, other in zip(made, fresh, strict=True):
        assert one.totals == pytest.approx(other.totals, rel=1e-9, abs=1e-9)
        assert other.totals[w.EVENT_H] == pytest.approx(kind.mean_h, rel=1e-9)
        assert one.ends_h == pytest.approx(other.ends_h, abs=1e-9)
        assert one.survives == other.survives
        for borne_h in (0.0, 2.0):
            assert felt(one, borne_h) == pytest.approx(felt(other, borne_h), rel=1e-9, abs=1e-12)


def test_the_laws_do_differ(walked):
    """So that equality above means something: other lengths take other amounts."""
    b, walks = walked
    outs = {
        law: sum(x.totals[w.MUST_KWH] for x in of_law(walks, b, kind_of(d), SEED)) for law, d in LAWS.items()
    }
    assert len({round(value, 3) for value in outs.values()}) == len(LAWS)


def test_a_law_beyond_the_walk_is_an_error():
    b = machines("both")
    walks = long_walk(b, kind_of(LAWS["shorter"]), SEED)
    assert walks is not None
    with pytest.raises(ValueError, match=r"the kind has \d+ steps, the walk \d+"):
        of_law(walks, b, kind_of(LONG), SEED)


def test_events_that_follow_others_need_a_walk_of_their_own():
    kind = kind_of(LONG, followed_frac=0.3)
    assert long_walk(machines("both"), kind, SEED) is None
    assert long_walk(machines("set by hand"), kind, SEED) is not None
