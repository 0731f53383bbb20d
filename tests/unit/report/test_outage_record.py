"""The outage record in a memo: return periods, ranges, fits beside the events, losses line by line."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from kit.grid.duration_fits import fit_durations
from kit.report import outage_record as made
from kit.stages.losses import LossLine, LostLoad
from kit.study import Study, read_study

STUDY = Path(__file__).parents[3] / "params" / "studies" / "metered_house.yaml"


def study(record: str, *settings: str) -> Study:
    return read_study(STUDY, [f"outages=../outages/{record}.yaml", *settings])


def test_rows_add_up() -> None:
    frame = made.record_rows(study("mild_suburb"))
    assert frame["kind"].tolist() == ["routine", "major", "all"]
    for column in ("events_per_year", "outage_h_per_year", "events_per_year_of_24h"):
        assert frame[column].iloc[-1] == pytest.approx(frame[column].iloc[:-1].sum())
    assert frame["events_per_year"].iloc[-1] == pytest.approx(1.348)  # US 2023, all events
    assert frame["low_per_year"].iloc[1] == 0.15


def test_a_log_brings_its_own_range() -> None:
    frame = made.record_rows(study("rural_radial_line")).set_index("kind")
    assert frame.loc["storm", "source"] == "from a log"
    assert frame.loc["storm", "low_per_year"] == pytest.approx(0.286, abs=0.001)
    assert frame.loc["storm", "high_per_year"] == pytest.approx(1.23, abs=0.005)
    text = made.record_table(study("rural_radial_line")).text
    assert "0.29 to 1.2 (a)" in text
    assert "90 % range of the rate behind a log of this length" in text
    held = made.record_rows(study("rural_radial_line", "outages.classes.storm.events_per_year=0.5"))
    assert held.set_index("kind").loc["storm", "events_per_year"] == 0.5


def test_the_table_says_return_periods_in_words() -> None:
    text = made.record_table(study("mild_suburb")).text
    assert "once in 3.1 years" in text
    assert "once in 260 years" in text
    assert "hardly ever" in text
    assert "feels 4.3 interruptions, 3.0 of them shorter than a few minutes" in text
    assert "one of a day or longer comes once in 25 years. Does that match" in text


def test_fits_are_shown_beside_the_events() -> None:
    text = made.fit_tables(study("rural_radial_line")).text
    assert "Length of storm outages: 5 events and what was fitted" in text
    for name in ("the events", "exponential", "lognormal (a)", "weibull"):
        assert name in text
    assert "(a) taken" in text
    assert "No length of outage" in made.fit_tables(study("mild_suburb")).text
    assert made.fit_charts(study("mild_suburb")) == []


def test_the_chart_is_small_valid_and_warns() -> None:
    (chart,) = made.fit_charts(study("rural_radial_line"))
    spec = chart.to_dict()  # altair checks the whole chart here
    assert spec["title"]["text"] == "Storm: the lognormal line was taken"
    assert "a tail fitted on so few is a guess" in spec["description"]
    assert sum(len(rows) for rows in spec["datasets"].values()) < 300
    many = made.fit_chart(fit_durations([float(k) for k in range(1, 60)]), "own_log", 336.0).to_dict()
    assert "guess" not in many["description"]
    assert many["title"]["text"].startswith("Own log: the ")


def test_a_fitted_record_of_all_kinds() -> None:
    assert set(made.fits_of(study("rural_radial_line"))) == {"storm"}


def comparison(values: bool) -> Any:
    lines = (LossLine("food", 0.4, 60.0), LossLine("pipes", 0.01, 50.0))
    columns = {
        "lost_load_usd_per_year": 110.0,
        "lifetime_cost_usd": 18_000.0,
        "lifetime_cost_with_lost_load_usd": 19_000.0,
    }
    outcome = SimpleNamespace(
        slug="do_nothing", name="Do nothing", columns=columns, lost_load=LostLoad(110.0, lines)
    )
    money = SimpleNamespace(values_lost_load=values, currency="USD")
    return SimpleNamespace(
        study=SimpleNamespace(model=SimpleNamespace(money=money)), outcomes={"do_nothing": outcome}
    )


def test_losses_line_by_line() -> None:
    text = made.loss_table(comparison(True)).text
    assert "food $60; pipes $50" in text
    for part in ("$110", "$18,000", "$19,000"):
        assert part in text
    assert "not valued in this study" in made.loss_table(comparison(False)).text
