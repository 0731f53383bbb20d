"""How a published check is run and shown, with checks made up for the purpose."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest

from kit.report.check_tables import (
    check_summary,
    check_tables,
    decimals,
    differing,
    not_checked,
    notes_from_memory,
    summary_line,
)
from kit.report.checks import NO_CLONE, Check, Published, Value, difference, published_checks, run_check


def a_check(expected: Value, ours: Value, within: float = 0.05, relative: bool = False) -> Check:
    return Check(
        "Subject",
        "a figure",
        "kWh",
        "a handbook, table 1",
        "memory",
        expected,
        within,
        "half of the last digit",
        lambda: ours,
        "made_up.CASES",
        relative,
    )


@pytest.mark.parametrize(
    ("ours", "expected", "apart"),
    [
        (1.25, 1.0, 0.25),
        (0.75, 1.0, -0.25),
        (5.0, (1.0, 6.0), 0.0),
        (7.0, (1.0, 6.0), 1.0),
        (0.5, (1.0, 6.0), -0.5),
        ((1.0, 6.0), 5.0, 0.0),
        ((1.0, 6.0), 7.0, -1.0),
        ((1.0, 6.0), 0.0, 1.0),
        ("a", "a", 0.0),
        ("a", "b", math.inf),
        (1.0, "1", math.inf),
    ],
)
def test_difference(ours: Value, expected: Value, apart: float) -> None:
    assert difference(ours, expected) == apart


def test_two_ranges_do_not_agree_by_touching() -> None:
    found = run_check(a_check((1.0, 2.0), (2.0, 9.0)))
    assert not found.agrees
    assert "one side of a check may be a range" in found.stopped


def test_the_edge_of_what_is_allowed() -> None:
    assert run_check(a_check(1.0, 1.5, 0.5)).agrees
    assert not run_check(a_check(1.0, 1.5000001, 0.5)).agrees
    assert run_check(a_check(200.0, 201.0, 0.005, relative=True)).agrees
    assert not run_check(a_check(200.0, 201.1, 0.005, relative=True)).agrees
    assert run_check(a_check(-200.0, -201.0, 0.005, relative=True)).agrees
    assert not run_check(a_check(1.0, math.nan, 1e9)).agrees
    assert not run_check(a_check(1.0, math.inf, 1e9)).agrees


def stops() -> float:
    raise ZeroDivisionError("nothing to divide by")


def test_a_computation_that_stops_is_a_row_that_differs() -> None:
    check = a_check(1.0, 1.0)
    object.__setattr__(check, "compute", stops)
    published = Published((run_check(check), run_check(a_check(2.0, 2.04))))
    assert summary_line(published) == "1 of 2 agree; 2 from memory."
    told = differing(published).text
    assert "ZeroDivisionError: nothing to divide by" in told
    assert "2.04" not in told
    assert "2.040" in check_tables(published).text
    assert "Subject: 1 of 2 agree" in check_tables(published).text


def test_a_row_shows_both_values_and_how_far_they_are_apart() -> None:
    text = check_tables(Published((run_check(a_check(1234.5, 1234.61, 0.05)),))).text
    row = next(line for line in text.splitlines() if line.startswith("a figure"))
    assert row.split() == ["a", "figure", "kWh", "1,234.5", "1,234.610", "+0.110", "0.05", "(a)", "DIFFERS"]
    assert "a handbook, table 1 [from memory]" in text
    assert "(a) half of the last digit" in text


def test_digits_follow_what_is_allowed() -> None:
    assert decimals(a_check(1.0, 1.0, 0.05)) == 3
    assert decimals(a_check(500_000.0, 1.0, 0.5)) == 2
    assert decimals(a_check(500_000.0, 1.0, 1e-9)) == 4  # ten digits in all
    assert decimals(a_check(8.0, 8.0, 0.0)) == 0


@pytest.mark.parametrize("field", ["subject", "name", "source", "why", "case_list"])
def test_a_check_without_its_source_is_refused(field: str) -> None:
    given = {k: getattr(a_check(1.0, 1.0), k) for k in Check.__dataclass_fields__}
    with pytest.raises(ValueError, match="needs subject, name, source"):
        Check(**{**given, field: ""})


def test_outside_a_clone_one_sentence_says_so(tmp_path: Path) -> None:
    found = published_checks(clone=tmp_path)
    assert found == Published((), (), NO_CLONE)
    for shown in (not_checked, check_summary, differing, check_tables):
        assert shown(found).text == NO_CLONE
    assert NO_CLONE.count(".") == NO_CLONE.count("tests/published of a clone")  # one sentence


def test_an_unknown_subject_names_those_there_are() -> None:
    with pytest.raises(
        ValueError, match=r"no subject 'Cheese'; there are House: meter files, .*Random numbers"
    ):
        published_checks("Cheese")


def test_one_subject_alone() -> None:
    before = list(sys.path)
    found = published_checks("Random numbers")
    assert sys.path == before
    assert summary_line(found) == "3 of 3 agree; 3 from memory."


def test_notes_of_sources_leave_descriptions_out(tmp_path: Path) -> None:
    folder = tmp_path / "kit"
    folder.mkdir()
    (folder / "one.py").write_text(
        '"""A rule, from memory."""\n\nX = "rule 7 (from memory)"\nY = 2  # also from memory\n'
    )
    (folder / "two.py").write_text('"""All of it from memory."""\n')
    (folder / "three.py").write_text("Z = 1\n")
    assert list(notes_from_memory(folder)) == [
        "kit/one.py: rule 7 (from memory); also from memory",
        "kit/two.py: in its description",
    ]
