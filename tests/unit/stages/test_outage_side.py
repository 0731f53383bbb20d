"""The outage columns of the summary: fuel by its unit, what is left out, what fuel on hand lasts."""

from __future__ import annotations

import numpy as np
import pytest

from kit.compare import Comparison
from kit.house import house_year
from kit.operate import walk as w
from kit.stages.daily import everyday_use
from kit.stages.outage import event_side, outage_use
from kit.stages.outcome_tables import HardOutage
from kit.stages.power import power_check
from kit.stages.sources import sources
from kit.study import Study
from tests.unit.stages.small_study import compared, study_at, study_text


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Comparison:
    return compared(tmp_path_factory.mktemp("side"))


def of(c: Comparison, slug: str, column: str) -> float:
    value = c.outcomes[slug].columns[column]
    assert isinstance(value, float), column
    return value


def test_pipeline_gas_is_told_in_its_own_unit(small: Comparison) -> None:
    row = small.outcomes["gas_set"].columns
    assert row["fuel_l_per_year"] is None
    assert of(small, "gas_set", "fuel_gas_m3_per_year") > 0
    assert row["fuel_on_hand_h"] is None
    assert row["refuel_count_per_24h"] is None
    assert small.outcomes["gas_set"].fuel_unit == "m3"
    # 0.5 USD/m3 and 120 USD a year for the account
    expected = 0.5 * of(small, "gas_set", "fuel_gas_m3_per_year") + 120.0
    assert of(small, "gas_set", "fuel_usd_per_year") == pytest.approx(expected)
    assert of(small, "gas_set", "ride_through_frac_asked") == of(small, "standby", "ride_through_frac_asked")
    for slug in small.outcomes:
        if slug != "gas_set":
            assert small.outcomes[slug].columns["fuel_gas_m3_per_year"] is None
            assert small.outcomes[slug].columns["fuel_l_per_year"] is not None


def test_fuel_money_is_fuel_times_price(small: Comparison) -> None:
    gallons = of(small, "portable", "fuel_l_per_year") / 3.785411784
    assert of(small, "portable", "fuel_usd_per_year") == pytest.approx(3.5 * gallons)


def test_fuel_table_rises_with_the_hours(small: Comparison) -> None:
    table = small.outcomes["standby"].fuel_need
    assert table["hours"].tolist() == [24.0, 72.0, 168.0]
    # 0.8 to 2.4 gal/h on 12 kW: 0.24 kW of must-run and wanted loads burn 0.8 + 0.24 / 7.5
    mean_kw = table["fuel_l"].to_numpy() / table["hours"].to_numpy() / 3.785411784
    assert mean_kw == pytest.approx(0.8 + 0.24 / 7.5, abs=0.01)
    assert (table["on_hand_l"] == 250 * 3.785411784).all()
    assert of(small, "standby", "fuel_on_hand_h") == pytest.approx(250 / mean_kw[-1], rel=0.01)
    assert small.outcomes["battery"].fuel_need.empty


def test_ride_through_curve(small: Comparison) -> None:
    for slug, outcome in small.outcomes.items():
        share = outcome.hours_kept_on["share_frac"].to_numpy()
        assert outcome.hours_kept_on["hours"].tolist() == list(range(169))
        assert ((share >= 0) & (share <= 1 + 1e-12)).all(), slug
        for hours in (4, 8, 24, 72, 168):
            assert share[hours] == of(small, slug, f"ride_through_frac_{hours}h")
    assert (small.outcomes["do_nothing"].hours_kept_on["share_frac"] == 0).all()


def test_one_hard_outage_for_all(small: Comparison) -> None:
    titles = {outcome.hard_outage_title for outcome in small.outcomes.values()}
    assert len(titles) == 1
    (title,) = titles
    assert title.startswith("72 h from ")
    assert title.endswith(", 02:00")
    for outcome in small.outcomes.values():
        table = outcome.hard_outage
        assert len(table) == 72
        assert not table.drop(columns="event_text").isna().any().any()


