"""Small houses and machines for tests of the outage walk."""

from __future__ import annotations

import numpy as np

from kit.operate import walk as w

NEVER = 1e12


def numbers(step_h=1.0, **given):
    """The walk's number vector; battery and generator dicts as in tests.twins.outage."""
    number = np.zeros(w.NUMBERS)
    number[w.STEP_H] = step_h
    number[w.CHARGE_EFF] = number[w.DISCHARGE_EFF] = 1.0
    number[w.RUN_H] = number[w.CYCLE_H] = 24.0
    number[w.RESUPPLY_EVERY_H] = 24.0
    number[w.HARD_H] = 1e6
    for name, value in given.items():
        number[getattr(w, name)] = float(value)
    return number


def of_machines(house, machines):
    """The same vector from the twin's description."""
    battery, generator = machines.get("battery"), machines.get("generator")
    given = {"TOLERATES_H": machines["tolerates_h"], "RESUPPLY_DELAY_H": machines["resupply_delay_h"]}
    given["SOLAR_CHARGES"], given["SOLAR_BESIDE_SET"] = (
        machines["solar_charges"],
        machines["solar_beside_set"],
    )
    if battery:
        given |= dict(
            HAS_BATTERY=1,
            FULL_KWH=battery["full_kwh"],
            FLOOR_KWH=battery["floor_kwh"],
            RESTART_KWH=battery["restart_kwh"],
            WANTED_KWH=battery["wanted_kwh"],
            BATTERY_KW=battery["kw"],
            SOLAR_CHARGE_KW=battery["solar_charge_kw"],
            SET_CHARGE_KW=battery["set_charge_kw"],
            CHARGE_EFF=battery["charge_eff"],
            DISCHARGE_EFF=battery["discharge_eff"],
            IDLE_KW=battery["idle_kw"],
            START_KWH=battery["start_kwh"],
            STOP_KWH=battery["stop_kwh"],
        )
    if generator:
        given |= dict(
            HAS_SET=1,
            SET_KW=generator["kw"],
            SET_BEST_KW=generator["best_kw"],
            TANK=generator["tank"],
            ON_SITE=generator["on_site"],
            RESUPPLY=generator["resupply"],
            RESUPPLY_EVERY_H=generator["resupply_every_h"],
            REFUEL_GAP_H=generator["refuel_gap_h"],
            RUN_H=generator["run_h"],
            CYCLE_H=generator["cycle_h"],
            REPAIR_H=generator["repair_h"],
            BY_HAND=generator["by_hand"],
        )
    return numbers(house["step_h"], **given)


def run(house, machines, starts, hours, event_h=None, start_weight=None, start_fails=None):
    """Walk `starts` for `hours`; returns ends_h, totals (S, TOTALS), trace of the last start."""
    number = of_machines(house, machines)
    battery, generator = machines.get("battery"), machines.get("generator")
    starts = np.asarray(starts, dtype=np.int64)
    count, steps = starts.size, round(hours / house["step_h"])
    yes = np.ones(count, dtype=bool)
    points = generator["points"] if generator else [(0.0, 0.0), (1.0, 0.0)]
    ends, longest, left = np.zeros(count), np.zeros(count), np.zeros(count)
    totals, trace = np.zeros((count, w.TOTALS)), np.zeros((steps, w.TRACES))
    w.walk(
        number,
        starts,
        np.asarray(house["must_kw"], float),
        np.asarray(house["wanted_kw"], float),
        np.asarray(house["solar_kw"], float),
        np.ones(steps),
        np.asarray(house["attended"], bool),
        np.ones(len(house["must_kw"]), dtype=bool),
        np.full(count, battery["stored_kwh"] if battery else 0.0),
        np.full(count, generator["ready_h"] if generator else np.inf),
        np.zeros(count),
        yes,
        yes,
        yes,
        yes,
        np.zeros((count, 4), dtype=bool) if start_fails is None else start_fails,
        np.full((count, 4), generator["life_h"] if generator else NEVER),
        np.full(count, NEVER),
        np.array([p[0] for p in points], float),
        np.array([p[1] for p in points], float),
        np.ones(count) if start_weight is None else start_weight,
        np.full(steps, house["step_h"]) if event_h is None else event_h,
        np.zeros(steps),
        np.zeros(steps),
        np.zeros(steps),
        np.full(count, -1.0),
        np.full(count, steps - 1),
        ends,
        longest,
        left,
        totals,
        trace,
        np.zeros((0, w.TOTALS)),
    )
    return ends, totals, trace, longest
