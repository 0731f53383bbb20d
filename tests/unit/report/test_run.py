"""Running notebooks: parameters refused, failures kept, results checked, pages self-contained."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

import kit.report  # noqa: F401
from kit.report import exporter
from kit.report.run import (
    MemoError,
    check_result,
    notebook_text,
    plain_json,
    result_of,
    run_notebook,
    summary_csv,
)
from tests.contract.sources import ROOT
from tests.unit.report.fake_comparison import fake_comparison
from tests.unit.report.fake_notebook import fake_notebook

SHOWN_ANEW = {
    "sure": "from IPython.display import display\nplace = display('not yet known', display_id=True)",
    "told": "print('worked out')\nplace.update('known at last')",
}


def run(folder: Path, engine: str = "ridethrough", **parameters: Any) -> Any:
    (folder / "from").mkdir()
    (folder / "to").mkdir()
    source = fake_notebook(folder / "from", SHOWN_ANEW)
    return run_notebook(source, folder / "to" / source.name, {"study": "x.yaml", **parameters}, engine=engine)


def test_undeclared_parameters_are_refused(tmp_path: Path) -> None:
    with pytest.raises(
        ValueError, match="declares no parameter studdy; it has life_support, name, set_values"
    ):
        run(tmp_path, studdy="x")
    assert list((tmp_path / "to").iterdir()) == []


@pytest.mark.parametrize("value", [float("nan"), float("inf"), Path("x"), {1: "a"}, (1, 2), {3}])
def test_only_plain_finite_json_is_passed(value: Any) -> None:
    with pytest.raises(ValueError, match="parameters must be plain"):
        plain_json({"x": value})


def test_both_engines_give_the_same_notebook(tmp_path: Path) -> None:
    books = {}
    for engine in ("ridethrough", "nbclient"):
        folder = tmp_path / engine
        folder.mkdir()
        books[engine] = notebook_text(run(folder, engine))
    assert books["ridethrough"] == books["nbclient"]
    outputs = [o for c in json.loads(books["nbclient"])["cells"] for o in c.get("outputs", [])]
    assert len(outputs) > 20
    cells = {c["id"]: c.get("outputs", []) for c in json.loads(books["ridethrough"])["cells"]}
    assert [o["data"]["text/plain"] for o in cells["sure"]] == [["'known at last'"]]  # in its place, once
    assert [o["text"] for o in cells["told"]] == [["worked out\n"]]


@pytest.mark.parametrize("first", ["kit.report.engine", "papermill", "papermill.engines"])
def test_an_installed_engine_loads_in_any_order(tmp_path: Path, first: str) -> None:
    installed = tmp_path / "ridethrough-0.dist-info"
    installed.mkdir()
    entry = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["entry-points"][
        "papermill.engine"
    ]
    lines = [f"{name} = {target}" for name, target in entry.items()]
    (installed / "entry_points.txt").write_text("[papermill.engine]\n" + "\n".join(lines) + "\n")
    code = (
        f"import kit.report, {first}; from papermill.engines import papermill_engines as all_engines; "
        "print(all_engines.get_engine('ridethrough').__module__)"
    )
    path = os.pathsep.join((str(tmp_path), str(ROOT)))
    done = subprocess.run(
        [sys.executable, "-c", code], env={**os.environ, "PYTHONPATH": path}, capture_output=True, text=True
    )
    assert (done.stdout, done.returncode) == ("kit.report.engine\n", 0), done.stderr


@pytest.mark.parametrize("engine", ["ridethrough", "nbclient"])
def test_a_failed_notebook_is_kept_and_named(tmp_path: Path, engine: str) -> None:
    (tmp_path / "{odd} folder").mkdir()
    folder = tmp_path / "{odd} folder"
    source = fake_notebook(tmp_path, {"headline": "print('before')\nraise KeyError('no such column')"})
    with pytest.raises(
        MemoError, match=r"stopped at `raise KeyError\('no such column'\)`: KeyError"
    ) as caught:
        run_notebook(source, folder / source.name, {"study": "x"}, engine=engine)
    kept = folder / "decision_memo.failed.ipynb"
    assert str(kept) in str(caught.value)
    assert [p.name for p in folder.iterdir()] == [kept.name]
    assert "before" in kept.read_text(encoding="utf-8")


def test_a_good_run_removes_what_a_stopped_one_left(tmp_path: Path) -> None:
    """Beside a good memo, a notebook that says it stopped is about another run."""
    source = fake_notebook(tmp_path, {"headline": "raise KeyError('no such column')"})
    final = tmp_path / "out" / source.name
    final.parent.mkdir()
    other = final.with_name("brief.failed.ipynb")
    other.write_text("of another notebook", encoding="utf-8")
    with pytest.raises(MemoError):
        run_notebook(source, final, {"study": "x"})
    assert final.with_name("decision_memo.failed.ipynb").exists()
    run_notebook(fake_notebook(tmp_path), final, {"study": "x"})
    assert sorted(p.name for p in final.parent.iterdir()) == [other.name, final.name]


def test_two_runs_give_the_same_bytes_without_times_or_paths(tmp_path: Path) -> None:
    texts = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        run(tmp_path / name)
        texts.append((tmp_path / name / "to" / "decision_memo.ipynb").read_text(encoding="utf-8"))
    assert texts[0] == texts[1]
    assert "papermill" not in json.loads(texts[0])["metadata"]
    assert str(tmp_path) not in texts[0]


def test_the_engine_leaves_no_trace(tmp_path: Path) -> None:
    import sys

    from IPython.core.interactiveshell import InteractiveShell

    before = sys.modules["__main__"], sys.excepthook, sys.displayhook
    run(tmp_path)
    assert (sys.modules["__main__"], sys.excepthook, sys.displayhook) == before
    assert not InteractiveShell.initialized()


def test_result_is_validated() -> None:
    data = fake_comparison().to_json()
    check_result(data)
    data["options"][1]["ride_through_frac_24h"] = 1.2
    with pytest.raises(MemoError, match=r"options\.1\.ride_through_frac_24h: 1\.2 is greater than"):
        check_result(data)
    data = fake_comparison().to_json()
    del data["study"]["sha256"]
    with pytest.raises(MemoError, match="'sha256' is a required property"):
        check_result(data)
    data = fake_comparison().to_json()
    data["options"][0]["a_column_added_later_usd"] = 1.0
    check_result(data)


def test_csv_has_one_row_an_option_and_nothing_to_run() -> None:
    data = {
        "options": [
            {"option": "a", "name": "=1+1", "x_usd": None},
            {"option": "b", "ok": True, "x_usd": -2.5},
        ]
    }
    assert summary_csv(data) == "option,name,x_usd,ok\na,'=1+1,,\nb,,-2.5,true\n"


def test_the_page_is_one_file_without_code_or_references(tmp_path: Path) -> None:
    name = "</script><script>bad()</script> & Söhne"
    ran = run(tmp_path, name=name)
    page = exporter.page(ran, name, {"name": name, "x": 1})
    assert page.startswith('<!DOCTYPE html>\n<html lang="en">')
    assert '<meta charset="utf-8">' in page
    assert "<title>&lt;/script&gt;&lt;script&gt;bad()&lt;/script&gt; &amp; Söhne</title>" in page
    own = page.replace(exporter.chart_library(), "")
    assert "<script>bad()" not in own
    assert external_references(own) == []
    assert "everyday_use(" not in own
    assert "fake_comparison(" not in own
    embedded = re.search(r'id="study-parameters">(.*?)</script>', own, re.DOTALL)
    assert embedded
    assert json.loads(embedded[1]) == {"name": name, "x": 1}
    assert page.count("// end of the drawing library") == 1
    assert "@media print" in page
    assert result_of(ran)["study"]["name"] == name
    assert "application/vnd.ridethrough.result" not in own


def external_references(html: str) -> list[str]:
    """What a browser would fetch: src, href, url(), @import of anything but data."""
    return [
        found
        for found in re.findall(
            r"""(?:\bsrc|\bhref)\s*=\s*["']?([^"'\s>]+)|url\(([^)]+)\)|@import\s+(\S+)""", html
        )
        if not any(part.startswith(("data:", "#")) for part in found if part)
    ]


def test_the_scan_sees_references() -> None:
    assert external_references('<script src="https://x/y.js"></script>')
    assert external_references("a { background: url(https://x/y.png) }")
    assert not external_references('<img src="data:image/png;base64,AA">')


def test_the_library_is_kept_by_version_and_optional(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("RIDETHROUGH_CACHE", str(tmp_path / "cache"))
    built = exporter.chart_library()
    (kept,) = (tmp_path / "cache").iterdir()
    assert kept.read_text(encoding="utf-8") == built
    kept.write_text("half of it", encoding="utf-8")
    assert exporter.chart_library() == built  # a torn file is built anew
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setenv("RIDETHROUGH_CACHE", str(tmp_path / "file"))
    assert exporter.chart_library() == built
    assert "</script" not in built
