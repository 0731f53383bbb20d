"""A year of outages for one option: the walk from every start, weighted by how often and how long.

`walk_kind` walks every start of one kind of event; `kit.operate.outage_year` adds the kinds up.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from kit.operate import walk as w
from kit.operate.events import EventKind, Luck, event_sums, luck, waits_h
from kit.operate.forewarned import warned_parts
from kit.operate.keyed import uniform
from kit.operate.kind_walk import KindWalk as KindWalk
from kit.recall import recalled
from kit.study.equipment_models import Battery, Generator
from kit.systems.battery import BatterySystem
from kit.systems.generator import GeneratorSet
from kit.systems.reliability import Reliability
from kit.systems.transfer import Gap

# what the compiled walk's signature takes; an array kept read-only is copied
WRITABLE: tuple[Literal["C"], Literal["W"]] = ("C", "W")
FOLLOWERS = 1000  # keys the draws of followers apart from those of leaders


@dataclass(frozen=True)
class Backup:
    """One option's sources and the loads they reach, on the steps of the year; arrays (n,).

    `forewarned_kwh`: charge at starts that were forecast, where they are told apart.
    `battery_gap`, `set_gap`: time to take over, and whether a person is needed.
    `reliability` None: no generator. Loads that no circuit reaches are not in `must_kw`.
    """

    step_h: float
    must_kw: np.ndarray
    wanted_kw: np.ndarray
    solar_kw: np.ndarray
    attended: np.ndarray
    may_charge: np.ndarray
    stored_kwh: np.ndarray
    tolerates_h: float
    battery: BatterySystem | None = None
    battery_block: Battery | None = None
    battery_gap: Gap | None = None
    generator: GeneratorSet | None = None
    generator_block: Generator | None = None
    set_gap: Gap | None = None
    set_kw: float = 0.0
    battery_kw: float = 0.0
    reliability: Reliability | None = None
    solar_charges: bool = False
    solar_beside_set: bool = False
    forewarned_kwh: Mapping[int, np.ndarray] = field(default_factory=dict)  # (n,) a kind's number

    @property
    def refills_by_hand(self) -> bool:
        """Whether the set has more fuel on site than its tank holds, or is brought more."""
        g, block = self.generator, self.generator_block
        if g is None or block is None or g.tank_l is None:
            return False
        return (g.fuel_on_site_l or 0.0) > g.tank_l or block.resupply_l > 0


def option_numbers(b: Backup, resupply_delay_h: float, hard_h: float) -> np.ndarray:
    """The walk's numbers of one option (kit.operate.walk gives their places)."""
    number = np.zeros(w.NUMBERS)
    number[w.STEP_H] = b.step_h
    number[w.CHARGE_EFF] = number[w.DISCHARGE_EFF] = 1.0
    number[w.RUN_H] = number[w.CYCLE_H] = 24.0
    number[w.TOLERATES_H] = b.tolerates_h
    number[w.HARD_H] = hard_h
    number[w.RESUPPLY_DELAY_H] = resupply_delay_h
    number[w.RESUPPLY_EVERY_H] = 24.0
    if b.battery is not None:
        s = b.battery
        number[w.HAS_BATTERY] = 1.0
        number[w.FULL_KWH], number[w.FLOOR_KWH] = s.usable_kwh, s.floor_kwh
        number[w.RESTART_KWH] = max(s.restart_kwh, s.floor_kwh + 0.01 * s.usable_kwh)
        number[w.WANTED_KWH] = s.wanted_above_kwh
        number[w.BATTERY_KW] = b.battery_kw
        number[w.SOLAR_CHARGE_KW], number[w.SET_CHARGE_KW] = s.solar_charge_kw, s.generator_charge_kw
        number[w.CHARGE_EFF], number[w.DISCHARGE_EFF] = s.charge_efficiency_frac, s.discharge_efficiency_frac
        number[w.IDLE_KW] = s.idle_kw
        number[w.PARALLEL] = float(s.parallel_with_generator)
        number[w.SOLAR_CHARGES] = float(b.solar_charges)
    if b.generator is not None and b.generator_block is not None:
        g = b.generator_block
        number[w.HAS_SET] = 1.0
        number[w.SET_KW] = b.set_kw
        number[w.SET_BEST_KW] = min(b.set_kw, b.generator.best_load_kw)
        number[w.START_KWH] = number[w.FULL_KWH] * g.start_below_frac
        number[w.STOP_KWH] = number[w.FULL_KWH] * g.stop_at_frac
        number[w.PIPED] = float(b.generator.tank_l is None)
        number[w.TANK] = b.generator.tank_l or 0.0
        number[w.ON_SITE] = b.generator.fuel_on_site_l or 0.0
        number[w.RESUPPLY] = g.resupply_l
        number[w.RESUPPLY_EVERY_H] = g.resupply_every_h
        number[w.REFUEL_GAP_H] = g.refuel_gap_min / 60.0
        number[w.NIGHT_FUEL] = float(g.refuels_at_night)
        if g.run_schedule is not None:
            number[w.RUN_H], number[w.CYCLE_H] = g.run_schedule.run_h, g.run_schedule.cycle_h
        number[w.REPAIR_H] = g.repair_h
        number[w.BY_HAND] = float(b.set_gap is not None and b.set_gap.needs_person)
        number[w.SOLAR_BESIDE_SET] = float(b.solar_beside_set)
    return number


