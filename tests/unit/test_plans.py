"""Rate plans side by side: the figures of the spine, files of two kinds, what is told when one is wrong."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from kit.cli import main
from kit.grid.bill import bill
from kit.grid.rate_record import RecordError
from kit.grid.rates import prices
from kit.shipped import shipped
from kit.stages.best_schedule import _schedule_for
from kit.stages.daily import everyday_use
from kit.stages.sources import DO_NOTHING, sources
from kit.study import Study, StudyError, read_study
from kit.study.plan_files import plan_root, read_plan
from kit.study.rate_models import RatePlan
from kit.vary.plans import PARTS, PlanComparison, PlanFile, compare_plans, read_plans

PARAMS = shipped() / "params"
RATES = PARAMS / "rates"
METERED = PARAMS / "studies" / "metered_house.yaml"
RECORDS = Path(__file__).parents[1] / "data" / "rates"


@pytest.fixture(scope="module")
def study() -> Study:
    whole = read_study(METERED)
    kept = {s: whole.model.options[s] for s in ("solar_only", "standby", "battery_solar")}
    return replace(whole, model=whole.model.model_copy(update={"options": kept}))


@pytest.fixture(scope="module")
def compared(study: Study) -> PlanComparison:
    return compare_plans(study, read_plans(RATES, study))


def test_todays_plan_has_the_figures_of_the_spine(study: Study, compared: PlanComparison) -> None:
    assert compared.today == "evening_peak"
    daily = everyday_use(study, compared.house, sources(study, compared.house))
    for slug, one in daily.items():
        case = compared.cases["evening_peak", slug]
        assert case.bill.total_usd == one.bill.total_usd
        assert case.best_usd == (one.foresight.bill_usd if one.foresight else None)
        assert case.best_note == (one.foresight.note if one.foresight else "")


@pytest.mark.parametrize("name", ["peak_demand", "rising_blocks"])
def test_another_plan_has_the_figures_of_a_study_on_it(name: str, compared: PlanComparison) -> None:
    other = read_study(METERED, [f"rate_plan=../rates/{name}.yaml"])
    kept = {s: other.model.options[s] for s in compared.options if s != DO_NOTHING}
    other = replace(other, model=other.model.model_copy(update={"options": kept}))
    daily = everyday_use(other, compared.house, sources(other, compared.house))
    assert {s: d.bill.total_usd for s, d in daily.items()} == {s: compared.usd(name, s) for s in daily}


def test_the_table_adds_up(compared: PlanComparison) -> None:
    table = compared.table
    assert len(table) == len(compared.plans) * 4 == 14 * 4
    parts = table[[f"{part}_usd_per_year" for part in PARTS]].sum(axis=1)
    assert parts.to_numpy() == pytest.approx(table["bill_usd_per_year"].to_numpy(), abs=1e-8)
    nothing = table[table.option == DO_NOTHING]
    assert (nothing["saving_usd_per_year"] == 0).all()
    assert nothing["bill_usd_per_year"].is_monotonic_increasing
    assert table.groupby("option")["best_plan_for_option"].sum().eq(1).all()
    best = table[table.best_plan_for_option].set_index("option")["bill_usd_per_year"]
    assert best.to_dict() == table.groupby("option")["bill_usd_per_year"].min().to_dict()
    lines = compared.lines.groupby(["plan", "option"])["usd"].sum()
    for row in table.itertuples():
        assert lines[row.plan, row.option] == pytest.approx(row.bill_usd_per_year, abs=1e-8)


def test_two_plans_by_hand(compared: PlanComparison) -> None:
    """Flat, without equipment: 12 x 14.00 + (0.158 + 0.0042) x kWh, and 2 % on all. Peak demand: 12 x 12.50,
    0.142 on weekdays 16 to 19, else 0.083, and the month's highest hour of them at 9.20 or 6.10 a kW."""
    house = compared.house
    kwh, year = house.load_kw * house.year.step_h, house.year
    flat_usd = (12 * 14.0 + (0.158 + 0.0042) * kwh.sum()) * 1.02
    assert compared.usd("flat", DO_NOTHING) == pytest.approx(flat_usd, abs=1e-6)
    peak = (year.weekday < 5) & (year.hour >= 16) & (year.hour < 19)
    demand_usd = sum(
        (9.2 if 5 <= month <= 10 else 6.1) * house.load_kw[peak & (year.month == month)].max()
        for month in range(1, 13)
    )
    usd = 12 * 12.5 + 0.142 * kwh[peak].sum() + 0.083 * kwh[~peak].sum() + demand_usd
    assert compared.usd("peak_demand", DO_NOTHING) == pytest.approx(usd, abs=1e-6)


