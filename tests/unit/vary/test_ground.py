"""Moved numbers against the spine: what is quick must be what account() and compare() give."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.account.measures import lifetime_cost_usd
from kit.stages.money import flows_of
from kit.stages.sources import DO_NOTHING
from kit.stages.year_figures import year_figures
from kit.study.programme_models import Programme
from kit.vary.ground import STAY
from kit.vary.kept import Kept, summary_rows
from kit.vary.many import ManyFigures, lifetimes_of
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


def random_money(rng: np.random.Generator, generators: list[str], solars: list[str]) -> dict[str, float]:
    """Numbers of a random study that money alone reads: rates, growth, prices, lives."""
    numbers = {
        "money.discount_rate_frac": rng.uniform(0.0, 0.15),
        "money.electricity_escalation_frac": rng.uniform(-0.05, 0.1),
        "money.fuel_escalation_frac": rng.uniform(-0.05, 0.1),
        "money.upkeep_escalation_frac": rng.uniform(-0.05, 0.1),
        "money.replacement_escalation_frac": rng.uniform(-0.05, 0.1),
        "money.carbon_usd_per_t": rng.uniform(0.0, 200.0),
        "money.person_usd_per_h": rng.uniform(0.0, 50.0),
        "money.lost_load_usd_per_h": rng.uniform(0.1, 100.0),
        "grid_co2e_kg_per_kwh": rng.uniform(0.0, 1.0),
        "export_credit_frac": rng.uniform(0.0, 1.0),
        "fuels.gasoline.price_usd_per_l": rng.uniform(0.1, 5.0),
        "fuels.gasoline.fixed_usd_per_year": rng.uniform(0.0, 100.0),
        "fuels.gasoline.delivery_usd": rng.uniform(0.0, 40.0),
        "fuels.gasoline.keeps_months": rng.uniform(2.0, 24.0),
        "fuels.gasoline.stale_value_frac": rng.uniform(0.0, 1.0),
        "fuels.gasoline.l_per_trip": rng.uniform(5.0, 60.0),
        "fuels.gasoline.trip_usd": rng.uniform(0.0, 9.0),
        "fuels.gasoline.trip_h": rng.uniform(0.0, 2.0),
        "options.battery.battery.cost.price_usd": rng.uniform(0.0, 2e4),
        "options.battery.battery.cost.residual_frac": rng.uniform(0.0, 1.0),
        "options.battery.battery.cost.replacement_usd": rng.uniform(0.0, 2e4),
        "options.battery.battery.cost.disposal_usd": rng.uniform(0.0, 500.0),
        "options.battery.battery.cost.upkeep_usd_per_year": rng.uniform(0.0, 90.0),
        "options.battery.battery.throughput_kwh": rng.uniform(500.0, 30000.0),
    }
    for slug in generators:
        at = f"options.{slug}.generator"
        numbers |= {
            f"{at}.cost.price_usd": rng.uniform(100.0, 9000.0),
            f"{at}.cost.incentive_usd": rng.uniform(0.0, 500.0),
            f"{at}.cost.disposal_usd": rng.uniform(0.0, 200.0),
            f"{at}.life_h": rng.uniform(20.0, 2000.0),
            f"{at}.life_years": rng.uniform(1.5, 20.0),
            f"{at}.break_in_h": rng.uniform(1.0, 60.0),
            f"{at}.break_in_usd": rng.uniform(0.0, 90.0),
            f"{at}.exercise.minutes": rng.uniform(0.0, 60.0),
        }
    for slug in solars:
        numbers[f"options.{slug}.solar.life_years"] = rng.uniform(1.5, 30.0)
    return numbers


def random_figures(figures, rng: np.random.Generator):
    """The figures of an option with run hours, fuel, cycling and ageing of another year."""
    return replace(
        figures,
        run_h=figures.run_h * rng.uniform(0.0, 30.0),
        fuel=figures.fuel * rng.uniform(0.0, 30.0),
        drawn_kwh=figures.drawn_kwh * rng.uniform(0.0, 9.0),
        throughput_kwh=figures.throughput_kwh * rng.uniform(0.0, 9.0),
        life_years=None if figures.life_years is None else rng.uniform(0.6, 12.0),
        free_count=int(rng.integers(0, 3)),
        unserved_h=figures.unserved_h * rng.uniform(0.1, 3.0),
        losses_usd=rng.uniform(1.0, 900.0),
        programme_usd=rng.uniform(50.0, 500.0),
    )


def many_figures(rows) -> ManyFigures:
    """Figures of n settings as arrays."""
    made = {name: [getattr(one, name) for one in rows] for name in vars(rows[0])}
    made["life_years"] = [0.0 if one is None else one for one in made["life_years"]]
    made["programme_usd"] = [one or 0.0 for one in made["programme_usd"]]
    return ManyFigures(**{name: np.array(values, dtype=float) for name, values in made.items()})


TERMS = {"usd_per_kw_year": 275.0, "events_per_year": 30, "event_h": 3.0, "contract_years": 2}
LOANS = {"end_of_year": {"term_years": 9}, "mid_year": {"term_years": 2}}  # longer and shorter than the stay
LOSS = {"name": "food", "needs_load": "refrigerator", "after_h": 4.0, "usd": 200.0}


@pytest.fixture(scope="module")
def wide():
    """Solar, a transfer switch and pipeline or tank fuel beside the rest."""
    options = ("portable", "standby", "battery", "battery_solar", "battery_small_set")
    return ground_of(small_study("money.lost_load_usd_per_h=10", options=options))


@pytest.mark.parametrize("case", ["plain", "loan", "named losses"])
@pytest.mark.parametrize(("timing", "years"), [("end_of_year", 5), ("mid_year", 3)])
def test_quick_money_is_account_on_random_studies(wide, timing, years, case):
    """100 random settings in one call: arrays against the tables that flows_of() makes of each, to 1e-9."""
    rng, study, stages = np.random.default_rng(5), wide.study, wide.stages
    missed = stages.outages[DO_NOTHING].year
    block = study.model.money.model_dump() | {"timing": timing}
    if case == "loan":
        block |= {"loan": {"share_frac": 0.7, "rate_frac": 0.06, **LOANS[timing]}, "inflation_frac": 0.02}
    if case == "named losses":
        block |= {"event_losses": [LOSS], "lost_load_usd_per_h": None}
    money = type(study.model.money).model_validate(block)
    called = study.model.options["battery"].model_copy(update={"programme": Programme(**TERMS)})
    blocks = study.model.options | {"battery": called}
    model = study.model.model_copy(update={"money": money, "options": blocks})
    model = with_values(model, tree_of({STAY: years}))
    generators = [slug for slug, option in blocks.items() if option.generator is not None]
    solars = [slug for slug, option in blocks.items() if option.solar is not None]
    assert generators
    assert solars
    drawn = [random_money(rng, generators, solars) for _ in range(100)]
    if case == "named losses":
        drawn = [{k: v for k, v in one.items() if k != "money.lost_load_usd_per_h"} for one in drawn]
    base = {s: year_figures(o, stages.daily[s], stages.outages[s], missed) for s, o in stages.options.items()}
    figures = [{s: random_figures(one, rng) for s, one in base.items()} for _ in drawn]
    at_once = with_values(model, tree_of({key: np.array([one[key] for one in drawn]) for key in drawn[0]}))
    options = {s: replace(o, option=at_once.options.get(s)) for s, o in stages.options.items()}
    quick = lifetimes_of(at_once, options, {s: many_figures([one[s] for one in figures]) for s in base})
    replaced = 0
    for i, numbers in enumerate(drawn):
        one_model = with_values(model, tree_of(numbers))
        d = numbers["money.discount_rate_frac"]
        for slug, option in stages.options.items():
            flows = flows_of(one_model, replace(option, option=one_model.options.get(slug)), figures[i][slug])
            cost = lifetime_cost_usd(flows.cash, d, timing)
            assert quick[slug].cost_usd[i] == pytest.approx(cost, rel=1e-9, abs=1e-9), (i, slug)
            with_usd = lifetime_cost_usd(flows.cash, d, timing, with_lost_load=True)
            assert with_usd > cost
            assert quick[slug].with_lost_load_usd[i] == pytest.approx(with_usd, rel=1e-9, abs=1e-9)
            assert quick[slug].up_front_usd[i] == pytest.approx(flows.up_front_usd, rel=1e-9, abs=1e-9)
            paid = flows.cash.drop(columns="lost_load").sum(axis=1).to_numpy()
            assert quick[slug].paid_usd_by_year[i] == pytest.approx(paid, rel=1e-9, abs=1e-9)
            replaced += int((flows.cash["replacement"] < 0).sum())
    assert replaced > 100  # the random lives do end within the stay


def test_losses_along_the_walk_are_not_served_stale():
    loss = "money.event_losses=[{name: food, needs_load: refrigerator, after_h: 4, usd: %d}]"
    kept = Kept()
    low, high = (summary_rows(small_study(loss % usd), kept)[0] for usd in (100, 300))
    assert high["lost_load_usd_per_year"] == pytest.approx(3.0 * low["lost_load_usd_per_year"])
