"""What a read study remembers: values, sources, ranges, defaults, its hash."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from pathlib import Path

import pytest

from kit.study import Study, read_study
from kit.study.models import StudyModel
from kit.study.schema import Shape, fields_of
from kit.study.sources import KEYS, Provenance
from kit.study.understood import understood

Swap = Callable[[str, str, str], None]
BASE, SET = "studies/base.yaml", "systems/set.yaml"


def test_numbers_are_in_the_kits_units(good: Study) -> None:
    generator = good.model.options["small_set"].generator
    assert generator is not None
    assert generator.tank_l == pytest.approx(378.5411784)
    assert generator.fuel_points[1].fuel_l_per_h == pytest.approx(1.7 * 3.785411784)
    assert good.model.house.altitude_m == pytest.approx(304.8)
    assert good.model.fuels["propane"].price_usd_per_l == pytest.approx(3 / 3.785411784)
    assert good.model.asked.keep_on_h == 24.0
    assert type(good.model.asked.keep_on_h) is float


def test_the_nearest_source_covers_a_number(good: Study) -> None:
    at = "options.small_set.generator"
    told = good.provenance
    assert told["rate_plan.energy.day.price_usd_per_kwh"] == Provenance(
        "invented tariff sheet", "2026-05-01", None, None, BASE, 13
    )
    assert told[f"{at}.running_kw"] == Provenance("invented data sheet", None, None, None, SET, 4)
    assert told[f"{at}.cost.price_usd"] == Provenance("three invented quotes", "2026-04", 3000, 4500, SET, 13)
    assert told["asked.keep_on_h"].source is None
    assert "house.appliances.refrigerator.tier" not in told  # no number


def test_ranges_are_in_the_kits_units(swap: Swap, study: Path) -> None:
    swap(BASE, "price_usd_per_gal: 3.0", "price_usd_per_gal: {likely: 3, low: 2, high: 4}")
    told = read_study(study).provenance["fuels.propane.price_usd_per_l"]
    assert told.low == pytest.approx(2 / 3.785411784)
    assert told.high == pytest.approx(4 / 3.785411784)


def test_defaults_are_those_no_file_gave(good: Study) -> None:
    used = good.defaults_used
    assert used["asked.chance_frac"] == 0.9
    assert used["options.small_set.generator.derating.altitude_frac_per_300m"] == 0.03
    assert used["options.small_set.generator.cost.permit_usd"] == 0.0
    assert "asked.keep_on_h" not in used
    assert "options.small_set.generator.cost.install_usd" not in used
    assert "options.pack.solar" not in used  # a block left out is not a value
    assert not set(used) & set(good.provenance)


def test_a_default_that_was_set_is_none(good: Study) -> None:
    assert "asked.chance_frac" not in good.changed(["asked.chance_frac=0.9"]).defaults_used


def _leaves(shape: Shape, value: object, at: str) -> set[str]:
    if shape.kind == "leaf" or value is None:
        return {at}
    if shape.kind == "block":
        assert shape.model is not None
        assert isinstance(value, dict)
        return {
            leaf
            for key, inner in fields_of(shape.model).items()
            for leaf in _leaves(inner, value[key], f"{at}.{key}".lstrip("."))
        }
    assert shape.inner is not None
    pairs = value.items() if isinstance(value, dict) else enumerate(value)  # type: ignore[call-overload]
    return {leaf for key, member in pairs for leaf in _leaves(shape.inner, member, f"{at}.{key}")}


def test_every_number_is_either_given_or_a_default(good: Study) -> None:
    whole = Shape("block", StudyModel, model=StudyModel)
    for leaf in _leaves(whole, good.resolved, ""):
        value = good.value(leaf)
        if isinstance(value, int | float) and not isinstance(value, bool):
            tokens = leaf.split(".")  # a list or mapping of numbers is one default
            above = {".".join(tokens[:end]) for end in range(1, len(tokens) + 1)}
            assert leaf in good.provenance or above & set(good.defaults_used), leaf


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        (BASE, "asked: {keep_on_h: 24}", "asked:\n  keep_on_min: 1440"),
        (BASE, "kit_file: 1\nname: Invented house", "kit_file: 1\nnote: nothing\nname: 'Invented house'"),
        (SET, "running_kw: 9\nstarting_kw: 10", "starting_kw: 10\nrunning_kw: 9.0"),
        (SET, "source: invented data sheet", "source: another sheet"),
        (SET, "tank_gal: 100", "tank_l: 378.5411784"),
        (BASE, "asked: {keep_on_h: 24}", "asked: {keep_on_h: 24, chance_frac: 0.9}"),
    ],
)
def test_the_hash_is_of_values_not_of_text(
    good: Study, swap: Swap, study: Path, file: str, old: str, new: str
) -> None:
    swap(file, old, new)
    assert read_study(study).sha256 == good.sha256


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        (BASE, "keep_on_h: 24", "keep_on_h: 24.000001"),
        (SET, "high: 4500", "high: 4501"),
        (BASE, "Invented house", "Other house"),
        (BASE, "  pack:", "  big_pack:"),
    ],
)
def test_the_hash_moves_with_any_value(
    good: Study, swap: Swap, study: Path, file: str, old: str, new: str
) -> None:
    swap(file, old, new)
    assert read_study(study).sha256 != good.sha256


def test_the_hash_does_not_know_where_it_lives(good: Study, study: Path) -> None:
    moved = study.parents[1].with_name(study.parents[1].name + "_moved")
    study.parents[1].rename(moved)
    assert read_study(moved / BASE).sha256 == good.sha256
    assert str(moved) not in str(read_study(moved / BASE).resolved)


def test_a_study_survives_pickling(good: Study) -> None:
    again = pickle.loads(pickle.dumps(good))
    assert again.sha256 == good.sha256
    assert again.changed(["asked.keep_on_h=48"]).value("asked.keep_on_h") == 48


def test_no_model_uses_the_names_of_provenance() -> None:
    seen = set()  # a rate plan may be followed by another

    def names(shape: Shape) -> set[str]:
        if shape.inner is not None:
            return names(shape.inner)
        if shape.model is None or shape.model in seen:
            return set()
        seen.add(shape.model)
        inner = fields_of(shape.model)
        return set(inner) | {n for s in inner.values() for n in names(s)}

    found = names(Shape("block", StudyModel, model=StudyModel))
    assert {"price_usd", "latitude_deg"} <= found
    assert not found & {*KEYS, "from"}


def test_understood_tells_what_was_read(good: Study) -> None:
    text = understood(good)
    assert "Invented house (invented)" in text
    assert "keep must-run loads on for 24 h, in 90% of such outages, over 15 years" in text
    assert "option    small_set: generator 9 kW running, propane, manual start" in text
    assert "option    pack: battery 9 kWh usable (dc), 5 kW" in text
    assert "periods day, night" in text
    sourced = sum(p.source is not None for p in good.provenance.values())
    assert f"{sourced} with a source" in text
    assert good.sha256 in text
