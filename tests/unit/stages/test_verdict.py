"""The answer's sentences, read whole: who wins, who comes nearest, and nothing that is not so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kit.compare import Comparison
from tests.unit.stages.small_study import OPTIONS, STANDBY, SWITCH, compared, study_text

MONEY = r"USD [\d,]+(\.\d\d)?"


def lifetime(c: Comparison, slug: str) -> float:
    value = c.outcomes[slug].columns["lifetime_cost_usd"]
    assert isinstance(value, float)
    return value


def reads(sentence: str) -> None:
    """A sentence: begins with a capital, ends with one full stop, no doubled words, no bare figures."""
    assert sentence[0].isupper(), sentence
    assert sentence.endswith("."), sentence
    assert not sentence.endswith(".."), sentence
    assert not re.search(r"\b(\w+) \1\b", sentence), sentence
    assert "  " not in sentence, sentence
    assert "None" not in sentence, sentence
    assert "nan" not in sentence, sentence


def test_generator_wins(tmp_path: Path) -> None:
    c = compared(tmp_path, ("chance_frac: 0.8", "chance_frac: 0.5"), text=study_text(("portable", "battery")))
    assert c.verdict.winner == "portable"
    assert c.verdict.meets == ("portable", "battery")
    first, second, third = c.verdict.sentences
    assert re.fullmatch(
        r"Of the 2 options compared, Portable set is the cheapest that keeps the must-run loads on for 8 h "
        r"with a chance of 50% or better \(7\d(\.\d)?%\): here the generator wins\.",
        first,
    )
    assert re.fullmatch(
        rf"Over 10 years it costs {MONEY} a year more than doing nothing \(real 2026 money\) and keeps the "
        rf"must-run loads on for \d\.\d h a year that would be dark; doing nothing is cheaper unless such an "
        rf"hour is worth more than {MONEY}\.",
        second,
    )
    assert re.fullmatch(
        rf"It adds [\d,]+ kg of CO2e a year; the next that meets it, Battery, "
        rf"costs {MONEY} more over its life\.",
        third,
    )
    gap = lifetime(c, "battery") - lifetime(c, "portable")
    assert f"USD {gap:,.0f} more over its life" in third
    assert f"Battery would win if it cost USD {gap:,.0f} less up front (now USD 11,000)." in c.verdict.flips
    for sentence in (*c.verdict.sentences, *c.verdict.flips):
        reads(sentence)


def test_the_price_that_flips_the_answer_does(tmp_path: Path) -> None:
    """Take the gap off the battery's price, and a dollar more: the battery wins."""
    easy = ("chance_frac: 0.8", "chance_frac: 0.5")
    text = study_text(("portable", "battery"))
    c = compared(tmp_path, easy, text=text)
    gap = lifetime(c, "battery") - lifetime(c, "portable")
    for more, winner in ((-1.0, "portable"), (1.0, "battery")):
        setting = f"options.battery.battery.cost.incentive_usd={gap + more:.6f}"
        assert compared(tmp_path, easy, text=text, set_values=[setting]).verdict.winner == winner


def test_battery_wins(tmp_path: Path) -> None:
    c = compared(tmp_path, text=study_text(("portable", "battery")))
    assert c.verdict.winner == "battery"
    assert c.verdict.sentences[0].endswith(": here the battery wins.")
    assert c.verdict.sentences[2].endswith("; no other option meets what was asked.")
    chance = c.outcomes["portable"].columns["ride_through_frac_asked"]
    (flip,) = [text for text in c.verdict.flips if "Portable" in text]
    said = re.search(r"a chance of ([\d.]+)% were enough for 8 h", flip)
    assert said is not None
    assert float(said[1]) / 100 <= float(chance or 0) < float(said[1]) / 100 + 0.001


@pytest.mark.parametrize(
    ("slugs", "words"),
    [
        (("standby_solar",), "here the generator with solar wins"),
        (("battery_solar",), "here the battery with solar wins"),
    ],
)
def test_what_wins_is_named(tmp_path: Path, slugs: tuple[str, ...], words: str) -> None:
    assert words in compared(tmp_path, text=study_text(slugs)).verdict.sentences[0]


def test_nothing_meets(tmp_path: Path) -> None:
    c = compared(
        tmp_path,
        ("keep_on_h: 8, chance_frac: 0.8", "keep_on_h: 72, chance_frac: 0.99"),
        text=study_text(("portable", "battery")),
    )
    assert c.verdict.winner is None
    assert c.verdict.meets == ()
    first, second, third = c.verdict.sentences
    assert first == "No option keeps the must-run loads on for 72 h with a chance of 99% or better."
    assert re.fullmatch(
        rf"Portable set comes nearest, with [\d.]+%; it costs {MONEY} a year more than doing nothing\.",
        second,
    )
    assert third == "Doing nothing has the lowest lifetime cost of all."
    assert re.fullmatch(
        r"Portable set would meet it if a chance of [\d.]+% were enough\.", c.verdict.flips[0]
    )