def _ready_h(gap: Gap | None, wait_h: np.ndarray, someone: np.ndarray) -> np.ndarray:
    """Hours until a source serves, per start; inf where nobody comes."""
    if gap is None:
        return np.full(wait_h.size, np.inf)
    if not gap.needs_person:
        return np.full(wait_h.size, gap.gap_s / 3600.0)
    return np.where(someone, wait_h + gap.gap_s / 3600.0, np.inf)


@dataclass(frozen=True)
class _Walked:
    """What one call of the compiled walk gives; see kit.operate.walk."""

    ends_h: np.ndarray
    longest_h: np.ndarray
    left_kwh: np.ndarray
    totals: np.ndarray
    trace: np.ndarray
    by_step: np.ndarray


def run_walk(
    b: Backup,
    number: np.ndarray,
    kind: EventKind,
    starts: np.ndarray,
    drawn: Luck,
    stored_kwh: np.ndarray,
    steps: int,
    weight: np.ndarray,
    event_h: np.ndarray,
    trace_steps: int = 0,
    summed_steps: int = 0,
    mark_step: np.ndarray | None = None,
    lasts_h: np.ndarray | None = None,
) -> _Walked:
    """One call of the compiled walk."""
    count = starts.size
    wait = waits_h(b.attended, b.step_h, starts, drawn.moment_frac)
    flows = drawn.gas_flows if number[w.PIPED] > 0 else np.ones(count, dtype=bool)
    g = b.generator
    curve = (g.output_kw, g.fuel_per_h) if g is not None else (np.zeros(2), np.zeros(2))
    marks = np.full(count, -1) if mark_step is None else mark_step
    solar = b.solar_kw if b.solar_charges or b.solar_beside_set else np.zeros_like(b.solar_kw)
    made = _walked(
        (trace_steps, summed_steps),
        number,
        np.ascontiguousarray(starts, dtype=np.int64),
        np.require(b.must_kw, np.float64, WRITABLE),
        np.require(b.wanted_kw, np.float64, WRITABLE),
        np.require(solar, np.float64, WRITABLE),
        np.ascontiguousarray(kind.day_frac[:steps]),
        b.attended,
        b.may_charge,
        np.ascontiguousarray(stored_kwh),
        _ready_h(b.set_gap, wait, drawn.someone),
        _ready_h(b.battery_gap, wait, drawn.someone),
        drawn.someone,
        flows,
        drawn.set_there,
        drawn.islands,
        drawn.start_fails,
        drawn.life_h,
        drawn.inverter_life_h,
        np.ascontiguousarray(curve[0], dtype=np.float64),
        np.ascontiguousarray(curve[1], dtype=np.float64),
        np.ascontiguousarray(weight),
        np.ascontiguousarray(event_h),
        np.ascontiguousarray(kind.stops_frac[:steps]),
        np.ascontiguousarray(kind.late_frac[:steps]),
        np.ascontiguousarray(kind.fade_frac[:steps]),
        np.full(count, -1.0) if lasts_h is None else np.ascontiguousarray(lasts_h),
        np.ascontiguousarray(marks, dtype=np.int64),
    )
    return replace(made, ends_h=made.ends_h.copy(), longest_h=made.longest_h.copy())


