"""compare() from a file to JSON: the same answer twice, in any order, in money of any size, at any step."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

import kit.report
from kit.compare import Comparison
from tests.unit.stages.small_study import OPTIONS, compared, study_text

DRAWN = ("portable",)  # stops to refuel: its failures are drawn, not in the formula


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Comparison:
    return compared(tmp_path_factory.mktemp("small"))


def row(c: Comparison, slug: str) -> dict[str, Any]:
    return c.outcomes[slug].columns


def plain(value: Any, path: str = "$") -> None:
    """Only dict, list, str, bool, int, float and None, and every float finite."""
    if isinstance(value, dict):
        for name, inner in value.items():
            assert type(name) is str, path
            plain(inner, f"{path}.{name}")
    elif isinstance(value, list):
        for k, inner in enumerate(value):
            plain(inner, f"{path}[{k}]")
    else:
        assert type(value) in (str, bool, int, float, type(None)), f"{path}: {type(value)}"
        assert not isinstance(value, float) or math.isfinite(value), path


def valid(c: Comparison) -> dict[str, Any]:
    told = c.to_json()
    plain(told)
    schema = Path(kit.report.__file__).parent / "result.schema.json"
    jsonschema.validate(json.loads(json.dumps(told, allow_nan=False)), json.loads(schema.read_text()))
    return told


def test_json_is_plain_and_valid(small: Comparison) -> None:
    told = valid(small)
    assert [option["option"] for option in told["options"]] == ["do_nothing", *OPTIONS]
    assert told["verdict"]["winner"] == small.verdict.winner


def test_json_and_summary_hold_the_same(small: Comparison) -> None:
    by_slug = small.summary.set_index("option")
    for option in small.to_json()["options"]:
        for name, value in option.items():
            if isinstance(value, float):
                assert by_slug.loc[option["option"], name] == value


def test_same_study_same_bytes(small: Comparison, tmp_path: Path) -> None:
    again = compared(tmp_path)
    assert again.summary.to_csv() == small.summary.to_csv()
    assert json.dumps(again.to_json(), sort_keys=True) == json.dumps(small.to_json(), sort_keys=True)


def test_another_seed_moves_drawn_figures_only(small: Comparison, tmp_path: Path) -> None:
    """Someone at home is drawn, so the hand-started set moves; the rest is exact or formula."""
    other = compared(tmp_path, ("year: 2025", "seed: 2\nyear: 2025"))
    assert other.study.sha256 != small.study.sha256
    for slug in small.outcomes:
        if slug in DRAWN:
            assert row(other, slug) != row(small, slug)
            for name in ("up_front_usd", "outage_h_per_year", "bill_usd_per_year", "transfer_gap_s"):
                assert row(other, slug)[name] == row(small, slug)[name]
    for slug in ("do_nothing", "solar_only", "battery", "battery_solar"):
        assert row(other, slug) == row(small, slug), slug
    # the standby's chance is the formula; its expected year is drawn, and moves a little
    for slug in ("standby", "standby_solar", "gas_set"):
        for hours in (4, 8, 24, 72, 168):
            name = f"ride_through_frac_{hours}h"
            assert row(other, slug)[name] == row(small, slug)[name]
    old, new = (row(c, "portable")["ride_through_frac_asked"] for c in (small, other))
    error = small.outcomes["portable"].standard_error_frac
    assert 0 < error < 0.02
    assert new == pytest.approx(old, abs=4 * math.sqrt(2) * error)


def test_order_of_options_changes_only_the_order(small: Comparison, tmp_path: Path) -> None:
    other = compared(tmp_path, text=study_text(tuple(reversed(OPTIONS))))
    assert list(other.outcomes) == ["do_nothing", *reversed(OPTIONS)]
    for slug in small.outcomes:
        assert row(other, slug) == row(small, slug)
    assert other.verdict.winner == small.verdict.winner
    assert other.verdict.sentences == small.verdict.sentences


def test_fewer_options_change_no_other(small: Comparison, tmp_path: Path) -> None:
    other = compared(tmp_path, text=study_text(("portable", "battery")))
    for slug in ("do_nothing", "portable", "battery"):
        assert row(other, slug) == row(small, slug)


def test_two_of_the_same_are_the_same(tmp_path: Path) -> None:
    """The same set in two options meets the same failures."""
    c = compared(tmp_path, text=study_text(("portable",), twin=OPTIONS["portable"]))
    assert row(c, "twin") == row(c, "portable")


# ---- no outages ----------


def test_a_place_without_outages(tmp_path: Path) -> None:
    c = compared(
        tmp_path,
        ("events_per_year: 1.0", "events_per_year: 0"),
        ("events_per_year: 0.3", "events_per_year: 0"),
        ("blinks_per_year: 2", "blinks_per_year: 0"),
    )
    valid(c)
    for slug, outcome in c.outcomes.items():
        for name in (
            "outage_h_per_year",
            "must_run_unserved_h_per_year",
            "must_run_unserved_kwh_per_year",
            "wanted_unserved_kwh_per_year",
            "generator_run_h_per_year",
            "fuel_l_per_year",
            "failed_outage_count_per_10y",
            "interruption_felt_count_per_year",
        ):
            assert not outcome.columns[name], (slug, name)
        assert outcome.columns["usd_per_avoided_outage_h"] is None
        assert outcome.columns["backup_usd_per_kwh"] is None
        assert 0.0 <= float(outcome.columns["ride_through_frac_asked"] or 0) <= 1.0
    assert all("nan" not in text and "None" not in text for text in c.verdict.sentences)


# ---- money ----------


def scaled(text: str, factor: float) -> str:
    """Every amount of money of the study times a factor."""
    return re.sub(r"(\w*usd\w*: )([\d.]+)", lambda found: f"{found[1]}{float(found[2]) * factor:.10g}", text)


@pytest.mark.parametrize("factor", [2.0, 0.25])
def test_money_of_another_size_scales_every_cost(small: Comparison, tmp_path: Path, factor: float) -> None:
    """Prices in another currency change the figures by its rate and the verdict not at all."""
    other = compared(tmp_path, text=scaled(study_text(), factor))
    assert other.verdict.winner == small.verdict.winner
    for slug in small.outcomes:
        for name, value in row(small, slug).items():
            if name.endswith(("_usd", "_usd_per_year")) or name.startswith(("backup_usd", "usd_per")):
                if value is None:
                    assert row(other, slug)[name] is None
                else:
                    assert row(other, slug)[name] == pytest.approx(factor * value, rel=1e-9, abs=1e-6), name
            elif isinstance(value, float):
                # rates of return are roots: the same to the solver's precision
                assert row(other, slug)[name] == pytest.approx(value, rel=1e-6, abs=1e-9), name


def test_without_discounting_lifetime_cost_is_the_sum_of_cash(tmp_path: Path) -> None:
    c = compared(tmp_path, set_values=["money.discount_rate_frac=0"])
    for slug, outcome in c.outcomes.items():
        paid = -outcome.cash.drop(columns="lost_load").to_numpy().sum()
        assert row(c, slug)["lifetime_cost_usd"] == pytest.approx(paid, rel=1e-12)
        assert row(c, slug)["equivalent_annual_cost_usd"] == pytest.approx(paid / 10.0, rel=1e-12)


def test_discounting_by_hand(small: Comparison) -> None:
    for slug, outcome in small.outcomes.items():
        paid = -outcome.cash.drop(columns="lost_load").sum(axis=1).to_numpy()
        present = sum(usd / 1.03**year for year, usd in enumerate(paid))
        assert row(small, slug)["lifetime_cost_usd"] == pytest.approx(present, rel=1e-12)
        net = row(small, "do_nothing")["lifetime_cost_usd"] - present
        assert row(small, slug)["net_saving_usd"] == pytest.approx(net, abs=1e-6)


def test_lost_load_is_told_both_ways(small: Comparison, tmp_path: Path) -> None:
    priced = compared(tmp_path, set_values=["money.lost_load_usd_per_h=20"])
    annuity = (1 - 1.03**-10) / 0.03
    for slug in small.outcomes:
        one = row(priced, slug)
        assert row(small, slug)["lifetime_cost_with_lost_load_usd"] is None
        assert one["lifetime_cost_usd"] == row(small, slug)["lifetime_cost_usd"]
        lost = 20.0 * one["must_run_unserved_h_per_year"]
        assert one["lost_load_usd_per_year"] == pytest.approx(lost)
        with_lost = one["lifetime_cost_usd"] + lost * annuity
        assert one["lifetime_cost_with_lost_load_usd"] == pytest.approx(with_lost)


def test_worth_of_an_hour_is_where_the_two_costs_meet(small: Comparison, tmp_path: Path) -> None:
    """At that price of a lost hour the option and doing nothing cost the same."""
    worth = row(small, "battery")["usd_per_avoided_outage_h"]
    priced = compared(
        tmp_path, text=study_text(("battery",)), set_values=[f"money.lost_load_usd_per_h={worth:.9f}"]
    )
    costs = [row(priced, slug)["lifetime_cost_with_lost_load_usd"] for slug in ("do_nothing", "battery")]
    assert costs[0] == pytest.approx(costs[1], rel=1e-6)


# ---- steps ----------


def test_hours_and_quarters_agree(small: Comparison, tmp_path: Path) -> None:
    """Inputs that change on the hour: bills to the cent, outage hours exactly, chances nearly."""
    quarters = compared(tmp_path, ("step_min: 60", "step_min: 15"), text=study_text(("portable", "battery")))
    for slug in quarters.outcomes:
        fine, coarse = row(quarters, slug), row(small, slug)
        without_recharge = [
            quarters.outcomes[slug].bill.total_usd,
            small.outcomes[slug].bill.total_usd,
        ]
        assert without_recharge[0] == pytest.approx(without_recharge[1], abs=0.01), slug
        assert fine["outage_h_per_year"] == pytest.approx(coarse["outage_h_per_year"], rel=1e-9)
        assert fine["up_front_usd"] == coarse["up_front_usd"]
        share = {c: c.outcomes[slug].hours_kept_on["share_frac"].to_numpy() for c in (quarters, small)}
        assert np.abs(share[quarters] - share[small]).max() < 0.04, slug
        assert fine["must_run_unserved_h_per_year"] == pytest.approx(
            coarse["must_run_unserved_h_per_year"], rel=0.05
        )


def test_a_delivery_that_does_not_fit_is_told(tmp_path: Path) -> None:
    """20 gal are 75.7 L: a delivery of 60 L fits, one of 100 L does not."""
    text = study_text(("portable",))
    for litres, told in ((60, False), (100, True)):
        c = compared(tmp_path, text=text, set_values=[f"options.portable.generator.resupply_l={litres}"])
        found = [f for f in c.findings if f.code == "delivery_cut"]
        assert bool(found) is told
    assert "A delivery of 100.0 L" in found[0].text
    assert "only up to 75.7 L" in found[0].text
    assert found[0].path == "options.portable.generator.resupply_l"


def test_options_of_one_name_are_told_apart_by_their_slugs(tmp_path: Path) -> None:
    c = compared(
        tmp_path,
        ("name: Battery with solar", "name: Battery"),
        text=study_text(("battery", "battery_solar", "portable")),
    )
    names = [outcome.name for outcome in c.outcomes.values()]
    assert names == ["Do nothing", "Battery (battery)", "Battery (battery_solar)", "Portable set"]


def test_a_backup_with_solar_of_the_same_name_is_still_known_alone(tmp_path: Path) -> None:
    """Solar that is off in an outage: the verdict says what the backup costs without it, by any name."""
    for changes in ((), (("name: Standby set with solar", "name: Standby set"),)):
        text = study_text(("standby", "standby_solar")).replace(
            "size_kw: 4, inverter_kw: 4, cost: {price_usd: 9000}",
            "size_kw: 4, inverter_kw: 4, cost: {price_usd: 900}",
        )
        c = compared(tmp_path, *changes, text=text)
        assert c.verdict.winner == "standby_solar"
        assert any("without it the backup alone costs" in s for s in c.verdict.sentences)
