"""Cold-load pickup: what holds a level has work to catch up on when power comes back after hours.

After more than an hour off, loads that hold a level (a compressor, a heater, a pump) run without a pause for
the first hour, and all start at once: an energy step and a surge (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.house.appliances import ListLoads
    from kit.study.house_models import House

OFF_H = 1.0  # longer without power than this, and there is something to catch up on
CATCH_UP_H = 1.0  # how long it lasts


@dataclass(frozen=True, eq=False)
class Pickup:
    """The first hour with power, were it to begin at each step of the year; arrays (n,).

    Attributes:
        slugs: the appliances that catch up.
        extra_kwh: energy of that hour beyond what the list holds for it.
        first_hour_kw: mean load of that hour, catch-up included.
        running_w: the most that runs in it: everything that may be on, without a pause.
        surge_w: everything that catches up starting at once, the rest running.
    """

    slugs: tuple[str, ...]
    extra_kwh: NDArray[np.float64]
    first_hour_kw: NDArray[np.float64]
    running_w: NDArray[np.float64]
    surge_w: NDArray[np.float64]


def cold_pickup(
    house: House, lists: ListLoads, year: Year, slugs: Iterable[str], off_h: float = np.inf
) -> Pickup:
    """The catch-up of the named appliances after `off_h` hours without power; none up to one hour.

    Nothing catches up on more than it missed: its usual load times `off_h`.
    """
    chosen = list(dict.fromkeys(slugs))
    pieces = house.appliances
    behind = tuple(s for s in chosen if pieces[s].holds_a_level and off_h > OFF_H)
    n = year.n
    normal_kw, extra_kw = np.zeros(n), np.zeros(n)
    running_w, surge_w = np.zeros(n), np.zeros(n)
    for s in chosen:
        piece, load_kw = pieces[s], lists.outage_by_appliance_kw[s]
        on = load_kw > 0
        normal_kw += load_kw
        running_w += on * piece.count * piece.draw_w
        surge_w += on * piece.count * (piece.start_total_w if s in behind else piece.draw_w)
        if s in behind:
            missed_kwh = np.where(on, load_kw, 0.0) * (off_h if np.isfinite(off_h) else 1e9)
            extra_kw += np.minimum(lists.outage_full_by_appliance_kw[s] - load_kw, missed_kwh / CATCH_UP_H)
    extra_kwh = CATCH_UP_H * _next_hour_mean(extra_kw, year.step_h)
    first_kw = _next_hour_mean(normal_kw + extra_kw, year.step_h)
    return Pickup(behind, extra_kwh, first_kw, running_w, surge_w)


def _next_hour_mean(values: NDArray[np.float64], step_h: float) -> NDArray[np.float64]:
    """Mean over the hour that begins at each step; the year's end runs on into its beginning."""
    steps = round(CATCH_UP_H / step_h)
    return np.mean([np.roll(values, -k) for k in range(steps)], axis=0)


def pickup_table(
    house: House, lists: ListLoads, year: Year, off_hours: Sequence[float] = (2.0, 8.0, 24.0)
) -> pd.DataFrame:
    """The first hour with power after so many hours off, for the tiers one after another.

    Columns: loads, off_h, catching_up (names), usual_kw (mean load), first_hour_kw and extra_kwh (means
    over the year), worst_first_hour_kw, worst_extra_kwh, worst_running_kw, worst_surge_kw.
    """
    import pandas as pd

    rows = []
    tiers: tuple[str, ...] = ()
    for tier in ("must_run", "wanted", "can_wait"):
        tiers = (*tiers, tier)
        if not any(piece.tier == tier for piece in house.appliances.values()):
            continue
        slugs = [s for s, piece in house.appliances.items() if piece.tier in tiers]
        usual_kw = sum((lists.outage_by_appliance_kw[s] for s in slugs), np.zeros(year.n))
        for off_h in off_hours:
            found = cold_pickup(house, lists, year, slugs, off_h)
            rows.append(
                {
                    "loads": " + ".join(t.replace("_", " ") for t in tiers),
                    "off_h": off_h,
                    "catching_up": ", ".join(s.replace("_", " ") for s in found.slugs),
                    "usual_kw": float(usual_kw.mean()),
                    "first_hour_kw": float(found.first_hour_kw.mean()),
                    "extra_kwh": float(found.extra_kwh.mean()),
                    "worst_first_hour_kw": float(found.first_hour_kw.max()),
                    "worst_extra_kwh": float(found.extra_kwh.max()),
                    "worst_running_kw": float(found.running_w.max()) / 1000.0,
                    "worst_surge_kw": float(found.surge_w.max()) / 1000.0,
                }
            )
    return pd.DataFrame(rows)
