"""The kit's ageing forms and its count of cycles at the places of ageing_cases.py."""

from __future__ import annotations

from functools import partial

import numpy as np
import rainflow

from kit.report.checks import Check
from kit.systems.ageing import (
    anode_potential_v,
    counted_cycles,
    held_full,
    naumann_cycle_k,
    schimpe_calendar_k,
)
from tests.published import ageing_cases as cases

SUBJECT = "Ageing of cells"
HALF = "half of the last digit, rounded up"


def naumann_calendar(temperature_c: float, charge_frac: float, years: float) -> float:
    return 100 * held_full(temperature_c, charge_frac=charge_frac).loss_frac(years)


def naumann_cycle(rate: float, depth: float, full_cycles: float) -> float:
    return 100 * float(naumann_cycle_k(depth, rate)) * full_cycles**0.5


def schimpe_calendar(charge_frac: float) -> float:
    return 100 * float(schimpe_calendar_k(25.0, charge_frac)) * 8760**0.5


def anode_v(charge_frac: float) -> float:
    return float(anode_potential_v(charge_frac))


def other_paper_share(charge_frac: float) -> float:
    one = held_full(25.0, "naumann", charge_frac).loss_frac(1.0)
    return held_full(25.0, "schimpe", charge_frac).loss_frac(1.0) / one


def library_cycles() -> dict[float, float]:
    """Cycles by range, by the library the kit counts with."""
    return dict(rainflow.count_cycles(cases.ASTM_SERIES))


def kit_cycles() -> dict[float, float]:
    """Cycles by range, by the kit's own use of it on a path of charge."""
    low, high = min(cases.ASTM_SERIES), max(cases.ASTM_SERIES)
    counted = counted_cycles((np.array(cases.ASTM_SERIES) - low) / (high - low), 1.0)
    found: dict[float, float] = {}
    for depth, count in zip(counted.depth_frac, counted.count, strict=True):
        swing = round(float(depth) * (high - low), 9)
        found[swing] = found.get(swing, 0.0) + float(count)
    return found


def as_text(cycles: dict[float, float]) -> str:
    return ", ".join(f"{swing:g}: {cycles[swing]:g}" for swing in sorted(cycles))


def check(
    name: str, unit: str, source: str, expected: float, within: float, compute: partial[float], data: str
) -> Check:
    return Check(
        SUBJECT, name, unit, source, "worked", expected, within, HALF, compute, f"ageing_cases.{data}"
    )


CALENDAR = [
    check(
        f"loss at {t:g} C, {charge:.0%} charged, {years:g} years",
        "%",
        cases.NAUMANN_2018,
        loss,
        within,
        partial(naumann_calendar, t, charge, years),
        "NAUMANN_CALENDAR",
    )
    for (t, charge), losses in cases.NAUMANN_CALENDAR.items()
    for years, loss, within in zip((1.0, 10.0), losses, (0.0006, 0.006), strict=True)
]
CYCLE = [
    check(
        f"loss of {count:g} full cycles at {rate:g} C-rate, depth {depth:.0%}",
        "%",
        cases.NAUMANN_2020,
        loss,
        0.0006,
        partial(naumann_cycle, rate, depth, count),
        "NAUMANN_CYCLE",
    )
    for (rate, depth, count), loss in cases.NAUMANN_CYCLE.items()
]
SCHIMPE = [
    check(
        f"loss at 25 C, {charge:.0%} charged, a year",
        "%",
        cases.SCHIMPE_2018,
        loss,
        0.0006,
        partial(schimpe_calendar, charge),
        "SCHIMPE_CALENDAR",
    )
    for charge, loss in cases.SCHIMPE_CALENDAR.items()
] + [
    check(
        f"anode potential, {charge:.0%} charged",
        "V",
        cases.SCHIMPE_2018,
        volts,
        0.6e-5,
        partial(anode_v, charge),
        "SCHIMPE_ANODE_V",
    )
    for charge, volts in cases.SCHIMPE_ANODE_V.items()
]
TWO_PAPERS = [
    Check(
        SUBJECT,
        f"loss of one paper over that of the other, {charge:.0%} charged, 25 C, a year",
        "share",
        f"{cases.NAUMANN_2018}; {cases.SCHIMPE_2018}",
        "worked",
        1.0,
        cases.PAPERS_AGREE_WITHIN,
        "two teams, two cells: a tenth",
        partial(other_paper_share, charge),
        "ageing_cases.PAPERS_AGREE_WITHIN",
    )
    for charge in (0.5, 1.0)
]
RAINFLOW = [
    Check(
        SUBJECT,
        f"cycles by range, {who}",
        "range: count",
        cases.ASTM,
        "seen",
        as_text(cases.ASTM_RANGES),
        0.0,
        "exact counts",
        lambda count=count: as_text(count()),
        "ageing_cases.ASTM_RANGES",
    )
    for who, count in (("the library alone", library_cycles), ("the kit's use of it", kit_cycles))
]
CHECKS: list[Check] = [*CALENDAR, *CYCLE, *SCHIMPE, *TWO_PAPERS, *RAINFLOW]
