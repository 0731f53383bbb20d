"""A forecast outage: the reserve is raised hours before, and the battery charges up to it.

From the warning on the battery charges at its full rate from the grid (where that is allowed) until it
holds the raised reserve, takes what solar everyday use would have stored if that is more, and serves
everyday load only from what lies above. The charge at a forewarned start is what that leaves.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from kit.operate.events import EventKind
from kit.systems.battery import BatterySystem

if TYPE_CHECKING:
    from kit.operate.outages import Backup


@dataclass(frozen=True)
class Forewarned:
    """One kind's forewarned starts, arrays (n,): charge at the start, and what a warning costs.

    stored_kwh: DC energy at each start that was forecast. extra_usd: energy bought or not saved between
    warning and start, at the prices of those hours, less the recharge that it spares after the event.
    """

    stored_kwh: np.ndarray
    extra_usd: np.ndarray


def raised_charge(
    stored_kwh: np.ndarray,
    charge_kwh: np.ndarray,
    battery: BatterySystem,
    may_charge: np.ndarray,
    warned_h: float,
    raised_kwh: float,
    step_h: float,
    price_usd_per_kwh: np.ndarray,
    recharge_usd_per_kwh: float,
) -> Forewarned:
    """Charge at every start of the year that was forecast `warned_h` before, and its cost.

    stored_kwh, charge_kwh: everyday use, energy at the start of each step and AC energy into the
    battery (n,); may_charge (n,): not too cold. raised_kwh: the reserve from the warning on. A step
    leads from x to max(everyday, min(raised, x + the most that can be charged)), so the charge is
    never below everyday use's and never above the raised reserve unless everyday use is. The year
    wraps; warned_h is rounded to whole steps. price_usd_per_kwh (n,): what a kWh more or less costs
    in each step. Raises ValueError for a time or reserve below 0.
    """
    if warned_h < 0.0 or raised_kwh < 0.0:
        raise ValueError(f"warned_h and raised_kwh are at or above 0, got {warned_h:g} and {raised_kwh:g}")
    n = stored_kwh.size
    steps = round(warned_h / step_h)
    grid_kwh = battery.charge_kw * step_h * may_charge * battery.grid_charge_allowed
    most_kwh = np.maximum(grid_kwh, charge_kwh) * battery.charge_efficiency_frac
    raised_kwh = min(raised_kwh, battery.usable_kwh)
    place = np.arange(-steps, n + 1) % n
    everyday, room, price = stored_kwh[place], most_kwh[place], price_usd_per_kwh[place]
    charge, extra_usd = everyday[:n].copy(), np.zeros(n)
    for k in range(steps):
        before, after = everyday[k : k + n], everyday[k + 1 : k + 1 + n]
        following = np.maximum(after, np.minimum(raised_kwh, charge + room[k : k + n]))
        more_kwh = _ac_kwh(following - charge, battery) - _ac_kwh(after - before, battery)
        extra_usd += price[k : k + n] * more_kwh
        charge = following
    spared_kwh = (charge - stored_kwh) / battery.charge_efficiency_frac
    return Forewarned(charge, extra_usd - spared_kwh * recharge_usd_per_kwh)


def _ac_kwh(change_kwh: np.ndarray, battery: BatterySystem) -> np.ndarray:
    """AC energy into the battery behind a change of its stored energy; negative when it gives."""
    return np.where(
        change_kwh > 0.0,
        change_kwh / battery.charge_efficiency_frac,
        change_kwh * battery.discharge_efficiency_frac,
    )


def warned_parts(b: Backup, kind: EventKind) -> Iterator[tuple[float, EventKind, Backup]]:
    """A kind's unwarned and forewarned events: share, kind with its part of the rate, backup with its charge.

    Both parts use the same draws. One part where nothing is forecast or nothing can be charged.
    """
    charge = b.forewarned_kwh.get(kind.number)
    share = kind.forewarned_frac if charge is not None else 0.0
    if charge is None or share == 0.0:
        yield 1.0, kind, b
        return
    if share < 1.0:
        yield 1.0 - share, replace(kind, events_per_year=kind.events_per_year * (1.0 - share)), b
    warned = replace(b, stored_kwh=charge, forewarned_kwh={})
    yield share, replace(kind, events_per_year=kind.events_per_year * share), warned
