"""Strict YAML: scalars by the core schema of YAML 1.2, and everything that is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.study.problems import Problem
from kit.study.yaml_text import Node, parse, read_tree, scalar

FILE = Path("/nowhere/x.yaml")


def plain(node: Node | None) -> Any:
    assert node is not None
    if isinstance(node.value, dict):
        return {key: plain(member) for key, member in node.value.items()}
    if isinstance(node.value, list):
        return [plain(item) for item in node.value]
    return node.value


def problems_of(text: str) -> list[Problem]:
    found: list[Problem] = []
    parse(text, FILE, found)
    return found


@pytest.mark.parametrize(
    ("text", "value"),
    [
        # YAML 1.2, section 10.3.2, example of core tag resolution; from memory
        ("null", None),
        ("", None),
        ("true", True),
        ("True", True),
        ("false", False),
        ("FALSE", False),
        ("0", 0),
        ("0o7", 7),
        ("0x3A", 58),
        ("-19", -19),
        ("0.", 0.0),
        ("-0.0", 0.0),
        (".5", 0.5),
        ("+12e03", 12000.0),
        ("-2E+05", -200000.0),
        # what YAML 1.1 guesses at and 1.2 leaves as text
        ("yes", "yes"),
        ("NO", "NO"),
        ("on", "on"),
        ("16:00", "16:00"),
        ("21:30:15", "21:30:15"),
        ("2026-03-01", "2026-03-01"),
        ("1_000", "1_000"),
        ("0b11", "0b11"),
        ("1e3", 1000.0),
        # our narrowing: a leading zero stays
        ("02134", "02134"),
        ("08540", "08540"),
        ("01.5", "01.5"),
        ("nan", "nan"),
    ],
)
def test_scalar(text: str, value: object) -> None:
    assert scalar(text) == value
    assert type(scalar(text)) is type(value)


@pytest.mark.parametrize("text", [".nan", ".NAN", ".inf", "-.Inf", "+.INF", "1e999", "9" * 5000])
def test_numbers_that_are_not_finite_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="must be a"):
        scalar(text)
    found = problems_of(f"a: 1\nb: {text}\n")
    assert [(p.line, p.path) for p in found] == [(2, "b")]


@given(st.integers(-(10**15), 10**15))
def test_integers_come_back(number: int) -> None:
    assert scalar(str(number)) == number


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_floats_come_back(number: float) -> None:
    assert scalar(repr(number)) == number


def test_quoted_text_stays_text() -> None:
    tree = parse("a: '5'\nb: \"true\"\nc: |\n  7\nd: 5\n", FILE, [])
    assert plain(tree) == {"a": "5", "b": "true", "c": "7\n", "d": 5}


def test_a_member_has_the_place_of_its_key() -> None:
    tree = parse("a:\n  bb: 1\n  cc: [2, 3]\n", FILE, [])
    assert tree is not None
    inner = tree.value["a"].value
    assert inner["cc"].place == (FILE, 3, 3)
    assert inner["cc"].value[1].place == (FILE, 3, 11)


@pytest.mark.parametrize(
    ("text", "line", "rule"),
    [
        ("a: 1\nb: 2\na: 3\n", 3, "is given twice, first on line 1"),
        ("a: &x 1\nb: *x\n", 1, "anchors and aliases are not used here (got &x)"),
        ("<<: {a: 1}\n", 1, "merge keys are not used here"),
        ("a: !!str 5\n", 1, "tags are not used here"),
        ("a: !!python/object:os.system x\n", 1, "tags are not used here"),
        ("1: a\n", 1, "a key must be text"),
        ("true: a\n", 1, "a key must be text"),
        ("? [a, b]\n: c\n", 1, "a key must be text"),
        ("a: 1\n---\nb: 2\n", 2, "a file holds one document"),
        ("", 1, "the file is empty"),
        ("# only a remark\n", 1, "the file is empty"),
        ("a:\n\tb: 1\n", 2, "not YAML"),
        ("a: [1, 2\nb: 3\n", 2, "not YAML"),
        ("a: 'open\nb: 1\n", 3, "not YAML"),
        ("a: 1\nb: \x07\n", 2, "not YAML"),
        ("[" * 5000, 1, "not YAML"),
        ("[" * 200 + "]" * 200, 1, "is nested deeper"),
    ],
)
def test_refused(text: str, line: int, rule: str) -> None:
    found = problems_of(text)
    assert found
    assert found[0].line == line
    assert found[0].rule.startswith(rule)


def test_a_tab_gets_its_hint() -> None:
    assert problems_of("a:\n\tb: 1\n")[0].hint == "Indent with spaces, not tabs."


def test_several_problems_of_one_text() -> None:
    assert [p.path for p in problems_of("a: 1\na: 2\nb: .nan\n")] == ["a", "b"]


def test_files_that_are_no_text(tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    file.write_bytes(b"a: 1\nb: \xff\n")
    found: list[Problem] = []
    assert read_tree(file, found) is None
    assert (found[0].line, found[0].rule) == (2, "is not UTF-8 text")
    assert read_tree(tmp_path, found) is None
    assert found[1].rule == "is not a file"


def test_windows_files_are_read(tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    file.write_bytes(b"\xef\xbb\xbfa: 1\r\nb: 2\r\n")
    assert plain(read_tree(file, [])) == {"a": 1, "b": 2}


@given(st.text(max_size=60))
def test_any_text_gives_a_tree_or_a_problem(text: str) -> None:
    found: list[Problem] = []
    tree = parse(text, FILE, found)
    assert (tree is None) <= bool(found)
