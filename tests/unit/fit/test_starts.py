"""Which starts a source carries, in which order, and the smallest change: against trying everything."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import combinations, permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.fit.pickup import FirstHour, pickup_findings, pickup_rows
from kit.fit.sources import SeenSource
from kit.fit.start_changes import option_starts, start_change, start_findings, start_table
from kit.fit.starts import restart_groups, restart_order, start_needs

DEFERS = "local code and a licensed person decide."


@dataclass(frozen=True)
class One:
    """A piece as fit sees it."""

    slug: str
    running_w: float
    start_w: float
    voltage_v: int = 120
    leg: int = 1
    wired: bool = True
    life_support: bool = False
    power_factor_frac: float = 1.0

    @property
    def running_va(self) -> float:
        return self.running_w / self.power_factor_frac

    @property
    def start_va(self) -> float:
        return self.start_w / self.power_factor_frac

    @property
    def leg_shares(self) -> tuple[float, float]:
        if self.voltage_v == 240:
            return 0.5, 0.5
        return (1.0, 0.0) if self.leg == 1 else (0.0, 1.0)


@dataclass(frozen=True)
class Listed:
    """A start list as fit sees it."""

    pieces: tuple[One, ...]
    together: tuple[tuple[int, ...], ...]
    legs_given: bool = True


def listed(*pieces: One, together: Any = None, legs_given: bool = True) -> Listed:
    sets = (tuple(range(len(pieces))),) if together is None else together
    return Listed(pieces, sets, legs_given)


def a_source(start: float, gives_240v: bool = True, unit: str = "kW", name: str = "battery") -> SeenSource:
    return SeenSource(name, start / 1.5, start, unit, 10.0, gives_240v, start / 3, start / 1.5, start, "it")


WELL = One("well_pump", 1500, 6000, 240)
FRIDGE = One("refrigerator", 200, 1500, leg=2, wired=False)
FAN = One("furnace_fan", 700, 2000, leg=1)
LAMPS = One("lights", 100, 100, leg=2)
HOUSE = listed(WELL, FRIDGE, FAN, LAMPS)  # 2,500 W running; leg 1: 750 + 700, leg 2: 750 + 200 + 100


def fits(source: SeenSource, running: list[One], starting: list[One]) -> bool:
    """The rule in plain words: whole surge, and half of it on each leg of a 240 V source."""
    total = sum(p.running_w for p in running) + sum(p.start_w for p in starting)
    legs = [
        sum(p.running_w * p.leg_shares[k] for p in running)
        + sum(p.start_w * p.leg_shares[k] for p in starting)
        for k in (0, 1)
    ]
    ok = total <= 1000 * source.start + 1e-6
    return ok and (not source.gives_240v or max(legs) <= 500 * source.start + 1e-6)


def test_a_start_on_top_of_the_rest_worked_by_hand() -> None:
    needs = {n.slug: n for n in start_needs(a_source(8.0), HOUSE)}
    pump = needs["well_pump"]
    assert (pump.start, pump.others, pump.need) == pytest.approx((6.0, 1.0, 7.0))
    assert pump.leg_need == pytest.approx(3.0 + 0.7)
    assert pump.ok
    assert needs["refrigerator"].need == pytest.approx(2.3 + 1.5)
    assert needs["refrigerator"].leg_need == pytest.approx(1.5 + 0.75 + 0.1)
    assert needs["lights"].soft_frac == 1.0


def test_a_leg_can_be_the_limit() -> None:
    """7.2 kW: the pump's 7.0 kW pass in all, but its leg takes 3.7 of 3.6 kW."""
    need = start_needs(a_source(7.2), HOUSE)[0]
    assert need.need < 7.2
    assert need.alone_ok
    assert not need.ok
    # On the leg 0.7 kW run, so 2.9 kW are left of its 3.0 kW half start.
    assert need.soft_frac == pytest.approx(2.9 / 3.0)


def test_where_no_leg_is_named_only_the_start_itself_counts_there() -> None:
    assert start_needs(a_source(7.2), replace(HOUSE, legs_given=False))[0].ok


def test_a_120_v_source_has_one_leg_and_no_240_v() -> None:
    pump, fridge, *_ = start_needs(a_source(3.0, gives_240v=False), HOUSE)
    assert not pump.served
    assert not pump.ok
    # The pump cannot run there, so it does not run beside the refrigerator either: 1500 + 700 + 100.
    assert fridge.need == pytest.approx(2.3)
    assert fridge.ok


def test_a_set_rated_in_kva_feels_volt_amperes() -> None:
    pump = replace(WELL, power_factor_frac=0.5)
    need = start_needs(a_source(9.0, unit="kVA"), listed(pump, LAMPS))[0]
    assert need.need == pytest.approx(12.0 + 0.1)
    assert not need.ok


