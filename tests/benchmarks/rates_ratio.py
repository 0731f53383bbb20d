"""Twelve plans x six options of the metered house, warm, in cold HiGHS solves of that house's year.

A solve is one least-cost use of one battery in that year under today's plan. The comparison makes the
use by the clock, the optimum with foresight and their exact bills for every case; its figures for today's
plan are asserted to be those of the spine, and the optimum that of HiGHS.
"""

from dataclasses import replace

import numpy as np

from kit.grid.rates import prices
from kit.shipped import shipped
from kit.stages.daily import best_schedule, everyday_use
from kit.stages.sources import DO_NOTHING, sources
from kit.study import Study, read_study
from kit.vary.plans import compare_plans, read_plans
from tests.benchmarks.highs import Problem, best_cold
from tests.benchmarks.profiles import Row, best_ms

OPTIONS = ("solar_only", "standby", "battery", "battery_solar", "two_batteries", "battery_small_set")
PLAN_COUNT = 12
ITEM = "12 plans x 6 options of the metered house / a HiGHS solve of it, cold"
ASKED = 0.17  # no more than six solves


def of_options() -> Study:
    whole = read_study(shipped() / "params" / "studies" / "metered_house.yaml")
    options = {slug: whole.model.options[slug] for slug in OPTIONS}
    return replace(whole, model=whole.model.model_copy(update={"options": options}))


def rows(full: bool) -> list[Row]:
    """One row: ms of a cold solve, and of the whole comparison."""
    study = of_options()
    found = read_plans(shipped() / "params" / "rates", study)
    today = next(slug for slug, one in found.items() if one.plan == study.model.rate_plan)
    chosen = dict.fromkeys([today, *found])
    plans = {slug: found[slug] for slug in list(chosen)[:PLAN_COUNT]}
    compared = compare_plans(study, plans)
    house = compared.house
    daily = everyday_use(study, house, sources(study, house))
    assert {s: d.bill.total_usd for s, d in daily.items()} == {s: compared.usd(today, s) for s in daily}
    assert len(compared.cases) == PLAN_COUNT * (len(OPTIONS) + 1)
    slow, apart, setting = cold_solve(study, compared.house)
    fast = best_ms(lambda: compare_plans(study, plans, house), 9 if full else 5)
    agrees = f"optimum {apart:.0e}; {setting}; {len(compared.cases) - PLAN_COUNT} cases and {DO_NOTHING}"
    return [Row(ITEM, f"{PLAN_COUNT} plans, {len(OPTIONS)} options, hourly", slow, fast, agrees)]


def cold_solve(study: Study, house) -> tuple[float, float, str]:  # type: ignore[no-untyped-def]
    """ms of the fastest setting for the battery option's year, and how far our optimum is from it."""
    option = sources(study, house)["battery"]
    assert option.battery is not None
    battery = replace(option.battery, idle_kw=0.0)  # so that the load behind it is the whole net load
    told = prices(option.plan, house.year)
    step_h = house.year.step_h
    found = best_schedule(house, option, battery, option.solar_kw)
    net = (house.load_kw + option.standby_kw - option.solar_kw) * step_h
    spare = battery.usable_kwh - battery.reserve_kwh
    problem = Problem(
        net,
        told.import_usd_per_kwh,
        np.minimum(told.export_usd_per_kwh, told.import_usd_per_kwh),
        spare,
        spare,
        battery.charge_kw * step_h,
        battery.continuous_kw * step_h,
        battery.charge_efficiency_frac,
        found.wear_usd_per_kwh,
        False,
    )
    spent, least_usd, setting = best_cold(problem)
    apart = abs(found.steered_by_usd - least_usd) / abs(least_usd)
    assert apart <= 1e-9, f"costs differ by {apart:.1e}"
    return spent, apart, setting
