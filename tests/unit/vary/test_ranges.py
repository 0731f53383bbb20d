"""What a study does not know: which numbers have a range, what they are called, which are drawn together."""

from __future__ import annotations

import pytest

from kit.shipped import shipped
from kit.study import StudyError, read_study
from kit.vary.kept import moves_money_only, option_keys
from kit.vary.ranges import Range, ranges_of, shown, unknowns_of
from kit.vary.values import tree_of, with_values
from tests.unit.vary.doubt_study import small_study

STUDIES = sorted((shipped() / "params/studies").glob("*.yaml"))
PACK = "options.battery.battery.cost.price_usd"


@pytest.fixture(scope="module")
def study():
    return small_study()


def by_path(study):
    return {path: one for one in ranges_of(study) for path in one.paths}


def test_one_number_of_one_file_is_one_range(study):
    pack = by_path(study)[PACK]
    assert pack.paths == (PACK, "options.battery_small_set.battery.cost.price_usd")
    assert (pack.low, pack.likely, pack.high) == (5600.0, 7200.0, 9000.0)
    assert pack.name == "10 kWh battery unit: price"
    assert pack.unit == "usd"
    assert shown(pack, pack.high, study) == "USD 9,000"


def test_what_moves_what(study):
    found = by_path(study)
    assert found["money.discount_rate_frac"].moves == "money"
    assert found["outages.classes.major.events_per_year"].moves == "rate"
    assert found["outages.blinks_per_year"].moves == "blinks"
    assert found["outages.classes.major.duration.spread"].moves == "physics"
    assert found["options.portable.generator.onsite_co_g_per_kwh"].moves == "emissions"


@pytest.mark.parametrize("path", STUDIES, ids=lambda p: p.stem)
def test_money_ranges_are_those_no_physics_is_kept_under(path):
    """The rule by path and the keys that kept physics stands under say the same of every range."""
    study = read_study(path)
    slugs = list(study.model.options)
    before = option_keys(study, slugs)
    for one in (r for bundle in ranges_of(study) for r in (bundle.members or (bundle,))):
        if one.moves in ("rate", "blinks"):
            continue
        end = one.high if one.high != one.likely else one.low
        same = option_keys(study.changed([f"{p}={end!r}" for p in one.paths]), slugs) == before
        assert same == moves_money_only(one.key), one.key


def test_a_group_shares_one_rank(study):
    groups = {u.name: [r.key for r in u.ranges] for u in unknowns_of(study, ranges_of(study))}
    assert groups["fuel prices"] == ["fuels.gasoline.price_usd_per_l", "fuels.propane.price_usd_per_l"]
    assert len(groups["installation costs"]) > 2
    assert "5 kW portable, gasoline: onsite co" not in groups


def test_a_study_may_group_others():
    paths = "[outages.classes.routine.events_per_year, outages.classes.major.events_per_year]"
    made = small_study(f"together={{weather: {paths}}}")
    names = [u.name for u in unknowns_of(made, ranges_of(made)) if len(u.ranges) == 2]
    assert "weather" in names


def test_a_group_of_numbers_without_ranges_is_refused_on_reading():
    with pytest.raises(StudyError, match=r"together.weather.0: has no low and high value.*asked.keep_on_h"):
        small_study("together={weather: [asked.keep_on_h]}")


def test_a_number_stands_in_one_group():
    made = small_study("together={a: [money.discount_rate_frac], b: [money.discount_rate_frac]}")
    with pytest.raises(ValueError, match=r"discount_rate_frac stands in a already"):
        unknowns_of(made, ranges_of(made))


@pytest.mark.parametrize(
    ("setting", "says"),
    [
        ("money.discount_rate_frac={likely: 0.03, low: 0.05, high: 0.07}", "low <= likely <= high does not"),
        ("money.discount_rate_frac={likely: 0.03, low: 0.0, high: 0.01}", "low <= likely <= high does not"),
        ("asked.stay_years={likely: 12, low: 5, high: 20}", "a count takes no range"),
        ("money.discount_rate_frac=8", "Write 0.08 for 8 %"),
        ("options.battery.battery.life_years=-3", "must be above 0"),
    ],
)
def test_bad_input_is_refused_with_its_path(setting, says):
    with pytest.raises(StudyError) as refused:
        small_study(setting)
    told = "; ".join(str(problem) for problem in refused.value.problems)
    assert says in told
    assert setting.partition("=")[0] in told


def test_a_range_out_of_order_is_refused():
    with pytest.raises(ValueError, match=r"low <= likely <= high does not hold: low 2"):
        Range("x", ("a.b_kw",), 2.0, 1.0, 3.0, None, "money")


def test_places_and_values_are_inverse():
    one = Range("x", ("a.b_kw",), 1.0, 2.0, 6.0, None, "money")
    assert [one.at(p) for p in (-1.0, -0.5, 0.0, 0.5, 1.0)] == [1.0, 1.5, 2.0, 4.0, 6.0]
    assert [one.place_of(v) for v in (1.0, 1.5, 2.0, 4.0, 6.0)] == [-1.0, -0.5, 0.0, 0.5, 1.0]


def test_the_loads_of_a_list_are_one_bundle():
    farm = read_study(shipped() / "params/studies/farm_house.yaml")
    bundle = next(one for one in ranges_of(farm) if one.members)
    assert len(bundle.members) > 20
    told = bundle.settings(1.0)
    assert set(told) == set(bundle.paths)
    assert all(told[path] == one.high for one in bundle.members for path in one.paths)
    assert bundle.settings(0.0) == {path: one.likely for one in bundle.members for path in one.paths}


def test_values_go_to_their_places_and_leave_the_rest(study):
    made = with_values(study.model, tree_of({PACK: 1.0, "fuels.gasoline.price_usd_per_l": 2.0}))
    assert made.options["battery"].battery.cost.price_usd == 1.0
    assert made.options["battery_small_set"].battery.cost.price_usd == 7200.0
    assert made.fuels["gasoline"].price_usd_per_l == 2.0
    assert study.model.options["battery"].battery.cost.price_usd == 7200.0
    assert made.house is study.model.house
