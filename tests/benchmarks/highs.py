"""The linear programs to beat, handed to HiGHS itself: two models, several settings, cold and warm.

highspy is used where it is installed, else the same solver inside scipy.
"""

import time
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_matrix, diags, eye, hstack, vstack

try:
    import highspy as core

    Solver = core.Highs
except ImportError:
    from scipy.optimize._highspy import _core as core

    Solver = core._Highs


@dataclass
class Model:
    """min cost @ x + offset, A x = rhs, low <= x <= high; `stored` is where the stored levels stand in x."""

    matrix: csc_matrix
    rhs: np.ndarray
    cost: np.ndarray
    low: np.ndarray
    high: np.ndarray
    offset: float
    stored: slice


@dataclass(frozen=True)
class Problem:
    """Energies a step in AC kWh, levels in stored kWh; ends where it began."""

    net: np.ndarray
    buy: np.ndarray
    sell: np.ndarray
    full: float
    start: float
    charge: float
    discharge: float
    efficiency: float
    wear: float
    export: bool


def natural(p: Problem) -> Model:
    """Charge, discharge, import, export, stored; a meter row and a store row a step."""
    n = p.net.size
    one = eye(n, format="csc")
    store = diags([1.0, -1.0], [0, -1], shape=(n, n))
    rows = [
        hstack([-one, one, one, -one, csc_matrix((n, n))]),
        hstack([-p.efficiency * one, one / p.efficiency, csc_matrix((n, 2 * n)), store]),
    ]
    rhs = np.concatenate([p.net, np.zeros(n)])
    rhs[n] = p.start
    out = np.full(n, p.discharge) if p.export else np.minimum(p.discharge, np.maximum(p.net, 0))
    high = np.concatenate([np.full(n, p.charge), out, np.full(2 * n, np.inf), np.full(n, p.full)])
    low = np.zeros(5 * n)
    low[-1] = high[-1] = p.start
    cost = np.concatenate([np.zeros(n), np.full(n, p.wear), p.buy, -p.sell, np.zeros(n)])
    return Model(csc_matrix(vstack(rows)), rhs, cost, low, high, 0.0, slice(4 * n, 5 * n))


def compact(p: Problem) -> Model:
    """One row a step: the priced segments (grid, surplus, serve, export) and the stored level."""
    n = p.net.size
    surplus = np.minimum(p.charge, np.maximum(-p.net, 0))
    serve = np.minimum(p.discharge, np.maximum(p.net, 0))
    sold = p.discharge - serve if p.export else np.zeros(n)
    one = eye(n, format="csc")
    store = diags([1.0, -1.0], [0, -1], shape=(n, n))
    into, out = -p.efficiency * one, one / p.efficiency
    matrix = csc_matrix(hstack([into, into, out, out, store]))
    high = np.concatenate([p.charge - surplus, surplus, serve, sold, np.full(n, p.full)])
    low = np.zeros(5 * n)
    low[-1] = high[-1] = p.start
    cost = np.concatenate([p.buy, p.sell, p.wear - p.buy, p.wear - p.sell, np.zeros(n)])
    rhs = np.zeros(n)
    rhs[0] = p.start
    offset = float(p.buy @ np.maximum(p.net, 0) - p.sell @ np.maximum(-p.net, 0))
    keep = high > 0
    keep[4 * n :] = True
    stored = slice(int(keep[: 4 * n].sum()), int(keep.sum()))
    return Model(csc_matrix(matrix[:, keep]), rhs, cost[keep], low[keep], high[keep], offset, stored)


def solver(presolve: str, method: str, limit_s: float = 600.0) -> "Solver":
    highs = Solver()
    for name, value in (
        ("output_flag", False),
        ("presolve", presolve),
        ("solver", method),
        ("time_limit", limit_s),
        ("threads", 1),
    ):
        highs.setOptionValue(name, value)
    return highs


def load(highs: "Solver", m: Model) -> None:
    lp = core.HighsLp()
    lp.num_row_, lp.num_col_ = m.matrix.shape
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = m.cost, m.low, m.high
    lp.row_lower_ = lp.row_upper_ = m.rhs
    lp.a_matrix_.format_ = core.MatrixFormat.kColwise
    lp.a_matrix_.num_row_, lp.a_matrix_.num_col_ = m.matrix.shape
    lp.a_matrix_.start_ = m.matrix.indptr.astype(np.int32)
    lp.a_matrix_.index_ = m.matrix.indices.astype(np.int32)
    lp.a_matrix_.value_ = m.matrix.data
    highs.passModel(lp)


def run(highs: "Solver", m: Model) -> float | None:
    """Least cost, or None where it was stopped."""
    highs.run()
    if highs.getModelStatus() != core.HighsModelStatus.kOptimal:
        return None
    return float(highs.getInfo().objective_function_value) + m.offset


SETTINGS = (
    ("compact simplex, no presolve", compact, "off", "simplex"),
    ("natural simplex, no presolve", natural, "off", "simplex"),
    ("compact simplex", compact, "on", "simplex"),
    ("compact interior point", compact, "on", "ipm"),
    ("natural simplex", natural, "on", "simplex"),
    ("natural interior point", natural, "on", "ipm"),
)


def best_cold(p: Problem, count: int = len(SETTINGS)) -> tuple[float, float, str]:
    """(ms, least cost, setting) of the fastest of `count` settings; the slower ones are stopped at its time.

    The arrays of a model are made before the clock starts; handing them to the solver is in the time.
    """
    models = {f: f(p) for f in (compact, natural)}
    best = (np.inf, np.nan, "")
    for name, build, presolve, method in SETTINGS[:count]:
        begin = time.process_time()
        highs = solver(presolve, method, min(600.0, best[0] / 1e3 * 1.05))
        load(highs, models[build])
        cost = run(highs, models[build])
        spent = (time.process_time() - begin) * 1e3
        if cost is not None and spent < best[0]:
            best = (spent, cost, name)
    return best