@recalled
def _walked(
    told_steps: tuple[int, int], number: np.ndarray, starts: np.ndarray, *rest: np.ndarray
) -> _Walked:
    """The compiled walk on what it reads, in its order; kept results are shared, so callers get copies."""
    ends, longest, left = np.zeros((3, starts.size))
    totals, trace = np.zeros((starts.size, w.TOTALS)), np.zeros((told_steps[0], w.TRACES))
    by_step = np.zeros((told_steps[1], 2 * w.TOTALS))
    w.walk(*(number, starts, *rest, ends, longest, left, totals, trace, by_step))
    return _Walked(ends, longest, left, totals, trace, by_step)


def one_run(b: Backup) -> bool:
    """True where the generator runs once, without a stop, for the whole outage: the formula is exact."""
    g = b.generator_block
    return g is not None and b.battery is None and g.run_schedule is None and g.refuel_gap_min == 0.0


def walk_kind(
    b: Backup, kind: EventKind, seed: int, hard_h: float, by_step: bool = False
) -> tuple[KindWalk, ...]:
    """Walk every start of one kind that can happen, and the events that follow in a cluster.

    A set that runs once has its failure in the formula A (1 - p) exp(-t / MTTF), exact for one
    continuous run (Marqusee and Jenket 2020); its expected year, and all of a hybrid, use draws.
    """
    starts = np.flatnonzero(kind.start_weight > 0)
    if b.battery is None and b.generator is None:
        return (_dark(b, kind, starts, hard_h),)
    parts = [(backup, part) for _, part, backup in warned_parts(b, kind)]
    return tuple(one for part in parts for one in _walk_part(*part, seed, hard_h, starts, by_step))


def _walk_part(
    b: Backup, kind: EventKind, seed: int, hard_h: float, starts: np.ndarray, by_step: bool
) -> tuple[KindWalk, ...]:
    """The walks of one kind with one charge at every start: leaders, and followers in a cluster."""
    weight, stored = kind.start_weight[starts], b.stored_kwh[starts]
    if kind.followed_frac == 0.0 or b.battery is None:
        return (_walk_starts(b, kind, seed, hard_h, starts, weight, stored, by_step=by_step)[0],)
    lasted = kind.law.hours_at(uniform(seed, "lasted", kind.number, starts))
    mark = np.minimum((lasted / b.step_h).astype(np.int64), kind.event_h.size - 1)
    share = kind.followed_frac / (1.0 + kind.followed_frac)  # of all events, those that follow another
    first = replace(kind, events_per_year=kind.events_per_year * (1.0 - share))
    after = replace(kind, events_per_year=kind.events_per_year * share, number=kind.number + FOLLOWERS)
    leading, left_kwh = _walk_starts(b, first, seed, hard_h, starts, weight, stored, mark)
    between_h = kind.between_h(seed, starts)
    later = (starts + np.round((lasted + between_h) / b.step_h).astype(np.int64)) % b.must_kw.size
    refilled = b.battery.charge_kw * b.battery.charge_efficiency_frac * between_h
    again = np.minimum(b.stored_kwh[later], left_kwh + refilled)
    return leading, _walk_starts(b, after, seed, hard_h, later, weight, again)[0]