def test_a_study_whose_plan_is_not_in_the_folder_keeps_it(study: Study, tmp_path: Path) -> None:
    shutil.copy(RATES / "flat.yaml", tmp_path)
    shutil.copy(RECORDS / "open_rate_record_tiered_daily.json", tmp_path)
    found = compare_plans(study, read_plans(tmp_path, study))
    assert set(found.plans) == {"flat", "open_rate_record_tiered_daily", "today"}
    assert found.today == "today"
    assert found.plans["today"].name == "Evening peak (invented), today"
    assert any("phasewiring" in note for note in found.notes["open_rate_record_tiered_daily"])


def test_a_record_and_its_written_plan_bill_alike(study: Study, tmp_path: Path) -> None:
    shutil.copy(RECORDS / "open_rate_record_tou_demand.json", tmp_path)
    (one,) = read_plans(tmp_path, study).values()
    assert one.as_yaml is not None
    (tmp_path / "again.yaml").write_text(one.as_yaml, encoding="utf-8")
    again = read_plan(tmp_path / "again.yaml", tmp_path)
    assert again == one.plan
    year = compare_plans(study, {}).house.year
    assert bill(again, year, np.ones(year.n)).total_usd == bill(one.plan, year, np.ones(year.n)).total_usd


def test_hours_named_for_another_plan_are_planned_anew(study: Study) -> None:
    block = study.model.options["battery_solar"]
    assert block.battery is not None
    battery = block.battery.model_copy(update={"discharge_periods": ["summer_peak", "winter_peak"]})
    options = {"battery_solar": block.model_copy(update={"battery": battery})}
    named = replace(study, model=study.model.model_copy(update={"options": options}))
    flat = PlanFile("flat", "Flat", read_plan(RATES / "flat.yaml", PARAMS))
    found = compare_plans(named, {"flat": flat})
    text = "One battery + solar: hours named for another plan are planned from prices here"
    assert text in found.notes["flat"]
    assert text not in found.notes[found.today]


def test_a_series_of_another_year_is_told_and_the_others_go_on(tmp_path: Path) -> None:
    study = read_study(METERED, ["house.meter=null", "year=2012"])
    kept = {"standby": study.model.options["standby"]}
    study = replace(study, model=study.model.model_copy(update={"options": kept}))
    plans = {s: p for s, p in read_plans(RATES, study).items() if s in ("hourly_market", "flat")}
    found = compare_plans(study, plans)
    assert set(found.plans) == {"flat", "today"}
    assert "not the whole study year 2012" in found.failed["hourly_market"]


def test_folders_that_hold_no_plan(study: Study, tmp_path: Path) -> None:
    with pytest.raises(StudyError, match="no such folder"):
        read_plans(tmp_path / "absent", study)
    with pytest.raises(StudyError, match=r"holds no rate plan"):
        read_plans(tmp_path, study)
    (tmp_path / "one.yaml").write_text("kit_file: 1\nfixed_usd_per_month: -2\n")
    (tmp_path / "two.yaml").write_text("kit_file: 1\nends: '01-01'\nstarts: '02-01'\n")
    with pytest.raises(StudyError) as caught:
        read_plans(tmp_path, study)
    assert [p.rule for p in caught.value.problems] == [
        "must be at least 0",
        "the plan ends on 01-01, before it starts on 02-01",
    ]
    (tmp_path / "three.json").write_text("{}")
    with pytest.raises(RecordError, match=r"three.json.*energyratestructure is missing"):
        read_plans(tmp_path, study)


