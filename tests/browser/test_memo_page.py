"""The exported memo in a browser without a network, at a desk's and a phone's width."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import kit.report  # noqa: F401
from kit.report.exporter import page
from kit.report.run import run_notebook
from tests.browser.chromium import opened
from tests.unit.report.fake_notebook import fake_notebook

pytestmark = pytest.mark.browser
SMALLEST_PX = 10
FEWEST_CHARTS = 5


@pytest.fixture(scope="module")
def memo_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("memo")
    ran = run_notebook(fake_notebook(folder), folder / "run.ipynb", {"study": "x.yaml"})
    file = folder / "memo.html"
    file.write_text(page(ran, "A metered house", {"name": "x"}), encoding="utf-8")
    return file


@pytest.mark.parametrize("width", [1280, 360])
def test_the_page_as_a_reader_sees_it(chromium: Any, memo_page: Path, width: int) -> None:
    with opened(chromium, memo_page, width) as seen:
        found = seen.probe()
        assert seen.errors == []
        assert seen.requests == []
        assert seen.page.title() == "A metered house"
    drawn = [c for c in found["charts"] if c["marks"] > 0]
    assert [c["name"] for c in found["charts"] if c["marks"] == 0] == []
    assert len(drawn) >= FEWEST_CHARTS
    assert {c["name"]: c["overlaps"] for c in drawn if c["overlaps"]} == {}
    assert {c["name"]: c["outside"] for c in drawn if c["outside"]} == {}
    assert min(found["texts"])[0] >= SMALLEST_PX, min(found["texts"])
    assert len(found["texts"]) > 200
    assert found["page"] <= width, "the page scrolls sideways"


def test_charts_follow_the_width(chromium: Any, memo_page: Path) -> None:
    with opened(chromium, memo_page, 1280) as seen:
        wide = seen.probe()["charts"][0]["width"]
        seen.page.set_viewport_size({"width": 400, "height": 900})
        seen.page.wait_for_function(
            "document.querySelector('figure.chart svg').getBoundingClientRect().width < 400"
        )
        seen.page.wait_for_timeout(600)
        narrow = seen.probe()
    assert wide > 700
    assert narrow["charts"][0]["width"] <= 400
    assert narrow["charts"][0]["overlaps"] == []


def test_the_probe_sees_what_is_wrong(chromium: Any, tmp_path: Path) -> None:
    bad = tmp_path / "bad.html"
    bad.write_text(
        '<html data-drawn="1"><body style="width:3000px"><p style="font-size:6px">tiny</p>'
        '<figure class="chart"><figcaption>c</figcaption><svg width="200" height="50">'
        '<text x="10" y="20">over</text><text x="12" y="21">lapping</text></svg></figure>'
        '<img src="https://example.invalid/x.png"></body></html>',
        encoding="utf-8",
    )
    with opened(chromium, bad, 360) as seen:
        found = seen.probe()
        assert seen.requests == ["https://example.invalid/x.png"]
    assert found["charts"][0]["overlaps"] == [["over", "lapping"]]
    assert found["charts"][0]["marks"] == 0
    assert min(found["texts"])[0] == 6
    assert found["page"] > 360
