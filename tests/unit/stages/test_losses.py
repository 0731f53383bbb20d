"""The value of staying on: one way a study, both with and without, and what each option loses."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from kit.account.lost_load import damage_usd
from kit.compare import compare
from kit.grid.known import known_classes
from kit.grid.outages import DurationLaw
from kit.stages.outcome import Comparison
from kit.study import Study, StudyError, read_study

STUDY = Path(__file__).parents[3] / "params" / "studies" / "metered_house.yaml"
PUBLISHED = ["money.lost_load.deflator=1.4", "money.lost_load.deflator_source=an index, invented"]
FOOD = "{name: food, needs_load: refrigerator, after_h: 4, usd: 150}"
PIPES = "{name: pipes, needs_load: refrigerator, after_h: 24, usd: 5000, months: [12, 1, 2]}"
NAMED = [f"money.event_losses=[{FOOD}, {PIPES}]"]
FEW = [
    "options={battery: {battery: {from: ../systems/home_battery.yaml}, "
    "transfer: ../systems/backed_panel.yaml}}"
]


def study(settings: list[str]) -> Study:
    return read_study(STUDY, settings)


@pytest.fixture(scope="module")
def valued() -> dict[str, Comparison]:
    ways = {"nothing": [], "published": PUBLISHED, "named": NAMED, "hour": ["money.lost_load_usd_per_h=10"]}
    return {name: compare(study([*FEW, *settings])) for name, settings in ways.items()}


def cell(made: Comparison, option: str, column: str) -> Any:
    return made.outcomes[option].columns[column]


def test_without_a_value_there_is_only_the_plain_cost(valued: dict[str, Comparison]) -> None:
    made = valued["nothing"]
    assert cell(made, "battery", "lost_load_usd_per_year") is None
    assert cell(made, "battery", "lifetime_cost_with_lost_load_usd") is None
    assert made.outcomes["battery"].reasons["lifetime_cost_with_lost_load_usd"] == "lost load is not priced"


def test_with_a_value_both_costs_are_there(valued: dict[str, Comparison]) -> None:
    plain = valued["nothing"]
    for name in ("published", "named", "hour"):
        for option in ("do_nothing", "battery"):
            made = valued[name]
            without = cell(made, option, "lifetime_cost_usd")
            assert without == pytest.approx(cell(plain, option, "lifetime_cost_usd"))
            years, rate = 12, 0.03
            worth = cell(made, option, "lost_load_usd_per_year") * (1 - (1 + rate) ** -years) / rate
            assert cell(made, option, "lifetime_cost_with_lost_load_usd") == pytest.approx(without + worth)
        lost = [cell(valued[name], o, "lost_load_usd_per_year") for o in ("battery", "do_nothing")]
        assert 0.0 < lost[0] < lost[1]


def test_named_losses_of_doing_nothing_by_hand(valued: dict[str, Comparison]) -> None:
    """Food: every outage of 4 h or more. Pipes: those of 24 h or more that begin in winter."""
    record = study(FEW).model.outages
    food = pipes = 0.0
    for known in known_classes(record).values():
        law = DurationLaw(known.duration, record.horizon_h)
        months = np.array(known.month_weights)
        winter = months[[11, 0, 1]].sum() / months.sum()
        food += known.events_per_year * float(law.lasts_frac(4.0))
        pipes += known.events_per_year * float(law.lasts_frac(24.0)) * winter
    expected = 150 * food + 5000 * pipes
    assert cell(valued["named"], "do_nothing", "lost_load_usd_per_year") == pytest.approx(expected, rel=1e-4)
    text = next(
        f.text for f in valued["named"].findings if f.code == "event_losses" and f.option == "do_nothing"
    )
    assert text.startswith(f"Losses of a year: food {food:.2g} times a year")


def test_published_values_of_doing_nothing_by_summing(valued: dict[str, Comparison]) -> None:
    """Mean damage over even shares of each law, beyond 24 h as 24 h; blinks at the momentary value."""
    record = study(FEW).model.outages
    share = (np.arange(20_000) + 0.5) / 20_000
    expected = record.blinks_per_year * 3.9 * 1.4
    for known in known_classes(record).values():
        hours = DurationLaw(known.duration, record.horizon_h).hours_at(share)
        expected += known.events_per_year * float(damage_usd(np.minimum(hours, 24.0), 1.4).mean())
    made = valued["published"]
    assert cell(made, "do_nothing", "lost_load_usd_per_year") == pytest.approx(expected, rel=2e-3)
    found = next(f for f in made.findings if f.code == "lost_load_beyond_values")
    assert "refused beyond 24 h (printed up to 16 h)" in found.text
    assert "lower bound" in found.text
    assert found.source is not None
    assert found.source.startswith("LBNL-6941E")


@pytest.mark.parametrize(
    ("settings", "text"),
    [
        ([*PUBLISHED, *NAMED], "lost_load and event_losses would count the same loss twice"),
        (["money.lost_load_usd_per_h=10", *NAMED], "lost_load_usd_per_h and event_losses would count"),
        (["money.lost_load.deflator=1.4"], "deflator_source"),
        ([NAMED[0].replace("refrigerator", "refridgerator")], "the house has no such appliance"),
        ([NAMED[0].replace("months: [12", "months: [13")], "must be at most 12"),
    ],
)
def test_values_that_contradict_themselves(settings: list[str], text: str) -> None:
    with pytest.raises(StudyError) as caught:
        study(settings)
    assert text in str(caught.value)


def test_a_loss_hangs_on_a_must_run_load() -> None:
    model = study([]).model
    slug = next(s for s, a in model.house.appliances.items() if a.tier == "can_wait")
    with pytest.raises(StudyError, match=f"{slug} is can_wait"):
        study([NAMED[0].replace("refrigerator", slug)])