def test_a_plan_reaches_no_file_outside_its_root(tmp_path: Path) -> None:
    secret = tmp_path / "secret.csv"
    secret.write_text("start,import_usd_per_kwh\n")
    folder = tmp_path / "plans"
    folder.mkdir()
    (folder / "p.yaml").write_text("kit_file: 1\nseries: {file: ../secret.csv}\n")
    with pytest.raises(StudyError, match="leads outside the root folder"):
        read_plan(folder / "p.yaml", plan_root(folder, PARAMS))
    assert plan_root(RATES, PARAMS) == PARAMS


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["rates", *(str(a) for a in arguments)])


def test_the_command_prints_and_writes(tmp_path: Path) -> None:
    plans, out = tmp_path / "plans", tmp_path / "out"
    plans.mkdir()
    shutil.copy(RATES / "evening_peak.yaml", plans)
    shutil.copy(RECORDS / "open_rate_record_tou_demand.json", plans)
    result = run(METERED, "--plans", plans, "--out", out)
    assert result.exit_code == 0, result.output
    assert "Evening peak (today)" in result.output
    assert "Best plan for each option" in result.output
    assert "no demand interval is given" in result.output
    names = ["imported/open_rate_record_tou_demand.yaml", "rate_lines.csv", "rates.csv", "rates.svg"]
    assert sorted(p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file()) == names
    assert (out / "rates.svg").read_text(encoding="utf-8").startswith("<svg")


def test_the_command_tells_bad_input(tmp_path: Path) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text("kit_file: 1\nfixed_usd_per_month: -2\n")
    result = run(METERED, "--plans", tmp_path)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "bad.yaml:2:1  fixed_usd_per_month: must be at least 0 (got -2)" in result.stderr
    bad.unlink()
    (tmp_path / "bad.json").write_text("[1]")
    result = run(METERED, "--plans", tmp_path)
    assert result.exit_code == 2
    assert "holds no rate record" in result.stderr
    assert run(METERED).exit_code == 2


def test_under_tiers_foresight_keeps_the_cheaper_of_two_schedules(study: Study) -> None:
    """Rising tiers over all kWh and a peak adder: found for the tiers in which bills end, it is never above
    the optimum for the first tier, and here below it."""
    tiers = [{"up_to_kwh_per_month": 200.0, "price_usd_per_kwh": 0.1}, {"price_usd_per_kwh": 0.4}]
    energy = {"peak": {"hours": "17-21", "price_usd_per_kwh": 0.03}, "other": {"hours": "rest"}}
    export = {"kind": "net_billing", "price_usd_per_kwh": 0.2}
    plan = RatePlan.model_validate({"tiers": tiers, "energy": energy, "export": export})
    found = compare_plans(study, {"tiers": PlanFile("tiers", "Tiers", plan)})
    option = replace(found.options["battery_solar"], plan=plan)
    assert option.battery is not None
    first = _schedule_for(
        prices(plan, found.house.year), found.house, option, option.battery, option.solar_kw
    )
    first_usd = bill(plan, found.house.year, first.import_kwh, first.export_kwh).total_usd
    best_usd = found.cases["tiers", "battery_solar"].best_usd
    assert best_usd is not None
    assert best_usd < first_usd - 1.0


def test_check_says_what_a_plan_holds_and_reads_its_series() -> None:
    def check(*settings: str) -> Result:
        options = [word for text in settings for word in ("--set", text)]
        return CliRunner().invoke(main, ["check", str(METERED), *options])

    told = check("rate_plan=../rates/mid_year_change.yaml").stdout
    assert (
        "1 season, periods all_hours, export net metering, bills begin on day 17, another plan from 07-01"
        in told
    )
    told = check("rate_plan=../rates/critical_peak_days.yaml").stdout
    assert "2 seasons, periods peak, off_peak, 2 critical peaks on stated days, export net billing" in told
    assert "a price series" in check("rate_plan=../rates/hourly_market.yaml").stdout
    bad = check("rate_plan=../rates/hourly_market.yaml", "year=2012")
    assert bad.exit_code == 2
    assert "not the whole study year 2012" in bad.stderr
