"""The rules of the sentence: ties, shares, turns, and never more than the draws support."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from kit.vary.ranges import Range, printed
from kit.vary.said import hundredths, nearest_turns, said

SLUGS = ("do_nothing", "set", "pack")
NAMES = {"do_nothing": "Do nothing", "set": "Generator", "pack": "Battery"}
COLUMNS = ["lever", "name", "unit", "likely", "low", "high", "value", "below", "above"]
NOWHERE = [("outage_hours", "outage hours a year", "h", 30.0, 1.0, 180.0, None, None, None)]


def drawn(wins, chosen="set", judged_by="target", checks=None, ranges=()):
    """Draws in which each slug (or nobody, -1) wins so often."""
    winner = np.concatenate([np.full(count, place) for place, count in wins.items()])
    asked = SimpleNamespace(judged_by=judged_by, stay_years=20)
    model = SimpleNamespace(asked=asked, units="us", money=SimpleNamespace(currency="USD"))
    ground = SimpleNamespace(
        study=SimpleNamespace(model=model),
        ranges=ranges,
        standing=lambda: SimpleNamespace(winner_slugs=lambda: [chosen]),
    )
    standing = SimpleNamespace(slugs=SLUGS, winner=winner)
    empty = pd.DataFrame(columns=["draw", "winner_same"])
    return SimpleNamespace(
        ground=ground, standing=standing, count=winner.size, checks=empty if checks is None else checks
    )


def table(rows):
    return pd.DataFrame(rows, columns=COLUMNS)


def test_a_clear_lead():
    text = said(drawn({1: 415, 2: 85}), table(NOWHERE), NAMES)
    assert text[0] == (
        "In 83 of 100 draws Generator is the cheapest that meets what was asked over 20 years "
        "(500 draws, standard error 2 in 100); in 17, Battery."
    )
    assert text[1] == "By itself no number searched turns it: outage hours a year."


def test_a_tie_is_called_one():
    text = said(drawn({1: 260, 2: 240}), table(NOWHERE), NAMES)[0]
    assert text.startswith("Too close to call: in 52 of 100 draws Generator is the cheapest")
    assert "in 48 Battery is" in text


def test_two_errors_decide_a_tie():
    """Of 500 draws 0.545 to 0.455 is a lead of 0.09, its error sqrt(1 - 0.0081) / sqrt(500) = 0.0445."""
    assert said(drawn({1: 272, 2: 228}), table(NOWHERE), NAMES)[0].startswith("Too close")
    assert said(drawn({1: 273, 2: 227}), table(NOWHERE), NAMES)[0].startswith("In 5")


def test_all_draws_are_told_by_their_number():
    text = said(drawn({1: 512}), table(NOWHERE), NAMES)[0]
    assert text == "In all 512 draws Generator is the cheapest that meets what was asked over 20 years."


@pytest.mark.parametrize(
    ("share", "says"), [(0.999, 99), (0.836, 83), (0.5, 50), (0.172, 18), (0.0001, 1), (0.83, 83), (0.17, 17)]
)
def test_shares_are_rounded_towards_a_half(share, says):
    assert hundredths(share) == says


def test_few_draws_against_are_named():
    assert "; in fewer than 1, Battery." in said(drawn({1: 511, 2: 1}), table(NOWHERE), NAMES)[0]


def test_nobody_can_lead():
    text = said(drawn({-1: 400, 1: 112}), table(NOWHERE), NAMES)
    assert text[0] == "At likely values Generator is chosen, but over the draws no option more often."
    assert "draws no option meets what was asked over" in text[1]


def test_another_leader_than_the_chosen_is_said_first():
    text = said(drawn({2: 400, 1: 112}), table(NOWHERE), NAMES)
    assert text[0] == "At likely values Generator is chosen, but over the draws Battery more often."


def test_by_value_says_so():
    text = said(drawn({0: 512}, "do_nothing", "value"), table(NOWHERE), NAMES)[0]
    assert text == "In all 512 draws doing nothing costs least, lost load counted over 20 years."


def test_turns_in_words():
    rows = table(
        [
            ("outage_hours", "outage hours a year", "h", 30.0, 1.0, 180.0, 61.2, "set", "pack"),
            ("p", "10 kWh unit: price", "usd", 7200.0, 0.0, 2e4, 5900.0, "pack", "set"),
            ("stay_years", "years in the house", "years", 20.0, 1.0, 40.0, 31.0, "set", None),
        ]
    )
    assert said(drawn({1: 415, 2: 85}), rows, NAMES)[1] == (
        "By itself, with all else likely, it turns if the price of 10 kWh unit falls under USD 5,900 "
        "(then Battery), or if the stay is at least 31 years (then no option meets it), or if outages exceed "
        "61.2 h a year (then Battery)."
    )


def test_turns_that_are_not_told_are_counted():
    prices = [
        (f"p{k}", f"unit {k}: price", "usd", 7200.0, 0.0, 2e4, 7000.0 - 500.0 * k, "pack", "set")
        for k in range(5)
    ]
    assert said(drawn({1: 500}), table(prices), NAMES)[1].endswith(
        "(then Battery), and at 2 more values, in the memo under 'What would turn the answer'."
    )
    assert said(drawn({1: 500}), table(prices[:4]), NAMES)[1].endswith(
        ", and at 1 more value, in the memo under 'What would turn the answer'."
    )


def test_turns_inside_a_range_come_first_and_each_side_once():
    own = Range("x", ("p",), 5000.0, 7200.0, 9000.0, None, "money")
    rows = table(
        [
            ("near", "a", "usd", 10.0, 0.0, 20.0, 10.1, "set", "pack"),
            ("p", "b", "usd", 7200.0, 0.0, 2e4, 5100.0, "pack", "set"),
            ("p", "b", "usd", 7200.0, 0.0, 2e4, 2000.0, "set", "pack"),
            ("p", "b", "usd", 7200.0, 0.0, 2e4, 15000.0, "set", "pack"),
        ]
    )
    told = nearest_turns(drawn({1: 5}, ranges=(own,)), rows)
    assert [row["value"] for row in told] == [5100.0, 10.1, 15000.0]


def test_checks_that_disagree_are_said():
    checks = pd.DataFrame({"draw": [0, 0, 1, 1], "winner_same": [True, True, False, False]})
    text = said(drawn({1: 415, 2: 85}, checks=checks), table(NOWHERE), NAMES)
    assert text[-1].startswith("Exact joint runs chose otherwise than the draws in 1 of 2 checked draws")


@pytest.mark.parametrize(
    ("value", "unit", "says"),
    [
        (1.0, "usd_per_l", "USD 3.79 per gal"),
        (0.03, "frac", "3%"),
        (0.301, "usd_per_kwh", "USD 0.30 per kWh"),
        (7200.0, "usd", "USD 7,200"),
        (1.979, "per_year", "1.98 a year"),
        (1.0, "years", "1 year"),
        (0.35, "kg_per_kwh", "0.35 kg per kWh"),
    ],
)
def test_values_in_words(value, unit, says):
    assert printed(value, unit, True, "USD") == says
