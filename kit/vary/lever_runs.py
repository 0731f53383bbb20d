"""Exact runs behind two levers: all outages longer or shorter, the plan's prices wider apart or closer."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kit.grid.bill import bill
from kit.stages.daily import everyday_use
from kit.stages.outage import outage_use
from kit.stages.sources import DO_NOTHING, Sources
from kit.study.rate_models import RatePlan
from kit.vary.ground import Ground
from kit.vary.parts import rows_of

Floats = NDArray[np.float64]


def mean_price(ground: Ground) -> float:
    """The one energy price under which doing nothing would pay what it pays now."""
    plan, use, year = (
        ground.study.model.rate_plan,
        ground.stages.daily[DO_NOTHING].use,
        ground.stages.house.year,
    )
    now, free, one = (
        bill(each, year, use.import_kwh, use.export_kwh).total_usd
        for each in (plan, spread(plan, 0.0, 0.0), spread(plan, 1.0, 0.0))
    )
    return (now - free) / (one - free)


def spread_rows(ground: Ground, mean: float, factor: float, only: Collection[str]) -> Mapping[str, Floats]:
    """Rows with the plan's prices apart by a factor: bills anew, outages where the charge moves."""
    study, stages = ground.study, ground.stages
    options = {
        slug: replace(o, plan=spread(o.plan, mean, factor))
        for slug, o in stages.options.items()
        if slug in only or slug == DO_NOTHING
    }
    model = study.model.model_copy(update={"rate_plan": spread(study.model.rate_plan, mean, factor)})
    changed = replace(study, model=model)
    daily = everyday_use(changed, stages.house, options)
    moved: dict[str, Sources] = {
        slug: option
        for slug, option in options.items()
        if not np.array_equal(daily[slug].use.stored_kwh, stages.daily[slug].use.stored_kwh)
    }
    outages = stages.outages
    if moved:
        outages = outages | outage_use(changed, stages.house, stages.kinds, moved, daily, stages.fits)
    return rows_of(changed, replace(stages, options=options, daily=daily, outages=outages))


def spread(plan: RatePlan, mean_usd_per_kwh: float, factor: float) -> RatePlan:
    """The plan with every energy price moved away from the mean, or towards it, by a factor."""

    def moved(part: Any) -> Any:
        update: dict[str, Any] = {}
        if getattr(part, "price_usd_per_kwh", None) is not None:
            update["price_usd_per_kwh"] = mean_usd_per_kwh + factor * (
                part.price_usd_per_kwh - mean_usd_per_kwh
            )
        if getattr(part, "tiers", None):
            update["tiers"] = [moved(tier) for tier in part.tiers]
        return part.model_copy(update=update)

    update: dict[str, Any] = {}
    if plan.tiers is None and plan.season_tiers is None:  # else a period's price is an adder on the tiers
        update["energy"] = {slug: moved(period) for slug, period in plan.energy.items()}
    if plan.tiers is not None:
        update["tiers"] = [moved(tier) for tier in plan.tiers]
    if plan.season_tiers is not None:
        update["season_tiers"] = {s: [moved(t) for t in tiers] for s, tiers in plan.season_tiers.items()}
    if plan.followed_by is not None:
        update["followed_by"] = spread(plan.followed_by, mean_usd_per_kwh, factor)
    return plan.model_copy(update=update)
