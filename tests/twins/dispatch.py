"""The best everyday use of a battery, twice over and slowly: in plain Python lists, and as a linear program.

A case is a dict of: net_kwh, buy, sell, floor, charge, discharge (lists, one value a step; the last two in AC
kWh); full, start; into, out_of (efficiencies); wear; grid, export (allowed or not); worth (None: end as it
began).
"""

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import diags, eye, hstack, vstack


def segments_of_step(case: dict, t: int) -> list[tuple[float, float]]:
    """(slope, stored kWh) of what a step can do, from charging flat out to discharging flat out."""
    net, buy, sell = case["net_kwh"][t], case["buy"][t], case["sell"][t]
    room, reach = case["charge"][t] * case["into"], case["discharge"][t] / case["out_of"]
    surplus = min(room, max(0.0, -net) * case["into"])
    serve = min(reach, max(0.0, net) / case["out_of"])
    offers = []
    if case["grid"]:
        offers.append((-buy / case["into"], room - surplus))
    offers.append((-sell / case["into"], surplus))
    offers.append((-case["out_of"] * (buy - case["wear"]), serve))
    if case["export"]:
        offers.append((-case["out_of"] * (sell - case["wear"]), reach - serve))
    return [(slope, size) for slope, size in offers if size > 0]


def plain_cost(case: dict) -> float:
    """Least cost by lists of segments backward, then trying every corner forward."""
    n = len(case["net_kwh"])
    if case["worth"] is None:
        if case["start"] < case["floor"][-1] - 1e-9:
            return float("nan")  # to end as it began it would have to stand below the floor
        after = (case["start"], [])
    else:
        after = (case["floor"][-1], [(-case["worth"], case["full"] - case["floor"][-1])])
    to_go = [after]  # (left end, sorted segments) of the cost-to-go at the end of each step, last first
    for t in range(n - 1, 0, -1):
        left, pieces = to_go[-1]
        mine = segments_of_step(case, t)
        charge = sum(size for slope, size in mine if size) - reach_out(case, t)
        merged = sorted(pieces + mine)
        to_go.append(cut(left - charge, merged, case["floor"][t - 1], case["full"]))
    to_go.reverse()
    level, cost = case["start"], 0.0
    for t in range(n):
        left, pieces = to_go[t]
        corners = [left]
        for _, size in pieces:
            corners.append(corners[-1] + size)
        mine = segments_of_step(case, t)
        out = reach_out(case, t)
        highest = level + sum(size for _, size in mine) - out
        changes = [highest]
        for _, size in mine:
            changes.append(changes[-1] - size)
        inside = [c for c in corners if changes[-1] <= c <= changes[0]]
        inside += [c for c in changes if corners[0] - 1e-9 <= c <= corners[-1] + 1e-9]
        if not inside:
            return float("nan")
        best = min(inside, key=lambda c: step_cost(case, t, c - level) + value(c, left, pieces))
        cost += step_cost(case, t, best - level)
        level = best
    return cost - (case["worth"] or 0.0) * level


def reach_out(case: dict, t: int) -> float:
    """Stored kWh that a step can take out."""
    reach = case["discharge"][t] / case["out_of"]
    return reach if case["export"] else min(reach, max(0.0, case["net_kwh"][t]) / case["out_of"])


def cut(left: float, pieces: list, floor: float, full: float) -> tuple[float, list]:
    """A list of segments from `left`, cut to floor .. full."""
    kept, start = [], max(left, floor)
    for slope, size in pieces:
        low, high = max(left, floor), min(left + size, full)
        if high > low:
            kept.append((slope, high - low))
        left += size
    return start, kept


def value(level: float, left: float, pieces: list) -> float:
    total = 0.0
    for slope, size in pieces:
        total += slope * max(0.0, min(size, level - left))
        left += size
    return total


def step_cost(case: dict, t: int, change: float) -> float:
    charged = max(0.0, change) / case["into"]
    given = max(0.0, -change) * case["out_of"]
    meter = case["net_kwh"][t] + charged - given
    price = case["buy"][t] if meter > 0 else case["sell"][t]
    return price * meter + case["wear"] * given


def lp_cost(case: dict) -> float:
    """A linear program for HiGHS: charge, discharge, import, export, stored; nan if infeasible."""
    n = len(case["net_kwh"])
    net, floor = np.asarray(case["net_kwh"]), np.asarray(case["floor"], dtype=float)
    one, none = eye(n), None
    store = diags([1.0, -1.0], [0, -1], shape=(n, n))
    balance = hstack([-one, one, one, -one, 0 * one])
    keep = hstack([-case["into"] * one, one / case["out_of"], 0 * one, 0 * one, store])
    first = np.zeros(n)
    first[0] = case["start"]
    most_in, most_out = np.asarray(case["charge"]), np.asarray(case["discharge"])
    if not case["grid"]:
        most_in = np.minimum(most_in, np.maximum(0, -net))
    if not case["export"]:
        most_out = np.minimum(most_out, np.maximum(0, net))
    high = np.full(n, case["full"])
    if case["worth"] is None:
        if case["start"] < floor[-1]:
            return float("nan")
        floor[-1] = high[-1] = case["start"]
    last = np.zeros(n)
    last[-1] = -(case["worth"] or 0.0)
    cost = np.concatenate(
        [np.zeros(n), np.full(n, case["wear"]), case["buy"], -np.asarray(case["sell"]), last]
    )
    bounds = (
        [(0, m) for m in most_in]
        + [(0, m) for m in most_out]
        + [(0, none)] * (2 * n)
        + list(zip(floor, high, strict=True))
    )
    done = linprog(
        cost,
        A_eq=vstack([balance, keep]).tocsr(),
        b_eq=np.concatenate([net, first]),
        bounds=bounds,
        method="highs",
        options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10},
    )
    return done.fun if done.status == 0 else float("nan")
