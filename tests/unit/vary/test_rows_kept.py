"""Exact runs of an earlier memo: found again bit by bit, where nothing that they read has changed."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from kit.vary import axes, durations, levers
from kit.vary.ground import Ground
from kit.vary.levers import outage_length, price_spread
from tests.unit.vary.doubt_study import ground_of, small_study

FEW = ("lifetime_count=100", "asked.keep_on_h=8")


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(tmp_path_factory.mktemp("cache"))


@pytest.fixture(autouse=True)
def folder(cache: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("RIDETHROUGH_CACHE", cache)


@pytest.fixture(scope="module")
def first(cache: str) -> dict[str, Any]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("RIDETHROUGH_CACHE", cache)
        return _explored(ground_of(small_study(*FEW)))


def _explored(ground: Ground) -> dict[str, Any]:
    ground.explore()
    found = {key: (axis.places, dict(axis.rows)) for key, axis in ground.axes.items()}
    for lever in (outage_length(ground), price_spread(ground)):
        assert lever is not None
        rows = lever.standing(np.linspace(lever.low, lever.high, 5)).judged_usd
        found[lever.slug] = (rows, {})
    return found


def _forbid(monkeypatch: pytest.MonkeyPatch) -> None:
    def run(*_: Any, **__: Any) -> Any:
        raise AssertionError("an exact run was made")

    monkeypatch.setattr(axes, "_run", run)
    monkeypatch.setattr(levers, "rows_of_lengths", run)
    monkeypatch.setattr(levers, "spread_rows", run)
    monkeypatch.setattr(durations, "long_walk", run)


def test_the_second_memo_of_a_study_runs_nothing_and_finds_the_same(first, monkeypatch):
    _forbid(monkeypatch)
    again = _explored(ground_of(small_study(*FEW)))
    assert again.keys() == first.keys()
    for key, (places, rows) in first.items():
        assert again[key][0].tobytes() == places.tobytes(), key
        assert {s: r.tobytes() for s, r in again[key][1].items()} == {s: r.tobytes() for s, r in rows.items()}


@pytest.mark.usefixtures("first")
def test_other_money_finds_the_runs_and_pays_its_own_price(first, monkeypatch):
    _forbid(monkeypatch)
    dearer = ground_of(small_study(*FEW, "options.battery.battery.cost.price_usd=9000"))
    again = _explored(dearer)
    assert not np.array_equal(again["outage_length"][0], first["outage_length"][0])
    fresh = ground_of(small_study(*FEW, "options.battery.battery.cost.price_usd=9000"))
    monkeypatch.undo()
    assert fresh.standing().judged_usd.tobytes() == dearer.standing().judged_usd.tobytes()


@pytest.mark.usefixtures("first")
@pytest.mark.parametrize(
    "change",
    [
        "options.battery.battery.usable_kwh=9.5",
        "seed=2",
        "asked.keep_on_h=8.5",
        "asked.keep_on_h=169",
        "asked.loads=wanted",
        "asked.stay_years=6",
        "outages.horizon_h=30",
        "outages.classes.routine.events_per_year=1.1",
    ],
)
def test_whatever_a_row_reads_makes_it_anew(change, monkeypatch):
    _forbid(monkeypatch)
    with pytest.raises(AssertionError, match="an exact run was made"):
        _explored(ground_of(small_study(*FEW, change)))


@pytest.mark.usefixtures("first")
@pytest.mark.parametrize("change", ["asked.keep_on_h=9", "asked.keep_on_h=168", "asked.chance_frac=0.5"])
def test_other_hours_and_another_chance_find_the_runs_and_tell_their_own(change, first, monkeypatch):
    with monkeypatch.context() as patch:
        _forbid(patch)
        again = _explored(ground_of(small_study(*FEW, change)))
    monkeypatch.setattr("kit.vary.parts.kept_each", _made_each)
    anew = _explored(ground_of(small_study(*FEW, change)))
    moved = False
    for key, (places, rows) in anew.items():
        assert again[key][0].tobytes() == places.tobytes(), key
        for slug, row in rows.items():
            assert again[key][1][slug].tobytes() == row.tobytes(), (key, slug)
            moved = moved or not np.array_equal(row, first[key][1][slug])
    assert moved == change.startswith("asked.keep_on_h")


@pytest.mark.usefixtures("first")
def test_hours_that_are_themselves_uncertain_have_rows_of_their_own() -> None:
    ground = ground_of(small_study(*FEW))
    longer = axes.exact_rows(ground.known, {"asked.keep_on_h": 12.0})
    asked = ground_of(small_study(*FEW, "asked.keep_on_h=12"))
    assert {s: r.tobytes() for s, r in longer.items()} == {s: r.tobytes() for s, r in asked.rows.items()}
    assert any(not np.array_equal(longer[slug], ground.rows[slug]) for slug in longer)


@pytest.mark.usefixtures("first")
def test_a_change_of_one_option_leaves_the_rows_of_the_others_kept(monkeypatch):
    asked: set[str] = set()
    run = axes._run

    def noted(known: Any, settings: Any, kept: Any, only: Any) -> Any:
        asked.update(only)
        return run(known, settings, kept, only)

    monkeypatch.setattr(axes, "_run", noted)
    bigger = small_study(*FEW, "options.battery.battery.usable_kwh=9.25")
    found = _explored(ground_of(bigger))
    assert asked == {"battery"}
    monkeypatch.setattr("kit.vary.parts.kept_each", _made_each)
    anew = _explored(ground_of(bigger))
    for key, (_, rows) in found.items():
        assert {s: r.tobytes() for s, r in rows.items()} == {s: r.tobytes() for s, r in anew[key][1].items()}


def _made_each(_part: str, _name: str, keys: Any, make: Any) -> Any:
    made = make(list(keys))
    return {one: made[one] for one in keys}
