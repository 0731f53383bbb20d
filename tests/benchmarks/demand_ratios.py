"""Best use under a monthly demand charge: against HiGHS with a peak variable a month, cold."""

import time
from collections.abc import Callable

import numpy as np
from scipy.sparse import coo_matrix, csc_matrix, eye, hstack, vstack

from kit.operate.demand import CERTIFIED_GAP_FRAC, DemandLine, DemandUse, best_use_with_demand
from tests.benchmarks import highs
from tests.benchmarks.dispatch_ratios import AGREE, problem
from tests.benchmarks.highs import Model, Problem
from tests.benchmarks.profiles import Row, best_ms, hours

CASES = [  # usable kWh, solar peak kW, export from the battery allowed, wear per kWh, price a kW
    (13.5, 6.0, False, 0.0, 12.0),
    (27.0, 8.0, True, 0.02, 12.0),
    (10.0, 0.0, False, 0.08, 20.0),
    (40.0, 10.0, True, 0.0, 8.0),
    (5.0, 4.0, False, 0.02, 15.0),
]
DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


def month_of(step_h: float) -> np.ndarray:
    return np.repeat(np.arange(1, 13), DAYS)[(hours(step_h) // 24).astype(int)]


def with_peaks(
    build: Callable[[Problem], Model], p: Problem, month: np.ndarray, price: float, step_h: float
) -> Model:
    """A model of the plain problem, a peak column a month, and import + slack = peak * step in each step."""
    base, n = build(p), p.net.size
    peaks = coo_matrix((np.full(n, -step_h), (np.arange(n), month - 1)), shape=(n, 12))
    if build is highs.natural:  # its third block is the import
        imports = hstack([csc_matrix((n, 2 * n)), eye(n), csc_matrix((n, 2 * n))])
        rhs = np.zeros(n)
    else:  # load, and what the battery takes less what it gives, in AC kWh
        moved = -base.matrix[:, : base.stored.start].sign()
        imports = hstack([moved, csc_matrix((n, n))])
        rhs = -p.net
    above = hstack([base.matrix, csc_matrix((base.matrix.shape[0], n + 12))])
    return Model(
        csc_matrix(vstack([above, hstack([imports, eye(n), peaks])])),
        np.concatenate([base.rhs, rhs]),
        np.concatenate([base.cost, np.zeros(n), np.full(12, price)]),
        np.concatenate([base.low, np.zeros(n + 12)]),
        np.concatenate([base.high, np.full(n + 12, np.inf)]),
        base.offset,
        base.stored,
    )


def best_cold(models: dict[str, Model]) -> tuple[float, float, str]:
    """(ms, least cost, setting) of the fastest of simplex without and with presolve on each model."""
    best = (np.inf, np.nan, "")
    for name, model in models.items():
        for presolve in ("off", "on"):
            begin = time.process_time()
            solver = highs.solver(presolve, "simplex")
            highs.load(solver, model)
            cost = highs.run(solver, model)
            spent = (time.process_time() - begin) * 1e3
            if cost is not None and spent < best[0]:
                best = (spent, cost, f"{name} simplex, presolve {presolve}")
    return best


def ours(p: Problem, net_kw: np.ndarray, month: np.ndarray, price: float, step_h: float) -> DemandUse:
    return best_use_with_demand(
        net_kw,
        p.buy,
        p.sell,
        month - 1,
        DemandLine(np.full(12, price)),
        step_h,
        usable_kwh=p.full,
        start_kwh=p.start,
        charge_kw=p.charge / step_h,
        discharge_kw=p.discharge / step_h,
        charge_efficiency_frac=p.efficiency,
        discharge_efficiency_frac=p.efficiency,
        wear_usd_per_kwh=p.wear,
        export_allowed=p.export,
    )


def rows(full: bool) -> list[Row]:
    """Hourly years, and two quarter-hourly ones; all of those too where ``full``."""
    return of_step(1.0, "hourly", CASES) + of_step(0.25, "15 min", CASES if full else CASES[:2])


def of_step(step_h: float, name: str, cases: list[tuple[float, float, bool, float, float]]) -> list[Row]:
    table, month = [], month_of(step_h)
    for usable, solar, export, wear, price in cases:
        p = problem(step_h, usable, solar, export, wear)
        net_kw = p.net / step_h
        case = f"{usable:g} kWh, solar {solar:g}, {'export' if export else 'no export'}, {price:g} a kW"
        models = {f.__name__: with_peaks(f, p, month, price, step_h) for f in (highs.natural, highs.compact)}
        slow, cost, setting = best_cold(models)
        done = ours(p, net_kw, month, price, step_h)
        apart = abs(done.steered_by_usd - cost) / abs(cost)
        assert done.use.is_exact
        assert done.gap_frac <= CERTIFIED_GAP_FRAC
        assert apart <= AGREE, f"{case}: costs differ by {apart:.1e}"
        fast = best_ms(lambda: ours(p, net_kw, month, price, step_h), 9)  # noqa: B023
        agrees = f"cost {apart:.0e}; gap {done.gap_frac:.0e} in {done.pass_count} passes; {setting}"
        table.append(Row(f"best use, demand charge / HiGHS cold, {name}", case, slow, fast, agrees))
    return table
