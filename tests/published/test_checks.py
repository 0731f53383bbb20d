"""Every published check agrees, a spoilt one shows, and no case list is left out of the registry."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from importlib import import_module
from pathlib import Path

import pytest

from kit.report.check_tables import check_tables, differing, summary_line
from kit.report.checks import Check, Published, Value, run_check
from tests.published import fuel_cases, fuel_checks, registry
from tests.published.equipment_case import checks_of
from tests.published.not_checked import NOT_CHECKED

HERE = Path(__file__).parent
# Names of case files that say what goes in, how near, or in which unit: no expected value of their own.
INPUTS = {
    "ageing_cases": {"ASTM_SERIES"},
    "appliance_cases": {"STANDSTILL_WITHIN_A", "HALF_HP_WITHIN_KVA", "LIBRARY_BLOCK"},
    "dwelling_cases": {"FT2_M2", "FLOOR_M2", "D2A_DWELLING", "TANK_1000_GAL_IN"},
    "economics_cases": {"HANDBOOK_INPUTS"},
    "emissions_cases": {"L_PER_GAL"},
    "generator_cases": {"PROPANE_25_GAL_PER_H", "PROPANE_25_BTU_PER_H", "PER_500M", "PER_5C"},
    "house_cases": {"REFRIGERATOR_THIRD", "INCIDENCE_WITHIN_DEG", "LOSSES_WITHIN_PERCENT"},
    "keyed_cases": {"SEED"},
    "outage_cases": {
        *("FOLDER", "US", "STATES", "CAIDI_WITHIN", "IEEE_SAIFI", "IEEE_SAIDI_MIN", "IEEE_THRESHOLD_WITHIN"),
    },
    "tariff_cases": {
        *("CENT", "DECLINING", "INCLINING", "TIME_OF_USE", "RETAIL", "TIME_OF_USE_KWH"),
        *("DEMAND_USD_PER_KW", "RECORD_WITHIN"),
    },
}
# One printed figure, typed with its inputs, or one text of all its parts: a check for the whole.
ONE_FIGURE = {"ASTM_RANGES", "WINDOW_FAN", "DOE_FAN", "DOE_COMPUTER", "SUM_3950"}
ONE_FIGURE |= {"TOGETHER_KW", "STAGGERED_KW"}

checks = pytest.mark.parametrize(
    "check", registry.CHECKS, ids=lambda check: f"{check.case_list}: {check.name}"
)
checked = cache(run_check)


@checks
def test_published_value(check: Check) -> None:
    found = checked(check)
    assert found.agrees, (
        f"{check.source}: expected {check.expected} {check.unit}, got {found.ours} {found.stopped}; "
        f"allowed {check.allowed()}: {check.why}"
    )


@pytest.mark.parametrize("subject", dict.fromkeys(check.subject for check in registry.CHECKS))
def test_a_spoilt_value_shows(subject: str) -> None:
    for check in (one for one in registry.CHECKS if one.subject == subject):
        ours = checked(check).ours
        assert ours is not None
        wrong = run_check(replace(check, expected=spoilt(check, ours), compute=lambda ours=ours: ours))
        assert not wrong.agrees, check
        assert "DIFFERS" in check_tables(Published((wrong,))).text


def spoilt(check: Check, ours: Value) -> Value:
    """An expected value that lies beyond what is allowed, by twice that and a little."""
    if isinstance(check.expected, str):
        return check.expected + "0"
    if isinstance(check.expected, tuple):
        return (check.expected[1] * 2, check.expected[1] * 3)
    highest = ours[1] if isinstance(ours, tuple) else check.expected
    assert isinstance(highest, int | float)
    return highest + 3 * check.allowed() + 1e-12 * max(abs(highest), 1.0)


def case_files() -> list[str]:
    return sorted(path.stem for path in HERE.glob("*_cases.py"))


@pytest.mark.parametrize("name", case_files())
def test_no_case_is_left_out(name: str) -> None:
    """Each name of a case file stands in the registry, with a check for each of its items, or is an input."""
    counted = Counter(check.case_list for check in registry.CHECKS)
    lacking = {}
    for key, value in vars(import_module(f"tests.published.{name}")).items():
        public = key.isupper() and not key.startswith("_")
        if not public or key in INPUTS.get(name, set()) or is_words(key, value):
            continue
        many = isinstance(value, list | tuple | dict) and not hasattr(value, "_fields")
        items = len(value) if many and key not in ONE_FIGURE else 1
        if counted[f"{name}.{key}"] < max(items, 1):
            lacking[key] = f"{counted[f'{name}.{key}']} checks of {items}"
    assert lacking == {}


def is_words(key: str, value: object) -> bool:
    """A source or a reason; the rows of a table may be text too."""
    return isinstance(value, str) and not key.endswith("_ROWS")


def test_no_word_hides_a_list() -> None:
    """What is called an input is there, and is in no check."""
    used = {check.case_list for check in registry.CHECKS}
    for name, keys in INPUTS.items():
        module = import_module(f"tests.published.{name}")
        assert keys <= vars(module).keys()
        assert not {f"{name}.{key}" for key in keys} & used


def test_every_module_of_checks_is_in_the_registry() -> None:
    ids = {id(check) for check in registry.CHECKS}
    for path in HERE.glob("*_checks.py"):
        if path.stem.startswith("test_"):
            continue
        assert {id(check) for check in import_module(f"tests.published.{path.stem}").CHECKS} <= ids, path.stem
    assert len(ids) == len(registry.CHECKS)
    named = Counter((check.subject, check.source, check.name, check.unit) for check in registry.CHECKS)
    assert [key for key, count in named.items() if count > 1] == []


def test_a_case_left_out_or_spoilt_in_its_file_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    (case,) = fuel_cases.CO2_KG_PER_L
    monkeypatch.setattr(fuel_cases, "CO2_KG_PER_L", [replace(case, expected=case.expected * 1.01)])
    made = checks_of(
        fuel_cases, "CO2_KG_PER_L", "Fuels", "fossil CO2 of a litre", "kg/L", fuel_checks.co2_kg_per_l
    )
    published = Published(tuple(map(run_check, [*made, *fuel_checks.CHECKS[:2]])))
    assert summary_line(published) == "2 of 3 agree; 0 from memory."
    shown = differing(published).text
    assert "DIFFERS" in shown
    assert "-0.02" in shown  # 2.697 x 0.01, rounded by the table to a tenth of what is allowed
    monkeypatch.setattr(fuel_cases, "A_NEW_LIST", [case], raising=False)
    with pytest.raises(AssertionError, match="A_NEW_LIST"):
        test_no_case_is_left_out("fuel_cases")


def test_what_is_not_checked_is_written_down() -> None:
    assert len(NOT_CHECKED) > 10
    assert all(text.endswith(".") and len(text) > 60 for text in NOT_CHECKED)
    for word in ("low load", "Ageing", "durations", "portable", "2005 code", "carbon monoxide", "2013"):
        assert any(word in text for text in NOT_CHECKED), word


def test_where_memory_stands_it_is_said() -> None:
    told = [check for check in registry.CHECKS if check.provenance == "memory"]
    assert 0 < len(told) < len(registry.CHECKS) / 5
    assert all(check.provenance == "memory" for check in registry.CHECKS if "from memory" in check.source)
