"""Where the answer turns: crossings put back into the study, none in range, maps, lengths, spread."""

from __future__ import annotations

import numpy as np
import pytest

from kit.stages.money import account
from kit.study.outage_models import Duration, DurationPart
from kit.vary.breakeven import breakeven_table, crossings, turn_table, turns, win_map
from kit.vary.durations import scaled
from kit.vary.kept import Kept, physics, summary_rows
from kit.vary.lever_runs import spread
from kit.vary.levers import (
    outage_hours,
    outage_length,
    path_lever,
    price_spread,
    stay_years,
    together,
    usual_levers,
)
from tests.unit.vary.doubt_study import ground_of, small_study

PACK = "options.battery.battery.cost.price_usd"


@pytest.fixture(scope="module")
def study():
    return small_study(options=("portable", "standby", "battery", "battery_small_set"))


@pytest.fixture(scope="module")
def ground(study):
    return ground_of(study)


def costs(study):
    return {row["option"]: row["lifetime_cost_usd"] for row in summary_rows(study, Kept())}


def test_a_crossing_put_back_into_the_study_costs_the_same(study, ground):
    """The found price is set in the study and the whole spine run: both options cost the same to a cent."""
    lever = path_lever(ground, PACK, 0.0, 20_000.0)
    (found,) = crossings(lever, "battery", "standby")
    assert found.dearer_above
    assert not found.jump
    paths = next(one.paths for one in ground.ranges if PACK in one.paths)
    made = costs(study.changed([f"{path}={found.value!r}" for path in paths]))
    assert made["battery"] == pytest.approx(made["standby"], abs=0.01)


def test_none_in_range_is_said(ground):
    lever = path_lever(ground, PACK, 7000.0, 8000.0)
    table = breakeven_table([lever], "battery", ["portable"])
    assert table["value"].isna().all()
    assert len(table) == 1


def test_all_crossings_of_a_curve_are_found(ground):
    """A lever whose difference is a cubic with three roots: 1, 2 and 3 (worked by hand)."""

    class Cubic:
        slug, name, unit, low, likely, high, whole = "x", "x", "", 0.0, 1.5, 4.0, False

        def standing(self, values, only=None):
            base = ground.standing(only=only)
            judged = np.zeros((values.size, len(base.slugs)))
            judged[:, base.place("battery")] = (values - 1.0) * (values - 2.0) * (values - 3.0)
            return type(base)(**(vars(base) | {"judged_usd": judged}))

    found = crossings(Cubic(), "battery", "portable")
    assert [one.value for one in found] == pytest.approx([1.0, 2.0, 3.0], abs=1e-5)
    assert [one.dearer_above for one in found] == [True, False, True]


def test_a_turn_changes_the_answer_on_both_sides(study, ground):
    lever = path_lever(ground, PACK, 0.0, 20_000.0)
    found = turns(lever)
    assert found
    for one in found:
        below, above = lever.standing(np.array([one.value * 0.999, one.value * 1.001])).winner_slugs()
        assert (below, above) == (one.below, one.above)


def test_outage_hours_against_a_changed_record(study, ground):
    """Half as many hours: every rate of the study halved and the spine run."""
    lever = outage_hours(ground)
    rates = {slug: block.events_per_year for slug, block in study.model.outages.classes.items()}
    half = study.changed(
        [f"outages.classes.{slug}.events_per_year={rate / 2!r}" for slug, rate in rates.items()]
    )
    told = lever.standing(np.array([lever.likely / 2])).lifetime_cost_usd[0]
    for got, (slug, exact) in zip(told, costs(half).items(), strict=True):
        assert got == pytest.approx(exact, abs=0.05), slug


