"""Charge before outages that were forecast: what each battery holds when they begin, and what it costs."""

from __future__ import annotations

import numpy as np

from kit.grid.rates import prices
from kit.house import HouseYear
from kit.operate.events import EventKind
from kit.operate.everyday import Everyday
from kit.operate.forewarned import Forewarned, raised_charge
from kit.stages.sources import Sources
from kit.study.finding import Finding
from kit.systems.battery import BatterySystem


def forewarned_charge(
    house: HouseYear,
    option: Sources,
    use: Everyday,
    battery: BatterySystem | None,
    kinds: tuple[EventKind, ...],
) -> dict[int, Forewarned]:
    """For each kind of outage that may be forecast, by its number; empty for options without a battery.

    A kWh more or less costs the import price of its step, or the export price where the house exports;
    recharge costs the mean price of the year's import.
    """
    block = option.option.battery if option.option else None
    forecast = [kind for kind in kinds if kind.forewarned_frac > 0.0]
    if battery is None or block is None or not forecast:
        return {}
    rates = prices(option.plan, house.year)
    price = np.where(use.export_kwh > 0.0, rates.export_usd_per_kwh, rates.import_usd_per_kwh)
    bought_kwh = float(use.import_kwh.sum())
    mean_usd = float(use.import_kwh @ rates.import_usd_per_kwh) / bought_kwh if bought_kwh > 0.0 else 0.0
    raised_kwh = max(battery.reserve_kwh, block.forewarned_reserve_frac * battery.usable_kwh)
    return {
        kind.number: raised_charge(
            use.stored_kwh,
            use.charge_kwh,
            battery,
            option.may_charge,
            kind.forewarned_h,
            raised_kwh,
            house.year.step_h,
            price,
            mean_usd,
        )
        for kind in forecast
    }


def forewarned_usd(kinds: tuple[EventKind, ...], made: dict[int, Forewarned]) -> float:
    """What warnings cost in a year, those that come to nothing included [usd/year]."""
    total = 0.0
    for kind in kinds:
        if kind.number in made:
            warnings = kind.events_per_year * kind.forewarned_frac * (1.0 + kind.false_alarms_per_event)
            total += warnings * float(kind.start_weight @ made[kind.number].extra_usd)
    return total


def forewarning_findings(
    kinds: tuple[EventKind, ...], option: Sources, made: dict[int, Forewarned], stored_kwh: np.ndarray
) -> tuple[Finding, ...]:
    """How much charge a warning adds, and what it does to the bill."""
    if not made or option.battery is None:
        return ()
    usd, full = forewarned_usd(kinds, made), option.battery.usable_kwh
    texts = []
    for kind in kinds:
        if kind.number in made:
            before, after = (
                float(kind.start_weight @ kwh) / full for kwh in (stored_kwh, made[kind.number].stored_kwh)
            )
            texts.append(
                f"{kind.slug} begins at {after:.0%} of full where it was forecast, {before:.0%} where not"
            )
    text = f"{'; '.join(texts)}. Charging ahead changes the bill by {usd:+.2f} a year, false alarms included."
    path = f"options.{option.slug}.battery.forewarned_reserve_frac"
    return (Finding("charged_ahead", option.slug, path, text, None, "note"),)
