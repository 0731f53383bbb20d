"""Bills against worked bills in print."""

from __future__ import annotations

import numpy as np
import pytest

from kit.calendar import Year, calendar_year
from kit.grid.bill import Bill, bill
from kit.study.rate_models import RatePlan
from tests.published import tariff_cases as cases


@pytest.fixture(scope="module")
def year() -> Year:
    return calendar_year(2025, "America/New_York", 60)


def january(made: Bill) -> list[float]:
    return made.lines[made.lines.month == 1].usd.tolist()


@pytest.mark.parametrize("case", cases.BILLS, ids=lambda case: case.name)
def test_worked_bill(case: cases.TariffCase, year: Year) -> None:
    import_kwh, export_kwh = np.zeros(year.n), np.zeros(year.n)
    import_kwh[24 * 2 : 24 * 6] = case.import_kwh / 96
    export_kwh[24 * 5 + 12] = case.export_kwh
    made = bill(RatePlan.model_validate(case.plan), year, import_kwh, export_kwh)
    assert made.month_usd[0] == pytest.approx(case.expected_usd, abs=cases.CENT)
    if case.lines_usd:
        assert january(made) == pytest.approx(case.lines_usd, abs=1e-9)


def test_the_trap_of_rounding_the_total_only(year: Year) -> None:
    """Unrounded lines give 95.68, a cent below the printed bill."""
    import_kwh = np.zeros(year.n)
    import_kwh[0] = 1050.0
    made = bill(RatePlan.model_validate(cases.INCLINING | {"rounding": "none"}), year, import_kwh)
    assert round(made.total_usd, 2) == 95.68


@pytest.mark.parametrize(("month", "peak_hour"), [(1, 7), (7, 16)])
def test_time_of_use_in_print(month: int, peak_hour: int, year: Year) -> None:
    """The printed windows: summer weekdays 15 to 19, winter weekdays 6 to 10; the same bill in both."""
    on_kwh, off_kwh = cases.TIME_OF_USE_KWH
    weekday = (year.month == month) & (year.weekday == 1)
    import_kwh = np.zeros(year.n)
    import_kwh[np.flatnonzero(weekday & (year.hour == peak_hour))[0]] = on_kwh
    import_kwh[np.flatnonzero(weekday & (year.hour == 12))[0]] = off_kwh / 2
    import_kwh[np.flatnonzero((year.month == month) & (year.weekday == 6) & (year.hour == peak_hour))[0]] = (
        off_kwh / 2
    )
    made = bill(RatePlan.model_validate(cases.TIME_OF_USE), year, import_kwh)
    assert made.month_usd[month - 1] == pytest.approx(cases.TIME_OF_USE_USD, abs=cases.CENT)


def test_demand_in_print(year: Year) -> None:
    plan = RatePlan.model_validate(
        {
            "energy": {"all_hours": {"price_usd_per_kwh": 0.0}},
            "demand": {"highest_hour": {"price_usd_per_kw": cases.DEMAND_USD_PER_KW, "interval_min": 60}},
        }
    )
    together, staggered = np.zeros(year.n), np.zeros(year.n)
    together[18] = sum(cases.TOGETHER_KW[0])
    staggered[18:21] = cases.STAGGERED_KW[0]
    assert bill(plan, year, together).total_usd == pytest.approx(cases.TOGETHER_KW[1], abs=cases.CENT)
    assert bill(plan, year, staggered).total_usd == pytest.approx(cases.STAGGERED_KW[1], abs=cases.CENT)
