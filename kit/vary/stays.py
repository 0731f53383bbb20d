"""Whole stays: the outages of all the years the household stays, drawn thousands of times.

The expected year says what an option costs; the stays say what a household may meet: how likely
it is that the must-run loads are never lost, and how dark it gets where luck is bad.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np

from kit.account.time_value import present_value
from kit.operate.events import EventKind
from kit.operate.lifetimes import Lived, draw_events, live_through
from kit.stages.outage import OutageSide
from kit.stages.sources import Sources
from kit.study import Study

if TYPE_CHECKING:
    import pandas as pd


def whole_stays(
    study: Study,
    kinds: tuple[EventKind, ...],
    options: dict[str, Sources],
    outages: dict[str, OutageSide],
) -> pd.DataFrame:
    """One row an option, over `lifetime_count` drawn stays, the same for all options.

    Columns: option; never_failed_frac (share of stays in which no outage leaves a must-run load
    without power beyond its tolerance); failed_count_mean; dark_h_mean, dark_h_p05, dark_h_p50,
    dark_h_p95 (must-run hours without power over the whole stay); standard_error_h of the mean;
    lost_load_usd_p95 (present value, None where an hour has no price).
    """
    import pandas as pd

    model = study.model
    years, count = model.asked.stay_years, model.lifetime_count
    drawn = draw_events(model.seed, kinds, years, count)

    def lived(slug: str) -> Lived:
        return live_through(outages[slug].backup, drawn, model.seed, years, count)

    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        stays = dict(zip(options, pool.map(lived, options), strict=True))
    return pd.DataFrame([_row(study, options[slug], stay) for slug, stay in stays.items()])


def _row(study: Study, option: Sources, stay: Lived) -> dict[str, object]:
    money, years = study.model.money, study.model.asked.stay_years
    never_on = option.backs_up and bool(option.loads.unreached_must_run)
    dark_h = stay.event_h if never_on else stay.dark_h
    low, middle, high = np.quantile(dark_h, (0.05, 0.5, 0.95))
    lost_usd = None
    if money.lost_load_usd_per_h is not None and not never_on:
        unit = np.eye(years)
        factor = np.array(
            [present_value(unit[k], money.discount_rate_frac, money.timing) for k in range(years)]
        )
        lost_usd = float(np.quantile(stay.dark_h_by_year @ factor, 0.95) * money.lost_load_usd_per_h)
    return {
        "option": option.slug,
        "never_failed_frac": 0.0 if never_on else float((stay.failed_count == 0).mean()),
        "failed_count_mean": float(stay.failed_count.mean()),
        "dark_h_mean": float(dark_h.mean()),
        "dark_h_p05": float(low),
        "dark_h_p50": float(middle),
        "dark_h_p95": float(high),
        "standard_error_h": float(dark_h.std() / np.sqrt(dark_h.size)),
        "lost_load_usd_p95": lost_usd,
    }
