"""A year of bills, month by month, line by line, as the utility would print them.

Order of a month: fixed, energy, riders and demand make the charges; a minimum tops them up;
export credit is then used as far as the plan lets it; taxes come last and do not compound.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from kit.grid.rates import MONTH_COUNT, PlanTable, export_prices, prepare
from kit.study.finding import Finding

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.grid.rates import Ladder
    from kit.study.rate_models import RatePlan

    Floats = NDArray[np.float64]

CENT_TIE = 1e-7  # of a cent: a half cent that floats carry as 0.4999999 still rounds up


@dataclass(frozen=True, eq=False)
class BillLine:
    """One printed line in each of the twelve months; quantity, price and usd have shape (12,)."""

    part: str  # fixed, energy, rider, demand, minimum, credit, tax
    name: str
    unit: str
    quantity: Floats
    price: Floats
    usd: Floats


@dataclass(frozen=True, eq=False)
class Bill:
    """A year of bills.

    Attributes:
        month_usd: shape (12,) [USD].
        unused_credit_usd: credit still carried after December, or lost on the way [USD].
        unused_credit_kwh: kWh still carried after December [kWh].
    """

    bill_lines: tuple[BillLine, ...]
    month_usd: Floats
    unused_credit_usd: float = 0.0
    unused_credit_kwh: float = 0.0

    @property
    def total_usd(self) -> float:
        """The year's bill [USD]."""
        return float(self.month_usd.sum())

    @property
    def part_usd(self) -> dict[str, float]:
        """The year by part: fixed, energy, rider, demand, minimum, credit, tax [USD]."""
        parts: dict[str, float] = {}
        for line in self.bill_lines:
            parts[line.part] = parts.get(line.part, 0.0) + float(line.usd.sum())
        return parts

    @cached_property
    def lines(self) -> pd.DataFrame:
        """Columns month, line, quantity, unit, price, usd; empty lines left out; usd adds to total_usd."""
        import pandas as pd

        rows = [
            (month + 1, b.name, b.quantity[month], b.unit, b.price[month], b.usd[month])
            for month in range(MONTH_COUNT)
            for b in self.bill_lines
            if b.quantity[month] or b.usd[month]
        ]
        return pd.DataFrame(rows, columns=["month", "line", "quantity", "unit", "price", "usd"])


def bill(plan: RatePlan, year: Year, import_kwh: Floats, export_kwh: Floats | None = None) -> Bill:
    """The year's bills for energy drawn from and sent to the grid.

    Args:
        plan: the rate plan.
        year: the calendar year of the steps.
        import_kwh, export_kwh: energy of each step, shape (n,), at or above 0 [kWh].

    Raises:
        ValueError: wrong shape, negative or not finite.
    """
    return bill_from(prepare(plan, year), import_kwh, export_kwh)


def bill_usd(table: PlanTable, import_kwh: Floats, export_kwh: Floats | None = None) -> float:
    """The year's bill alone [USD], from a prepared plan."""
    return bill_from(table, import_kwh, export_kwh).total_usd


def bill_from(table: PlanTable, import_kwh: Floats, export_kwh: Floats | None = None) -> Bill:
    """As `bill`, from a prepared plan."""
    drawn = table.by_month_and_period(_checked("import_kwh", import_kwh, table.year.n))
    sent = np.zeros_like(drawn)
    if export_kwh is not None:
        sent = table.by_month_and_period(_checked("export_kwh", export_kwh, table.year.n))
    maker = _BillMaker(table)
    maker.add_fixed()
    surplus = maker.add_energy(drawn, sent)
    maker.add_demand(np.asarray(import_kwh))
    charges_usd = sum(maker.part(p) for p in ("fixed", "energy", "rider", "demand"))
    floor_usd = table.plan.minimum_usd_per_month
    top_up_usd = np.maximum(floor_usd - charges_usd, 0.0)
    maker.add("minimum", "minimum bill top-up", "USD", top_up_usd, np.ones(MONTH_COUNT))
    maker.add_credit(surplus, sent, charges_usd + maker.part("minimum"))
    maker.add_taxes()
    month_usd = np.sum([line.usd for line in maker.lines], axis=0)
    return Bill(tuple(maker.lines), month_usd, maker.unused_usd, maker.unused_kwh)


