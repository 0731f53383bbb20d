"""The page's grid: its axes, outages more often against the engine itself, odd studies."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from kit.compare import compare
from kit.report.page import check_page, page_data, page_html
from kit.report.page_grid import MOST_POINTS, OFTEN, GridError, axes_of, points
from kit.study import Study, read_study

STUDIES = Path(__file__).parents[3] / "params" / "studies"


def few(study: Study, *slugs: str) -> Study:
    options = {slug: study.model.options[slug] for slug in slugs}
    return replace(study, model=study.model.model_copy(update={"options": options}))


@pytest.fixture(scope="module")
def farm() -> Study:
    return read_study(STUDIES / "farm_house.yaml")


def test_outages_more_often_are_those_of_the_engine(farm: Study) -> None:
    """Money and hours at three times the outages, against classes that come three times as often."""
    study = few(farm, "two_batteries_small_set", "portable")
    times = OFTEN[-1]
    often = [
        f"outages.classes.{slug}.events_per_year={times * block.events_per_year!r}"
        for slug, block in study.model.outages.classes.items()
        if block.events_per_year is not None
    ]
    engine = compare(few(farm.changed(often), *study.model.options))
    data = page_data(compare(study), points(study, workers=1))
    for option in data["options"]:
        units, reserve = option["own"]
        money = option["points"][units * max(1, len(option["reserves"])) + reserve]["often"][-1]
        columns = engine.outcomes[option["slug"]].columns
        life = sum(money[name] for name in ("bill_usd", "fuel_usd", "bought_usd", "rest_usd"))
        assert life == pytest.approx(columns["lifetime_cost_usd"], rel=1e-9), option["slug"]
        assert money["dark_h_per_year"] == pytest.approx(columns["must_run_unserved_h_per_year"], rel=1e-9)


def test_a_page_that_differs_from_the_memo_is_not_written(farm: Study) -> None:
    study = few(farm, "portable")
    comparison = compare(study)
    data = page_data(comparison, points(study, workers=1))
    check_page(comparison, data)
    data["options"][1]["points"][0]["often"][OFTEN.index(1.0)]["fuel_usd"] += 1.0
    with pytest.raises(GridError, match="portable: lifetime_cost_usd"):
        check_page(comparison, data)


def test_thirty_options_thin_the_grid_and_keep_their_own_place(farm: Study) -> None:
    option = farm.model.options["two_batteries_solar"]
    assert option.battery is not None
    used = option.model_copy(update={"battery": option.battery.model_copy(update={"everyday": "clock"})})
    many = farm.model.model_copy(update={"options": {f"battery_{i}": used for i in range(30)}})
    axes = axes_of(replace(farm, model=many))
    sizes = [len(a.unit_count) * len(a.reserve_frac) for a in axes.values()]
    assert sum(sizes) <= MOST_POINTS
    for a in axes.values():
        assert a.unit_count[a.own[0]] == option.battery.unit_count
        assert a.reserve_frac[a.own[1]] == option.battery.reserve_frac


def test_no_outages_and_no_solar(farm: Study) -> None:
    never = [f"outages.classes.{slug}.events_per_year=0" for slug in farm.model.outages.classes]
    text = page_html(few(farm.changed(never), "battery"), workers=1)
    assert "NaN" not in text
    assert "Infinity" not in text
