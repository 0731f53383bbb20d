"""The exact optimum of everyday use under an option's rate plan, its demand charges included."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np

from kit.grid.bill import bill
from kit.grid.rates import PlanTable, PriceYear, has_tiers, left_out_of_prices, prepare, prices, tax_frac
from kit.house import HouseYear
from kit.operate.best import BestUse, best_use
from kit.operate.task import StoreTerms
from kit.stages.sources import Sources
from kit.study.rate_models import RatePlan
from kit.systems.battery import BatterySystem

if TYPE_CHECKING:
    from kit.operate.demand import DemandLine


def best_schedule(house: HouseYear, option: Sources, battery: BatterySystem, solar_kw: np.ndarray) -> BestUse:
    """The exact optimum of a year for the plan's marginal prices and demand charges, full at both its ends.

    The battery serves no more than the load behind it, and holds its reserve. Under tiers it is found for
    the first tier and for those in which its bills then end; the cheaper of both by the exact bill is kept.
    What is proven about it under demand charges stands in its note.
    """
    plan, year = option.plan, house.year
    first = _schedule_for(first_prices(plan, house), house, option, battery, solar_kw)
    if not has_tiers(plan):
        return first
    ends = prices(plan, year, first.import_kwh, first.export_kwh)
    other = _schedule_for(ends, house, option, battery, solar_kw)
    wear = first.task.wear
    usd = [
        bill(plan, year, found.import_kwh, found.export_kwh).total_usd + wear * found.discharge_kwh.sum()
        for found in (first, other)
    ]
    return other if usd[1] < usd[0] - 1e-9 else first


def marginal_note(plan: RatePlan) -> str:
    """What the prices that steer the battery leave out under this plan; empty where they are the whole.

    Of demand charges the schedule's own note speaks.
    """
    named = [name for name in left_out_of_prices(plan) if name != "demand charges"]
    if not named:
        return ""
    return f"Best for the marginal prices only: they leave out {', '.join(named)}, which the bill has."


_kept_prices: WeakKeyDictionary[PlanTable, PriceYear] = WeakKeyDictionary()


def first_prices(plan: RatePlan, house: HouseYear) -> PriceYear:
    """The plan's prices, of tiers the first; one plan steers many options and years of age."""
    table = prepare(plan, house.year)
    if table not in _kept_prices:
        _kept_prices[table] = prices(plan, house.year)
    return _kept_prices[table]


def _schedule_for(
    rates: PriceYear, house: HouseYear, option: Sources, battery: BatterySystem, solar_kw: np.ndarray
) -> BestUse:
    net = house.load_kw + option.standby_kw - solar_kw
    store = _store(net, option, battery)
    buy, sell, step_h = rates.import_usd_per_kwh, rates.export_usd_per_kwh, house.year.step_h
    table = prepare(option.plan, house.year)
    if not any(version.demand for version in table.versions):
        return best_use(net, buy, sell, step_h, **store)
    from kit.operate.demand import best_use_with_demand

    lines, left_out = _demand_lines(table)
    if not lines:
        found, said = best_use(net, buy, sell, step_h, **store), ""
    else:
        done = best_use_with_demand(net, buy, sell, table.of_step, lines, step_h, **store)
        found = done.use
        said = (
            f"With the demand charges, no schedule costs less by more than a share of {done.gap_frac:.0e} "
            f"of the yearly cost at these prices (proven in {done.pass_count} passes over the year)."
            if found.is_exact
            else ""
        )
    return replace(found, note=" ".join(text for text in (found.note, said, left_out) if text))


def _store(net_kw: np.ndarray, option: Sources, battery: BatterySystem) -> StoreTerms:
    """The battery as the exact schedule takes it."""
    block = option.option.battery if option.option else None
    behind = np.minimum(np.maximum(net_kw + battery.idle_kw, 0.0), option.loads.behind_kw)
    exports = block is not None and block.export_allowed
    charge_kw = np.where(net_kw < 0, battery.solar_charge_kw, battery.charge_kw) * option.may_charge
    alike = charge_kw.min() == charge_kw.max()  # one limit for all steps takes half the time
    return {
        "usable_kwh": battery.usable_kwh,
        "start_kwh": battery.usable_kwh,
        "charge_kw": float(charge_kw[0]) if alike else charge_kw,
        "discharge_kw": battery.continuous_kw if exports else np.minimum(behind, battery.continuous_kw),
        "charge_efficiency_frac": battery.charge_efficiency_frac,
        "discharge_efficiency_frac": battery.discharge_efficiency_frac,
        "reserve_kwh": battery.reserve_kwh,
        "idle_kw": battery.idle_kw,
        "wear_usd_per_kwh": block.wear_usd_per_kwh if block else 0.0,
        "grid_charge_allowed": battery.grid_charge_allowed,
        "export_allowed": exports,
    }


def _demand_lines(table: PlanTable) -> tuple[list[DemandLine], str]:
    """The demand charges of a plan and its versions, taxes included; and what is said of those left out."""
    from kit.operate.demand import DemandLine

    lines, longer = [], []
    for version in table.versions:
        taxed = 1.0 + tax_frac(version.plan, "demand")
        for charge in version.demand:
            if charge.width > 1:
                longer.append(charge.name)
            elif charge.price_usd_per_kw.any():
                counts = None if charge.counts.all() else charge.counts > 0.0
                lines.append(DemandLine(charge.price_usd_per_kw * taxed, counts, charge.free_kw))
    if not longer:
        return lines, ""
    return lines, (
        f"Not the least of the bill: {', '.join(dict.fromkeys(longer))} is read over several steps, which "
        "the schedule does not look at."
    )
