"""Sections of the memo: safe text, reasons for empty cells, cautions in their place."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from types import SimpleNamespace

from kit.report import appendix, memo, tables
from kit.report.html_table import Cell, Group, table
from tests.unit.report.fake_comparison import fake_comparison

NASTY = "<script>alert('x')</script> & \"quotes\""


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.seen: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))


def tags(html: str) -> list[tuple[str, dict[str, str | None]]]:
    parser = Tags()
    parser.feed(html)
    return parser.seen


def test_text_of_the_study_is_inert() -> None:
    comparison = fake_comparison(NASTY)
    for outcome in comparison.outcomes.values():
        outcome.name = NASTY
    comparison.verdict.sentences = (NASTY, NASTY, NASTY)
    comparison.findings = (
        SimpleNamespace(code="c", option=None, path=NASTY, text=NASTY, source=NASTY, severity="warning"),
    )
    comparison.assumptions = [
        {"code": "c", "option": None, "path": NASTY, "text": NASTY, "source": None},
    ]
    sections = [
        memo.head, memo.asked, memo.answer, memo.beyond_money, memo.cautions, tables.headline_table,
        tables.full_table, tables.power_table, tables.cost_lines_table, appendix.findings,
        appendix.assumptions, appendix.sources, appendix.reproduce,
    ]  # fmt: skip
    for section in sections:
        shown = section(comparison)
        assert "script" not in {tag for tag, _ in tags(shown.html)}, section.__name__
    assert "&lt;script&gt;" in memo.head(comparison).html
    assert NASTY in memo.head(comparison).text


def test_table_has_real_heads_and_notes_share_a_letter() -> None:
    shown = table(
        "Caption",
        ["", "One"],
        [Group("Group", [["row", Cell("–", "no battery")], ["other", Cell("–", "no battery")]])],
    )
    scopes = [a.get("scope") for t, a in tags(shown.html) if t == "th"]
    assert scopes == ["col", "col", "rowgroup", "row", "row"]
    assert shown.html.count("<li>") == 1
    assert shown.text.count("(a)") == 3  # two cells and the note
    assert "(a) no battery" in shown.text


def test_empty_figures_say_why() -> None:
    text = tables.full_table(fake_comparison()).text
    line = next(row for row in text.splitlines() if row.startswith("Internal rate of return"))
    letter = re.findall(r"– \((\w)\)", line)[1]
    assert f"({letter}) backup is not an investment with income: no year brings money in" in text
    assert "no battery in this option" in text
    assert "doing nothing: does not apply" in text


def test_a_failing_check_is_explained_in_words() -> None:
    shown = tables.power_table(fake_comparison())
    assert "The well pump needs 6.2 kW while it starts" in shown.text
    assert shown.text.count("NO (") == 1


def test_us_and_metric() -> None:
    comparison = fake_comparison()
    assert "23.2\N{NO-BREAK SPACE}gal" in tables.full_table(comparison).text  # 88 L
    comparison.study.model.units = "metric"
    assert "88\N{NO-BREAK SPACE}L" in tables.full_table(comparison).text


def test_life_support_stands_at_the_top() -> None:
    quiet, grave = fake_comparison(), fake_comparison(life_support=True)
    assert "Medical equipment" not in memo.head(quiet).html
    assert "needs a plan of their own" in memo.cautions(quiet).text
    top = memo.head(grave)
    assert "Breathing aid at night" in top.text
    assert "Nothing in this memo is adequate for that" in top.text
    assert "needs a plan of their own" not in memo.cautions(grave).text  # said once, at the top


def test_cautions_fit_the_equipment_and_defer() -> None:
    comparison = fake_comparison()
    text = memo.cautions(comparison).text
    for words in ("outdoors only", "20 ft", "Backfeed", "Battery systems", "licensed person decide"):
        assert words in text
    assert "Grid-tied solar" not in text
    for slug in ("portable_set", "standby_set", "battery_and_set"):
        del comparison.outcomes[slug]
    text = memo.cautions(comparison).text
    assert "Carbon monoxide" not in text
    assert "Battery systems" in text


def test_findings_group_options_and_never_approve() -> None:
    comparison = fake_comparison()
    shown = appendix.findings(comparison).text
    assert shown.index("Stops, D:") < shown.index("Warning, the study:")
    assert "The 30 A inlet" not in shown
    assert "Note, B: The 30 A inlet" in appendix.notes(comparison).text
    assert "never approves" in shown


def test_reproduce_names_versions_but_no_path_or_time() -> None:
    text = appendix.reproduce(fake_comparison()).text
    for words in ("0f" * 32, "pandas", "numpy", "tzdata", "holidays", "Seed"):
        assert words in text
    assert "/" not in text.replace("meter_invented.csv", "")
    assert not re.search(r"\d\d:\d\d", text)
