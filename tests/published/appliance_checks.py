"""Appliances and motors at the places of appliance_cases.py."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from kit.calendar import calendar_year
from kit.house.appliances import list_loads
from kit.house.peaks import Peaks, peaks
from kit.report.checks import Check, Provenance, Value
from kit.study.appliance_models import Appliance, Use
from kit.study.house_models import House
from kit.study.motor_models import LOCKED_ROTOR_KVA_PER_HP, Motor, locked_rotor_a, locked_rotor_kva
from tests.published import appliance_cases as cases

SUBJECT = "Appliances and motors"
LIBRARY = Path(__file__).parents[2] / "params/appliances/household.yaml"
BLOCKS: dict[str, Any] = {
    k: v for k, v in yaml.safe_load(LIBRARY.read_text(encoding="utf-8")).items() if k != "kit_file"
}
YEAR = calendar_year(2025, "America/New_York", 60)
PRICE_USD_PER_KWH = 0.11
SPANS = "the printed value must lie in the range of the library"


def house_of(**appliances: Appliance) -> House:
    return House(time_zone="America/New_York", latitude_deg=36.0, longitude_deg=-80.0, appliances=appliances)


def printed_rows() -> dict[str, str]:
    """The rows of the table of code letters as printed."""
    return dict(re.findall(r"([A-Z]) ([\d.+-]+)", cases.LOCKED_ROTOR_ROWS))


def kit_row(letter: str) -> str:
    """A row of the kit's table, written as the print writes it."""
    low, high = LOCKED_ROTOR_KVA_PER_HP[letter]
    return _as_printed(f"{low}+" if high is None else f"{low}-{high}")


def _as_printed(row: str) -> str:
    return "-".join(f"{float(end.rstrip('+')):g}" for end in row.split("-")) + "+" * row.endswith("+")


def standstill_a(case: cases.LockedRotorCase, end: int) -> float:
    return float(locked_rotor_a(case.code_letter, case.shaft_hp, case.voltage_v)[end] or 0.0)


def half_hp_kva(end: int) -> float:
    return float(locked_rotor_kva("L", 0.5)[end] or 0.0)


def half_hp_start_w() -> float:
    motor = Motor(shaft_hp=0.5, code_letter="L")
    start_w = Appliance(running_w=900.0, motor=motor, voltage_v=240, tier="must_run").start_total_w
    return float(start_w or 0.0)


def start_w(case: cases.StartCase) -> float:
    piece = Appliance(
        running_w=case.running_w, starting_total_w=case.total_w, starting_extra_w=case.extra_w, tier="wanted"
    )
    return float(piece.start_total_w or 0.0)


def worst_start() -> Peaks:
    case = cases.SUM_3950
    running_w, starting_w = case["refrigerator"]
    house = house_of(
        lamp=Appliance(running_w=float(case["lamp"]), tier="must_run"),
        cooker=Appliance(running_w=float(case["cooker"]), tier="must_run"),
        refrigerator=Appliance(
            running_w=float(running_w), starting_total_w=float(starting_w), duty_frac=0.33, tier="must_run"
        ),
        tv=Appliance(running_w=float(case["tv"]), tier="must_run"),
    )
    return peaks(house, list_loads(house, YEAR, np.full(YEAR.n, 20.0)), house.appliances)


def everyday_kwh(**appliances: Appliance) -> float:
    return float(list_loads(house_of(**appliances), YEAR, np.full(YEAR.n, 20.0)).everyday_kw.sum())


def computer_kwh() -> float:
    use = Use(weekday="18-22", weekend="18-22")
    watts = cases.DOE_COMPUTER["watts"]
    return everyday_kwh(
        **{f"part_{k}": Appliance(running_w=float(w), use=use, tier="wanted") for k, w in enumerate(watts)}
    )


def computer_usd() -> float:
    """The page rounds to the kWh before it multiplies."""
    return round(computer_kwh()) * PRICE_USD_PER_KWH


def fan_kwh() -> float:
    """120 days: June to September less two days; here 1 June to 30 September, 122 days, scaled back."""
    warm = {"months": [6, 7, 8, 9], "weekday": "18-22", "weekend": "18-22"}
    use = Use.model_validate({"weekday": "", "weekend": "", "seasons": {"warm": warm}})
    fan = Appliance(running_w=float(cases.DOE_FAN["watts"]), use=use, tier="wanted")
    return everyday_kwh(fan=fan) * float(cases.DOE_FAN["days"]) / 122


def library_range(block: str, field: str) -> tuple[float, float]:
    record = BLOCKS[block][field]
    return float(record["low"]), float(record["high"])


