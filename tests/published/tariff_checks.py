"""Bills at the places of tariff_cases.py, and bills by two records of the open rate database."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from pathlib import Path

import numpy as np

from kit.calendar import calendar_year
from kit.grid.bill import Bill, bill
from kit.grid.rate_record import read_records
from kit.report.checks import Check, Provenance
from kit.study.rate_models import RatePlan
from tests.published import tariff_cases as cases

SUBJECT = "Bills"
YEAR = calendar_year(2025, "America/New_York", 60)
RECORD_YEAR = calendar_year(2025, "America/Phoenix", 60)
RECORD_FOLDER = Path(__file__).parents[1] / "data" / "rates"
RECORD_FILES = ("open_rate_record_tou_demand.json", "open_rate_record_tiered_daily.json")
CENTS = "half a cent: bills are printed in cents"
WINDOWS = "Fayetteville (North Carolina) public utility, residential time-of-use page"
DEMAND = "Los Alamos County (New Mexico), residential demand example"


@cache
def january_bill(name: str) -> Bill:
    """The bill of a case whose kWh all fall in January."""
    case = next(case for case in cases.BILLS if case.name == name)
    import_kwh, export_kwh = np.zeros(YEAR.n), np.zeros(YEAR.n)
    import_kwh[24 * 2 : 24 * 6] = case.import_kwh / 96
    export_kwh[24 * 5 + 12] = case.export_kwh
    return bill(RatePlan.model_validate(case.plan), YEAR, import_kwh, export_kwh)


def total_usd(case: cases.TariffCase) -> float:
    return float(january_bill(case.name).month_usd[0])


def lines_text(case: cases.TariffCase) -> str:
    lines = january_bill(case.name).lines
    return as_text(lines[lines.month == 1].usd.tolist())


def as_text(lines_usd: list[float] | tuple[float, ...]) -> str:
    """Lines to a billionth, so that a line that was not rounded shows."""
    return "; ".join(
        f"{round(usd, 9):.2f}" if round(usd, 9) == round(usd, 2) else f"{usd:.9f}" for usd in lines_usd
    )


def time_of_use_usd(month: int, peak_hour: int) -> float:
    """The printed windows: summer weekdays 15 to 19, winter weekdays 6 to 10; the same bill in both."""
    on_kwh, off_kwh = cases.TIME_OF_USE_KWH
    weekday = (YEAR.month == month) & (YEAR.weekday == 1)
    import_kwh = np.zeros(YEAR.n)
    import_kwh[np.flatnonzero(weekday & (YEAR.hour == peak_hour))[0]] = on_kwh
    import_kwh[np.flatnonzero(weekday & (YEAR.hour == 12))[0]] = off_kwh / 2
    sunday = (YEAR.month == month) & (YEAR.weekday == 6) & (YEAR.hour == peak_hour)
    import_kwh[np.flatnonzero(sunday)[0]] = off_kwh / 2
    made = bill(RatePlan.model_validate(cases.TIME_OF_USE), YEAR, import_kwh)
    return float(made.month_usd[month - 1])


def demand_usd(loads_kw: tuple[float, ...], together: bool) -> float:
    highest_hour = {"price_usd_per_kw": cases.DEMAND_USD_PER_KW, "interval_min": 60}
    energy = {"all_hours": {"price_usd_per_kwh": 0.0}}
    plan = RatePlan.model_validate({"energy": energy, "demand": {"highest_hour": highest_hour}})
    import_kwh = np.zeros(YEAR.n)
    import_kwh[18 : 18 + len(loads_kw)] = [sum(loads_kw), 0.0, 0.0] if together else loads_kw
    return float(bill(plan, YEAR, import_kwh).total_usd)


def record_plan(file: str) -> RatePlan:
    (found,) = read_records(RECORD_FOLDER / file)
    return found.plan


def record_demand_usd() -> float:
    year = RECORD_YEAR
    january = year.month == 1
    inside = january & (year.weekday < 5) & (year.hour >= 15) & (year.hour < 20)
    import_kwh = np.where(inside, 2.0, 1.0) * january
    import_kwh[january & (year.index.day == 15) & (year.hour == 17)] = 7.0
    import_kwh[january & (year.index.day == 19) & (year.hour == 17)] = 9.0
    return float(bill(record_plan(RECORD_FILES[0]), year, import_kwh).month_usd[0])


def record_tiers_usd(month: int) -> float:
    import_kwh = np.zeros(RECORD_YEAR.n)
    import_kwh[np.flatnonzero(RECORD_YEAR.month == 7)[40]] = 1000.0
    import_kwh[np.flatnonzero(RECORD_YEAR.month == 2)[40]] = 30.0
    return float(bill(record_plan(RECORD_FILES[1]), RECORD_YEAR, import_kwh).month_usd[month - 1])


def check(
    name: str,
    source: str,
    provenance: Provenance,
    expected: float | str,
    within: float,
    why: str,
    compute: Callable[[], float | str],
    data: str,
    relative: bool = False,
) -> Check:
    return Check(
        SUBJECT,
        name,
        "usd",
        source,
        provenance,
        expected,
        within,
        why,
        compute,
        f"tariff_cases.{data}",
        relative,
    )


def provenance_of(case: cases.TariffCase) -> Provenance:
    if case.source == cases.OWN:
        return "practice"
    return "worked" if "recomputed" in case.source else "seen"


def of_bill(case: cases.TariffCase) -> list[Check]:
    how = provenance_of(case)
    made = [
        check(
            case.name,
            case.source,
            how,
            case.expected_usd,
            cases.CENT,
            CENTS,
            partial(total_usd, case),
            "BILLS",
        )
    ]
    if case.lines_usd:
        lines = as_text(case.lines_usd)
        made.append(
            check(
                f"{case.name}: its lines",
                case.source,
                how,
                lines,
                0.0,
                "to the cent",
                partial(lines_text, case),
                "BILLS",
            )
        )
    return made


TIME_OF_USE = [
    check(
        f"1,000 kWh, 80 % off-peak, {season}",
        WINDOWS,
        "seen",
        cases.TIME_OF_USE_USD,
        cases.CENT,
        CENTS,
        partial(time_of_use_usd, month, hour),
        "TIME_OF_USE_USD",
    )
    for season, month, hour in (("winter", 1, 7), ("summer", 7, 16))
]
DEMANDS = [
    check(
        f"demand, loads {word}",
        DEMAND,
        "seen",
        usd,
        cases.CENT,
        CENTS,
        partial(demand_usd, loads_kw, word == "together"),
        data,
    )
    for word, (loads_kw, usd), data in (
        ("together", cases.TOGETHER_KW, "TOGETHER_KW"),
        ("staggered", cases.STAGGERED_KW, "STAGGERED_KW"),
    )
]
EXACT = "the arithmetic is exact"
OPEN_RECORDS = [
    check(
        "time of use with demand, January",
        cases.RECORDS,
        "worked",
        cases.RECORD_DEMAND_USD,
        cases.RECORD_WITHIN,
        EXACT,
        record_demand_usd,
        "RECORD_DEMAND_USD",
        relative=True,
    )
] + [
    check(
        f"tiers a day, month {month}",
        cases.RECORDS,
        "worked",
        usd,
        cases.RECORD_WITHIN,
        EXACT,
        partial(record_tiers_usd, month),
        "RECORD_TIERS_USD",
        relative=True,
    )
    for month, usd in cases.RECORD_TIERS_USD.items()
]
CHECKS: list[Check] = [
    *(check for case in cases.BILLS for check in of_bill(case)),
    *TIME_OF_USE,
    *DEMANDS,
    *OPEN_RECORDS,
]