def bill_findings(plan: RatePlan, year: Year, made: Bill) -> tuple[Finding, ...]:
    """What a reader of the bill must know: credit lost, demand read from means too long."""
    found = []
    if made.unused_credit_usd > 0.005:
        text = f"export credit of {made.unused_credit_usd:.2f} is not used within the year"
        found.append(Finding("credit_unused", None, "rate_plan.export.leftover", text))
    if made.unused_credit_kwh > 0.5 and not plan.export.year_end_usd_per_kwh:
        text = f"{made.unused_credit_kwh:.0f} kWh of export are still carried after December and earn nothing"
        found.append(Finding("credit_unused", None, "rate_plan.export.leftover", text))
    for slug, charge in plan.demand.items():
        if charge.interval_min < 60 * year.step_h:
            text = (
                f"demand charge {slug} is read every {charge.interval_min} min, "
                f"the load here is a mean over {60 * year.step_h:.0f} min: the true peak is higher"
            )
            found.append(Finding("demand_interval", None, f"rate_plan.demand.{slug}", text))
    return tuple(found)


def _checked(name: str, energy_kwh: Floats, n: int) -> Floats:
    values = np.asarray(energy_kwh, dtype=np.float64)
    if values.shape != (n,):
        raise ValueError(f"{name} has shape {values.shape}, the year has {n} steps")
    lowest = values.min()
    if not lowest >= 0.0 or values.max() == np.inf:
        what = "negative" if lowest < 0.0 else "not finite"
        raise ValueError(f"{name} is {what} somewhere: give import and export apart, each at or above 0")
    return values


def _carried(net_kwh: Floats) -> tuple[Floats, float]:
    """Billed kWh of each month where surplus waits for later months, and what December leaves."""
    billed_kwh, bank_kwh = np.zeros(MONTH_COUNT), 0.0
    for month in range(MONTH_COUNT):
        after = net_kwh[month] - bank_kwh
        billed_kwh[month], bank_kwh = max(after, 0.0), max(-after, 0.0)
    return billed_kwh, float(bank_kwh)