def test_what_happens_in_a_hard_outage_is_told_by_the_length_of_the_gap() -> None:
    """2 kW asked in each hour: a gap of 0.02 s, of 12 s, dark for two hours, then for good; 18 min alone."""
    trace = np.zeros((9, w.TRACES))
    trace[:, w.T_MUST] = 2.0
    trace[:, w.T_STORED] = 5.0
    gaps_s = [0.02, 0.0, 12.0, 0.0, 3600.0, 3600.0, 0.0, 1800.0, 3600.0]
    trace[:, w.T_UNSERVED] = 2.0 * np.array(gaps_s) / 3600.0
    trace[7:, w.T_STORED] = 0.0
    told = HardOutage(trace, 1.0, 1e-3).table()["event_text"].tolist()
    assert told == [
        "", "", "must-run loads without power for 12 s", "", "must-run loads lose power", "",
        "must-run loads are on again", "battery empty; must-run loads lose power", "",
    ]  # fmt: skip
    trace[:, w.T_UNSERVED] = 0.0
    trace[3, w.T_UNSERVED] = 2.0 * 0.3
    assert HardOutage(trace, 1.0, -1.0).table()["event_text"][3] == "must-run loads without power for 18 min"


def test_the_hard_outage_closes_each_hour(small: Comparison) -> None:
    """What the sources give is what the loads take, the battery's idle draw apart."""
    for slug, idle_kw in (("standby", 0.0), ("battery", 0.03), ("battery_solar", 0.03)):
        t = small.outcomes[slug].hard_outage
        given = t["solar_kw"] + t["battery_kw"] + t["generator_kw"]
        taken = t["must_run_kw"] - t["unserved_kw"] + t["wanted_kw"]
        served = t["unserved_kw"] == 0
        assert given[served].to_numpy() == pytest.approx((taken + idle_kw)[served].to_numpy(), abs=1e-6), slug


def test_doing_nothing_by_hand(small: Comparison) -> None:
    # 1.0 x 2 h and 0.3 x 10 exp(1/2) h, a little of it beyond the horizon of 336 h
    assert of(small, "do_nothing", "outage_h_per_year") == pytest.approx(2.0 + 3.0 * np.exp(0.5), rel=5e-3)
    assert of(small, "do_nothing", "interruption_felt_count_per_year") == pytest.approx(1.3 + 2.0)


def test_blinks_are_felt_by_slow_sources_only(small: Comparison) -> None:
    """A generator rides through no blink, a battery of 20 ms through all (T16)."""
    assert of(small, "standby", "interruption_felt_count_per_year") == pytest.approx(3.3)
    assert of(small, "battery", "interruption_felt_count_per_year") < 0.1


def ends(study: Study, slug: str) -> tuple[np.ndarray, np.ndarray]:
    """Starts of the last kind and the hours until each ends."""
    house = house_year(study.model.house, study.model.year)
    kinds = event_side(study, house)
    options = sources(study, house)
    daily, fits = everyday_use(study, house, options), power_check(study, house, options)
    walked = outage_use(study, house, kinds, options, daily, fits)[slug].year.walks[-1]
    return walked.starts, walked.ends_h


def test_quarter_hours_ride_as_hours_do(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Inputs that change on the hour: the same start rides as long, within one hour."""
    folder = tmp_path_factory.mktemp("steps")
    text = study_text(("battery",)).replace("horizon_h: 336", "horizon_h: 168")
    starts, hours = ends(study_at(folder, text=text), "battery")
    finer, quarters = ends(study_at(folder, ("step_min: 60", "step_min: 15"), text=text), "battery")
    assert np.array_equal(starts * 4, finer[::4])
    assert np.abs(hours - quarters[::4]).max() <= 1.0
    assert np.median(np.abs(hours - quarters[::4])) < 0.02
