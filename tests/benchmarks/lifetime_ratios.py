"""Ten thousand drawn stays of a battery in an outage-prone place, against the same in numpy.

Both draw the same numbers (a function of seed, purpose, lifetime and event).  The numpy side draws each
attribute with one array expression.  What the battery serves it finds in two ways, the quicker of which
counts in each case: hour by hour for all events at once, the longest first, so that those which are over
fall off the end of the arrays; or by searching the running sum of the load for what is stored, which no
option but a battery that carries all of one load could do.
"""

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from kit.operate.drawing import MOST_EVENTS
from kit.operate.events import EventKind
from kit.operate.keyed import uniform
from kit.operate.lifetimes import draw_events, live_through
from kit.operate.outages import Backup
from tests.benchmarks.profiles import Row, in_turn_ms, load_kw
from tests.unit.operate.outage_cases import MAJOR, ROUTINE, backup, kinds_of, plain_battery

ITEM = "10,000 lifetimes drawn and lived / numpy across events"
MOST_KW = 4.5  # the battery carries every load, so that it ends only once
SEED, YEARS, LIFETIMES = 7, 25, 10_000
LOSSY = {"discharge_efficiency_frac": 0.95, "idle_w": 30.0}
CASES: dict[str, tuple[float, dict[str, Any]]] = {
    "0.4 kW mean, 10 kWh": (0.4, {}),
    "1 kW mean, 10 kWh": (1.0, {}),
    "0.4 kW mean, 10 kWh, losses and idle draw": (0.4, LOSSY),
    "1 kW mean, 10 kWh, losses and idle draw": (1.0, LOSSY),
    "0.2 kW mean, 10 kWh": (0.2, {}),
}


def drawn_by_numpy(kind: EventKind, counts: np.ndarray) -> tuple[np.ndarray, ...]:
    """Lifetime, year, start and hours of each event, the number in each lifetime given."""
    lifetime = np.repeat(np.arange(LIFETIMES), counts)
    place = np.arange(lifetime.size) - np.repeat(np.cumsum(counts) - counts, counts)
    key = lifetime * MOST_EVENTS + place
    year = (uniform(SEED, "event_year", kind.number, key) * YEARS).astype(np.int64)
    reach = np.cumsum(kind.start_weight)
    start = np.searchsorted(reach, uniform(SEED, "event_start", kind.number, key) * reach[-1], "right")
    lasts_h = kind.law.hours_at(uniform(SEED, "event_lasts", kind.number, key))
    return lifetime, year, np.minimum(start, reach.size - 1), lasts_h


def dark_by_hours(b: Backup, start: np.ndarray, lasts_h: np.ndarray) -> np.ndarray:
    """Hours without power of each event of a battery that nothing charges, hourly steps."""
    assert b.battery is not None
    order = np.argsort(-lasts_h)
    step, lasts = start[order], lasts_h[order]
    need = (b.must_kw + b.battery.idle_kw) / b.battery.discharge_efficiency_frac
    stored = b.stored_kwh[step] - b.battery.floor_kwh
    dark_h = np.zeros(lasts.size)
    for hour in range(int(np.ceil(lasts[0]))):
        on = np.searchsorted(-lasts, -float(hour))  # those that last beyond this hour
        draw = need[(step[:on] + hour) % need.size]
        served_h = np.minimum(1.0, stored[:on] / draw)
        stored[:on] -= served_h * draw
        dark_h[:on] += np.maximum(0.0, np.minimum(1.0, lasts[:on] - hour) - served_h)
    back = np.empty(lasts.size)
    back[order] = dark_h
    return back


def dark_by_search(b: Backup, start: np.ndarray, lasts_h: np.ndarray) -> np.ndarray:
    """The same without a loop: where the running sum of the load passes what is stored."""
    assert b.battery is not None
    need = (b.must_kw + b.battery.idle_kw) / b.battery.discharge_efficiency_frac
    count = np.ceil(lasts_h).astype(np.int64)
    total = np.concatenate([[0.0], np.cumsum(need[np.arange(need.size + count.max() + 1) % need.size])])
    until = total[start] + b.stored_kwh[start] - b.battery.floor_kwh
    at = np.minimum(np.searchsorted(total, until, side="right") - 1, total.size - 2)
    serves_h = at - start + (until - total[at]) / (total[at + 1] - total[at])
    return np.maximum(0.0, lasts_h - serves_h)


def rows(full: bool) -> list[Row]:
    kinds = kinds_of(routine=ROUTINE, major=MAJOR)
    table = []
    for case, (mean_kw, changes) in CASES.items():
        b = backup(np.minimum(load_kw(1.0, mean_kw=mean_kw), MOST_KW), plain_battery(**changes))
        counts = [
            np.bincount(d.lifetime, minlength=LIFETIMES) for d in draw_events(SEED, kinds, YEARS, LIFETIMES)
        ]

        def by_numpy(
            dark_h_of: Callable[..., np.ndarray], b: Backup = b, counts: list[np.ndarray] = counts
        ) -> np.ndarray:
            dark = np.zeros(LIFETIMES * YEARS)
            for kind, count in zip(kinds, counts, strict=True):
                lifetime, year, start, lasts_h = drawn_by_numpy(kind, count)
                at = lifetime * YEARS + year
                dark += np.bincount(at, dark_h_of(b, start, lasts_h), minlength=dark.size)
            return dark.reshape(LIFETIMES, YEARS)

        def by_kit(b: Backup = b) -> np.ndarray:
            drawn = draw_events(SEED, kinds, YEARS, LIFETIMES)
            return live_through(b, drawn, SEED, YEARS, LIFETIMES).dark_h_by_year

        for kind, count, d in zip(kinds, counts, draw_events(SEED, kinds, YEARS, LIFETIMES), strict=True):
            ours = (d.lifetime, d.year, d.start, d.lasts_h)
            assert all(np.array_equal(a, c) for a, c in zip(drawn_by_numpy(kind, count), ours, strict=True))
        ways = {"by hours": partial(by_numpy, dark_by_hours), "by search": partial(by_numpy, dark_by_search)}
        gap_h = max(float(np.abs(way() - by_kit()).max()) for way in ways.values())
        assert gap_h < 1e-6, f"{case}: {gap_h} h apart"
        event_count = sum(int(count.sum()) for count in counts)
        *by_way, fast = in_turn_ms([*ways.values(), by_kit], 15 if full else 7)
        slow, name = min(zip(by_way, ways, strict=True))
        agrees = f"{event_count:,} draws equal, dark to {gap_h:.0e} h; numpy {name}"
        table.append(Row(ITEM, case, slow, fast, agrees))
    return table
