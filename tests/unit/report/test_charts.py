"""Charts are small, self-contained, and do not lean on colour."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.report import charts, money_charts, outage_charts, reserve
from kit.report.line_parts import end_labels, end_rows
from kit.report.lines import lifetime_lines
from kit.report.show import VEGALITE, chart_bundle
from kit.report.theme import looks
from tests.unit.report.fake_comparison import fake_comparison, fake_frontier


def all_charts(comparison: Any) -> list[Any]:
    made = [
        charts.hours_kept_on(comparison),
        money_charts.lifetime_cost(comparison),
        money_charts.cumulative_cash(comparison),
        *charts.fuel_and_emissions(comparison),
        *reserve.reserve_charts(comparison, fake_frontier()),
    ]
    for slug in ("portable_set", "battery_13", "battery_and_set"):
        made += outage_charts.hard_outage(comparison, slug)
    return made


def specs() -> list[dict[str, Any]]:
    return [c.to_dict() for c in all_charts(fake_comparison())]


def test_data_stays_small() -> None:
    for spec in specs():
        for rows in spec["datasets"].values():
            series = pd.DataFrame(rows)
            by = next((c for c in ("label", "source") if c in series), None)
            longest = series.groupby(by).size().max() if by else len(series)
            assert longest <= 400, spec["title"]


def test_a_quarter_hour_week_is_made_coarser_and_keeps_its_energy() -> None:
    comparison = fake_comparison()
    fine = comparison.outcomes["battery_13"].hard_outage
    many = pd.concat([fine.assign(hour=fine["hour"] + 72 * k) for k in range(10)], ignore_index=True)
    many = many.assign(hour=[i / 4 for i in range(len(many))])
    comparison.outcomes["battery_13"].hard_outage = many
    spec = outage_charts.hard_outage(comparison, "battery_13")[0].to_dict()
    bars = next(pd.DataFrame(d) for d in spec["datasets"].values() if "source" in d[0])
    drawn_kwh = ((bars["to"] - bars["from"]) * (bars["end_h"] - bars["hour"])).sum()
    asked_kwh = ((many["must_run_kw"] + many["wanted_kw"]) * 0.25).sum()
    assert drawn_kwh == pytest.approx(asked_kwh, rel=1e-3)
    assert len(bars) <= 400


def test_nothing_is_named_by_a_counter() -> None:
    """altair counts its own names per process; outputs would then depend on what ran before."""
    first, second = specs(), specs()
    assert first == second
    assert not any("param_" in str(s) or "'view_" in str(s) for s in first)


def test_no_text_is_small_and_axes_name_their_units() -> None:
    for spec in specs():
        sizes = [v for k, v in walk(spec) if k.lower().endswith("fontsize")]
        assert sizes
        assert min(sizes) >= 11
        titles = [v for k, v in walk(spec) if k == "title" and isinstance(v, str) and v]
        assert any("(" in t or " a year" in t or "Years" in t for t in titles), titles


def walk(node: Any) -> list[tuple[str, Any]]:
    found: list[tuple[str, Any]] = []
    if isinstance(node, dict):
        for key, value in node.items():
            found.append((key, value))
            if key != "datasets":
                found += walk(value)
    elif isinstance(node, list):
        for value in node:
            found += walk(value)
    return found


def test_options_differ_by_more_than_colour() -> None:
    comparison = fake_comparison()
    comparison.outcomes |= {f"more_{i}": comparison.outcomes["battery_13"] for i in range(5)}
    items = looks(comparison)
    assert len(items) == 10
    for trait in ("letter", "colour", "dash", "shape"):
        assert len({getattr(x, trait) for x in items}) == len(items), trait


def test_any_number_of_options_has_a_look() -> None:
    comparison = fake_comparison()
    comparison.outcomes |= {f"more_{i}": comparison.outcomes["battery_13"] for i in range(40)}
    assert len({x.letter for x in looks(comparison)}) == 45


def test_the_bundle_is_what_jupyterlab_draws_offline() -> None:
    bundle = chart_bundle(charts.hours_kept_on(fake_comparison()))
    assert set(bundle) == {VEGALITE, "text/plain"}
    assert bundle[VEGALITE]["$schema"].endswith("/v5.json")
    assert bundle["text/plain"].startswith("Chart: How long the loads asked for stay on.")


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=12))
def test_labels_stand_as_near_as_can_be(values: list[float]) -> None:
    """Against the isotonic regression of scipy, where the edges do not bind."""
    from scipy.optimize import isotonic_regression

    wanted, steps = np.sort(values), 0.06 * np.arange(len(values))
    best = isotonic_regression(wanted - steps).x + steps
    frame = pd.DataFrame({"x": 1.0, "y": wanted, "label": [str(i) for i in range(len(wanted))]})
    at = end_labels(frame, "x", "y", -9.0, 10.0, 0.06 / 19.0)["label_at"]
    np.testing.assert_allclose(at, best, atol=1e-9)


def test_thirty_lines_share_rows_of_letters() -> None:
    """15 lines end at 0, 11 at 0.7, 4 at 1: every letter once, no row meets another, none is far off."""
    values = [0.0] * 15 + [0.7] * 11 + [1.0] * 4
    names = [chr(65 + i) if i < 26 else f"Z{i - 25}" for i in range(30)]
    frame = pd.DataFrame({"x": 1.0, "y": values, "label": names, "letter": names})
    rows = end_rows(frame, "x", "y", 0.0, 1.0, 0.06)
    assert sorted(" ".join(rows["letter"]).split()) == sorted(names)
    at = sorted(rows["label_at"])
    assert all(b - a >= 0.06 - 1e-9 for a, b in pairwise(at))
    assert at[0] >= -1e-9
    assert at[-1] <= 1.0 + 1e-9
    for row in rows.itertuples():
        ends = {values[names.index(letter)] for letter in row.letter.split()}
        assert len(ends) == 1
        assert abs(row.label_at - ends.pop()) <= 0.2


def test_few_lines_keep_a_row_each() -> None:
    names = list("ABCDEF")
    frame = pd.DataFrame({"x": 1.0, "y": [0.0, 0.0, 0.5, 0.5, 1.0, 1.0], "label": names, "letter": names})
    assert list(end_rows(frame, "x", "y", 0.0, 1.0, 0.06)["letter"]) == names


def test_no_legend_leaves_options_out() -> None:
    """The drawing library's own limit is 30 entries; the rest would be '...2 entries'."""
    spec = charts.hours_kept_on(fake_comparison()).to_dict()
    legends = [
        layer["encoding"]["color"]["legend"]
        for layer in spec["layer"]
        if "shape" in layer.get("encoding", {})
    ]
    assert [legend["symbolLimit"] for legend in legends] == [0]


