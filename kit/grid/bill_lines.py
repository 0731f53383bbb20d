"""The lines of a year of bills, in the order in which a bill prints them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kit.grid.credits import carried, held_back, true_up
from kit.grid.rates import PlanTable, VersionTable, export_prices

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.grid.ladders import Ladder

    Floats = NDArray[np.float64]

CENT_TIE = 1e-7  # of a cent: a half cent that floats carry as 0.4999999 still rounds up
CHARGES = ("fixed", "energy", "rider", "demand", "minimum")
Parts = dict[str, "Floats"]


@dataclass(frozen=True, eq=False)
class BillLine:
    """One printed line; quantity, price and usd have an entry a segment, (T,), or a year of them (K, T)."""

    part: str  # fixed, energy, rider, demand, minimum, credit, true_up, tax
    name: str
    unit: str
    quantity: Floats
    price: Floats
    usd: Floats


class BillMaker:
    """Makes the lines of one year of import and export, shape (n,) [kWh], or of K years at once, (K, n).

    K years at once only where kit.grid.bill.bills_usd does so.
    After the last line, `unused_usd` and `unused_kwh` are the credit that nothing used.
    """

    def __init__(self, table: PlanTable, import_kwh: Floats, export_kwh: Floats) -> None:
        self.table, self.import_kwh, self.export_kwh = table, import_kwh, export_kwh
        self.lines: list[BillLine] = []
        self.unused_usd = 0.0
        self.unused_kwh = 0.0
        self._sums: list[Parts] = [{} for _ in table.versions]
        self._left_kwh = [0.0 for _ in table.versions]
        self._one = np.ones(table.segments.count)
        self._order = table.order

    def add(self, number: int, part: str, name: str, unit: str, quantity: Floats, price: Floats) -> None:
        """A line of quantity x price of one version, to the cent where its plan rounds."""
        usd = quantity * price
        if not usd.any() and not quantity.any():
            return
        usd = self._printed(number, usd)
        self.lines.append(BillLine(part, name, unit, quantity, price, usd))
        self._sums[number][part] = self.part(number, part) + usd

    def _printed(self, number: int, usd: Floats) -> Floats:
        """As a line prints it: half up to the cent where the version rounds."""
        if self.table.versions[number].plan.rounding == "none":
            return usd
        return np.copysign(np.floor(np.abs(usd) * 100.0 + 0.5 + CENT_TIE) / 100.0, usd)

    def part(self, number: int, part: str) -> Floats:
        """One part's sum so far in each segment of a version, shape (T,) [USD]."""
        return self._sums[number].get(part, np.zeros(self._one.size))

    def charges(self, number: int, parts: tuple[str, ...] = CHARGES) -> Floats:
        """Sum of parts in each segment of a version, shape (T,) [USD]."""
        there = self._sums[number]
        return np.asarray(sum((there[part] for part in parts if part in there), np.zeros(self._one.size)))

    def add_charges(self, number: int) -> None:
        """Fixed, energy, riders, demand, the top-up to the minimum, and the credit that export earns."""
        version, cut = self.table.versions[number], self.table.segments
        plan, mine = version.plan, version.mine
        if plan.fixed_usd_per_month:
            self.add(
                number,
                "fixed",
                "fixed charge",
                "month",
                cut.share * mine,
                self._one * plan.fixed_usd_per_month,
            )
        if plan.fixed_usd_per_day:
            self.add(
                number,
                "fixed",
                "fixed daily charge",
                "day",
                cut.days * mine,
                self._one * plan.fixed_usd_per_day,
            )
        drawn, sent = version.by_column(self.import_kwh), np.zeros((cut.count, version.column_count))
        if plan.export.kind != "none" and self.export_kwh.any():
            sent = version.by_column(self.export_kwh)
        surplus = self._add_energy(number, drawn, sent)
        for charge in version.demand:
            kw = charge.billed_kw(self.import_kwh, self.table.year.step_h, cut.bill)
            self.add(number, "demand", charge.name, "kW", kw, charge.price_usd_per_kw)
        yearly = plan.export.leftover == "settled_yearly"
        due = self.charges(number, ("fixed", "demand") if yearly else CHARGES[:4])
        top_up = np.maximum(plan.minimum_usd_per_month * cut.share * mine - due, 0.0)
        self.add(number, "minimum", "minimum bill top-up", "USD", top_up, self._one)
        self._add_retail_credit(number, surplus)
        if plan.export.kind == "net_billing":
            self._add_export_credit(number, sent)
        self._pay_carried(number)

    def _add_energy(self, number: int, drawn: Floats, sent: Floats) -> list[tuple[Ladder, Floats]]:
        """Energy and riders. Returns each ladder's surplus kWh of the bill under net metering."""
        version = self.table.versions[number]
        plan, surplus, counted_kwh, left_over_kwh = version.plan, [], np.zeros(self._one.size), 0.0
        net = drawn - sent if plan.export.kind == "net_metering" else drawn
        for ladder in version.ladders:
            net_kwh = net @ ladder.columns
            billed_kwh, over_kwh = np.maximum(net_kwh, 0.0), np.maximum(-net_kwh, 0.0)
            if plan.export.leftover == "carried_kwh":
                billed_kwh, left_kwh = carried(net_kwh, self._order)
                over_kwh = np.zeros(self._one.size)
                left_over_kwh += 0.0 if ladder.adder else left_kwh
            if over_kwh.any():
                surplus.append((ladder, over_kwh))
            if not ladder.adder:
                counted_kwh = counted_kwh + billed_kwh
            self._add_tiers(number, ladder, billed_kwh)
        self._add_series(number)
        import_kwh = drawn.sum(axis=-1)
        for slug, rider in plan.riders.items():
            quantity = (counted_kwh if rider.counts == "billed" else import_kwh) * version.rider_shares[slug]
            self.add(number, "rider", f"rider {slug}", "kWh", quantity, self._one * rider.price_usd_per_kwh)
        self._left_kwh[number] = left_over_kwh
        return surplus

    def _add_tiers(self, number: int, ladder: Ladder, billed_kwh: Floats) -> None:
        net = ", net of export" if self.table.versions[number].plan.export.kind == "net_metering" else ""
        for rungs in ladder.seasons:
            several = rungs.price_usd_per_kwh.size > 1
            inside_kwh = np.minimum(billed_kwh[..., None], rungs.high_kwh) - np.minimum(
                billed_kwh[..., None], rungs.low_kwh
            )
            for tier, price in enumerate(rungs.price_usd_per_kwh):
                name = f"{ladder.name}{rungs.name}{f', tier {tier + 1}' if several else ''}{net}"
                kwh = inside_kwh[..., tier] * rungs.share
                self.add(number, "energy", name, "kWh", kwh, self._one * price)

    def _add_series(self, number: int) -> None:
        version = self.table.versions[number]
        if version.series is not None:
            kwh, usd = self._summed(version, self.import_kwh, version.series.import_usd_per_kwh)
            self.add(number, "energy", "energy at the hour's price, mean", "kWh", kwh, _mean(usd, kwh))

    def _summed(self, version: VersionTable, energy_kwh: Floats, price: Floats) -> tuple[Floats, Floats]:
        """kWh and USD of each segment at a price of each step."""
        count = self._one.size
        kwh = np.bincount(self.table.of_step, weights=energy_kwh, minlength=count) * version.mine
        usd = np.bincount(self.table.of_step, weights=energy_kwh * price, minlength=count) * version.mine
        return kwh, usd

    def _pay_carried(self, number: int) -> None:
        plan, left_kwh = self.table.versions[number].plan, self._left_kwh[number]
        self.unused_kwh += left_kwh
        if left_kwh and plan.export.year_end_usd_per_kwh:
            paid_kwh = np.zeros(self._one.size)
            paid_kwh[self._last_of(number)] = left_kwh
            price = -self._one * plan.export.year_end_usd_per_kwh
            self.add(number, "credit", "kWh carried, paid out", "kWh", paid_kwh, price)

    def _last_of(self, number: int) -> int:
        """Last segment of a version before the true-up is over."""
        mine = self.table.versions[number].mine
        return int([k for k in self._order if mine[k]][-1])

    def _add_retail_credit(self, number: int, surplus: list[tuple[Ladder, Floats]]) -> None:
        version = self.table.versions[number]
        riders = sum(
            r.price_usd_per_kwh * version.rider_shares[slug]
            for slug, r in version.plan.riders.items()
            if r.counts == "billed"
        )
        for ladder, over_kwh in surplus:
            price = ladder.first_usd_per_kwh + (0.0 if ladder.adder else riders)
            self.add(number, "credit", f"export credit, {ladder.name}", "kWh", over_kwh, -price)

    def _add_export_credit(self, number: int, sent: Floats) -> None:
        version = self.table.versions[number]
        export, share = version.plan.export, self.table.segments.share
        sent_kwh = sent.sum(axis=-1)
        earns = self._one
        if export.earns_up_to_kwh_per_month is not None:
            most_kwh = export.earns_up_to_kwh_per_month * share * version.mine
            earns = np.minimum(1.0, most_kwh / np.maximum(sent_kwh, 1e-12))
            self.add(
                number, "credit", "export beyond the limit", "kWh", sent_kwh * (1.0 - earns), 0.0 * self._one
            )
        if export.price_from_series and version.series is not None:
            kwh, usd = self._summed(version, self.export_kwh, version.series.export_usd_per_kwh)
            self.add(
                number,
                "credit",
                "export credit at the hour's price, mean",
                "kWh",
                kwh * earns,
                -_mean(usd, kwh),
            )
        elif export.period_price_usd_per_kwh is None:
            self.add(
                number,
                "credit",
                "export credit",
                "kWh",
                sent_kwh * earns,
                -self._one * export_prices(version.plan)[0],
            )
        else:
            by_period = sent.reshape(*sent.shape[:-1], -1, len(version.plan.energy)).sum(axis=-2)
            for slug, kwh, price in zip(
                version.plan.energy, np.moveaxis(by_period, -1, 0), export_prices(version.plan), strict=True
            ):
                self.add(number, "credit", f"export credit, {slug}", "kWh", kwh * earns, -self._one * price)
        if export.earns_up_to_usd_per_month is not None:
            most_usd = export.earns_up_to_usd_per_month * share * version.mine
            beyond = np.maximum(-self.part(number, "credit") - most_usd, 0.0)
            self.add(number, "credit", "credit beyond the limit", "USD", beyond, self._one)

    def add_credits(self) -> None:
        """What of the credit each bill can use, what is carried or lost, and the yearly true-up."""
        exports = [v.plan.export for v in self.table.versions]
        if any(e.leftover in ("carried_usd", "lost") for e in exports):
            self._hold_back()
        if any(e.leftover == "settled_yearly" for e in exports):
            self._settle()

    def _hold_back(self) -> None:
        numbers = self.table.segments.version
        earned, usable = np.zeros(self._one.size), np.zeros(self._one.size)
        for number, version in enumerate(self.table.versions):
            export = version.plan.export
            if export.leftover not in ("carried_usd", "lost"):
                continue
            floor = version.plan.minimum_usd_per_month * self.table.segments.share * version.mine
            most = self.charges(number) - floor
            if export.offsets == "energy":
                most = np.minimum(most, self.charges(number, ("energy", "rider")))
            earned = earned - self.part(number, "credit")
            usable = usable + self._printed(number, np.maximum(most, 0.0) * export.offsets_up_to_frac)
        if not earned.any():
            return
        keeps = np.array([v.plan.export.leftover == "carried_usd" for v in self.table.versions])[numbers]
        held = held_back(earned, usable, keeps, self._order)
        self.unused_usd += float(held.sum())
        for number, version in enumerate(self.table.versions):
            name = (
                "credit carried forward" if version.plan.export.leftover == "carried_usd" else "credit lost"
            )
            mine = held * version.mine
            self.add(number, "credit", name, "USD", np.maximum(mine, 0.0), self._one)
            self.add(number, "credit", "credit brought forward", "USD", np.minimum(mine, 0.0), self._one)

    def _settle(self) -> None:
        """Energy, riders and credits wait for the true-up, where the sum is due if it is above zero."""
        yearly = [v.plan.export.leftover == "settled_yearly" for v in self.table.versions]
        waiting = {n: self.charges(n, ("energy", "rider", "credit")) for n, does in enumerate(yearly) if does}
        last = int(self._order[-1])
        at_end = self.table.segments.version[last]
        number = int(at_end) if yearly[at_end] else max(waiting)
        for n, due in waiting.items():
            self.add(n, "true_up", "held for the true-up", "USD", due, -self._one)
        total = np.zeros(self._one.size)
        total[last] = sum(float(due.sum()) for due in waiting.values())
        self.add(number, "true_up", "true-up of the year's energy", "USD", total, self._one)
        lost = np.maximum(-total, 0.0)
        self.unused_usd += float(lost.sum())
        self.add(number, "true_up", "credit left at the true-up, lost", "USD", lost, self._one)
        price = self.table.versions[number].plan.export.year_end_usd_per_kwh
        if price:
            share = sum(self.table.versions[n].mine for n in waiting)
            surplus = true_up(self.import_kwh, self.export_kwh, np.asarray(share)[self.table.of_step])
            paid = np.zeros(self._one.size)
            paid[last] = surplus
            self.add(number, "true_up", "net surplus of the year, paid out", "kWh", paid, -self._one * price)

    def add_taxes(self) -> None:
        """Percentage lines in the plan's order, on the base that each names; never below zero."""
        for number, version in enumerate(self.table.versions):
            charges = self.charges(number)
            bases = {
                "charges": charges,
                "subtotal": charges + self.charges(number, ("credit", "true_up")),
                **{part: self.part(number, part) for part in ("energy", "demand", "fixed")},
            }
            for slug, tax in version.plan.taxes.items():
                before = self.part(number, "tax") if tax.with_lines_before else 0.0
                base = np.maximum(bases[tax.of] + before, 0.0)
                self.add(number, "tax", f"tax {slug}", "USD", base, self._one * tax.frac)


def _mean(usd: Floats, kwh: Floats) -> Floats:
    """Mean price of each segment; 0 where it has no kWh."""
    return np.divide(usd, kwh, out=np.zeros(usd.size), where=kwh > 0)
