"""Files, functions and names keep to the project's few rules of writing."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from tests.contract.sources import KIT_FILES, ROOT, label, tracked_files, tree

FILE_LINES = 320
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "kit", "notebooks", "params", "tests"}
VAGUE = {"utils", "util", "helpers", "helper", "common", "misc", "manager", "base"}
UNDONE = re.compile("|".join([r"\bTO" + "DO", r"\bFIX" + "ME", r"\bXX" + r"X\b", "NotImplemented" + "Error"]))


def names_made(path: Path) -> Iterator[tuple[int, str]]:
    """Every name a file defines: functions, classes, arguments, variables, fields."""
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            yield node.lineno, node.name
        elif isinstance(node, ast.arg):
            yield node.lineno, node.arg
        elif isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Store):
            yield node.lineno, node.id if isinstance(node, ast.Name) else node.attr


def words(name: str) -> set[str]:
    """`pv_kw` -> {pv, kw}; `SunPath` -> {sun, path}."""
    return {w.lower() for w in re.findall(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])", name)}


def test_a_file_stays_short() -> None:
    line_count = {label(p): len(p.read_text(encoding="utf-8").splitlines()) for p in KIT_FILES}
    assert {name: count for name, count in line_count.items() if count > FILE_LINES} == {}


def test_public_things_have_a_docstring() -> None:
    bare = []
    for path in KIT_FILES:
        module = tree(path)
        if module.body and not ast.get_docstring(module):
            bare.append(f"{label(path)}: the file itself")
        bare += [
            f"{label(path)}:{node.lineno}: {node.name}"
            for node in module.body
            if isinstance(node, ast.FunctionDef | ast.ClassDef)
            and not node.name.startswith("_")
            and not ast.get_docstring(node)
        ]
    assert bare == []


def test_names_say_solar() -> None:
    wrong = [
        f"{label(path)}:{line}: {name}"
        for path in KIT_FILES
        for line, name in names_made(path)
        if words(name) & {"sun", "pv"}
    ]
    assert wrong == []


def test_the_name_scan_sees_them() -> None:
    assert words("pv_kw") == {"pv", "kw"}
    assert words("SunPath") == {"sun", "path"}
    assert words("pvlib_year") == {"pvlib", "year"}
    assert words("PV") == {"pv"}


def test_parameter_keys_say_solar() -> None:
    for path in sorted((ROOT / "params").rglob("*.yaml")):
        for key in re.findall(r"^\s*([A-Za-z_]\w*):", path.read_text(encoding="utf-8"), re.MULTILINE):
            assert not words(key) & {"sun", "pv"}, f"{label(path)}: {key}"


def test_no_vague_module_names() -> None:
    assert [label(p) for p in KIT_FILES if VAGUE & set(p.relative_to(ROOT).with_suffix("").parts)] == []


def does_nothing(node: ast.FunctionDef) -> bool:
    """A body of a docstring, `pass` or `...` only (a member of a Protocol is meant so)."""
    body = node.body[1:] if ast.get_docstring(node) else node.body
    return all(isinstance(s, ast.Pass) or ast.unparse(s) == "..." for s in body)


def test_nothing_is_left_undone() -> None:
    found = []
    for path in KIT_FILES:
        found += [f"{label(path)}: {mark}" for mark in UNDONE.findall(path.read_text(encoding="utf-8"))]
        protocols = [
            node
            for node in ast.walk(tree(path))
            if isinstance(node, ast.ClassDef)
            and any(ast.unparse(b).startswith("Protocol") for b in node.bases)
        ]
        meant = {id(member) for node in protocols for member in node.body}
        found += [
            f"{label(path)}:{node.lineno}: {node.name} does nothing"
            for node in ast.walk(tree(path))
            if isinstance(node, ast.FunctionDef)
            and id(node) not in meant
            and does_nothing(node)
            and not any("group" in ast.unparse(d) for d in node.decorator_list)  # a command's commands
        ]
    assert found == []


def test_the_scan_sees_an_empty_function() -> None:
    bodies = ['"""Words."""', "pass", "...", "return 1"]
    functions = [ast.parse(f"def f():\n    {body}\n").body[0] for body in bodies]
    assert [does_nothing(f) for f in functions if isinstance(f, ast.FunctionDef)] == [True, True, True, False]
    assert UNDONE.search("# TO" + "DO: later")


def test_top_level_entries() -> None:
    found = {name.split("/")[0] for name in tracked_files()}
    assert {name for name in found if not name.startswith(".")} == TOP_LEVEL
