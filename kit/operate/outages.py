"""A year of outages for one option: the walk from every start, weighted by how often and how long.

`walk_outages` gives the expected year and the chance to ride through; `one_outage` follows a
single event hour by hour; `fuel_need` says how much fuel an outage of a length takes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from kit.operate import walk as w
from kit.operate.events import EventKind, Luck, luck, sure, wait_for_someone_h
from kit.study.equipment_models import Battery, Generator
from kit.systems.battery import BatterySystem
from kit.systems.generator import GeneratorSet
from kit.systems.reliability import Reliability
from kit.systems.transfer import Gap

UNLIMITED = 1e12


@dataclass(frozen=True)
class Backup:
    """One option's sources and the loads they reach, on the steps of the year; arrays (n,).

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


@dataclass(frozen=True)
class KindWalk:
    """One kind of event from its starts: moments (S,), longest gaps (S,), expected sums per event."""

    kind: EventKind
    starts: np.ndarray
    ends_h: np.ndarray
    longest_h: np.ndarray
    totals: np.ndarray
    survives: tuple[float, float, float] | None  # (A (1-p), MTTF, hours before it runs); None: in ends_h


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
        number[w.RESUPPLY], number[w.RESUPPLY_EVERY_H] = g.resupply_l, g.resupply_every_h
        number[w.REFUEL_GAP_H] = g.refuel_gap_min / 60.0
        number[w.NIGHT_FUEL] = float(g.refuels_at_night)
        if g.run_schedule is not None:
            number[w.RUN_H], number[w.CYCLE_H] = g.run_schedule.run_h, g.run_schedule.cycle_h
        number[w.REPAIR_H] = g.repair_h
        number[w.SOLAR_BESIDE_SET] = float(b.solar_beside_set)
    return number


def _ready_h(gap: Gap | None, wait_h: np.ndarray, someone: np.ndarray) -> np.ndarray:
    """Hours until a source serves, per start; inf where nobody comes."""
    if gap is None:
        return np.full(wait_h.size, np.inf)
    if not gap.needs_person:
        return np.full(wait_h.size, gap.gap_s / 3600.0)
    return np.where(someone, wait_h + gap.gap_s / 3600.0, np.inf)