def _walk_starts(
    b: Backup,
    kind: EventKind,
    seed: int,
    hard_h: float,
    starts: np.ndarray,
    weight: np.ndarray,
    stored_kwh: np.ndarray,
    mark_step: np.ndarray | None = None,
    by_step: bool = False,
) -> tuple[KindWalk, np.ndarray]:
    """The walks from the given starts, and the charge left at the marked steps."""
    number = option_numbers(b, kind.resupply_delay_h, hard_h)
    block = b.battery_block
    islands = block.fails_to_island_frac if block else 0.0
    inverter = block.inverter_mttf_h if block else None
    drawn = luck(seed, kind, starts, b.reliability, islands, inverter)
    steps, event_h = kind.event_h.size, kind.event_h
    summed = steps if by_step else 0
    made = run_walk(b, number, kind, starts, drawn, stored_kwh, steps, weight, event_h, 0, summed, mark_step)
    out_h, error_h = made.totals[:, w.MUST_OUT_H], 0.0
    if _draws(b, kind):
        a_day = np.count_nonzero(np.bincount(starts % round(24.0 / b.step_h)))  # the next day's are alike
        error_h = float(np.sqrt(0.5 * np.sum((out_h - np.roll(out_h, a_day)) ** 2)))
    walked = KindWalk(
        kind, starts, weight, made.ends_h, made.longest_h, made.totals.sum(axis=0), None, stored_kwh,
        error_h, made.by_step if by_step else None,
    )  # fmt: skip
    if not one_run(b) or b.reliability is None:
        return walked, made.left_kwh
    # the formula needs the moments of a set that works: those of the starts that no failure touched stand
    touched = (
        ~drawn.set_there | drawn.start_fails.any(axis=1) | (drawn.life_h[:, 0] <= steps * b.step_h + 1e-6)
    )
    again = np.flatnonzero(touched)
    sound = luck(seed, kind, starts[again], None, 0.0, None)
    calm = run_walk(b, number, kind, starts[again], sound, stored_kwh[again], steps, weight[again], event_h)
    made.ends_h[again], made.longest_h[again] = calm.ends_h, calm.longest_h
    r = b.reliability
    survives = (r.availability_frac * (1.0 - r.fails_to_start_frac), r.mttf_h)
    return replace(walked, survives=survives), made.left_kwh


def _draws(b: Backup, kind: EventKind) -> bool:
    """Whether chance has a part: then a start and the same clock time a day later differ by their draws."""
    block = b.battery_block
    by_hand = any(gap is not None and gap.needs_person for gap in (b.set_gap, b.battery_gap))
    fails = block is not None and (block.fails_to_island_frac > 0.0 or block.inverter_mttf_h is not None)
    piped = b.generator is not None and b.generator.tank_l is None
    return by_hand or fails or b.reliability is not None or (piped and kind.gas_out_frac > 0.0)


def _dark(b: Backup, kind: EventKind, starts: np.ndarray, hard_h: float) -> KindWalk:
    """The walk of an option without any source: every load is out for the whole event."""
    steps = kind.event_h.size
    totals = np.zeros(w.TOTALS)
    weight = kind.start_weight[starts]
    for kw, place in ((b.must_kw, w.MUST_OUT_KWH), (b.wanted_kw, w.WANTED_OUT_KWH)):
        totals[place] = weight @ event_sums(kw, kind.event_h)[starts]
    totals[w.MUST_OUT_H] = weight @ event_sums((b.must_kw > 0).astype(np.float64), kind.event_h)[starts]
    totals[w.MUST_KWH] = totals[w.MUST_OUT_KWH]
    totals[w.EVENT_H] = float(kind.event_h.sum())
    none = np.zeros(starts.size)
    return KindWalk(
        kind, starts, weight, none, np.full(starts.size, min(hard_h, steps * b.step_h)), totals, None
    )
