"""Ride-through of every start: against numpy across starts, a plain compiled loop, and compiled lockstep."""

import numba
import numpy as np

from kit.operate.best import best_use
from kit.operate.ride import ride_through_h, stored_change_micro_kwh
from tests.benchmarks.profiles import Row, best_ms, load_kw, solar_kw, three_level_price

EFFICIENCY = 0.95
CASES = [  # usable kWh, mean must-run kW, solar peak kW
    (13.5, 0.4, 6.0),
    (13.5, 0.4, 0.0),
    (40.0, 0.25, 8.0),
    (13.5, 1.0, 6.0),
    (27.0, 0.6, 8.0),
]


def across_starts(net_kw, stored_kwh, usable_kwh, step_h, kw, horizon) -> np.ndarray:
    """The usual numpy way: all living starts take one step together."""
    n = len(net_kw)
    draw = -np.ceil(net_kw * (step_h * 1e6 / EFFICIENCY) - 1e-6)
    gain = np.floor(np.minimum(-net_kw, kw) * (EFFICIENCY * step_h * 1e6) + 1e-6)
    change = np.where(net_kw > kw, -1e9, np.where(net_kw > 0, draw, gain)).astype(np.int64)
    around = np.concatenate([change, change[np.arange(horizon) % n]])
    usable = np.int64(usable_kwh * 1e6 + 1e-6)
    level = np.minimum(np.floor(stored_kwh * 1e6 + 1e-6).astype(np.int64), usable)
    hours = np.full(n, horizon * step_h)
    alive = np.arange(n)
    for t in range(horizon):
        moved = around[alive + t]
        after = level + moved
        dead = after < 0
        if dead.any():
            within = np.where(moved[dead] == -(10**9), 0.0, level[dead] / -moved[dead])
            hours[alive[dead]] = (t + within) * step_h
            alive, after = alive[~dead], after[~dead]
            if not alive.size:
                break
        level = np.minimum(after, usable)
    return hours


@numba.njit("f8[::1](f8[::1], f8[::1], f8, f8, f8, i8)")
def plain_loop(net_kw, stored_kwh, usable_kwh, step_h, kw, horizon):
    """Two nested loops, compiled; the changes of a step worked out once, as a careful author would."""
    n = len(net_kw)
    change = np.empty(n, np.int64)
    draw, gain = step_h * 1e6 / EFFICIENCY, EFFICIENCY * step_h * 1e6
    for t in range(n):
        net = net_kw[t]
        if net > kw:
            change[t] = -(10**9)
        elif net > 0:
            change[t] = -int(np.ceil(net * draw - 1e-6))
        else:
            change[t] = int(np.floor(min(-net, kw) * gain + 1e-6))
    usable = int(usable_kwh * 1e6 + 1e-6)
    hours = np.empty(n)
    for s in range(n):
        level = min(int(np.floor(stored_kwh[s] * 1e6 + 1e-6)), usable)
        t, k, within = s, 0, 0.0
        while k < horizon:
            after = level + change[t]
            if after < 0:
                within = 0.0 if change[t] == -(10**9) else level / -change[t]
                break
            level = min(after, usable)
            k += 1
            t += 1
            if t == n:
                t = 0
        hours[s] = (k + within) * step_h
    return hours


@numba.njit("f8[::1](i8[::1], f8[::1], i8, i8, f8)", error_model="numpy")
def side_by_side(change, stored_kwh, usable, horizon, step_h):
    """The plain step walk, 64 neighbouring starts side by side; a failed one stays below zero."""
    n = len(change)
    full = np.int32(usable)
    ahead = np.zeros(n + horizon + 64, np.int32)
    for t in range(n + horizon):
        ahead[t] = change[t % n]
    level = np.empty(64, np.int32)
    steps = np.empty(64, np.int32)
    hours = np.empty(n, np.float64)
    for first in range(0, n, 64):
        lanes = min(64, n - first)
        for i in range(64):
            level[i] = -1
            steps[i] = 0
            if i < lanes:
                kwh = stored_kwh[first + i]
                level[i] = int(np.floor(min(max(kwh * 1e6 + 1e-6, 0.0), usable)))
        for t in range(first, first + horizon):
            moved = ahead[t : t + 64]
            alive = np.int32(0)
            for i in range(64):
                after = np.int32(level[i] + moved[i])
                after = after if level[i] >= 0 else level[i]
                level[i] = min(after, full)
                survived = np.int32(level[i] >= 0)
                steps[i] += survived
                alive |= survived
            if alive == 0:
                break
        for i in range(lanes):
            within = 0.0
            if level[i] < 0:
                drawn = -ahead[first + i + steps[i]]
                within = 0.0 if drawn == 10**9 else (level[i] + drawn) / drawn
            hours[first + i] = (steps[i] + within) * step_h
    return hours


