"""What if nobody services the generator: the same outages with the failure figures of poor care."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kit.fit import Fit
from kit.house import HouseYear
from kit.operate.events import EventKind
from kit.stages.columns import Value, columns
from kit.stages.daily import Daily
from kit.stages.money import account
from kit.stages.outage import OutageSide, outage_use
from kit.stages.sources import DO_NOTHING, Sources, sources
from kit.study import Study

if TYPE_CHECKING:
    import pandas as pd

SHOWN = (
    "ride_through_frac_asked",
    "meets_target",
    "must_run_unserved_h_per_year",
    "upkeep_usd_per_year",
    "lifetime_cost_usd",
)


def neglected(
    study: Study,
    house: HouseYear,
    kinds: tuple[EventKind, ...],
    fits: dict[str, Fit],
    daily: dict[str, Daily],
    outages: dict[str, OutageSide],
    rows: dict[str, dict[str, Value]],
) -> pd.DataFrame:
    """One row an option with a generator and a kind of care (as studied, then poor).

    Columns: option, care, ride_through_frac_asked, meets_target, must_run_unserved_h_per_year,
    upkeep_usd_per_year, lifetime_cost_usd. Empty where no option has a generator.
    """
    import pandas as pd

    with_set = [slug for slug, option in study.model.options.items() if option.generator is not None]
    if not with_set:
        return pd.DataFrame(columns=["option", "care", *SHOWN])
    poor = study.changed([f"options.{slug}.generator.care=poor" for slug in with_set])
    chosen: dict[str, Sources] = {
        slug: option for slug, option in sources(poor, house).items() if slug in (DO_NOTHING, *with_set)
    }
    changed = outage_use(poor, house, kinds, chosen, daily, fits) | {DO_NOTHING: outages[DO_NOTHING]}
    figures = columns(poor, chosen, fits, daily, changed, account(poor, chosen, daily, changed))
    made: list[dict[str, Value]] = []
    for slug in with_set:
        care = study.model.options[slug].generator
        assert care is not None
        for kind, row in ((care.care, rows[slug]), ("poor", figures[slug])):
            shown: dict[str, Value] = {"option": slug, "care": kind}
            made.append(shown | {name: row[name] for name in SHOWN})
    return pd.DataFrame(made)
