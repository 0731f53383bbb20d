"""Moved numbers against the spine: what is quick must be what account() and compare() give."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.stages.money import account, lifetimes
from kit.stages.sources import DO_NOTHING
from kit.stages.year_figures import year_figures
from kit.vary.ground import STAY
from kit.vary.kept import Kept, summary_rows
from kit.vary.values import tree_of, with_values
from tests.unit.vary.doubt_study import ground_of, small_study


@pytest.fixture(scope="module")
def study():
    return small_study("money.lost_load_usd_per_h=10")


@pytest.fixture(scope="module")
def ground(study):
    return ground_of(study)


def same(standing, i, rows, slugs, usd=1e-6):
    for k, (slug, row) in enumerate(zip(slugs, rows, strict=True)):
        assert row["option"] == slug
        for name in ("lifetime_cost_usd", "lifetime_cost_with_lost_load_usd", "up_front_usd"):
            assert getattr(standing, name)[i, k] == pytest.approx(row[name], abs=usd), (slug, name)
        got = standing.ride_through_frac_asked[i, k]
        assert got == pytest.approx(row["ride_through_frac_asked"], abs=1e-12)
        assert bool(standing.stands[i, k]) == bool(row["meets_target"])


def test_all_likely_is_the_summary(study, ground):
    same(ground.standing(), 0, summary_rows(study, Kept()), ground.slugs)


def test_money_and_rates_are_exact(study, ground):
    values = {
        "money.discount_rate_frac": 0.07,
        "fuels.gasoline.price_usd_per_l": 1.2,
        "options.battery.battery.cost.price_usd": 5600.0,
        "outages.classes.major.events_per_year": 0.5,
    }
    paths = {path: values[one.key] for one in ground.ranges if one.key in values for path in one.paths}
    exact = summary_rows(study.changed([f"{path}={value!r}" for path, value in paths.items()]), Kept())
    standing = ground.standing({key: [value] for key, value in values.items()})
    same(standing, 0, exact, ground.slugs, usd=0.01)  # the kinds are walked to another length


def test_the_ends_of_an_axis_are_exact_runs(study, ground):
    one = next(r for r in ground.ranges if r.key.endswith("usable_kwh"))
    standing = ground.standing({one.key: [one.low, one.high]})
    for i, value in enumerate((one.low, one.high)):
        exact = summary_rows(study.changed([f"{path}={value!r}" for path in one.paths]), Kept())
        same(standing, i, exact, ground.slugs, usd=0.01)


def test_a_shorter_stay_uses_the_same_bills(study, ground):
    exact = summary_rows(study.changed([f"{STAY}=3"]), Kept())
    same(ground.standing({STAY: [3]}), 0, exact, ground.slugs)


def test_scaled_rates_scale_the_hours(ground):
    hours = ground.standing(rate_factor=[1.0, 2.0]).must_run_unserved_h_per_year
    assert hours[1] == pytest.approx(2.0 * hours[0], rel=1e-12)


def random_money(rng: np.random.Generator) -> dict[str, object]:
    """Money of a random study: rates, growth, timing, a loan, prices."""
    numbers = {
        "money.discount_rate_frac": rng.uniform(0.0, 0.15),
        "money.electricity_escalation_frac": rng.uniform(-0.05, 0.1),
        "money.fuel_escalation_frac": rng.uniform(-0.05, 0.1),
        "money.upkeep_escalation_frac": rng.uniform(-0.05, 0.1),
        "money.replacement_escalation_frac": rng.uniform(-0.05, 0.1),
        "money.carbon_usd_per_t": rng.uniform(0.0, 200.0),
        "money.person_usd_per_h": rng.uniform(0.0, 50.0),
        "money.lost_load_usd_per_h": rng.uniform(0.0, 100.0),
        "fuels.gasoline.price_usd_per_l": rng.uniform(0.1, 5.0),
        "options.battery.battery.cost.price_usd": rng.uniform(0.0, 2e4),
        "options.battery.battery.cost.residual_frac": rng.uniform(0.0, 1.0),
        "options.battery.battery.cost.replacement_usd": rng.uniform(0.0, 2e4),
        "options.battery.battery.cost.disposal_usd": rng.uniform(0.0, 500.0),
        "options.portable.generator.cost.incentive_usd": rng.uniform(0.0, 500.0),
        "options.portable.generator.life_h": rng.uniform(20.0, 2000.0),
        "options.portable.generator.life_years": rng.uniform(1.5, 20.0),
    }
    timing = str(rng.choice(["end_of_year", "mid_year"]))
    return {**numbers, "money.timing": timing, STAY: int(rng.integers(1, 6))}


def test_quick_money_is_account_on_random_studies(study, ground):
    """200 random studies: the arrays of lifetimes() against the tables of account(), to 1e-9."""
    rng, stages = np.random.default_rng(5), ground.stages
    missed = stages.outages[DO_NOTHING].year
    for _ in range(200):
        model = with_values(study.model, tree_of(random_money(rng)))
        if rng.random() < 0.5:
            loan = {
                "share_frac": rng.uniform(0.1, 1.0),
                "rate_frac": 0.06,
                "term_years": int(rng.integers(1, 12)),
            }
            block = type(model.money).model_validate(
                model.money.model_dump() | {"loan": loan, "inflation_frac": 0.02}
            )
            model = model.model_copy(update={"money": block})
        changed = replace(study, model=model)
        options = {s: replace(o, option=model.options.get(s)) for s, o in stages.options.items()}
        years = model.asked.stay_years
        daily = {s: replace(d, bill_usd_by_year=d.bill_usd_by_year[:years]) for s, d in stages.daily.items()}
        slow = account(changed, options, daily, stages.outages)
        figures = {s: year_figures(o, daily[s], stages.outages[s], missed) for s, o in options.items()}
        quick = lifetimes(model, options, figures)
        for slug, made in slow.items():
            m = made.measures
            assert quick[slug].cost_usd == pytest.approx(m.lifetime_cost_usd, rel=1e-9, abs=1e-9)
            with_usd = m.lifetime_cost_with_lost_load_usd
            assert quick[slug].with_lost_load_usd == pytest.approx(with_usd, rel=1e-9, abs=1e-9)
            assert quick[slug].up_front_usd == pytest.approx(made.flows.up_front_usd, rel=1e-9, abs=1e-9)
            assert quick[slug].net_saving_usd == pytest.approx(m.net_saving_usd, rel=1e-9, abs=1e-6)
            paid = made.flows.cash.drop(columns="lost_load").sum(axis=1).to_numpy()
            assert quick[slug].paid_usd_by_year == pytest.approx(paid, rel=1e-9, abs=1e-9)


def test_losses_along_the_walk_are_not_served_stale():
    loss = "money.event_losses=[{name: food, needs_load: refrigerator, after_h: 4, usd: %d}]"
    kept = Kept()
    low, high = (summary_rows(small_study(loss % usd), kept)[0] for usd in (100, 300))
    assert high["lost_load_usd_per_year"] == pytest.approx(3.0 * low["lost_load_usd_per_year"])