def test_end_labels_keep_apart_and_inside() -> None:
    frame = pd.DataFrame(
        {"x": [1.0] * 5, "y": [0.0, 0.0, 0.001, 0.99, 1.0], "label": list("abcde"), "letter": list("abcde")}
    )
    at = sorted(end_labels(frame, "x", "y", 0.0, 1.0, 0.06)["label_at"])
    assert all(b - a >= 0.06 - 1e-12 for a, b in pairwise(at))
    assert at[0] >= 0.0
    assert at[-1] <= 1.0


def test_lines_add_up_to_the_lifetime_cost() -> None:
    """By hand: 1,900 up front; 2,249 a year for 15 years at 3 %; 600 in year 12; 150 back in year 15.

    Uniform present value at 3 %, 15 years 11.93794, single present value 12 years 0.701380 and
    15 years 0.641862: standard interest tables.
    """
    lines = lifetime_lines(fake_comparison())
    total = lines.loc["portable_set"].sum()
    assert total == pytest.approx(1900 + 2249 * 11.93794 + 600 * 0.701380 - 150 * 0.641862, abs=0.02)


def test_a_cash_line_without_a_name_is_refused() -> None:
    comparison = fake_comparison()
    outcome = comparison.outcomes["portable_set"]
    outcome.cash = outcome.cash.assign(bribe=-1.0)
    with pytest.raises(ValueError, match="cash lines without a name in the report: bribe"):
        lifetime_lines(comparison)
