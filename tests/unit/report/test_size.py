"""Sizing as a reader sees it: sentences, tables, chart, files, and the command."""

from __future__ import annotations

import io

import pandas as pd
import pytest
from click.testing import CliRunner

from kit.cli import main
from kit.report.size_chart import size_chart
from kit.report.size_files import sizing_text, write_sizes
from kit.report.size_tables import REASONS, STEPS, failures_table, finding, frontier_table, hand_table
from kit.shipped import shipped
from kit.vary.size import size
from kit.vary.size_lacks import ORDER
from tests.unit.vary.size_study import BOTH, OUTAGES, PIECES, small_study


@pytest.fixture(scope="module")
def found():
    return size(small_study(BOTH), workers=1)


@pytest.fixture(scope="module")
def unmet():
    few = ["catalogue.solar=null", "catalogue.generators={}", "asked.keep_on_h=100"]
    return size(small_study(BOTH, *few), workers=1)


def test_every_reason_has_words():
    assert set(REASONS) == {*ORDER, "dearer"}


def test_the_finding_names_the_cheapest_with_its_costs(found):
    row = found.row(found.best)
    text = finding(found).replace("\N{NO-BREAK SPACE}", " ")
    assert text.startswith(f"Of {len(found.table)} configurations, {row['name']} is the cheapest")
    assert f"${row['up_front_usd']:,.0f} up front" in text
    assert f"${row['lifetime_cost_usd']:,.0f} over 4 years" in text
    assert f"lasts {row['kept_on_h']:g} h" in text


def test_an_unmet_target_says_what_is_missing(unmet):
    text = finding(unmet).replace("\N{NO-BREAK SPACE}", " ")
    assert text.startswith("None of 6 configurations keeps the must-run loads on for 100 h")
    row = unmet.row(unmet.nearest)
    assert f"stored energy: needs 100 h, has {row['have']:g} h" in text


def test_tables_show_what_the_sizing_holds(found):
    frontier = frontier_table(found).text
    for name in found.frontier()["name"]:
        assert name in frontier
    why = failures_table(found).text
    counts = found.table["fails"].value_counts()
    for reason, count in counts.drop("dearer", errors="ignore").items():
        assert f"{REASONS[reason].capitalize()}: {count}" in why
    hand = hand_table(found).text
    assert all(STEPS[step] in hand for step in found.hand["step"])


def test_the_text_ends_with_no_approval(found):
    text = sizing_text(found)
    assert "local code and a licensed person decide" in text
    assert "(invented data)" in text


@pytest.mark.parametrize("which", ["found", "unmet"])
def test_the_chart_is_valid_and_states_the_finding(which, request):
    sizing = request.getfixturevalue(which)
    spec = size_chart(sizing).to_dict()  # altair checks it
    title = spec["title"]["text"]
    if sizing.best:
        cost = f"${sizing.row(sizing.best)['lifetime_cost_usd']:,.0f}"
        assert title == f"8 h take at least {cost} over 4 years: {sizing.row(sizing.best)['name']}"
    else:
        assert title.startswith("Nothing in the catalogue lasts 100 h; nearest: ")
    drawn = [row for data in spec["datasets"].values() for row in data if "kind" in row]
    assert len(drawn) == sizing.table["kept_on_h"].notna().sum()


def test_files_hold_every_configuration(found, tmp_path):
    csv, hand, svg = write_sizes(found, tmp_path / "new")
    table = pd.read_csv(csv)
    pd.testing.assert_frame_equal(
        table[["configuration", "up_front_usd", "fails"]],
        pd.read_csv(io.StringIO(found.table.to_csv(index=False)))[["configuration", "up_front_usd", "fails"]],
    )
    assert len(pd.read_csv(hand)) == len(found.hand)
    assert svg.read_text(encoding="utf-8").startswith("<svg")


def test_the_command_prints_writes_and_says_whether_it_is_met(tmp_path):
    study = str(shipped() / "params/studies/metered_house.yaml")
    gaps = [f"house.appliances.{slug}.tolerates_gap_s=3600" for slug in PIECES]
    small = [BOTH, f"outages={OUTAGES}", "catalogue.solar=null", "catalogue.generators={}", *gaps]
    sets = [word for value in small for word in ("--set", value)]
    for hours, code in (("8", 0), ("100", 1)):
        out = tmp_path / hours
        asked = ["--keep-on-h", hours, "--chance-frac", "0.8"]
        ran = CliRunner().invoke(main, ["size", study, *asked, *sets, "--out", str(out)])
        assert ran.exit_code == code, ran.output
        assert "for " + hours + " h in 80%" in ran.output.replace("\N{NO-BREAK SPACE}", " ")
        assert (out / "sizes.csv").is_file()
    ran = CliRunner().invoke(main, ["size", study, "--out", str(tmp_path / "none")])
    assert ran.exit_code == 2
    assert "catalogue: is missing" in ran.stderr
    assert not (tmp_path / "none").exists()
    ran = CliRunner().invoke(main, ["size", study, *sets, "--chance-frac", "95"])
    assert ran.exit_code == 2
    assert "asked.chance_frac" in ran.stderr
