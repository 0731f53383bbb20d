"""Every text a person with a bad file gets to read: place, path, rule, value, way out."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.study import StudyError, read_study
from tests.unit.study.conftest import Spoil

BASE, HOUSE, SET, PACK = "studies/base.yaml", "houses/small.yaml", "systems/set.yaml", "systems/pack.yaml"
ONE_LINE = [
    # file, old, new, line, path, rule, got, hint
    (PACK, "charge_kw: 3", "charge_kw: 3\nreserv_frac: 0.2", 6, "options.pack.battery.reserv_frac",
     "unknown key", "", "Did you mean reserve_frac?"),
    (PACK, "charge_kw: 3", "charge_kw: 3\ncharge_kw: 4", 6, "charge_kw",
     "is given twice, first on line 5", "", ""),
    (PACK, "nominal_kwh: 10", "nominal_kwh: -10", 2, "options.pack.battery.nominal_kwh",
     "must be above 0", "-10", ""),
    (PACK, "usable_kwh: 9", "usable_kwh: 12", 1, "options.pack.battery",
     "usable_kwh 12 is above nominal_kwh 10", "", ""),
    (PACK, "charge_efficiency_frac: 0.95\nd", "charge_efficiency_frac: 89\nd", 6,
     "options.pack.battery.charge_efficiency_frac", "must be at most 1", "89", "Write 0.89 for 89 %."),
    (PACK, "continuous_kw: 5", "continuous_kw: '5'", 4, "options.pack.battery.continuous_kw",
     "must be a number", "'5'", "Write 5 without quotes."),
    (PACK, "continuous_kw: 5", "continuous_kw: 5 kW", 4, "options.pack.battery.continuous_kw",
     "must be a number", "'5 kW'", "Write 5; the unit stands in the key's name."),
    (PACK, "continuous_kw: 5", "continuous_kw: 5_000", 4, "options.pack.battery.continuous_kw",
     "must be a number", "'5_000'", "Write 5000."),
    (PACK, "continuous_kw: 5", "continuous_kw: true", 4, "options.pack.battery.continuous_kw",
     "must be a number", "true", ""),
    (PACK, "continuous_kw: 5", "continuous_kw:", 4, "options.pack.battery.continuous_kw",
     "must be a number", "nothing", ""),
    (PACK, "continuous_kw: 5", "continuous_kw: .nan", 4, "continuous_kw",
     "must be a finite number", "'.nan'", ""),
    (PACK, "charge_kw: 3", "charge_kw: 3\nexport_allowed: yes", 6, "options.pack.battery.export_allowed",
     "must be true or false", "'yes'", "Write true."),
    (PACK, "charge_kw: 3", "charge_kw: 3\nunit_count: 1.5", 6, "options.pack.battery.unit_count",
     "must be a whole number", "1.5", ""),
    (PACK, "charge_kw: 3", "charge_kw: 3\ncharge_periods: [peak]", 6,
     "options.pack.battery.charge_periods.0", "the rate plan has no period 'peak'", "",
     "It has day, night."),
    (PACK, "charge_kw: 3", "charge_kw: 3\nreserve_percent: 20", 6, "options.pack.battery.reserve_percent",
     "unknown key", "", "Write reserve_frac: 0.2 for 20 %."),
    (HOUSE, "time_zone: America/New_York", "time_zone: PST", 2, "house.time_zone",
     "unknown time zone 'PST'; write a name such as America/New_York", "", ""),
    (HOUSE, "longitude_deg: -73", "longitude_deg: -73\nattended_hours: 6-25", 5, "house.attended_hours",
     "hours '6-25': an hour is at most 24, got 25", "", ""),
    (SET, "starting_kw: 10", "starting_kw: 8", 1, "options.small_set.generator",
     "starting_kw 8 is below running_kw 9", "", ""),
    (SET, "tank_gal: 100", "tank_gal: 100\ntank_l: 378", 10, "options.small_set.generator.tank_l",
     "tank_gal and tank_l give the same quantity twice", "", "Keep one of them."),
    (SET, "tank_gal: 100", "tank_liters: 378", 9, "options.small_set.generator.tank_liters",
     "unknown key", "", "Units taken here: tank_l, tank_gal."),
    (SET, "tank_gal: 100", "tank_gal: -5", 9, "options.small_set.generator.tank_gal",
     "must be at least 0 as tank_l", "-5", ""),
    (SET, "fuel: propane", "fuel: propan", 3, "options.small_set.generator.fuel",
     "must be gasoline, diesel, propane or natural_gas", "'propan'", "Did you mean propane?"),
    (SET, "fuel: propane", "fuel: diesel", 3, "options.small_set.generator.fuel",
     "`fuels` has no price for diesel", "", "Add a block diesel with its price to `fuels`."),
    (SET, "low: 3000", "low: 3600", 13, "options.small_set.generator.cost.price_usd",
     "low <= likely <= high does not hold: likely 3500, low 3600, high 4500", "", ""),
    (SET, "low: 3000", "low: -1", 13, "options.small_set.generator.cost.price_usd.low",
     "should be greater than or equal to 0", "-1", ""),
    (SET, "low: 3000", "lowest: 3000", 13, "options.small_set.generator.cost.price_usd.lowest",
     "unknown key", "", "Did you mean low?"),
    (SET, "likely: 3500, ", "", 13, "options.small_set.generator.cost.price_usd.likely",
     "is missing", "", "A number is plain, or {likely: 2.6, low: 2.3, high: 3.0, source: ...}."),
    (SET, "as_of: 2026-04", "as_of: 2026-14", 13, "cost.price_usd.as_of",
     "must be a date", "'2026-14'", "Write 2026, 2026-05 or 2026-05-01."),
    (SET, "kit_file: 1", "kit_file: 2", 1, "kit_file",
     "this file is kit_file 2; this kit reads 1: install a newer kit", "", ""),
    (SET, "kit_file: 1\n", "", 1, "kit_file", "is missing", "", "Begin the file with `kit_file: 1`."),
    (SET, "running_kw: 9", "running_kw 9", 5, "",
     "not YAML: could not find expected ':' while scanning a simple key", "", ""),
    (HOUSE, "altitude_ft", "altitude_yards", 5, "house.altitude_yards",
     "unknown key", "", "Units taken here: altitude_m, altitude_ft."),
    (HOUSE, "refrigerator:", "Big Fridge:", 7, "house.appliances.Big Fridge",
     "not a name for a path", "'Big Fridge'",
     "Use small letters, digits and _, a letter first: big_fridge."),
    (HOUSE, "starting_total_w: 1200", "starting_total_w: 100", 7, "house.appliances.refrigerator",
     "starting_total_w 100 is below the running 150 W: it is all that is drawn while it starts; "
     "use starting_extra_w for the part on top", "", ""),
    (BASE, "true\nyear: 2025", "true\nyear: {likely: 2025, low: 2024, high: 2026}", 4, "year",
     "a count takes no range", "", "Give likely only."),
    (BASE, "name: Invented house", "name: 12", 2, "name", "must be text", "12", "Put it in quotes."),
    (BASE, "  propane:", "  propan:", 19, "fuels.propan", "unknown fuel", "'propan'",
     "Did you mean propane?"),
    (BASE, "../houses/small.yaml", "../houses/smal.yaml", 7, "house", "no such file",
     "'../houses/smal.yaml'", None),
    (BASE, "../houses/small.yaml", "../../houses/small.yaml", 7, "house", None,
     "'../../houses/small.yaml'", "Move the file inside, or give --root where the command takes it."),
    (BASE, "../houses/small.yaml", "/etc/small.yaml", 7, "house", "must not be an absolute path",
     "'/etc/small.yaml'", "Write it relative to this file."),
    (BASE, "  pack:\n", "  do_nothing:\n", 24, "options.do_nothing",
     "do_nothing is computed beside every study", "", "Give this option another name."),
    (BASE, "grid_co2e_kg_per_kwh: 0.4\n", "", 1, "grid_co2e_kg_per_kwh", "is missing", "", ""),
    (BASE, "asked: {keep_on_h: 24}", "asked: 24", 5, "asked", "must be a block of keys", "24", ""),
]  # fmt: skip


@pytest.mark.parametrize(
    ("file", "old", "new", "line", "path", "rule", "got", "hint"), ONE_LINE, ids=lambda v: str(v)[:40]
)
def test_text(
    spoil: Spoil, file: str, old: str, new: str, line: int, path: str, rule: str, got: str, hint: str
) -> None:
    (problem, *others) = spoil((file, old, new))
    if path == "fuels.propan":  # the set then has no price either
        others = others[1:]
    assert others == []
    assert (problem.line, problem.path, problem.got) == (line, path, got)
    assert problem.file.endswith(file)
    assert rule is None or problem.rule == rule
    assert hint is None or problem.hint == hint


def test_a_problem_prints_as_one_line(spoil: Spoil, monkeypatch: pytest.MonkeyPatch, study: Path) -> None:
    monkeypatch.chdir(study.parents[1])
    (problem,) = spoil((PACK, "nominal_kwh: 10", "nominal_kwh: ten"))
    assert str(problem) == (
        "systems/pack.yaml:2:1  options.pack.battery.nominal_kwh: must be a number (got 'ten')"
    )


def test_no_option_at_all(spoil: Spoil, study: Path) -> None:
    text = study.read_text()
    (problem,) = spoil((BASE, text[text.index("options:") :], "options: {}\n"))
    assert problem.path == "options"
    assert problem.rule.startswith("no option is given: name at least one")
    (problem,) = spoil((BASE, "options: {}", "options:"))
    assert problem.rule.startswith("no option is given")


def test_an_option_with_nothing_in_it(spoil: Spoil) -> None:
    (problem,) = spoil((BASE, "    battery: ../systems/pack.yaml\n", "    name: empty\n"))
    assert (problem.line, problem.path) == (24, "options.pack")
    assert problem.rule.startswith("an option needs a battery, a generator or solar")


def test_a_gas_set_takes_no_price_by_the_litre(spoil: Spoil) -> None:
    problems = spoil((BASE, "  propane:", "  natural_gas: {price_usd_per_gal: 1}\n  propane:"))
    assert [p.rule for p in problems] == ["natural_gas is priced by price_usd_per_m3 (or _ft3, _ccf)"]


def test_all_problems_at_once_in_order_of_file_and_line(spoil: Spoil) -> None:
    problems = spoil(
        (SET, "tank_gal: 100", "tank_liters: 100"),
        (SET, "running_kw: 9", "running_kw: 0"),
        (PACK, "usable_kwh: 9", "usable_kwh: nine"),
        (HOUSE, "latitude_deg: 42", "latitude_deg: 420"),
        (BASE, "true\nyear: 2025", "true\nyear: 20.25"),
        set_values=("asked.chance_frac=2", "asked.keep_on=3"),
    )
    assert [p.path.split(".")[-1] for p in problems] == [
        "latitude_deg", "year", "usable_kwh", "running_kw", "tank_liters", "chance_frac", "keep_on",
    ]  # fmt: skip
    assert [p.file for p in problems[-2:]] == ["--set", "--set"]


def test_a_broken_part_does_not_hide_the_rest(spoil: Spoil) -> None:
    problems = spoil(
        (SET, "running_kw: 9", "running_kw: [9"), (PACK, "charge_kw: 3", "charge_kw: -3"),
        (BASE, "name: Invented house\n", ""),
    )  # fmt: skip
    assert [p.path for p in problems] == ["name", "options.pack.battery.charge_kw", ""]
    assert problems[2].rule.startswith("not YAML")


def test_no_study_there(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match=r"nothing.yaml  no such file"):
        read_study(tmp_path / "nothing.yaml")
    with pytest.raises(StudyError, match="is not a file"):
        read_study(tmp_path)


def test_a_study_that_is_a_list(tmp_path: Path) -> None:
    (tmp_path / "x.yaml").write_text("- kit_file: 1\n")
    with pytest.raises(StudyError, match="a parameter file is a block of keys"):
        read_study(tmp_path / "x.yaml")
