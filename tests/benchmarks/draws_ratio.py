"""2,000 joint draws of six options of the metered house, cold, in cold HiGHS solves of that house's year.

A solve is one least-cost use of one battery in that year under today's plan, by the fastest setting.
The draws start from the stages of one comparison, as the memo has them, and hold all they need beside: the
exact runs of every physical number, the draws, and one exact joint run, against which they are asserted.
"""

from __future__ import annotations

import os
import tempfile
import time
from unittest import mock

import numpy as np

from kit.grid.rates import prices
from kit.vary.draws import draw
from kit.vary.ground import Ground
from kit.vary.kept import Kept, Stages, physics
from tests.benchmarks.highs import Problem, best_cold
from tests.benchmarks.profiles import Row
from tests.benchmarks.rates_ratio import OPTIONS, of_options

COUNT = 2000
ITEM = f"{COUNT:,} draws x {len(OPTIONS)} options of the metered house / a HiGHS solve, cold"
AT_MOST = 250  # solves
AIM = 75


def rows(_full: bool) -> list[Row]:
    """One row: ms of a cold solve, and of the draws with their exact runs (processor time)."""
    study = of_options()
    stages = physics(study, Kept())
    slow, setting = cold_solve_ms(stages)
    ground = Ground(study, stages)
    with tempfile.TemporaryDirectory() as empty, mock.patch.dict(os.environ, RIDETHROUGH_CACHE=empty):
        begin = time.process_time()
        made = draw(ground, COUNT, checked=1)  # no exact run of an earlier day is found
        fast = (time.process_time() - begin) * 1e3
    apart = float((made.checks["grid_usd"] - made.checks["exact_usd"]).abs().max())
    assert apart < 25.0, f"the grid misses an exact joint run by {apart:.2f}"
    assert np.isfinite(made.standing.lifetime_cost_usd).all()
    agrees = f"misses an exact joint run by {apart:.2f} usd; {setting}; aim {AIM}"
    return [Row(ITEM, f"{COUNT:,} draws, {len(OPTIONS)} options, hourly", slow, fast, agrees)]


def cold_solve_ms(stages: Stages) -> tuple[float, str]:
    """ms of the fastest setting for the battery option's year, and the setting."""
    option = stages.options["battery"]
    battery = option.battery
    assert battery is not None
    told, step_h = prices(option.plan, stages.house.year), stages.house.year.step_h
    spare_kwh = battery.usable_kwh - battery.reserve_kwh
    problem = Problem(
        (stages.house.load_kw + option.standby_kw - option.solar_kw) * step_h,
        told.import_usd_per_kwh,
        np.minimum(told.export_usd_per_kwh, told.import_usd_per_kwh),
        spare_kwh,
        spare_kwh,
        battery.charge_kw * step_h,
        battery.continuous_kw * step_h,
        battery.charge_efficiency_frac,
        0.0,
        False,
    )
    spent, _, setting = best_cold(problem)
    return spent, setting
