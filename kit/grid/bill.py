"""A year of bills, bill by bill, line by line, as the utility would print them.

Order of a bill: fixed, energy, riders and demand make the charges; a minimum tops them up;
export credit is then used as far as the plan lets it, or energy waits for the yearly true-up; percentage
lines come last.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from kit.grid.bill_days import BILL_COUNT, Segments, dates_of, event_days
from kit.grid.bill_lines import BillLine, BillMaker
from kit.grid.rates import PlanTable, VersionTable, prepare
from kit.study.finding import Finding
from kit.study.rate_days import day_in

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.rate_models import RatePlan

    Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Bill:
    """A year of bills, named after the month of their last day.

    Attributes:
        segments: bills, cut where the plan changes; the lines have an entry for each.
        month_usd: shape (12,) [USD].
        unused_credit_usd: credit still carried after the true-up month, or lost on the way [USD].
        unused_credit_kwh: kWh still carried after the true-up month [kWh].
    """

    bill_lines: tuple[BillLine, ...]
    segments: Segments
    month_usd: Floats
    unused_credit_usd: float = 0.0
    unused_credit_kwh: float = 0.0

    @property
    def total_usd(self) -> float:
        """The year's bill [USD]."""
        return float(self.month_usd.sum())

    @property
    def part_usd(self) -> dict[str, float]:
        """The year by part: fixed, energy, rider, demand, minimum, credit, true_up, tax [USD]."""
        parts: dict[str, float] = {}
        for line in self.bill_lines:
            parts[line.part] = parts.get(line.part, 0.0) + float(line.usd.sum())
        return parts

    @cached_property
    def lines(self) -> pd.DataFrame:
        """Columns month, line, quantity, unit, price, usd; empty lines left out; usd adds to total_usd.

        A bill in which the plan changes has the lines of each part, named by its first day.
        """
        import pandas as pd

        rows = [
            (self.segments.bill[k] + 1, b.name + self._since(k), b.quantity[k], b.unit, b.price[k], b.usd[k])
            for k in sorted(range(self.segments.count), key=lambda k: int(self.segments.bill[k]))
            for b in self.bill_lines
            if b.quantity[k] or b.usd[k]
        ]
        return pd.DataFrame(rows, columns=["month", "line", "quantity", "unit", "price", "usd"])

    def _since(self, segment: int) -> str:
        several = np.count_nonzero(self.segments.bill == self.segments.bill[segment]) > 1
        return f" (from {self.segments.starts[segment]})" if several else ""


def bill(plan: RatePlan, year: Year, import_kwh: Floats, export_kwh: Floats | None = None) -> Bill:
    """The year's bills for energy drawn from and sent to the grid.

    Args:
        plan: the rate plan.
        year: the calendar year of the steps.
        import_kwh, export_kwh: energy of each step, shape (n,), at or above 0 [kWh].

    Raises:
        ValueError: wrong shape, negative or not finite.
        PriceSeriesError: the plan's price series does not cover the year.
    """
    return bill_from(prepare(plan, year), import_kwh, export_kwh)


def bill_usd(table: PlanTable, import_kwh: Floats, export_kwh: Floats | None = None) -> float:
    """The year's bill alone [USD], from a prepared plan."""
    return bill_from(table, import_kwh, export_kwh).total_usd


def bill_from(table: PlanTable, import_kwh: Floats, export_kwh: Floats | None = None) -> Bill:
    """As `bill`, from a prepared plan."""
    drawn = _checked("import_kwh", import_kwh, table.year.n)
    sent = np.zeros(table.year.n) if export_kwh is None else _checked("export_kwh", export_kwh, table.year.n)
    maker, month_usd = _made(table, drawn, sent)
    return Bill(tuple(maker.lines), table.segments, month_usd, maker.unused_usd, maker.unused_kwh)


def bills_usd(table: PlanTable, import_kwh: Floats, export_kwh: Floats) -> Floats:
    """The bills of K years under one plan, shape (K,) [USD], each as `bill_usd` makes it.

    Args:
        table: the plan, prepared.
        import_kwh, export_kwh: energy of each step of each year, shape (K, n), at or above 0 [kWh].

    Raises:
        ValueError: as `bill`.
    """
    if not all(_lines_of_many_years(version) for version in table.versions):
        return np.array([bill_usd(table, *flows) for flows in zip(import_kwh, export_kwh, strict=True)])
    for drawn, sent in zip(import_kwh, export_kwh, strict=True):
        _checked("import_kwh", drawn, table.year.n)
        _checked("export_kwh", sent, table.year.n)
    _, month_usd = _made(table, import_kwh, export_kwh)
    return np.array([one.sum() for one in np.broadcast_to(month_usd, (len(import_kwh), BILL_COUNT))])


