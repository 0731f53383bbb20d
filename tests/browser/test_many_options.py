"""A memo of thirty options in a real browser: all in the legend, no words over others, no sideways scroll."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from kit.report import exporter
from tests.browser.chromium import opened
from tests.unit.report.odd_comparison import odd_comparison
from tests.unit.report.test_paper import odd_notebook

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def memo_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("many")
    name = odd_comparison("thirty").study.model.name
    page = exporter.page(odd_notebook(folder, "thirty", brief=False), name, {"name": name})
    (folder / "memo.html").write_text(page, encoding="utf-8")
    return folder / "memo.html"


@pytest.mark.parametrize("width", [1280, 360])
def test_thirty_options(chromium: Any, memo_page: Path, width: int) -> None:
    with opened(chromium, memo_page, width) as seen:
        found = seen.probe()
        assert seen.errors == []
        assert found["page"] <= width
        for chart in found["charts"]:
            assert (chart["overlaps"], chart["outside"]) == ([], []), chart["name"]
        kept = seen.page.locator("figure.chart", has_text="How long the loads asked for stay on").first
        words = [text.replace("\u00a0", " ") for text in kept.locator("svg text").all_text_contents()]
        assert sum("Option number" in text for text in words) == 30
        assert not any(text.endswith(" entries") for text in words)
        drawn = kept.locator("svg .mark-line path").first.bounding_box()
        assert drawn is not None
        assert drawn["width"] > 0.5 * min(width, 864)


def test_tables_of_words_fit_a_wide_page(chromium: Any, memo_page: Path) -> None:
    with opened(chromium, memo_page, 1280) as seen:
        wide = seen.page.evaluate(
            "() => Array.from(document.querySelectorAll('.wide:has(table.words)'))"
            ".map((box) => box.scrollWidth - box.clientWidth)"
        )
        assert wide
        assert max(wide) <= 1
