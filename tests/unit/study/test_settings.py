"""--set PATH=VALUE: through references, into records, in either unit."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.study import Study, StudyError, read_study
from kit.study.paths import PathError
from tests.unit.study.conftest import Spoil

SET = "options.small_set.generator"
USE = "house.appliances.refrigerator.use"
TANK = f"{SET}.tank"
PRICE = f"{SET}.cost.price_usd"


@pytest.mark.parametrize(
    ("setting", "path", "expected"),
    [
        ("asked.keep_on_h=72", "asked.keep_on_h", 72.0),
        ("asked.keep_on_min=90", "asked.keep_on_h", 1.5),
        ("asked.budget_usd=1e4", "asked.budget_usd", 10000.0),
        (f"{TANK}_l=200", f"{TANK}_l", 200.0),
        (f"{TANK}_gal=50", f"{TANK}_gal", 50.0),
        (f"{PRICE}=3200", PRICE, 3200.0),
        (f"{PRICE}.likely=3200", PRICE, 3200.0),
        ("house.name=yes", "house.name", "yes"),
        ("house.name='12'", "house.name", "12"),
        ("house.service.rating_a=100", "house.service.rating_a", 100.0),
        (f"{USE}.months=[1, 2]", f"{USE}.months", [1, 2]),
        (f"{SET}.fuel_points.1.fuel_gal_per_h=2", f"{SET}.fuel_points.1.fuel_gal_per_h", 2.0),
        ("fuels.diesel={price_usd_per_gal: 4}", "fuels.diesel.price_usd_per_gal", 4.0),
        (
            "options.pack.battery={from: ../systems/pack.yaml, unit_count: 3}",
            "options.pack.battery.unit_count",
            3,
        ),
        ("options.pack.battery=../systems/pack.yaml", "options.pack.battery.unit_count", 1),
        ("prepared.for=A client", "prepared.for", "A client"),
    ],
)
def test_a_setting_arrives(study: Path, good: Study, setting: str, path: str, expected: object) -> None:
    changed = read_study(study, [setting])
    assert changed.value(path) == (pytest.approx(expected) if isinstance(expected, float) else expected)
    assert good.changed([setting]).sha256 == changed.sha256


def test_a_setting_leaves_the_rest_alone(good: Study) -> None:
    before = good.resolved
    changed = good.changed([f"{PRICE}=3300"]).resolved
    assert before["options"]["small_set"]["generator"]["cost"]["price_usd"] == 3500
    changed["options"]["small_set"]["generator"]["cost"]["price_usd"] = 3500.0
    assert changed == before
    assert good.changed([]).sha256 == good.sha256


def test_later_settings_win(study: Path) -> None:
    assert read_study(study, ["asked.keep_on_h=1", "asked.keep_on_h=2"]).model.asked.keep_on_h == 2


def test_a_record_keeps_its_range_while_it_holds_the_value(good: Study) -> None:
    inside = good.changed([f"{PRICE}=4400"]).provenance[PRICE]
    assert (inside.low, inside.high, inside.source, inside.file) == (3000, 4500, None, "--set")
    outside = good.changed([f"{PRICE}=9000"]).provenance[PRICE]
    assert (outside.low, outside.high) == (None, None)


def test_a_range_may_be_set(good: Study) -> None:
    told = good.changed([f"{TANK}_gal.low=50"]).provenance[f"{TANK}_l"]
    assert told.low == pytest.approx(50 * 3.785411784)
    assert told.source == "invented data sheet"


@pytest.mark.parametrize(
    ("setting", "path", "rule", "hint"),
    [
        (
            "asked.keep_on=3",
            "asked.keep_on",
            "there is no 'keep_on' here",
            "Units taken here: keep_on_h, keep_on_min, keep_on_s.",
        ),
        (
            "options.smal_set.generator.tank_l=3",
            "options.smal_set.generator.tank_l",
            "there is no 'smal_set' here",
            "Did you mean small_set?",
        ),
        ("options.new=3", "options.new", "there is no 'new' here", "Known here: small_set, pack."),
        (f"{TANK}_l.most=3", f"{TANK}_l.most", "a path ends at a number or text, before 'most'", ""),
        (f"{PRICE}.source=me", f"{PRICE}.source", "a path ends at a number or text, before 'source'", ""),
        (
            f"{SET}.fuel_points.7.output_kw=3",
            f"{SET}.fuel_points.7.output_kw",
            "there is no item '7' here",
            "Items are 0 to 1.",
        ),
        ("asked.keep_on_h", "", "'asked.keep_on_h' is not PATH=VALUE", "Example: --set asked.keep_on_h=24"),
        ("asked.keep_on_h=.inf", "asked.keep_on_h", "must be a finite number", ""),
        (
            "asked.keep_on_h=24 h",
            "asked.keep_on_h",
            "must be a number",
            "Write 24; the unit stands in the key's name.",
        ),
        ("options.pack.battery=../systems/none.yaml", "options.pack.battery", "no such file", None),
        ("house.name=[1, 2", "house.name", None, ""),
    ],
)
def test_a_setting_that_leads_nowhere(
    spoil: Spoil, setting: str, path: str, rule: str | None, hint: str | None
) -> None:
    (problem,) = spoil(set_values=(setting,))
    assert (problem.file, problem.line, problem.path) == ("--set", 0, path)
    assert rule is None or problem.rule == rule
    assert hint is None or problem.hint == hint
    assert str(problem).startswith("--set  ")


def test_parameter_text_is_never_evaluated(good: Study) -> None:
    text = "__import__('os').system('true')"
    assert good.changed([f"house.name={text}"]).model.house.name == text
    with pytest.raises(StudyError, match="must be a number"):
        good.changed(["asked.keep_on_h=20+4"])


def test_a_value_is_read_in_the_unit_asked_for(good: Study) -> None:
    assert good.value("house.altitude_m") == pytest.approx(304.8)
    assert good.value("house.altitude_ft") == pytest.approx(1000)
    assert good.value(f"{PRICE}.likely") == 3500
    assert good.value("options.pack.battery.reserve_frac") == 0.2  # a default
    with pytest.raises(PathError, match=r"there is no 'reserve' here. Units taken here: reserve_frac"):
        good.value("options.pack.battery.reserve")
    with pytest.raises(ValueError, match="Did you mean pack"):
        good.value("options.pak")