def lockstep(net_kw, stored_kwh, usable_kwh, step_h, kw, horizon):
    """As many starts as fit a register walk together: the strongest plain loop we know."""
    change = stored_change_micro_kwh(net_kw, step_h, **limits(kw))
    return side_by_side(change, stored_kwh, int(usable_kwh * 1e6 + 1e-6), horizon, step_h)


def limits(kw: float) -> dict[str, float]:
    return {
        "charge_kw": kw,
        "discharge_kw": kw,
        "charge_efficiency_frac": EFFICIENCY,
        "discharge_efficiency_frac": EFFICIENCY,
    }


def everyday_stored_kwh(step_h: float, usable_kwh: float, solar_peak_kw: float) -> np.ndarray:
    """The level that everyday use leaves at each start: cheapest use above a reserve of 30 %."""
    net = load_kw(step_h) - solar_kw(step_h, solar_peak_kw)
    price = three_level_price(step_h)
    start, reserve = 0.6 * usable_kwh, 0.3 * usable_kwh
    ends = {"usable_kwh": usable_kwh, "start_kwh": start, "reserve_kwh": reserve}
    return best_use(net, price, 0.05, step_h, **ends, **limits(5.0)).stored_kwh[:-1].copy()


def rows(full: bool) -> list[Row]:
    table = []
    for step_h, name in ((1.0, "hourly"), (0.25, "15 min")):
        horizon = int(336 / step_h)
        for usable, mean_kw, solar in CASES:
            net = load_kw(step_h, 4, mean_kw) + 0.03 - solar_kw(step_h, solar)
            stored = everyday_stored_kwh(step_h, usable, solar)
            args = (net, stored, usable, step_h, 5.0, horizon)
            ours = lambda: ride_through_h(net, stored, usable, step_h, horizon_h=336.0, **limits(5.0))  # noqa: B023, E731
            mine = ours()
            fast = best_ms(ours, 5, 8)
            case = f"{name} {usable:g} kWh, {mean_kw:g} kW, solar {solar:g}, mean ride {mine.mean():.0f} h"
            for item, other, count in (
                ("ride-through / numpy across starts", across_starts, 3 if full else 1),
                ("ride-through / plain compiled loop", plain_loop, 3),
                ("ride-through / compiled lockstep", lockstep, 5),
            ):
                assert (other(*args) == mine).all(), f"{item} differs in {case}"
                slow = best_ms(lambda: other(*args), count)  # noqa: B023
                table.append(Row(f"{item}, {name}", case, slow, fast, "every start"))
    return table + grid_rows(full)


def grid_rows(full: bool) -> list[Row]:
    """1,000 systems: store x solar x must-run load, changes worked out for each."""
    table = []
    for step_h, name, sample in ((1.0, "hourly", 50), (0.25, "15 min", 20)):
        horizon = int(336 / step_h)
        base, arc = load_kw(step_h, 4, 1.0), solar_kw(step_h, 1.0)
        systems = [
            (usable, solar, share)
            for usable in np.linspace(5, 50, 10)
            for solar in np.linspace(0, 12, 10)
            for share in np.linspace(0.2, 1.0, 10)
        ]

        def args(system, base=base, arc=arc, step_h=step_h, horizon=horizon):
            usable, solar, share = system
            net = share * base + 0.03 - solar * arc
            return net, np.full(net.size, 0.8 * usable), usable, step_h, 5.0, horizon

        ours = lambda a, step_h=step_h: ride_through_h(*a[:3], step_h, horizon_h=336.0, **limits(5.0))  # noqa: E731
        picked = [args(s) for s in systems[:: len(systems) // (200 if full else sample)]]
        for a in picked:
            assert (plain_loop(*a) == ours(a)).all(), f"1,000 systems, {name}: differs"
        fast = best_ms(lambda: [ours(a) for a in picked], 3)  # noqa: B023
        slow = best_ms(lambda: [plain_loop(*a) for a in picked], 1)  # noqa: B023
        scale = 1000 / len(picked)
        table.append(
            Row(
                f"1,000 systems / plain compiled loop, {name}",
                f"every {round(scale)}th of 1,000, scaled",
                slow * scale,
                fast * scale,
                "every start",
            )
        )
    return table
