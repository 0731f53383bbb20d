"""Sections on a year of outages, fuel, care, reserve and foresight: the sentences are computed."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from kit.report import care, expected, foresight, reserve, tables
from kit.report.formats import digits_apart, figure
from kit.report.theme import looks
from tests.unit.report.fake_comparison import fake_comparison, fake_frontier, fake_neglected

NB = "\N{NO-BREAK SPACE}"


def test_an_expected_year_names_the_event_of_the_longest_stretch() -> None:
    text = expected.expected_year(fake_comparison()).text
    assert f"The grid is down for 6.1{NB}h in an expected year" in text
    assert f"Longest stretch off in a 36{NB}h outage" in text
    assert f"88{NB}L" not in text
    assert f"23.2{NB}gal" in text


def test_fuel_that_does_not_last_is_marked_and_said() -> None:
    comparison = fake_comparison()  # 75 L on hand; B takes 26, 78, 182 L, C 45, 134, 310, E 14, 43, 101
    shown = expected.fuel_on_hand(comparison)
    assert f"does not last for B, C in an outage of 72{NB}h; B, C, E in an outage of 168{NB}h." in shown.text
    assert shown.html.count('class="no"') == 5


def test_a_limit_on_fuel_is_told_beside_the_fuel() -> None:
    comparison = fake_comparison()
    limit = "400 L of gasoline on site is above 95 L. Local code and a licensed person decide."
    found = SimpleNamespace(
        code="fuel_on_site", option="portable_set", path=None, text=limit, source=None, severity="warning"
    )
    assert limit not in expected.fuel_on_hand(comparison).text
    comparison.findings = (*comparison.findings, found)
    assert f"B: {limit}" in expected.fuel_on_hand(comparison).text


def test_poor_care_says_who_stops_meeting_what_was_asked() -> None:
    comparison, frame = fake_comparison(), fake_neglected()
    said = "If nobody services the generator: {}."
    assert care.neglect_sentence(comparison, frame) == said.format(
        "B and C no longer meet what was asked; E still meets it"
    )
    frame["meets_target"] = True
    assert care.neglect_sentence(comparison, frame) == said.format("B, C and E still meet what was asked")
    frame["meets_target"] = False
    assert care.neglect_sentence(comparison, frame) == said.format(
        "B, C and E do not meet what was asked either way"
    )
    assert care.neglect_table(comparison, frame[:0]).text == "No option has a generator."


def test_the_reserve_in_words_and_rows() -> None:
    comparison, frame = fake_comparison(), fake_frontier()
    text = reserve.reserve_table(comparison, frame).text
    # 131 - 190 * 0.75 = -11.5; the day moves most: 0.6 to 0.98
    assert "with no reserve the battery saves $131 a year, with a full one it costs $12" in text
    assert "the chance to last 24 h goes from 60% to 98%." in text
    assert "40%, as studied" in text
    assert "no reserve to set" in reserve.reserve_table(comparison, frame[:0]).text


def test_foresight_is_the_claim_plus_what_it_adds() -> None:
    comparison = fake_comparison()
    text = foresight.foresight_limit(comparison).text
    for words in ("$118", "$150", "$31", "Best for the prices it saw."):  # 118.2 + 31.4 = 149.6
        assert words in text
    levels = foresight.foresight_levels(comparison).text
    for words in ("$0.128 per kWh", "6,307", "90%", "does not serve", "not filled", "55%"):
        assert words in levels


@pytest.mark.parametrize(
    ("need", "have", "texts"),
    [
        (8.04, 7.96, ("8.04", "7.96")),
        (8.0, 8.0, ("8", "8")),
        (2.045, 5.0, ("2", "5")),
        (250.2, 250.4, ("250.2", "250.4")),
    ],
)
def test_two_figures_that_differ_never_print_alike(need: float, have: float, texts: tuple[str, str]) -> None:
    more = digits_apart(need, have)
    assert (figure(need, "", more=more), figure(have, "", more=more)) == texts


def test_every_option_has_a_look_of_its_own() -> None:
    comparison = fake_comparison()
    one = comparison.outcomes["portable_set"]
    comparison.outcomes = {"do_nothing": comparison.outcomes["do_nothing"]} | {
        f"o{i}": SimpleNamespace(**{**vars(one), "slug": f"o{i}"}) for i in range(30)
    }
    combinations = {(x.colour, x.dash, x.shape) for x in looks(comparison)}
    assert len(combinations) == 31


def test_many_options_become_rows_and_blocks() -> None:
    comparison = fake_comparison()
    one = comparison.outcomes["portable_set"]
    comparison.outcomes |= {f"o{i}": SimpleNamespace(**{**vars(one), "slug": f"o{i}"}) for i in range(6)}
    comparison.summary = fake_comparison().summary
    head = tables.headline_table(comparison)
    assert head.html.count("<tr>") == 12  # the heads, and a row an option
    assert "Cost a year" in head.text
    whole = tables.full_table(comparison)
    assert [letters in whole.text for letters in ("All figures: A to F", "All figures: G to K")] == [
        True,
        True,
    ]
