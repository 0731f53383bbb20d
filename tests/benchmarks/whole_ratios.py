"""A whole comparison of six options, with one cold HiGHS solve of one everyday year as the unit.

The recovering walk: every start of every kind of outage, failures drawn, for six options.  The rest: every
stage of a warm comparison but that walk.  In these rows a smaller ratio is better.
"""

from pathlib import Path
from typing import Any

import numpy as np

from kit.compare import compare
from kit.house import house_year
from kit.operate import walk as walks
from kit.operate.outage_year import outage_year
from kit.stages.columns import columns
from kit.stages.daily import everyday_use
from kit.stages.money import account
from kit.stages.outage import event_side, outage_use
from kit.stages.outcome import gather
from kit.stages.power import power_check
from kit.stages.sources import sources
from kit.stages.verdict import decide
from kit.study import Study, read_study
from tests.benchmarks.dispatch_ratios import CASES, problem
from tests.benchmarks.highs import best_cold
from tests.benchmarks.profiles import Row, best_ms

STUDY = Path(__file__).parents[2] / "params" / "studies" / "metered_house.yaml"
SIX = ("solar_only", "portable", "standby", "battery", "battery_solar", "battery_small_set")
WALK = "recovering walk of 6 options, hourly / one cold HiGHS solve"
REST = "comparison of 6 options without the walk / one cold HiGHS solve"
SAMPLE = 12  # starts of each walk that are followed in plain Python as well
BY_START = (1, *range(8, 18), 20, *range(25, 31))  # arguments of the walk with one entry a start
WRITTEN = range(27, 31)  # those of them that it writes


def six_options() -> Study:
    study = read_study(STUDY)
    for slug in [s for s in study.model.options if s not in SIX]:
        del study.model.options[slug]
    return study


def followed_in_plain_python(run: Any) -> int:
    """Run with some starts of each compiled walk followed again in plain Python: equal to the bit."""
    compiled = walks.walk
    plain = getattr(compiled, "py_func", compiled)
    count = 0

    def both(*given: np.ndarray) -> None:
        nonlocal count
        compiled(*given)
        some = np.linspace(0, given[1].size - 1, SAMPLE).astype(int) if given[1].size else np.zeros(0, int)
        part = [
            given[place][some].copy() if place in BY_START else given[place] for place in range(len(given))
        ]
        for place in WRITTEN:
            part[place][:] = 0.0
        plain(*part)
        for place in WRITTEN:
            assert np.array_equal(part[place], given[place][some]), "the walk differs from plain Python"
        count += some.size

    walks.walk = both
    try:
        run()
    finally:
        walks.walk = compiled
    return count


def rows(full: bool) -> list[Row]:
    solve_ms, _, setting = best_cold(problem(1.0, *CASES[0]))
    study = six_options()
    model = study.model
    house = house_year(model.house, model.year)
    kinds, options = event_side(study, house), sources(study, house)
    fits = power_check(study, house, options)
    daily = everyday_use(study, house, options)
    outages = outage_use(study, house, kinds, options, daily, fits)

    def walk_all() -> None:
        for slug in options:
            outage_year(outages[slug].backup, kinds, model.seed, model.outages.horizon_h)

    def rest() -> list[dict[str, Any]]:
        house = house_year(model.house, model.year)
        event_side(study, house)
        options = sources(study, house)
        fits = power_check(study, house, options)
        daily = everyday_use(study, house, options)
        accounts = account(study, options, daily, outages)
        made = columns(study, options, fits, daily, outages, accounts)
        gather(study, house, options, fits, daily, outages, accounts, made, decide(study, options, made))
        return made

    checked = followed_in_plain_python(walk_all)
    whole = compare(study).to_json()
    case = f"{len(options) - 1} options and doing nothing, {len(kinds)} kinds of outage; {setting}"
    walk_ms = best_ms(walk_all, 3)
    rest()
    rest_ms = best_ms(rest, 3)
    assert compare(study).to_json()["options"] == whole["options"]
    return [
        Row(WALK, case, solve_ms, walk_ms, f"{checked} starts in plain Python"),
        Row(REST, case, solve_ms, rest_ms, "every figure"),
    ]
