"""Laws of a whole comparison that hold whatever the figures: more is never less, and nothing is lost."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from kit.compare import Comparison, compare
from tests.unit.stages.small_study import study_at, study_text

FEW = settings(max_examples=6, phases=[Phase.explicit, Phase.generate])  # a comparison takes a second


With = Callable[[list[str]], Comparison]


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> With:
    """compare() of a portable and a battery with settings on top; the file is read once."""
    study = study_at(tmp_path_factory.mktemp("laws"), text=study_text(("portable", "battery")))
    return lambda set_values: compare(study.changed(set_values))


def row(c: Comparison, slug: str) -> dict[str, Any]:
    return c.outcomes[slug].columns


@given(size_kwh=st.floats(1.0, 20.0), more_kwh=st.floats(0.1, 20.0))
@FEW
def test_more_battery_never_serves_less(two: With, size_kwh: float, more_kwh: float) -> None:
    rows = []
    for kwh in (size_kwh, size_kwh + more_kwh):
        path = "options.battery.battery"
        sized = [f"{path}.nominal_kwh={kwh + 1}", f"{path}.usable_kwh={kwh}", f"{path}.everyday=hold"]
        rows.append(row(two(sized), "battery"))
    small, large = rows
    for hours in (4, 8, 24, 72, 168):
        name = f"ride_through_frac_{hours}h"
        assert large[name] >= small[name] - 1e-12
    for name in ("must_run_unserved_h_per_year", "failed_outage_count_per_10y", "longest_unserved_h"):
        assert large[name] <= small[name] + 1e-9


@given(rate=st.floats(0.0, 6.0), mean_h=st.floats(0.2, 40.0))
@FEW
def test_unserved_never_passes_what_nothing_loses(two: With, rate: float, mean_h: float) -> None:
    kind = "outages.classes.routine"
    c = two([f"{kind}.events_per_year={rate}", f"{kind}.duration.mean_h={mean_h}"])
    nothing = row(c, "do_nothing")
    assert nothing["must_run_unserved_h_per_year"] == pytest.approx(nothing["outage_h_per_year"], rel=1e-6)
    for slug in ("portable", "battery"):
        for name in ("must_run_unserved_h_per_year", "must_run_unserved_kwh_per_year", "longest_unserved_h"):
            assert -1e-9 <= row(c, slug)[name] <= nothing[name] + 1e-9
        assert row(c, slug)["outage_h_per_year"] == pytest.approx(nothing["outage_h_per_year"], rel=1e-9)
        for hours in (4, 8, 24, 72, 168):
            assert -1e-12 <= row(c, slug)[f"ride_through_frac_{hours}h"] <= 1 + 1e-12


@given(factor=st.floats(1.1, 5.0))
@FEW
def test_more_outages_cost_in_proportion(two: With, factor: float) -> None:
    """Twice the events a year: twice the hours, the same chance to ride through each."""
    rates = {"routine": 1.0, "major": 0.3}
    more = [f"outages.classes.{slug}.events_per_year={rate * factor}" for slug, rate in rates.items()]
    once, often = two([]), two(more)
    for slug in ("do_nothing", "portable", "battery"):
        for name in ("outage_h_per_year", "must_run_unserved_h_per_year", "failed_outage_count_per_10y"):
            assert row(often, slug)[name] == pytest.approx(factor * row(once, slug)[name], rel=1e-9)
        assert row(often, slug)["ride_through_frac_24h"] == pytest.approx(
            row(once, slug)["ride_through_frac_24h"], rel=1e-9
        )


@given(price_usd=st.floats(0.0, 50_000.0))
@FEW
def test_price_moves_cost_and_nothing_physical(two: With, price_usd: float) -> None:
    base, dear = (
        row(two([]), "battery"),
        row(two([f"options.battery.battery.cost.price_usd={price_usd}"]), "battery"),
    )
    for name, value in base.items():
        if "usd" not in name and name.endswith(("_h", "_h_per_year", "_kwh_per_year", "_frac_8h")):
            assert dear[name] == value, name
    assert dear["up_front_usd"] - base["up_front_usd"] == pytest.approx(price_usd - 8000.0, abs=1e-6)
