"""The doubt of a memo: sentences, tables and charts of a real small study, and where each figure stands."""

from __future__ import annotations

import json
import pickle

import pandas as pd
import pytest

from kit.compare import compare
from kit.report import doubt, doubt_charts, doubt_tables, how_sure
from kit.report.formats import figure
from kit.report.show import VEGALITE, chart_bundle
from kit.vary.breakeven import breakeven_table, turn_table, win_map
from kit.vary.doubt import Doubt, doubt_from, doubt_of, pair_of
from kit.vary.draws import chances, draw
from kit.vary.levers import outage_hours, path_lever, stay_years
from kit.vary.shares import variance_shares
from kit.vary.stays import whole_stays
from kit.vary.swings import swings
from tests.unit.vary.doubt_study import ground_of, small_study

PACK = "options.battery.battery.cost.price_usd"


def _doubt(ground, draws, turned):
    nothing = pd.DataFrame()
    lever = stay_years(ground)
    return Doubt(draws, turned, None, nothing, nothing, nothing, lever, lever, nothing, {}, nothing)


@pytest.fixture(scope="module")
def made():
    study = small_study("lifetime_count=100", options=("portable", "standby", "battery", "battery_small_set"))
    ground = ground_of(study)
    return compare(study), ground, draw(ground, 64, checked=1)


def test_the_pair_is_the_answer_and_its_nearest_rival(made):
    comparison, _, draws = made
    first, second = pair_of(draws)
    assert first == comparison.verdict.winner == "battery"
    table = chances(draws).set_index("option")
    assert table.loc[second, "stands_frac"] > 0
    assert second != first


def test_the_sentence_stands_with_its_numbers(made):
    comparison, ground, draws = made
    lever = path_lever(ground, PACK, 0.0, 20_000.0)
    turned = turn_table([lever])
    text = doubt.answer(comparison, _doubt(ground, draws, turned)).text.replace("\N{NO-BREAK SPACE}", " ")
    assert "64 draws on Sobol points, seed 1" in text
    assert "against 1 exact joint run that" in text
    where = f"{turned['value'].dropna().iloc[0]:,.0f}"
    assert f"USD {where}" in text  # traced to the table of turns
    assert f"${where}" in doubt_tables.turn_table_shown(comparison, turned).text
    above = doubt.short(comparison, _doubt(ground, draws, turned)).text.replace("\N{NO-BREAK SPACE}", " ")
    assert above.splitlines()[-1] == text.splitlines()[0]


def test_tables_hold_every_option_and_escape_names(made):
    comparison, _, draws = made
    for shown in (doubt.chance_table(comparison, draws), doubt.interval_table(comparison, draws)):
        for label in ("Do nothing", "Portable, gasoline", "One battery"):
            assert label in shown.text
        assert "nan" not in shown.text.lower()
        assert "<table" in shown.html
    told = doubt.chance_table(comparison, draws).text
    wins = chances(draws).set_index("option").loc["battery", "wins_frac"]
    assert f"{100 * wins:.1f}".removesuffix(".0") + "%" in told


def test_break_evens_say_none_in_range(made):
    comparison, ground, _ = made
    crossed = breakeven_table([path_lever(ground, PACK, 7000.0, 7001.0)], "battery", ["portable"])
    shown = doubt_tables.breakeven_table_shown(comparison, crossed).text
    assert "none in $7,000 to $7,001" in shown
    assert "nan" not in shown


def test_every_range_is_listed_with_its_source(made):
    _, _, draws = made
    text = doubt_tables.ranges_table(draws).text
    assert "10 kWh battery unit: price" in text
    assert "USD 5,600" in text
    assert "assumption: quotes differ by a quarter" in text
    assert "USD 2.80 per gal" in text  # a study in US units
    assert "fuel prices" in text


def test_luck_stands_apart(made):
    comparison, ground, draws = made
    s = ground.stages
    stays = whole_stays(ground.study, s.kinds, s.options, s.outages)
    text = doubt.luck_apart(comparison, draws, stays).text
    battery = next(line for line in text.splitlines() if "One battery" in line)
    lucky = stays.set_index("option").loc["battery"]
    assert battery.endswith(f"to {figure(lucky['dark_h_p95'], 'h', with_unit=False)}")


def test_shares_and_convergence(made):
    comparison, ground, draws = made
    shares = doubt_tables.share_table(variance_shares(ground, "battery", "standby", 32), "the difference")
    assert "What makes the spread of the difference" in shares.text
    assert "64" in doubt_tables.convergence_table(comparison, draws).text


def test_charts_are_valid_small_and_say_their_finding(made):
    comparison, ground, draws = made
    hours, pack = outage_hours(ground), path_lever(ground, PACK, 0.0, 20_000.0)
    charts = [
        doubt_charts.swing_chart(comparison, swings(ground), "battery", "standby"),
        doubt_charts.win_chances(comparison, draws),
        doubt_charts.turn_map(comparison, win_map(hours, pack, 5, 5), hours, pack),
        doubt_charts.cash_band_chart(comparison, draws, ["battery", "standby"]),
    ]
    for chart in charts:
        spec = chart.to_dict()  # altair checks it against the schema
        assert spec["title"]
        assert len(spec["description"]) > 20
        assert "NaN" not in json.dumps(spec)
        assert sum(len(rows) for rows in spec["datasets"].values()) < 600
        assert VEGALITE in chart_bundle(chart)


def test_years_are_whole(made):
    comparison, ground, _ = made
    shown = doubt_tables.turn_table_shown(comparison, turn_table([stay_years(ground)])).text
    assert "1 year to 40 years" in shown


def test_the_whole_doubt_goes_to_another_process_and_back(made):
    comparison, ground, _ = made
    whole = doubt_of(ground, checked=0)
    assert whole is not None
    there = pickle.loads(pickle.dumps(whole.alone())).on(ground)
    assert doubt.answer(comparison, there).text == doubt.answer(comparison, whole).text
    assert how_sure.behind(comparison, there).text == how_sure.behind(comparison, whole).text
    assert there.pair == whole.pair == pair_of(whole.draws)
    pd.testing.assert_frame_equal(there.swung, whole.swung)
    alone = doubt_from(ground.study)  # as the short memo does it, from the study
    assert doubt.short(comparison, alone).text == doubt.short(comparison, whole).text


def test_a_number_that_turns_the_answer_within_its_range_is_searched(made):
    _, ground, _ = made
    whole = doubt_of(ground, checked=0)
    assert whole is not None
    chosen = ground.standing().winner_slugs()[0]
    turned = whole.swung[(whole.swung["winner"] != chosen) & whole.swung["group"].isna()]
    searched = set(whole.turned.dropna(subset=["value"])["name"])
    alone = {one.name for one in ground.ranges if not one.members}
    assert set(turned["unknown"]) & alone <= searched


def test_a_study_without_ranges_says_so_and_shows_nothing(made, monkeypatch):
    comparison, ground, _ = made
    monkeypatch.setitem(vars(ground), "ranges", ())
    assert doubt_of(ground) is None
    assert "No number of this study has a low and a high" in doubt.answer(comparison, None).text
    assert "No number of this study has a low and a high" in doubt.short(comparison, None).text
    assert how_sure.win_charts(comparison, None) == how_sure.map_charts(comparison, None) == []
    assert how_sure.turn_table(comparison, None) is how_sure.behind(comparison, None) is None
