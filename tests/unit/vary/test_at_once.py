"""The figures at once are those of compare(), but for what outages burn and recharge after a move."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.compare import compare
from kit.study import read_study
from kit.vary.at_once import Session

STUDIES = Path(__file__).parents[3] / "params" / "studies"
LATCHED = ("ride_through_frac_asked", "ride_through_frac_72h", "meets_target", "up_front_usd")


@pytest.fixture(scope="module", params=["metered_house.yaml", "farm_house.yaml"])
def session(request: pytest.FixtureRequest) -> Session:
    return Session(read_study(STUDIES / request.param))


def test_at_rest_every_column_is_that_of_compare(session: Session) -> None:
    whole = compare(session.study)
    assert session.whole.to_json() == whole.to_json()
    for slug in session.study.model.options:
        found = session.at_once(slug, [])
        assert found.columns == whole.outcomes[slug].columns, slug
        assert not found.provisional


@pytest.mark.parametrize(
    ("setting", "provisional"),
    [
        ("options.battery.battery.unit_count=2", True),
        ("outages=../outages/wildfire_shutoff.yaml", True),  # follows in clusters, and is forecast
        ("asked.keep_on_h=31", False),
        ("fuels.gasoline.price_usd_per_gal=5", False),
    ],
)
def test_a_move(session: Session, setting: str, provisional: bool) -> None:
    whole = compare(session.study.changed([setting]))
    for slug in ("battery", "portable", "standby"):
        found = session.at_once(slug, [setting])
        expected = whole.outcomes[slug].columns
        assert {c: found.columns[c] for c in LATCHED} == {c: expected[c] for c in LATCHED}, slug
        if slug == "battery" or not provisional:
            assert found.provisional is provisional
        if not found.provisional:
            assert found.columns["lifetime_cost_usd"] == expected["lifetime_cost_usd"]


def test_settling_tells_each_option_and_ends_with_the_comparison(session: Session) -> None:
    setting = ["rate_plan=../rates/rising_blocks.yaml"]
    assert list(session.settle(setting)) == list(session.study.model.options)
    assert session.whole.to_json() == compare(session.study.changed(setting)).to_json()
    assert not session.at_once("battery", setting).provisional
    assert session.at_once("battery", []).provisional
