"""The first hour with power after hours without it, against what the sources of an option give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan
from typing import TYPE_CHECKING

from kit.fit.rows import SLACK, plain
from kit.fit.sources import SeenSource
from kit.study.finding import Finding

if TYPE_CHECKING:
    import pandas as pd

SOURCE = "common practice, no source"


@dataclass(frozen=True)
class FirstHour:
    """What the loads ask for in that hour: kW running and for a moment, kWh beyond the usual, after off_h."""

    slugs: tuple[str, ...]
    off_h: float
    running_kw: float
    surge_kw: float
    extra_kwh: float


def pickup_rows(
    option: str, sources: Sequence[SeenSource], hour: FirstHour, usable_kwh: float | None
) -> pd.DataFrame:
    """One row a source.

    Columns: option, source, off_h, running_need_kw, running_have_kw, surge_need, surge_have, unit,
    extra_kwh, and battery_frac: the share of the battery's usable energy that the catch-up takes (NaN
    without a battery).
    """
    import pandas as pd

    rows = []
    for source in sources:
        by_battery = usable_kwh is not None and usable_kwh > 0 and source.name == "battery"
        rows.append(
            {
                "option": option,
                "source": source.name,
                "off_h": hour.off_h,
                "running_need_kw": hour.running_kw,
                "running_have_kw": source.running_kw,
                "surge_need": hour.surge_kw,
                "surge_have": source.start,
                "unit": source.start_unit,
                "extra_kwh": hour.extra_kwh,
                "battery_frac": hour.extra_kwh / usable_kwh if by_battery and usable_kwh else float("nan"),
            }
        )
    return pd.DataFrame(rows)


def pickup_findings(
    option: str, sources: Sequence[SeenSource], hour: FirstHour, usable_kwh: float | None
) -> list[Finding]:
    """A note for each source that the catch-up asks more of than it gives for a moment or without a break."""
    found = []
    for row in pickup_rows(option, sources, hour, usable_kwh).to_dict("records"):
        short = row["surge_need"] > row["surge_have"] + SLACK
        short = short or row["running_need_kw"] > row["running_have_kw"] + SLACK
        if not short or not hour.slugs:
            continue
        part_frac = row["battery_frac"]
        share = "" if isnan(part_frac) else f" ({part_frac:.0%} of the battery)"
        text = (
            f"After {hour.off_h:g} h without power the {plain(hour.slugs)} start together and run without a "
            f"pause for up to an hour: {hour.surge_kw:.1f} {row['unit']} for a moment, up to "
            f"{hour.running_kw:.1f} kW running, {hour.extra_kwh:.1f} kWh beyond the usual{share}. The "
            f"{row['source']} gives {row['surge_have']:.1f} {row['unit']} and {row['running_have_kw']:.1f} "
            "kW. Switch them on one after another. The outage hours computed here do not hold this energy."
        )
        found.append(Finding("cold_load_pickup", option, f"options.{option}", text, SOURCE, "note"))
    return found
