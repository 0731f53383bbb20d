"""Best everyday use: against HiGHS cold (the fastest of its settings) and warm along a sweep of sizes."""

import time
from dataclasses import replace

import numpy as np

from kit.operate.best import BestUse, best_of
from kit.operate.task import PricedYear, priced_year
from tests.benchmarks import highs
from tests.benchmarks.highs import Problem, best_cold
from tests.benchmarks.profiles import Row, best_ms, load_kw, moving_price, solar_kw, three_level_price

CASES = [  # usable kWh, solar peak kW, export from the battery allowed, wear per kWh
    (13.5, 6.0, False, 0.0),
    (27.0, 8.0, True, 0.02),
    (10.0, 0.0, False, 0.08),
    (40.0, 10.0, True, 0.0),
    (5.0, 4.0, False, 0.02),
]
AGREE = 1e-9


def problem(
    step_h: float, usable: float, solar: float, export: bool, wear: float = 0.0, moving: bool = False
) -> Problem:
    net = (load_kw(step_h) - solar_kw(step_h, solar)) * step_h
    price = moving_price(step_h) if moving else three_level_price(step_h)
    sell = 0.4 * price if moving else np.full(net.size, 0.05)
    kwh = 5.0 * step_h
    return Problem(net, price, sell, usable, usable / 2, kwh, kwh, 0.95, wear, export)


def priced(p: Problem, step_h: float, net_kw: np.ndarray) -> PricedYear:
    return priced_year(net_kw, p.buy, p.sell, step_h)


def ours(p: Problem, step_h: float, year: PricedYear) -> BestUse:
    return best_of(
        year,
        usable_kwh=p.full,
        start_kwh=p.start,
        charge_kw=p.charge / step_h,
        discharge_kw=p.discharge / step_h,
        charge_efficiency_frac=p.efficiency,
        discharge_efficiency_frac=p.efficiency,
        wear_usd_per_kwh=p.wear,
        export_allowed=p.export,
    )


def check(use: BestUse, cost: float, case: str) -> float:
    """Relative difference of the two least costs; the figure of the linear program must be met."""
    apart = abs(use.steered_by_usd - cost) / abs(cost)
    assert use.is_exact
    assert apart <= AGREE, f"{case}: costs differ by {apart:.1e}"
    return apart


def rows(full: bool) -> list[Row]:
    table = []
    for step_h, name in ((1.0, "hourly"), (0.25, "15 min")):
        settings = len(highs.SETTINGS) if full or step_h == 1.0 else 3
        for moving, item in ((False, "few prices"), (True, "any prices")):
            for usable, solar, export, wear in CASES:
                p = problem(step_h, usable, solar, export, wear, moving)
                case = (
                    f"{usable:g} kWh, solar {solar:g}, {'export' if export else 'no export'}, wear {wear:g}"
                )
                slow, cost, setting = best_cold(p, settings)
                net_kw = p.net / step_h
                apart = check(ours(p, step_h, priced(p, step_h, net_kw)), cost, case)
                fast = best_ms(
                    lambda: ours(p, step_h, priced(p, step_h, net_kw)).steered_by_usd,  # noqa: B023
                    25,
                    10,
                )
                agrees = f"cost {apart:.0e}; {setting}"
                table.append(Row(f"best use, {item} / HiGHS cold, {name}", case, slow, fast, agrees))
                if not moving:
                    table += by_step(p, step_h, name, case, slow, cost)
    return table + sweep_rows()


def by_step(p: Problem, step_h: float, name: str, case: str, slow: float, cost: float) -> list[Row]:
    """The same year with limits given for each step: of discharge, and of charge too.

    Studies give the first where the battery may not export, the second where cold or the sun limits charging.
    """
    each, table = np.ones(p.net.size), []
    panel = replace(p, discharge=p.discharge * each)
    tried = {"both by step": replace(panel, charge=p.charge * each)}
    if not p.export:
        tried = {"discharge by step": panel} | tried
    for words, problem in tried.items():
        net_kw = problem.net / step_h

        def solved(problem: Problem = problem, net_kw: np.ndarray = net_kw) -> BestUse:
            return ours(problem, step_h, priced(problem, step_h, net_kw))

        apart = check(solved(), cost, case)
        fast = best_ms(lambda: solved().steered_by_usd, 25, 10)
        item = f"best use, few prices, {words} / HiGHS cold, {name}"
        table.append(Row(item, case, slow, fast, f"cost {apart:.0e}"))
    return table


def sweep_rows() -> list[Row]:
    """Sizes one after the other: HiGHS keeps its basis, only bounds change (that change is not timed).

    The kit's year of prices is made once too; a size is its whole schedule and its cost.
    """
    table = []
    sweeps = [
        ("5 to 12 kWh, solar 6", 5.0, 12.0, 6.0, False),
        ("14 to 40 kWh, solar 10, export", 14.0, 40.0, 10.0, True),
        ("8 to 20 kWh, no solar", 8.0, 20.0, 0.0, False),
        ("10 to 24 kWh, solar 8", 10.0, 24.0, 8.0, False),
        ("5 to 16 kWh, solar 4, export", 5.0, 16.0, 4.0, True),
    ]
    for case, low, high, solar, export in sweeps:
        sizes = np.linspace(low, high, 9)
        base = replace(problem(1.0, low, solar, export), start=low / 2)
        slow = min(warm_ms(base, sizes, build, presolve) for build, presolve in WARM)
        systems = [replace(base, full=kwh) for kwh in sizes]
        year = priced(base, 1.0, base.net)
        check(ours(systems[-1], 1.0, year), best_cold(systems[-1], 1)[1], case)
        fast = best_ms(lambda: [ours(s, 1.0, year).steered_by_usd for s in systems[1:]], 7) / 8  # noqa: B023
        table.append(Row("best use, a size more / HiGHS warm, hourly", case, slow, fast, "cost 1e-9"))
    return table


WARM = ((highs.compact, "on"), (highs.natural, "on"))


def warm_ms(base: Problem, sizes: np.ndarray, build: object, presolve: str) -> float:
    """Median ms of a further size, started from the basis of the one before."""
    model = build(base)  # type: ignore[operator]
    solver = highs.solver(presolve, "simplex")
    highs.load(solver, model)
    highs.run(solver, model)
    spent = []
    columns = np.arange(model.stored.start, model.stored.stop - 1, dtype=np.int32)
    for kwh in sizes[1:]:
        solver.changeColsBounds(columns.size, columns, np.zeros(columns.size), np.full(columns.size, kwh))
        begin = time.process_time()
        cost = highs.run(solver, model)
        spent.append((time.process_time() - begin) * 1e3)
        check(ours(replace(base, full=kwh), 1.0, priced(base, 1.0, base.net)), cost, f"warm {kwh:g} kWh")
    return float(np.median(spent))