@pytest.mark.parametrize(("frac", "text"), [("0.975", "97.5%"), ("0.99", "99%")])
def test_what_was_asked_is_said_as_it_was_asked(tmp_path: Path, frac: str, text: str) -> None:
    hard = ("keep_on_h: 8, chance_frac: 0.8", f"keep_on_h: 72, chance_frac: {frac}")
    said = compared(tmp_path, hard, text=study_text(("portable",))).verdict.sentences[0]
    assert said.endswith(f"with a chance of {text} or better.")


def test_the_chance_that_would_do_does(tmp_path: Path) -> None:
    hard = ("keep_on_h: 8, chance_frac: 0.8", "keep_on_h: 72, chance_frac: 0.99")
    text = study_text(("portable",))
    (flip,) = compared(tmp_path, hard, text=text).verdict.flips
    said = re.search(r"a chance of ([\d.]+)%", flip)
    assert said is not None
    enough = f"asked.chance_frac={float(said[1]) / 100:.6f}"
    assert compared(tmp_path, hard, text=text, set_values=[enough]).verdict.winner == "portable"


def test_solar_alone_may_be_cheaper_than_nothing(tmp_path: Path) -> None:
    """No option gives power long enough; the cheapest is then read from the costs, not taken for granted."""
    c = compared(
        tmp_path,
        text=study_text(("solar_only", "portable")),
        set_values=[
            "options.portable.generator.running_kw=0.5",
            "options.portable.generator.starting_kw=0.5",
        ],
    )
    assert c.verdict.winner is None
    assert lifetime(c, "solar_only") < lifetime(c, "do_nothing")
    assert c.verdict.sentences[2] == "Solar only has the lowest lifetime cost of all."
    assert "the power and start check says why" in c.verdict.sentences[1]


def test_a_budget_that_nothing_fits(tmp_path: Path) -> None:
    c = compared(
        tmp_path, text=study_text(("portable", "battery", "standby")), set_values=["asked.budget_usd=2500"]
    )
    assert c.verdict.winner is None
    assert c.verdict.meets == ("battery", "standby")
    first, second, _ = c.verdict.sentences
    assert first.endswith("with a chance of 80% or better within the budget of USD 2,500.")
    assert second.startswith("Standby set is the least dear to buy that would do it, at USD 10,000 up front;")
    assert c.verdict.flips == ("Standby set would meet it with a budget of USD 10,000.",)


def test_a_budget_narrows_the_field(tmp_path: Path) -> None:
    text = study_text(("battery", "standby_solar"))
    assert compared(tmp_path, text=text).verdict.winner == "standby_solar"
    c = compared(tmp_path, text=text, set_values=["asked.budget_usd=12000"])
    assert c.verdict.winner == "battery"
    assert c.verdict.sentences[2].endswith(
        "; no other option meets what was asked within the budget of USD 12,000."
    )
    assert "Standby set with solar would win with a budget of USD 19,000." in c.verdict.flips


def test_life_support_is_never_met(tmp_path: Path) -> None:
    c = compared(
        tmp_path,
        ("refrigerator: {", "refrigerator: {life_support: true, "),
        text=study_text(("battery", "standby")),
    )
    assert c.verdict.winner is None
    assert not any(o.columns["meets_target"] for o in c.outcomes.values())
    said = " ".join((*c.verdict.sentences, *c.verdict.flips))
    assert c.verdict.sentences[0].startswith("A load on the list keeps someone alive")
    for word in ("would meet", "would do", "is adequate", "cheapest that keeps", "comes nearest"):
        assert word not in said
    assert any(f.code == "life_support" for f in c.findings)


def test_an_option_that_pays_for_itself_is_not_told_to_be_worth_an_hour(tmp_path: Path) -> None:
    free = ("battery.cost.price_usd", "battery.cost.install_usd", "transfer.cost.price_usd")
    settings = [f"options.battery.{path}=0" for path in free]
    c = compared(tmp_path, text=study_text(("battery",)), set_values=settings)
    second = c.verdict.sentences[1]
    assert "it saves USD" in second
    assert "a year against doing nothing" in second
    assert "worth more than" not in second
    assert not any("Doing nothing would win" in text for text in c.verdict.flips)


def test_free_of_charge_and_still_dearer(tmp_path: Path) -> None:
    """A set given away whose upkeep costs more than the winner's whole life cannot win by its price."""
    dear = STANDBY.replace("price_usd: 240", "price_usd: 3000").replace("price_usd: 8500", "price_usd: 10")
    free = {"name": "Gift", "generator": dear, "transfer": SWITCH.replace("price_usd: 1500", "price_usd: 0")}
    c = compared(tmp_path, text=study_text(("battery",), gift=free))
    assert c.verdict.winner == "battery"
    assert re.fullmatch(
        rf"Gift would not win at any price: it costs {MONEY} more over its life\.", c.verdict.flips[0]
    )


def test_an_option_without_a_name_is_called_by_its_slug(tmp_path: Path) -> None:
    unnamed = {part: value for part, value in OPTIONS["battery"].items() if part != "name"}
    c = compared(tmp_path, text=study_text((), big_pack=unnamed))
    assert c.verdict.sentences[0].startswith("Big pack keeps the must-run loads on for 8 h with a chance of")
    reads(c.verdict.sentences[0])