def test_loads_that_never_meet_are_not_added() -> None:
    apart = listed(WELL, FAN, LAMPS, together=((0, 2), (1, 2)))
    assert start_needs(a_source(6.1), apart)[0].others == pytest.approx(0.1)


pieces = st.lists(
    st.builds(
        One,
        slug=st.sampled_from(["a", "b", "c", "d", "e"]),
        running_w=st.integers(10, 2000),
        start_w=st.integers(10, 4000),
        voltage_v=st.sampled_from([120, 240]),
        leg=st.sampled_from([1, 2]),
    ),
    min_size=1,
    max_size=5,
    unique_by=lambda p: p.slug,
).map(lambda many: [replace(p, start_w=max(p.start_w, p.running_w)) for p in many])


@settings(max_examples=150)
@given(pieces, st.floats(0.5, 12.0))
def test_an_order_is_found_where_there_is_one(many: list[One], start: float) -> None:
    source = a_source(start)
    order, left_off = restart_order(source, listed(*many), range(len(many)))

    def works(way: tuple[One, ...]) -> bool:
        return all(fits(source, list(way[:k]), [p]) for k, p in enumerate(way))

    possible = any(works(way) for way in permutations(many))
    assert possible == (not left_off)
    assert works(tuple(order))
    assert {p.slug for p in (*order, *left_off)} == {p.slug for p in many}


@settings(max_examples=100)
@given(pieces, st.floats(0.5, 12.0))
def test_no_fewer_groups_bring_everything_on(many: list[One], start: float) -> None:
    source = a_source(start)
    motors = [p for p in many if p.start_w > p.running_w]
    base = [p for p in many if p.start_w <= p.running_w]

    def fewest(on: frozenset[str]) -> float:
        rest = [p for p in motors if p.slug not in on]
        if not rest:
            return 0
        running = [*base, *(p for p in motors if p.slug in on)]
        ways = [
            1 + fewest(on | {p.slug for p in group})
            for size in range(1, len(rest) + 1)
            for group in combinations(rest, size)
            if fits(source, running, list(group))
        ]
        return min(ways, default=math.inf)

    expected = fewest(frozenset()) if motors else (0 if fits(source, base, []) else math.inf)
    groups = restart_groups(source, listed(*many), range(len(many)))
    assert (math.inf if groups is None else len(groups)) == expected
    if groups is not None:
        running = list(base)
        for group in groups:
            assert fits(source, running, list(group))
            running += list(group)


def test_many_motors_are_grouped_one_after_another() -> None:
    """Twelve motors of 0.1 kW, 1 kW each while starting, 4 kW: 4 first, then 3 (0.4 on), 3 (0.7), 2 (1.0)."""
    many = [One(f"m{k}", 100, 1000, leg=1 + k % 2) for k in range(12)]
    groups = restart_groups(a_source(4.0, gives_240v=False), listed(*many), range(12))
    assert groups is not None
    assert [len(g) for g in groups] == [4, 3, 3, 2]


@settings(max_examples=150)
@given(pieces, st.floats(1.0, 12.0))
def test_a_soft_starter_of_the_stated_size_is_enough_and_not_too_small(many: list[One], start: float) -> None:
    source = a_source(start)
    for k, need in enumerate(start_needs(source, listed(*many))):
        if need.soft_frac is None or need.soft_frac >= 1.0:
            assert need.ok == (need.soft_frac is not None and need.served)
            continue
        soft = replace(many[k], start_w=max(many[k].running_w, need.soft_frac * many[k].start_w))
        others = [p for p in many if p is not many[k]]
        assert fits(source, others, [soft])
        assert not fits(source, others, [replace(soft, start_w=soft.start_w + 1.0)])


@settings(max_examples=150)
@given(pieces, st.floats(1.0, 12.0))
def test_no_fewer_loads_held_off_would_do(many: list[One], start: float) -> None:
    source = a_source(start)
    cords = [replace(p, wired=False) for p in many]  # no soft starter is then counted on
    for k, need in enumerate(start_needs(source, listed(*cords))):
        change = start_change(source, listed(*cords), need)
        others = [p for p in cords if p is not cords[k]]
        good = [
            size
            for size in range(len(others) + 1)
            for off in combinations(others, size)
            if fits(source, [p for p in others if p not in off], [cords[k]])
        ]
        if change.kind == "none":
            assert 0 in good
        elif change.kind == "hold_off":
            assert len(change.held_off) == min(good) > 0
        else:
            assert min(good, default=4) > 3
            assert change.source_start is not None
            assert fits(a_source(change.source_start), others, [cords[k]])


