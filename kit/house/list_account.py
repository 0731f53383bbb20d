"""The load list in figures: each appliance's power and energy, and the list against the meter."""

from __future__ import annotations

from calendar import month_abbr, month_name
from typing import TYPE_CHECKING

import numpy as np

from kit.study.finding import Finding
from kit.study.problems import Problem, StudyError

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.house.appliances import ListLoads
    from kit.study.house_models import House

RECONCILED = ("month", "list_kwh", "metered_kwh", "unexplained_kwh", "unexplained_frac")


def list_table(house: House, lists: ListLoads, year: Year) -> pd.DataFrame:
    """One row an appliance, in the order of the list.

    Columns: appliance, name, room, tier, count, voltage_v, circuit, running_w and start_w of one piece,
    everyday energy kwh_per_year, and its mean in an outage, outage_kwh_per_day.
    """
    import pandas as pd

    rows = []
    for slug, piece in house.appliances.items():
        rows.append(
            {
                "appliance": slug,
                "name": piece.name or slug.replace("_", " ").capitalize(),
                "room": piece.room,
                "tier": piece.tier,
                "count": piece.count,
                "voltage_v": piece.voltage_v,
                "circuit": piece.circuit,
                "running_w": piece.draw_w,
                "start_w": piece.start_total_w,
                "kwh_per_year": float(lists.everyday_by_appliance_kw[slug].sum() * year.step_h),
                "outage_kwh_per_day": float(24.0 * lists.outage_by_appliance_kw[slug].mean()),
            }
        )
    return pd.DataFrame(rows)


def tier_table(house: House, lists: ListLoads, year: Year) -> pd.DataFrame:
    """Energy and load by tier, everyday and in an outage: one row a tier, an empty tier as zeros.

    Columns: tier, appliance_count, everyday_kwh_per_day, outage_kwh_per_day, outage_mean_kw,
    outage_highest_kw (of the step means), and the day with the most energy, outage_worst_day_kwh.
    """
    import pandas as pd

    days = int(year.day_number[-1]) + 1
    rows = []
    for tier in ("must_run", "wanted", "can_wait"):
        slugs = [s for s, piece in house.appliances.items() if piece.tier == tier]
        everyday = sum((lists.everyday_by_appliance_kw[s] for s in slugs), np.zeros(year.n))
        outage = sum((lists.outage_by_appliance_kw[s] for s in slugs), np.zeros(year.n))
        by_day_kwh = np.bincount(year.day_number, weights=outage) * year.step_h
        rows.append(
            {
                "tier": tier,
                "appliance_count": len(slugs),
                "everyday_kwh_per_day": float(everyday.sum() * year.step_h) / days,
                "outage_kwh_per_day": float(by_day_kwh.sum()) / days,
                "outage_mean_kw": float(outage.mean()),
                "outage_highest_kw": float(outage.max()),
                "outage_worst_day_kwh": float(by_day_kwh.max()),
            }
        )
    return pd.DataFrame(rows)


def reconcile(lists: ListLoads, year: Year) -> pd.DataFrame:
    """The list against the meter by month, and the rest that the list does not explain; last row the year.

    Columns as RECONCILED; month is 1 to 12, and 0 for the year. Empty for a house without a meter.
    unexplained_frac is of the metered energy, NaN in a month that metered nothing.
    """
    import pandas as pd

    if not lists.metered:
        return pd.DataFrame(columns=list(RECONCILED))
    listed, metered = _by_month_kwh(lists, year)
    table = pd.DataFrame({"month": np.r_[1:13, 0]})
    table["list_kwh"] = listed[table["month"]]
    table["metered_kwh"] = metered[table["month"]]
    table["unexplained_kwh"] = table["metered_kwh"] - table["list_kwh"]
    table["unexplained_frac"] = table["unexplained_kwh"] / table["metered_kwh"].where(
        table["metered_kwh"] > 0
    )
    return table


def _by_month_kwh(lists: ListLoads, year: Year) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Energy of the list and of the meter in months 1 to 12, the year at place 0; both (13,)."""
    listed = np.bincount(year.month, weights=lists.everyday_kw, minlength=13) * year.step_h
    metered = np.bincount(year.month, weights=lists.house_kw, minlength=13) * year.step_h
    listed[0], metered[0] = listed.sum(), metered.sum()
    return np.asarray(listed, dtype=np.float64), np.asarray(metered, dtype=np.float64)


def list_findings(lists: ListLoads, year: Year) -> list[Finding]:
    """Months in which the list uses more than the meter saw.

    Raises:
        StudyError: a list that draws nothing in the whole year, everyday and in an outage, as when no
            thermostat ever calls.
    """
    outage = sum(float(load.sum()) for load in lists.outage_by_appliance_kw.values())
    if float(lists.everyday_kw.sum()) + outage <= 0.0:
        rule = "the list sums to nothing in this year"
        hint = "Look at hours of use, duties, and thermostats that never call."
        raise StudyError([Problem("load list", 0, 0, "house.appliances", rule, hint=hint)])
    if not lists.metered:
        return []
    listed, metered = _by_month_kwh(lists, year)
    rest = metered - listed
    above = [month for month in range(1, 13) if rest[month] < 0]
    if not above:
        return []
    worst = min(above, key=lambda month: rest[month])
    months = ", ".join(month_abbr[month] for month in above)
    text = (
        f"The list uses more than the meter saw in {months}; most in {month_name[worst]}, "
        f"{listed[worst]:.0f} against {metered[worst]:.0f} kWh. Hours or duties are too high "
        "there, or the meter is of another house."
    )
    return [Finding("list_above_meter_in_months", None, "house.appliances", text)]
