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

    rows = [
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
            "battery_frac": _battery_frac(source, hour, usable_kwh),
        }
        for source in sources
    ]
    return pd.DataFrame(rows)


def _battery_frac(source: SeenSource, hour: FirstHour, usable_kwh: float | None) -> float:
    """Share of the battery's usable energy that the catch-up takes; NaN without a battery."""
    if source.name != "battery" or usable_kwh is None or usable_kwh <= 0:
        return float("nan")
    return hour.extra_kwh / usable_kwh


def pickup_findings(
    option: str, sources: Sequence[SeenSource], hour: FirstHour, usable_kwh: float | None
) -> list[Finding]:
    """A note for each source that the catch-up asks more of than it gives for a moment or without a break."""
    found = []
    for source in sources:
        short = hour.surge_kw > source.start + SLACK or hour.running_kw > source.running_kw + SLACK
        if not short or not hour.slugs:
            continue
        part_frac = _battery_frac(source, hour, usable_kwh)
        share = "" if isnan(part_frac) else f" ({part_frac:.0%} of the battery)"
        text = (
            f"After {hour.off_h:g} h without power the {plain(hour.slugs)} start together and run without a "
            f"pause for up to an hour: {hour.surge_kw:.1f} {source.start_unit} for a moment, up to "
            f"{hour.running_kw:.1f} kW running, {hour.extra_kwh:.1f} kWh beyond the usual{share}. The "
            f"{source.name} gives {source.start:.1f} {source.start_unit} and {source.running_kw:.1f} "
            "kW. Switch them on one after another. The outage hours computed here do not hold this energy."
        )
        found.append(Finding("cold_load_pickup", option, f"options.{option}", text, SOURCE, "note"))
    return found
