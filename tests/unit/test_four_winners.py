"""Four invented studies in which, in turn, the generator, the battery, the hybrid and doing nothing win."""

from __future__ import annotations

import pytest

from kit.compare import compare
from kit.shipped import shipped
from kit.study import StudyError, read_study

STUDIES = shipped() / "params/studies"
WINNERS = {
    "farm_house": ("standby", "here the generator wins"),
    "metered_house": ("battery", "here the battery wins"),
    "all_electric_no_roof": ("battery_small_set", "here battery and generator together win"),
    "city_house": ("do_nothing", "doing nothing costs least of all"),
}


@pytest.mark.parametrize("name", WINNERS)
def test_who_wins_and_why(name):
    comparison = compare(read_study(STUDIES / f"{name}.yaml"))
    winner, says = WINNERS[name]
    assert comparison.verdict.winner == winner
    assert says in comparison.verdict.sentences[0]
    rows = {slug: one.columns for slug, one in comparison.outcomes.items()}
    asked = comparison.study.model.asked
    if asked.judged_by == "value":
        costs = {slug: row["lifetime_cost_with_lost_load_usd"] for slug, row in rows.items()}
        worth_usd = costs["do_nothing"] - rows["do_nothing"]["lifetime_cost_usd"]
        # why: all that an outage-free stay could save is less than the cheapest equipment costs
        assert worth_usd < min(row["up_front_usd"] for slug, row in rows.items() if slug != "do_nothing")
    else:
        costs = {slug: row["lifetime_cost_usd"] for slug, row in rows.items() if row["meets_target"]}
        assert rows[winner]["ride_through_frac_asked"] >= asked.chance_frac
        # why: each option that costs less fails the chance that was asked, or may not be built
        cheaper = [
            s for s, row in rows.items() if row["lifetime_cost_usd"] < rows[winner]["lifetime_cost_usd"]
        ]
        assert "do_nothing" in cheaper
        assert not any(rows[slug]["meets_target"] for slug in cheaper)
    assert costs[winner] == min(costs.values())


def test_the_roof_decides_between_hybrid_and_generator():
    """The same house with its roof: the generator with solar wins, so solar was what made it cheap."""
    with_roof = compare(read_study(STUDIES / "all_electric_house.yaml"))
    without = compare(read_study(STUDIES / "all_electric_no_roof.yaml"))
    assert with_roof.verdict.winner == "standby_solar"
    assert without.outcomes["standby_solar"].columns["feasible"] is False
    rows = without.outcomes
    gap = (
        rows["standby"].columns["lifetime_cost_usd"] - rows["battery_small_set"].columns["lifetime_cost_usd"]
    )
    assert gap > 0


def test_value_needs_a_price_of_lost_load():
    with pytest.raises(StudyError, match="judged_by: value needs a price of lost load"):
        read_study(STUDIES / "metered_house.yaml", ["asked.judged_by=value"])
