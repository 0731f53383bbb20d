"""A utility's calls on a battery: the everyday path with every call in it.

Each call draws the battery to its floor; afterwards it refills where it may, and until then every
outage begins with what the call left. The stored energy never exceeds that of everyday use.
"""

from __future__ import annotations

import numpy as np

from kit.calendar import Year
from kit.operate.everyday import Everyday
from kit.systems.battery import BatterySystem

FULL_KWH = 1e-9


def called_starts(year: Year, months: list[int], events: int, start_hour: float) -> np.ndarray:
    """First step of each call (E,): weekdays of the months, evenly spread.

    Raises:
        ValueError: more calls than weekdays.
    """
    begins = np.isin(year.month, months) & (year.weekday < 5)
    begins &= (year.hour <= start_hour) & (start_hour < year.hour + year.step_h)
    days = np.flatnonzero(begins)
    if events > days.size:
        raise ValueError(f"{events} programme events, but the months named have {days.size} weekdays")
    return np.asarray(days[((np.arange(events) + 0.5) * days.size / events).astype(int)])


def with_calls(
    use: Everyday,
    net_kw: np.ndarray,
    behind_kw: np.ndarray,
    battery: BatterySystem,
    starts: np.ndarray,
    event_h: float,
    floor_kwh: float,
    export_allowed: bool,
    refill: np.ndarray,
    may_charge: np.ndarray,
    step_h: float,
) -> Everyday:
    """The year's path with the calls, and the meter flows that follow from it.

    net_kw (n,): load with standby and idle draw, less solar. behind_kw (n,): load the battery can serve;
    it gives no more unless export_allowed. refill (n,): steps in which the grid may fill it again after a
    call (within its limits); solar surplus and what everyday use would have charged fill it anyway. What
    a call in the last days of the year leaves is not carried into January.
    """
    n, steps = use.stored_kwh.size, max(1, round(event_h / step_h))
    called = np.zeros(n, dtype=bool)
    called[(starts[:, None] + np.arange(steps)[None, :]).ravel() % n] = True
    surplus_kwh = np.minimum(np.maximum(-net_kw, 0.0), battery.solar_charge_kw) * step_h * may_charge
    grid_kwh = battery.charge_kw * step_h * (refill & may_charge & ~called) * battery.grid_charge_allowed
    most_kwh = np.maximum(np.maximum(use.charge_kwh, surplus_kwh), grid_kwh) * battery.charge_efficiency_frac
    give_kwh = np.full(n, battery.continuous_kw)
    if not export_allowed:
        give_kwh = np.minimum(np.minimum(np.maximum(net_kw, 0.0), behind_kw), give_kwh)
    give_kwh = give_kwh * step_h / battery.discharge_efficiency_frac
    stored = _path(use.stored_kwh, called, most_kwh, give_kwh, floor_kwh)
    end = use.stored_kwh[0]
    if use.stored_kwh[-1] - stored[-1] > FULL_KWH:
        end = min(end, stored[-1] + most_kwh[-1])
    change = np.diff(stored, append=end)
    everyday = np.diff(use.stored_kwh, append=use.stored_kwh[0])
    moved = called | (np.abs(change - everyday) > FULL_KWH)
    charge = np.where(moved, np.maximum(change, 0.0) / battery.charge_efficiency_frac, use.charge_kwh)
    gave = np.where(moved, np.maximum(-change, 0.0) * battery.discharge_efficiency_frac, use.discharge_kwh)
    flow = net_kw * step_h + charge - gave
    return Everyday(
        np.where(moved, np.maximum(flow, 0.0), use.import_kwh),
        np.where(moved, np.maximum(-flow, 0.0), use.export_kwh),
        stored,
        charge,
        gave,
        use.solar_kwh,
    )


def _path(
    everyday_kwh: np.ndarray,
    called: np.ndarray,
    most_kwh: np.ndarray,
    give_kwh: np.ndarray,
    floor_kwh: float,
) -> np.ndarray:
    """Stored energy at the start of each step: below everyday use from a call until it is filled again."""
    stored = everyday_kwh.copy()
    n = stored.size
    for first in np.flatnonzero(called):
        k = int(first)
        while k < n - 1:
            if called[k]:
                after = stored[k] - min(give_kwh[k], max(0.0, stored[k] - floor_kwh))
                after = min(after, everyday_kwh[k + 1])
            else:
                after = min(everyday_kwh[k + 1], stored[k] + most_kwh[k])
            stored[k + 1] = after
            k += 1
            if called[k] or everyday_kwh[k] - after <= FULL_KWH:
                break  # the next call goes on from here, or the charge is everyday use's again
    return stored
