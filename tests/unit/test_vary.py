"""The reserve frontier and the care table on the metered example."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kit.house import house_year
from kit.shipped import shipped
from kit.stages.columns import columns
from kit.stages.daily import everyday_use
from kit.stages.money import account
from kit.stages.outage import event_side, outage_use
from kit.stages.power import power_check
from kit.stages.sources import sources
from kit.study import read_study
from kit.vary.frontier import reserve_frontier
from kit.vary.neglect import neglected
from kit.vary.stays import whole_stays


@pytest.fixture(scope="module")
def run():
    study = read_study(shipped() / "params/studies/metered_house.yaml")
    model = study.model
    kept = {s: model.options[s] for s in ("battery", "battery_solar", "portable", "standby")}
    study = replace(study, model=model.model_copy(update={"options": kept}))
    model = study.model
    house = house_year(model.house, model.year)
    kinds = event_side(study, house)
    options = sources(study, house)
    fits = power_check(study, house, options)
    daily = everyday_use(study, house, options)
    outages = outage_use(study, house, kinds, options, daily, fits)
    rows = columns(study, options, fits, daily, outages, account(study, options, daily, outages))
    return study, house, kinds, options, fits, daily, outages, rows


@pytest.fixture(scope="module")
def frontier(run):
    study, house, kinds, options, _, daily, outages, _ = run
    return reserve_frontier(study, house, kinds, options, daily, outages, (0.0, 0.4, 0.7, 1.0))


def test_only_batteries_have_a_reserve(frontier):
    assert list(frontier["option"].unique()) == ["battery", "battery_solar"]
    assert len(frontier) == 8


def test_at_the_study_s_own_reserve_it_agrees_with_the_summary(run, frontier):
    rows = run[-1]
    for slug in ("battery", "battery_solar"):
        own = frontier[(frontier["option"] == slug) & (frontier["reserve_frac"] == 0.4)].iloc[0]
        for hours in (4, 8, 24, 72):
            name = f"ride_through_frac_{hours}h"
            assert own[name] == pytest.approx(rows[slug][name], abs=2e-3)
        # the summary also pays for charging again after outages, about a dollar a year
        assert own["saving_usd_per_year"] == pytest.approx(
            rows[slug]["saving_from_battery_usd_per_year"], abs=1.0
        )
        limit = own["foresight_usd_per_year"] - own["saving_usd_per_year"]
        assert limit == pytest.approx(rows[slug]["foresight_adds_usd_per_year"], abs=1e-6)


def test_more_reserve_earns_no_more_with_foresight_and_rides_no_less(frontier):
    for _, part in frontier.groupby("option"):
        assert part["foresight_usd_per_year"].is_monotonic_decreasing
        for hours in (4, 8, 24, 72):
            assert (part[f"ride_through_frac_{hours}h"].diff().dropna() >= -1e-9).all()


def test_foresight_never_earns_less_than_the_clock(frontier):
    assert (frontier["foresight_usd_per_year"] >= frontier["saving_usd_per_year"] - 1e-6).all()


def test_a_reserve_alone_gives_what_it_gives_among_others(run, frontier):
    study, house, kinds, options, _, daily, outages, _ = run
    alone = reserve_frontier(study, house, kinds, options, daily, outages, (0.7,))
    among = frontier[frontier["reserve_frac"] == 0.7].reset_index(drop=True)
    assert len(alone) == 2
    assert alone.equals(among)


def test_poor_care_costs_no_service_and_lets_more_outages_through(run):
    study, house, kinds, _, fits, daily, outages, rows = run
    table = neglected(study, house, kinds, fits, daily, outages, rows).set_index(["option", "care"])
    for slug in ("portable", "standby"):
        well, poor = table.loc[(slug, "well")], table.loc[(slug, "poor")]
        assert well["ride_through_frac_asked"] == rows[slug]["ride_through_frac_asked"]
        assert poor["ride_through_frac_asked"] < well["ride_through_frac_asked"] - 0.05
        assert poor["must_run_unserved_h_per_year"] > well["must_run_unserved_h_per_year"]
        assert poor["upkeep_usd_per_year"] < 0.2 * well["upkeep_usd_per_year"]


def test_whole_stays_agree_with_the_expected_year(run):
    study, _, kinds, options, _, _, outages, rows = run
    table = whole_stays(study, kinds, options, outages).set_index("option")
    for slug, row in rows.items():
        stay = table.loc[slug]
        expected_h = row["must_run_unserved_h_per_year"] * study.model.asked.stay_years
        assert abs(stay["dark_h_mean"] - expected_h) < 4 * stay["standard_error_h"] + 0.02 * expected_h
        assert stay["dark_h_p05"] <= stay["dark_h_p50"] <= stay["dark_h_p95"]
    assert table.loc["standby", "never_failed_frac"] > table.loc["portable", "never_failed_frac"]