def _run(
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
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """One call of the compiled walk; returns ends_h, longest_h, totals (S, TOTALS), trace."""
    count = starts.size
    wait = wait_for_someone_h(b.attended, b.step_h)[starts]
    flows = drawn.gas_flows if number[w.PIPED] > 0 else np.ones(count, dtype=bool)
    curve = (
        (b.generator.output_kw, b.generator.fuel_per_h)
        if b.generator is not None
        else (np.zeros(2), np.zeros(2))
    )
    ends, longest = np.zeros(count), np.zeros(count)
    totals = np.zeros((count, w.TOTALS))
    trace = np.zeros((trace_steps, w.TRACES))
    solar = b.solar_kw if b.solar_charges or b.solar_beside_set else np.zeros_like(b.solar_kw)
    w.walk(
        number,
        np.ascontiguousarray(starts, dtype=np.int64),
        np.ascontiguousarray(b.must_kw),
        np.ascontiguousarray(b.wanted_kw),
        np.ascontiguousarray(solar),
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
        ends,
        longest,
        totals,
        trace,
    )
    return ends, longest, totals, trace


def one_run(b: Backup) -> bool:
    """True where the generator runs once, without a stop, for the whole outage: the formula is exact."""
    g = b.generator_block
    return g is not None and b.battery is None and g.run_schedule is None and g.refuel_gap_min == 0.0


def walk_kind(b: Backup, kind: EventKind, seed: int, hard_h: float) -> KindWalk:
    """Walk every start of one kind that can happen.

    A set that runs once has its failure in the formula A (1 - p) exp(-t / MTTF), exact for one
    continuous run (Marqusee and Jenket 2020); its expected year, and all of a hybrid, use draws.
    """
    starts = np.flatnonzero(kind.start_weight > 0)
    weight = kind.start_weight[starts]
    if b.battery is None and b.generator is None:
        return _dark(b, kind, starts, hard_h)
    number = option_numbers(b, kind.resupply_delay_h, hard_h)
    block = b.battery_block
    drawn = luck(
        seed,
        kind,
        starts,
        b.reliability,
        block.fails_to_island_frac if block else 0.0,
        block.inverter_mttf_h if block else None,
    )
    stored = b.stored_kwh[starts]
    steps = kind.event_h.size
    ends, longest, totals, _ = _run(b, number, kind, starts, drawn, stored, steps, weight, kind.event_h)
    survives = None
    if one_run(b) and b.reliability is not None:
        calm = luck(seed, kind, starts, None, 0.0, None)
        ends, longest, _, _ = _run(b, number, kind, starts, calm, stored, steps, weight, kind.event_h)
        r = b.reliability
        survives = (r.availability_frac * (1.0 - r.fails_to_start_frac), r.mttf_h, 0.0)
    return KindWalk(kind, starts, ends, longest, totals.sum(axis=0), survives)


def _dark(b: Backup, kind: EventKind, starts: np.ndarray, hard_h: float) -> KindWalk:
    """The walk of an option without any source: every load is out for the whole event."""
    steps = kind.event_h.size
    totals = np.zeros(w.TOTALS)
    weight = kind.start_weight[starts]
    for kw, place in ((b.must_kw, w.MUST_OUT_KWH), (b.wanted_kw, w.WANTED_OUT_KWH)):
        totals[place] = weight @ _ahead(kw, kind.event_h)[starts]
    totals[w.MUST_OUT_H] = weight @ _ahead((b.must_kw > 0).astype(np.float64), kind.event_h)[starts]
    totals[w.MUST_KWH] = totals[w.MUST_OUT_KWH]
    totals[w.EVENT_H] = float(kind.event_h.sum())
    none = np.zeros(starts.size)
    return KindWalk(kind, starts, none, np.full(starts.size, min(hard_h, steps * b.step_h)), totals, None)


def _ahead(values: np.ndarray, event_h: np.ndarray) -> np.ndarray:
    """For each start s of the year (n,): sum over k of values[s + k] x event_h[k], the year wrapping."""
    padded = np.zeros(values.size)
    whole = np.zeros(-(-event_h.size // values.size) * values.size)
    whole[: event_h.size] = event_h
    padded += whole.reshape(-1, values.size).sum(axis=0)
    return np.fft.irfft(np.fft.rfft(values) * np.conj(np.fft.rfft(padded)), n=values.size)


def one_outage(b: Backup, kind: EventKind, start: int, hours: float) -> np.ndarray:
    """Follow one event from `start`, machines working and someone there at attended hours.

    Returns (steps, TRACES), means over each step (places in kit.operate.walk).
    """
    steps = int(np.ceil(hours / b.step_h))
    starts = np.array([start])
    number = option_numbers(b, kind.resupply_delay_h, hours)
    padded = _padded(kind, steps)
    trace = _run(
        b,
        number,
        padded,
        starts,
        sure(kind, starts),
        b.stored_kwh[starts],
        steps,
        np.ones(1),
        np.full(steps, b.step_h),
        steps,
    )[3]
    return trace


def _padded(kind: EventKind, steps: int) -> EventKind:
    """The kind, long enough for `steps`."""
    extra = max(0, steps - kind.day_frac.size)
    day = np.concatenate([kind.day_frac, np.full(extra, kind.day_frac[-1])])
    return replace(kind, day_frac=day, stops_frac=np.concatenate([kind.stops_frac, np.zeros(extra)]))


def fuel_need(b: Backup, kind: EventKind, hours: tuple[float, ...]) -> np.ndarray:
    """Mean fuel (L, or m3 of pipeline gas) that outages of the given hours take, supply unlimited.

    Over a spread of about 400 starts of the kind, machines working.
    """
    likely = np.flatnonzero(kind.start_weight > 0)
    starts = likely[:: max(1, likely.size // 400)]
    weight = kind.start_weight[starts] / kind.start_weight[starts].sum()
    number = option_numbers(b, 0.0, 0.0)
    number[w.TANK] = number[w.ON_SITE] = UNLIMITED
    need = []
    for h in hours:
        steps = max(1, round(h / b.step_h))
        kept = _padded(kind, steps)
        totals = _run(
            b,
            number,
            kept,
            starts,
            sure(kind, starts),
            b.stored_kwh[starts],
            steps,
            weight,
            np.full(steps, b.step_h),
        )[2]
        need.append(float(totals[:, w.FUEL].sum()))
    return np.array(need)