@dataclass
class _BillMaker:
    """Adds the lines of twelve months in the order a bill prints them."""

    table: PlanTable
    lines: list[BillLine] = field(default_factory=list)
    sums: dict[str, Floats] = field(default_factory=dict)
    unused_usd: float = 0.0
    unused_kwh: float = 0.0

    def add(self, part: str, name: str, unit: str, quantity: Floats, price: Floats) -> None:
        """A line of quantity x price in each month, to the cent where the plan rounds."""
        usd = quantity * price
        if not usd.any() and not quantity.any():
            return
        if self.table.plan.rounding == "line":
            usd = np.copysign(np.floor(np.abs(usd) * 100.0 + 0.5 + CENT_TIE) / 100.0, usd)
        self.lines.append(BillLine(part, name, unit, quantity, price, usd))
        self.sums[part] = self.part(part) + usd

    def part(self, part: str) -> Floats:
        """One part's sum so far in each month, shape (12,) [USD]."""
        return self.sums.get(part, np.zeros(MONTH_COUNT))

    def add_fixed(self) -> None:
        plan, one = self.table.plan, np.ones(MONTH_COUNT)
        if plan.fixed_usd_per_month:
            self.add("fixed", "fixed charge", "month", one, one * plan.fixed_usd_per_month)
        if plan.fixed_usd_per_day:
            self.add(
                "fixed", "fixed daily charge", "day", self.table.days_in_month, one * plan.fixed_usd_per_day
            )

    def add_energy(self, drawn: Floats, sent: Floats) -> list[tuple[Ladder, Floats]]:
        """Energy and riders. Returns each ladder's surplus kWh of the month under net metering."""
        plan, surplus, counted_kwh = self.table.plan, [], np.zeros(MONTH_COUNT)
        net = drawn - sent if plan.export.kind == "net_metering" else drawn
        for ladder in self.table.ladders:
            net_kwh = net @ ladder.periods
            billed_kwh, over_kwh = np.maximum(net_kwh, 0.0), np.maximum(-net_kwh, 0.0)
            if plan.export.leftover == "carried_kwh":
                billed_kwh, left_kwh = _carried(net_kwh)
                over_kwh = np.zeros(MONTH_COUNT)
                self.unused_kwh += 0.0 if ladder.adder else left_kwh
            if over_kwh.any():
                surplus.append((ladder, over_kwh))
            if not ladder.adder:
                counted_kwh = counted_kwh + billed_kwh
            self._add_tiers(ladder, billed_kwh)
        import_kwh = drawn.sum(axis=1)
        for slug, rider in plan.riders.items():
            quantity = counted_kwh if rider.counts == "billed" else import_kwh
            self.add("rider", f"rider {slug}", "kWh", quantity, np.full(MONTH_COUNT, rider.price_usd_per_kwh))
        return surplus

    def _add_tiers(self, ladder: Ladder, billed_kwh: Floats) -> None:
        net = ", net of export" if self.table.plan.export.kind == "net_metering" else ""
        prices = ladder.price_usd_per_kwh.T
        if len(prices) == 1:
            self.add("energy", ladder.name + net, "kWh", billed_kwh, prices[0])
            return
        inside_kwh = np.minimum(billed_kwh[:, None], ladder.high_kwh) - ladder.low_kwh
        for number, price in enumerate(prices):
            kwh = np.maximum(inside_kwh[:, number], 0.0)
            self.add("energy", f"{ladder.name}, tier {number + 1}{net}", "kWh", kwh, price)

    def add_demand(self, import_kwh: Floats) -> None:
        for charge in self.table.demand:
            mean_kw = import_kwh.reshape(-1, charge.width).mean(axis=1) / self.table.year.step_h
            peak_kw = np.maximum.reduceat(mean_kw * charge.counts, charge.month_start)
            peak_kw = peak_kw * (charge.price_usd_per_kw > 0.0)
            self.add("demand", charge.name, "kW", peak_kw, charge.price_usd_per_kw)

    def add_credit(self, surplus: list[tuple[Ladder, Floats]], sent: Floats, charges_usd: Floats) -> None:
        """Credit earned, then the part of it that this month cannot use."""
        plan = self.table.plan
        self._add_retail_credit(surplus)
        if plan.export.kind == "net_billing":
            self._add_export_credit(sent)
        if plan.export.leftover in ("carried_usd", "lost") and self.part("credit").any():
            usable = charges_usd - plan.minimum_usd_per_month
            if plan.export.offsets == "energy":
                usable = np.minimum(usable, self.part("energy") + self.part("rider"))
            self._hold_back(-self.part("credit"), np.maximum(usable, 0.0))
        if self.unused_kwh and plan.export.year_end_usd_per_kwh:
            december = np.zeros(MONTH_COUNT)
            december[-1] = self.unused_kwh
            price = np.full(MONTH_COUNT, -plan.export.year_end_usd_per_kwh)
            self.add("credit", "kWh carried, paid out", "kWh", december, price)

    def _add_retail_credit(self, surplus: list[tuple[Ladder, Floats]]) -> None:
        riders = sum(r.price_usd_per_kwh for r in self.table.plan.riders.values() if r.counts == "billed")
        for ladder, over_kwh in surplus:
            price = ladder.price_usd_per_kwh[:, 0] + (0.0 if ladder.adder else riders)
            self.add("credit", f"export credit, {ladder.name}", "kWh", over_kwh, -price)

    def _add_export_credit(self, sent: Floats) -> None:
        plan, one = self.table.plan, np.ones(MONTH_COUNT)
        if plan.export.period_price_usd_per_kwh is None:
            self.add("credit", "export credit", "kWh", sent.sum(axis=1), -one * export_prices(plan)[0])
            return
        for slug, kwh, price in zip(plan.energy, sent.T, export_prices(plan), strict=True):
            self.add("credit", f"export credit, {slug}", "kWh", kwh, -one * price)

    def _hold_back(self, earned_usd: Floats, usable_usd: Floats) -> None:
        """Credit beyond what the month can use is carried to later months, or lost."""
        carries = self.table.plan.export.leftover == "carried_usd"
        held, bank_usd = np.zeros(MONTH_COUNT), 0.0
        for month in range(MONTH_COUNT):
            at_hand = earned_usd[month] + bank_usd
            used = min(at_hand, usable_usd[month])
            held[month] = earned_usd[month] - used
            bank_usd = at_hand - used if carries else 0.0
        self.unused_usd += float(held.sum())
        one = np.ones(MONTH_COUNT)
        self.add(
            "credit",
            "credit carried forward" if carries else "credit lost",
            "USD",
            np.maximum(held, 0.0),
            one,
        )
        self.add("credit", "credit brought forward", "USD", np.minimum(held, 0.0), one)

    def add_taxes(self) -> None:
        """Percentage lines, each on the same base before taxes; never below zero."""
        charges = sum(self.part(p) for p in ("fixed", "energy", "rider", "demand", "minimum"))
        bases = {
            "charges": charges,
            "subtotal": charges + self.part("credit"),
            "energy": self.part("energy"),
        }
        for slug, tax in self.table.plan.taxes.items():
            base = np.maximum(bases[tax.of], 0.0)
            self.add("tax", f"tax {slug}", "USD", base, np.full(MONTH_COUNT, tax.frac))