def _lines_of_many_years(version: VersionTable) -> bool:
    """Whether the lines of this plan come out right for many years at once; demand and true-ups do not."""
    true_up = version.plan.export.leftover in ("carried_kwh", "settled_yearly")
    return not version.demand and version.series is None and not true_up


def _made(table: PlanTable, import_kwh: Floats, export_kwh: Floats) -> tuple[BillMaker, Floats]:
    """The lines of one year (n,) or many (K, n), and their sum by bill, shape (..., 12) [USD]."""
    maker = BillMaker(table, import_kwh, export_kwh)
    for number in range(len(table.versions)):
        maker.add_charges(number)
    maker.add_credits()
    maker.add_taxes()
    usd: Floats = np.asarray(sum((line.usd for line in maker.lines), np.zeros(table.segments.count)))
    month_usd = np.zeros((BILL_COUNT, *usd.shape[:-1]))
    np.add.at(month_usd, table.segments.bill, np.moveaxis(usd, -1, 0))
    return maker, np.moveaxis(month_usd, 0, -1)


def bill_findings(plan: RatePlan, year: Year, made: Bill) -> tuple[Finding, ...]:
    """What a reader of the bill must know: credit lost, demand read too coarsely, dates of other years."""
    found = []
    if made.unused_credit_usd > 0.005:
        text = f"export credit of {made.unused_credit_usd:.2f} is not used within the year"
        found.append(Finding("credit_unused", None, "rate_plan.export.leftover", text))
    if made.unused_credit_kwh > 0.5 and not plan.export.year_end_usd_per_kwh:
        month = f"{dates_of(year)[0].replace(month=plan.export.true_up_month):%B}"
        text = f"{made.unused_credit_kwh:.0f} kWh of export are still carried after {month} and earn nothing"
        found.append(Finding("credit_unused", None, "rate_plan.export.leftover", text))
    for one in plan.versions():
        found += _demand_findings(one, year)
        found += _date_findings(one, year)
    return tuple(found)


def _demand_findings(plan: RatePlan, year: Year) -> list[Finding]:
    found = []
    for slug, charge in plan.demand.items():
        if charge.interval_min < 60 * year.step_h:
            text = (
                f"demand charge {slug} is read every {charge.interval_min} min, "
                f"the load here is a mean over {60 * year.step_h:.0f} min: the true peak is higher"
            )
            found.append(Finding("demand_interval", None, f"rate_plan.demand.{slug}", text))
        if charge.ratchet is not None and charge.ratchet.before_kw is None:
            text = (
                f"the ratchet of demand charge {slug} takes the year before to have been like this one: in "
                "the first year the peaks of the year before new equipment still count"
            )
            found.append(
                Finding("ratchet_start", None, f"rate_plan.demand.{slug}.ratchet", text, None, "note")
            )
    return found


def _date_findings(plan: RatePlan, year: Year) -> list[Finding]:
    found, calendar_year = [], int(year.index[0].year)
    for slug, event in plan.critical_peaks.items():
        if not event_days(event.dates, dates_of(year)).any():
            text = f"no event day of {slug} lies in {calendar_year}: no event is billed"
            found.append(Finding("no_event_days", None, f"rate_plan.critical_peaks.{slug}.dates", text))
    later = plan.followed_by
    if later is not None and later.starts is not None and day_in(later.starts, calendar_year) is None:
        text = f"the change of plan on {later.starts} is not in {calendar_year}: that year has one plan only"
        found.append(Finding("plan_change_elsewhere", None, "rate_plan.followed_by.starts", text))
    return found


def _checked(name: str, energy_kwh: Floats, n: int) -> Floats:
    values = np.asarray(energy_kwh, dtype=np.float64)
    if values.shape != (n,):
        raise ValueError(f"{name} has shape {values.shape}, the year has {n} steps")
    lowest = values.min()
    if not lowest >= 0.0 or values.max() == np.inf:
        what = "negative" if lowest < 0.0 else "not finite"
        raise ValueError(f"{name} is {what} somewhere: give import and export apart, each at or above 0")
    return values
