"""Best use under monthly demand charges, as a linear program for HiGHS."""

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_matrix, csr_matrix, diags, eye, hstack, vstack


def lp_cost(case: dict, step_h: float) -> float:
    """Charge, discharge, import, export, stored, and the peak kW of each month; nan if infeasible.

    case, per step: net_kwh, buy, sell, month (1 to 12), floor; demand (12,) per kW; full, start; charge and
    discharge (most AC kWh a step); into and out_of (efficiencies); wear per kWh discharged; grid, export
    (allowed); worth of a kWh left, None to end where it began.
    """
    n, net = case["net_kwh"].size, case["net_kwh"]
    one = eye(n)
    store = diags([1.0, -1.0], [0, -1], shape=(n, n))
    peaks = csr_matrix((n, 24))
    window = case.get("window")
    window = np.zeros(n, dtype=bool) if window is None else window
    balance = hstack([-one, one, one, -one, 0 * one, peaks])
    keep = hstack([-case["into"] * one, one / case["out_of"], 0 * one, 0 * one, store, peaks])
    of_month = coo_matrix((np.full(n, -step_h), (np.arange(n), case["month"] - 1)), shape=(n, 24))
    in_window = np.flatnonzero(window)
    of_window = coo_matrix(
        (np.full(in_window.size, -step_h), (in_window, case["month"][window] + 11)), shape=(n, 24)
    )
    below = vstack(
        [
            hstack([0 * one, 0 * one, one, 0 * one, 0 * one, of_month]),
            hstack([0 * one, 0 * one, diags(window.astype(float)), 0 * one, 0 * one, of_window]),
        ]
    )
    first = np.zeros(n)
    first[0] = case["start"]
    most_in = np.full(n, case["charge"]) if case["grid"] else np.clip(-net, 0, case["charge"])
    most_out = np.full(n, case["discharge"]) if case["export"] else np.clip(net, 0, case["discharge"])
    low, high = case["floor"].copy(), np.full(n, case["full"])
    if case["worth"] is None:
        low[-1] = high[-1] = case["start"]
    last = np.zeros(n)
    last[-1] = -(case["worth"] or 0.0)
    free = np.full(2 * n, np.inf)
    dear = case.get("window_demand", np.zeros(12))
    free_kw = case.get("window_free", 0.0)
    done = linprog(
        np.concatenate(
            [0 * net, 0 * net + case["wear"], case["buy"], -case["sell"], last, case["demand"], dear]
        ),
        A_ub=below,
        b_ub=np.zeros(2 * n),
        A_eq=vstack([balance, keep]),
        b_eq=np.concatenate([net, first]),
        bounds=np.stack(
            [
                np.concatenate([np.zeros(4 * n), low, np.zeros(12), np.full(12, free_kw)]),
                np.concatenate([most_in, most_out, free, high, np.full(24, np.inf)]),
            ],
            axis=1,
        ),
        method="highs",
        options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10},
    )
    return done.fun - free_kw * dear.sum() if done.status == 0 else float("nan")