def test_which_change_comes_first() -> None:
    """6.5 kW: the pump needs 7.0, and 3.7 on leg 1 of 3.25 kW: a soft starter to 85 % of its half start."""
    source = a_source(6.5)
    change = start_change(source, HOUSE, start_needs(source, HOUSE)[0])
    assert change.kind == "soft_starter"
    assert change.soft_frac == pytest.approx(2.55 / 3.0)
    assert change.text == "a soft starter on the well pump that leaves at most 85% of its starting current"
    cord = replace(HOUSE, pieces=(replace(WELL, wired=False), FRIDGE, FAN, LAMPS))
    held = start_change(source, cord, start_needs(source, cord)[0])
    # Leg 1 must lose 0.45 kW: the fan. Leg 2 holds 3.0 + 0.2 + 0.1 and must lose 0.05: the lamps, not more.
    assert (held.kind, held.held_off) == ("hold_off", ("furnace_fan", "lights"))
    # 3 kW: 500 W of a leg's 1500 would be left for a half start of 3000: too little for a soft starter.
    weak = a_source(3.0)
    change = start_change(weak, HOUSE, start_needs(weak, HOUSE)[0])
    assert change.kind == "stronger_source"
    assert change.source_start == pytest.approx(7.4)  # twice the 3.7 kW on the leg
    alone = a_source(3.0, gives_240v=False)
    assert start_change(alone, HOUSE, start_needs(alone, HOUSE)[0]).text == "240 V for the well pump"


def test_life_support_is_never_held_off() -> None:
    """Only the machine for breathing is large enough to make room: a stronger source, never that."""
    breath = One("breathing_aid", 900, 900, leg=1, life_support=True)
    house = listed(replace(WELL, wired=False), breath, LAMPS)
    source = a_source(6.9)
    change = start_change(source, house, start_needs(source, house)[0])
    assert change.kind == "stronger_source"
    assert "breathing" not in change.text


def test_the_tables_of_an_option() -> None:
    sources = [a_source(6.5), a_source(12.0, name="generator")]
    detail = start_table("pack", sources, HOUSE)
    assert detail["appliance"].tolist() == ["well_pump", "refrigerator", "furnace_fan", "lights"] * 2
    assert detail["ok"].tolist() == [False, True, True, True, True, True, True, True]
    first = detail.iloc[0]
    assert (first["need"], first["have"], first["leg_have"]) == pytest.approx((7.0, 6.5, 3.25))
    assert first["unit"] == "kW"
    # Hard starts first: 4.5 kW beyond running, then twice 1.3 in the order of the list, then none.
    assert detail["order"].tolist()[4:] == [1, 2, 3, 4]
    whole = option_starts("pack", sources, HOUSE)
    assert whole["carried_count"].tolist() == [3, 4]
    assert whole["change"].tolist()[1] == "none needed"
    # One after another even 6.5 kW bring all on, the pump first; it cannot start again once the rest runs.
    assert whole["left_off"].tolist() == ["", ""]
    # 6.5 kW: the pump beside the lamps, then both others: 1500 + 100 + 1500 + 2000. 12 kW: all at once.
    assert whole["group_count"].tolist() == [2, 1]
    weak = option_starts("pack", [a_source(5.0)], HOUSE)
    assert weak["left_off"].tolist() == ["well pump"]
    assert math.isnan(weak["group_count"][0])


def test_a_finding_for_each_source_that_falls_short() -> None:
    (found,) = start_findings("pack", [a_source(6.5), a_source(12.0)], HOUSE)
    assert (found.code, found.option, found.severity) == ("start_change", "pack", "note")
    assert "a soft starter on the well pump" in found.text
    assert found.text.endswith(DEFERS)


def test_a_stronger_source_makes_the_other_changes_needless() -> None:
    (found,) = start_findings("small", [a_source(2.0)], HOUSE)
    assert "a source that gives 7.4 kW for a moment, for the well pump" in found.text
    assert "held off" not in found.text


HOUR = FirstHour(("freezer", "furnace_fan"), 8.0, running_kw=4.0, surge_kw=7.0, extra_kwh=2.0)


def test_the_first_hour_beside_what_a_source_gives() -> None:
    rows = pickup_rows("pack", [a_source(6.0)], HOUR, 10.0)
    assert rows["battery_frac"].tolist() == pytest.approx([0.2])
    (found,) = pickup_findings("pack", [a_source(6.0), a_source(9.0)], HOUR, 10.0)
    assert found.code == "cold_load_pickup"
    assert found.source == "common practice, no source"
    assert "After 8 h without power the freezer, furnace fan start together" in found.text
    assert "2.0 kWh beyond the usual (20% of the battery)" in found.text
    assert pickup_findings("pack", [a_source(6.0)], replace(HOUR, slugs=()), 10.0) == []
    assert pickup_rows("set", [a_source(9.0, name="generator")], HOUR, None)["battery_frac"].isna().all()