def test_outage_length_against_a_changed_record(study, ground):
    lever = outage_length(ground)
    settings = []
    for slug, block in study.model.outages.classes.items():
        name = "mean_h" if block.duration.mean_h else "median_h"
        settings.append(f"outages.classes.{slug}.duration.{name}={2 * getattr(block.duration, name)!r}")
    told = lever.standing(np.array([2 * lever.likely])).lifetime_cost_usd[0]
    for got, (slug, exact) in zip(told, costs(study.changed(settings)).items(), strict=True):
        assert got == pytest.approx(exact, abs=0.05), slug


def test_lengths_scale_whatever_the_law():
    parts = [DurationPart(share_frac=0.5, median_h=h, spread=1.0) for h in (2.0, 8.0)]
    doubled = scaled(Duration(kind="mixture", parts=parts), 2.0)
    assert [part.median_h for part in doubled.parts] == [4.0, 16.0]
    assert scaled(Duration(kind="log", events_h=[1.0, 3.0]), 3.0).events_h == [3.0, 9.0]
    assert scaled(Duration(kind="weibull", shape=0.8, mean_h=4.0), 0.5).mean_h == 2.0


def test_price_spread_keeps_the_mean_and_meets_exact_bills(study, ground):
    lever = price_spread(ground)
    plan = spread(study.model.rate_plan, 0.3, 2.0)
    for slug, period in plan.energy.items():
        before = study.model.rate_plan.energy[slug].price_usd_per_kwh
        assert period.price_usd_per_kwh == pytest.approx(0.3 + 2.0 * (before - 0.3))
    nothing = lever.standing(np.array([0.0, lever.likely, lever.high])).lifetime_cost_usd[:, 0]
    assert nothing == pytest.approx(nothing[1], rel=1e-6)


def test_years_in_the_house_against_the_spine(study, ground):
    lever = stay_years(ground)
    assert (lever.low, lever.likely) == (1.0, 5.0)
    told = lever.standing(np.array([9.0])).lifetime_cost_usd[0]
    for got, (slug, exact) in zip(told, costs(study.changed(["asked.stay_years=9"])).items(), strict=True):
        assert got == pytest.approx(exact, abs=1e-6), slug


def test_the_usual_levers_are_there(ground):
    names = [lever.slug for lever in usual_levers(ground)]
    assert names[:2] == ["outage_hours", "outage_length"]
    assert names[-2:] == ["price_spread", "stay_years"]
    assert PACK in names
    assert "options.portable.generator.cost.price_usd" in names
    assert "fuels.gasoline.price_usd_per_l" in names


def test_the_map_agrees_with_single_settings(ground):
    hours, pack = outage_hours(ground), path_lever(ground, PACK, 0.0, 20_000.0)
    made = win_map(hours, pack, 3, 3)
    assert len(made) == 9
    for row in made.to_dict("records"):
        standing = together(hours, pack, np.array([row["x"]]), np.array([row["y"]]))
        assert standing.winner_slugs()[0] == row["winner"]
    with pytest.raises(ValueError, match="cannot be moved together"):
        together(hours, stay_years(ground), np.array([1.0]), np.array([3.0]))


def test_where_nothing_turns_the_table_says_so(ground):
    table = turn_table([path_lever(ground, PACK, 7100.0, 7300.0)])
    assert table["value"].isna().all()


@pytest.mark.parametrize(
    ("path", "says"),
    [("asked.loads", "no number"), ("house.altitude_m", "no range"), ("options.nothing.x", "there is no")],
)
def test_paths_that_cannot_be_moved(ground, path, says):
    with pytest.raises(ValueError, match=says):
        path_lever(ground, path)


def test_no_rate_of_return_is_a_reason_not_a_number(study):
    """Every year of a portable costs money: no change of sign, so None and why."""
    stages = physics(study, Kept())
    made = account(study, stages.options, stages.daily, stages.outages)["portable"].measures
    assert made.irr_frac is None
    assert "no year brings money in" in made.reasons["irr_frac"]
    assert made.payback_years is None
    assert made.reasons["payback_years"] == "not within the life"
