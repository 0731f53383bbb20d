"""The explore notebook in a JupyterLab really started: run, a slider moved, a figure changed, a memo made."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.browser.chromium import at_home
from tests.browser.lab import lab_server, run_all

pytestmark = pytest.mark.browser
SOON_MS, LATER_MS = 30_000, 180_000
FIGURE = ".rt-answer .big"


def every_name_is_whole(page: Any) -> int:
    """How many names the lists hold, once each has been seen to fit its list."""
    names = page.evaluate(
        """() => Array.from(document.querySelectorAll('.rt-list select')).flatMap((list) => {
          const look = getComputedStyle(list), pen = document.createElement('canvas').getContext('2d');
          pen.font = look.font;
          const room = list.clientWidth - parseFloat(look.paddingLeft) - parseFloat(look.paddingRight);
          return Array.from(list.options).map((one) => [one.label, pen.measureText(one.label).width, room]);
        })"""
    )
    assert [name for name, needs, room in names if needs > room] == []
    return len(names)


def in_both_themes(page: Any) -> None:
    """axe finds nothing serious in what our cells show, in the light theme and in the dark one."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="NO AXE: not looked at").Axe()
    for theme in ("JupyterLab Light", "JupyterLab Dark", "JupyterLab Light"):
        page.click("li.lm-MenuBar-item:has-text('Settings')")
        page.hover("li.lm-Menu-item:has-text('Theme') >> nth=0")
        page.click(f"li.lm-Menu-item:has-text('{theme}') >> nth=0")
        light = "true" if theme.endswith("Light") else "false"
        page.wait_for_selector(f"body[data-jp-theme-light='{light}']", state="attached", timeout=SOON_MS)
        page.wait_for_timeout(1000)  # the theme's colours come in a sheet of their own
        found = axe.run(page, context={"include": [[".jp-Cell-outputArea"]]}).response["violations"]
        grave = [v for v in found if v["impact"] in ("serious", "critical", "moderate")]
        assert [(v["id"], [n["html"] for n in v["nodes"]]) for v in grave] == [], theme


def test_the_notebook_as_a_household_uses_it(chromium: Any, tmp_path: Path) -> None:
    folder = tmp_path / "work"
    with lab_server(folder) as address:
        page = chromium.new_page(viewport={"width": 1400, "height": 1000})
        strangers = at_home(page)
        run_all(page, address)
        assert "stay on for 8 h" in page.inner_text(".rt-answer >> nth=0").replace("\u00a0", " ")
        first = page.inner_text(FIGURE)

        handle = page.locator(".widget-slider .noUi-handle").first
        assert handle.get_attribute("aria-valuenow") == "8.0"
        handle.focus()
        for _ in range(12):
            page.keyboard.press("ArrowRight")
        page.wait_for_function(
            "([where, was]) => document.querySelector(where).innerText !== was",
            arg=[FIGURE, first],
            timeout=SOON_MS,
        )
        page.wait_for_selector(".rt-whole th:has-text('Chance for 20 h')", timeout=LATER_MS)
        assert "stay on for 20 h" in page.inner_text(".rt-answer >> nth=0").replace("\u00a0", " ")
        row = page.inner_text(".rt-whole tr:has-text('One battery') >> nth=0")
        assert page.inner_text(FIGURE) in row
        assert page.locator(".jp-OutputArea canvas.marks, .jp-OutputArea svg.marks").count() >= 2
        assert page.locator("text=official Jupyter news").count() == 0
        assert every_name_is_whole(page) > 10
        in_both_themes(page)

        page.click("button:has-text('Write a study file')")
        page.wait_for_selector("text=metered_house_explored_1.yaml", timeout=SOON_MS)
        written = folder / "params" / "studies" / "metered_house_explored_1.yaml"
        assert "keep_on_h: 20.0" in written.read_text(encoding="utf-8")

        page.click("button:has-text('Make the memo')")
        link = page.wait_for_selector("a:has-text('Open the memo')", timeout=LATER_MS)
        memo = folder / "out" / "explore" / "decision_memo.html"
        assert "for 20" in memo.read_text(encoding="utf-8")
        assert "decision_memo.html" in (link.get_attribute("href") or "")
        page.close()
    assert strangers == []