def check(
    name: str,
    unit: str,
    source: str,
    expected: Value,
    within: float,
    why: str,
    compute: Callable[[], Value],
    data: str,
    provenance: Provenance = "seen",
) -> Check:
    return Check(
        SUBJECT, name, unit, source, provenance, expected, within, why, compute, f"appliance_cases.{data}"
    )


LETTERS = [
    check(
        f"code letter {letter}",
        "kVA/hp",
        cases.CODE_LETTERS,
        _as_printed(row),
        0.0,
        "a table row",
        partial(kit_row, letter),
        "LOCKED_ROTOR_ROWS",
    )
    for letter, row in printed_rows().items()
]
MOTORS = (
    [
        check(
            f"standstill, {case.shaft_hp:g} hp {case.code_letter}, {word}",
            "A",
            case.source,
            value,
            cases.STANDSTILL_WITHIN_A,
            "half of the last printed digit",
            partial(standstill_a, case, end),
            "LOCKED_ROTOR_CASES",
            "worked",
        )
        for case in cases.LOCKED_ROTOR_CASES
        for end, (word, value) in enumerate((("lowest", case.low_a), ("highest", case.high_a)))
    ]
    + [
        check(
            f"1/2 hp of letter L, {word}",
            "kVA",
            cases.CODE_LETTERS,
            cases.HALF_HP_L_KVA[end],
            cases.HALF_HP_WITHIN_KVA,
            "the table has two places",
            partial(half_hp_kva, end),
            "HALF_HP_L_KVA",
            "worked",
        )
        for end, word in enumerate(("lowest", "highest"))
    ]
    + [
        check(
            "1/2 hp of letter L, start of the appliance",
            "W",
            cases.CODE_LETTERS,
            1000 * cases.HALF_HP_L_KVA[1],
            6.0,
            "the table has two places",
            half_hp_start_w,
            "HALF_HP_L_KVA",
            "worked",
        )
    ]
)
STARTS = [
    check(
        f"{case.name}: drawn while it starts",
        "W",
        case.source,
        case.is_total_w,
        0.0,
        "whole watts",
        partial(start_w, case),
        "START_CASES",
    )
    for case in cases.START_CASES
] + [
    check(
        "the published sum",
        "W",
        cases.COOPERATIVE,
        cases.SUM_3950["sum"],
        0.0,
        "whole watts",
        lambda: worst_start().worst_start_w,
        "SUM_3950",
    ),
    check(
        "what starts in that sum",
        "appliance",
        cases.COOPERATIVE,
        "refrigerator",
        0.0,
        "a name",
        lambda: str(worst_start().worst_start_slug),
        "SUM_3950",
    ),
]
ENERGY = [
    check(
        "computer and screen, a year",
        "kWh",
        cases.DOE,
        cases.DOE_COMPUTER["kwh"],
        0.5,
        "printed to the kWh",
        computer_kwh,
        "DOE_COMPUTER",
    ),
    check(
        "the computer at 11 cents",
        "usd",
        cases.DOE,
        cases.DOE_COMPUTER["usd"],
        4e-5,
        "printed to the cent",
        computer_usd,
        "DOE_COMPUTER",
    ),
    check(
        "window fan, 120 days, a season of its own",
        "kWh",
        cases.DOE,
        cases.DOE_FAN["kwh"],
        9e-5,
        "exact product",
        fan_kwh,
        "DOE_FAN",
    ),
    check(
        "the window fan at 11 cents",
        "usd",
        cases.DOE,
        cases.DOE_FAN["usd_at_11_cents"],
        1e-5,
        "exact product",
        lambda: fan_kwh() * PRICE_USD_PER_KWH,
        "DOE_FAN",
    ),
]
LIBRARY_RANGES = [
    check(
        f"{block.replace('_', ' ')}: {word} running watts in the library",
        "W",
        cases.DOE,
        watts,
        0.0,
        SPANS,
        partial(library_range, block, "running_w"),
        "DOE_RANGES",
    )
    for block, ends in cases.DOE_RANGES.items()
    for word, watts in zip(("lowest", "highest"), ends, strict=True)
] + [
    check(
        f"{case.name}: {word} watts in the library",
        "W",
        case.source,
        watts,
        0.0,
        SPANS,
        partial(library_range, cases.LIBRARY_BLOCK[case.name], field),
        "START_CASES",
    )
    for case in cases.START_CASES
    if case.name in cases.LIBRARY_BLOCK
    for word, field, watts in (
        ("starting", "starting_total_w", case.is_total_w),
        ("running", "running_w", case.running_w),
    )
]
CHECKS: list[Check] = [*LETTERS, *MOTORS, *STARTS, *ENERGY, *LIBRARY_RANGES]
