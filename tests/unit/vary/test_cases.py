"""Cases: how they are made, what they share, what happens to one that fails."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace

import pandas as pd
import pytest

from kit.compare import compare
from kit.shipped import shipped
from kit.study import read_study
from kit.vary.cases import Case, each_case, full_grid, one_case, paired, run_cases
from kit.vary.kept import Kept, summary_rows
from tests.contract.sources import ROOT
from tests.unit.vary.case_work import asked_hours, dies_on_nine, fails_on_nine

KEEP = "asked.keep_on_h"


@pytest.fixture(scope="module")
def study():
    """The metered example with three options, read again so that settings find only those."""
    whole = read_study(shipped() / "params/studies/metered_house.yaml")
    options = whole.tree.value["options"]
    few = {slug: options.value[slug] for slug in ("portable", "battery", "standby_solar")}
    tree = replace(whole.tree, value={**whole.tree.value, "options": replace(options, value=few)})
    return replace(whole, tree=tree).changed(["outages.horizon_h=24", "asked.stay_years=3"])


def test_a_full_grid_varies_the_last_path_fastest():
    cases = full_grid({KEEP: [8, 24.5], "asked.loads": {"must": "must_run", "all of it": "wanted"}})
    assert [c.slug for c in cases] == [
        "keep_on_h-8__must", "keep_on_h-8__all-of-it", "keep_on_h-24.5__must", "keep_on_h-24.5__all-of-it",
    ]  # fmt: skip
    assert cases[3].texts() == ["asked.keep_on_h=24.5", 'asked.loads="wanted"']
    assert cases[3].columns() == {"case": cases[3].slug, KEEP: 24.5, "asked.loads": "all of it"}


def test_paired_lists_go_together():
    cases = paired({KEEP: [8, 24], "asked.chance_frac": [0.9, 0.5]})
    assert [c.settings for c in cases] == [
        {KEEP: 8, "asked.chance_frac": 0.9},
        {KEEP: 24, "asked.chance_frac": 0.5},
    ]


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (
            lambda: paired({KEEP: [8, 24], "seed": [1]}),
            "must be of one length: asked.keep_on_h has 2, seed has 1",
        ),
        (lambda: full_grid({KEEP: []}), "asked.keep_on_h has no values"),
        (lambda: full_grid({}), "no path"),
        (lambda: full_grid({KEEP: [8, 8]}), "two cases are called 'keep_on_h-8'"),
        (lambda: full_grid({"rate_plan": {"a b": "x", "a/b": "y"}}), "two cases are called 'a-b'"),
    ],
)
def test_what_cannot_be_varied_is_said(make, says):
    with pytest.raises(ValueError, match=says.replace(".", r"\.")):
        make()


def test_a_slug_is_safe_as_a_file_name():
    (case,) = full_grid({"rate_plan": {"../../etc/pass wd?": "x.yaml"}})
    assert case.slug == "etc-pass-wd"


def test_a_setting_may_replace_equipment_by_a_file_or_a_block(study):
    case = Case("c", {
        "options.battery.transfer": "../systems/backed_panel.yaml",
        "options.portable.transfer": None,
        "options.battery.battery.cost": {"price_usd": 1.0, "install_usd": 2.0},
        "options.battery.battery.grid_charge_allowed": False,
    })  # fmt: skip
    model = case.study(study).model
    assert model.options["battery"].transfer.name == "Backed panel"
    assert model.options["portable"].transfer is None
    assert model.options["battery"].battery.cost.price_usd == 1.0
    assert model.options["battery"].battery.grid_charge_allowed is False


VARIED = (
    {"options.battery.battery.cost.price_usd": 5000, "money.discount_rate_frac": 0.06, "name": "Another"},
    {"options.portable.generator.service.oil_change.price_usd": 99, "fuels.gasoline.price_usd_per_l": 3.0},
    {"options.portable.generator.exercise.runs_per_year": 52, "options.portable.generator.life_h": 30},
    {"grid_co2e_kg_per_kwh": 0.5, "money.lost_load_usd_per_h": 4.0, "asked.budget_usd": 900},
    {"rate_plan": "../rates/flat.yaml"},
    {"outages.classes.major.events_per_year": 1.5},
    {KEEP: 30},
    {"options.battery.battery.unit_count": 2},
    {"house.appliances.refrigerator.running_w": 400, "house.attended_hours": ""},
    {"options.portable.generator.care": "poor", "options.battery.battery.life_years": 5},
)


def test_what_is_kept_changes_no_figure(study):
    """One after the other through one memory, forwards and back: always the figures of compare()."""
    kept = Kept()
    for settings in (*VARIED, VARIED[1], {}):
        case = Case("c", settings)
        done = one_case(study, case, summary_rows, kept)
        assert done.failed is None
        expected = compare(case.study(study)).summary
        pd.testing.assert_frame_equal(pd.DataFrame(list(done.rows)), expected, check_exact=True)


def test_money_alone_computes_no_outage_again(study, monkeypatch):
    import kit.vary.kept as module

    kept, walked = Kept(), []
    outage_use = module.outage_use
    monkeypatch.setattr(module, "outage_use", lambda *a: walked.append(list(a[3])) or outage_use(*a))
    summary_rows(study, kept)
    summary_rows(study.changed(["money.discount_rate_frac=0.05", "fuels.propane.price_usd_per_l=2"]), kept)
    summary_rows(study.changed(["options.battery.battery.unit_count=2"]), kept)
    summary_rows(study, kept)
    everything = ["do_nothing", "portable", "battery", "standby_solar"]
    assert walked == [everything, ["battery"]]


def test_kept_results_are_bounded():
    kept, made = Kept(), []
    for k in range(100):
        kept.one("house", str(k), lambda k=k: made.append(k) or k)
    assert kept.one("house", "99", lambda: "again") == 99
    assert kept.one("house", "0", lambda: "again") == "again"


def test_the_table_is_tidy(study):
    cases = full_grid({KEEP: [4, 8, 12]})
    table = run_cases(study, cases, asked_hours, workers=1)
    assert list(table.columns) == ["case", KEEP, "row", "keep_on_h", "must_kwh", "failed"]
    assert list(table[KEEP]) == list(table["keep_on_h"]) == [4, 4, 8, 8, 12, 12]


def test_a_case_that_fails_is_a_row_with_its_reason_on_any_number_of_processes(study):
    cases = full_grid({KEEP: [8, 9, 10, -1, 11]})
    table = run_cases(study, cases, fails_on_nine, workers=1)
    pd.testing.assert_frame_equal(run_cases(study, cases, fails_on_nine, workers=2), table, check_exact=True)
    assert list(dict.fromkeys(table["case"])) == [c.slug for c in cases]
    by_case = table.set_index("case")
    assert by_case.loc["keep_on_h-9", "failed"] == "RuntimeError: nine is not to be had"
    assert by_case.loc["keep_on_h--1", "failed"] == "--set  asked.keep_on_h: must be above 0 (got -1)"
    good = table[table["failed"].isna()]
    assert list(good["keep_on_h"]) == [8, 8, 10, 10, 11, 11]


def test_a_case_that_kills_its_process_is_a_row_and_the_others_go_on(study):
    hours = [6, 7, 8, 9, 10, 11, 12, 13]
    cases = full_grid({KEEP: hours})
    table = run_cases(study, cases, dies_on_nine, workers=2).set_index("case")
    assert list(table.index) == [c.slug for c in cases]
    assert "process ended" in table.loc["keep_on_h-9", "failed"]
    good = table[table["failed"].isna()]
    assert list(good["keep_on_h"]) == [h for h in hours if h != 9]
    assert os.getpid() not in set(good["pid"])
    few = run_cases(study, cases[4:7], dies_on_nine, workers=2)
    assert set(few["pid"]) == {os.getpid()}  # too few to start processes for


def test_results_come_one_by_one_so_that_they_can_be_saved(study):
    found = each_case(study, full_grid({KEEP: [8, 9, 10]}), fails_on_nine, workers=1)
    first = next(found)
    assert (first.case.slug, first.failed, len(first.rows)) == ("keep_on_h-8", None, 2)
    found.close()


def test_no_worker_is_refused(study):
    with pytest.raises(ValueError, match="workers is 0"):
        run_cases(study, full_grid({KEEP: [8]}), asked_hours, workers=0)


def test_no_cases_make_an_empty_table(study):
    table = run_cases(study, [], asked_hours)
    assert table.empty
    assert list(table.columns) == ["case", "failed"]


def test_the_bar_is_silent_without_a_terminal():
    script = (
        "from kit.study import read_study; from kit.vary.cases import full_grid, run_cases\n"
        "from tests.unit.vary.case_work import dies_on_nine\n"
        "s = read_study('params/studies/metered_house.yaml')\n"
        "print(len(run_cases(s, full_grid({'asked.keep_on_h': [1, 2]}), dies_on_nine)))\n"
    )
    run = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert (run.stdout, run.stderr) == ("2\n", "")
