"""The memo and the brief on paper and on the first screen, as headless Chromium shows them."""

from __future__ import annotations

import html
import re
import unicodedata
from pathlib import Path
from typing import Any

import pytest

import kit.report  # noqa: F401
from kit.report.exporter import page
from kit.report.run import run_notebook, write_memo
from tests.browser.chromium import opened
from tests.contract.sources import ROOT
from tests.unit.report.fake_notebook import fake_notebook

pytestmark = pytest.mark.browser
STUDIES = ROOT / "params" / "studies"


@pytest.fixture(scope="module")
def memo_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("memo")
    ran = run_notebook(fake_notebook(folder), folder / "run.ipynb", {"study": "x.yaml"})
    file = folder / "memo.html"
    file.write_text(page(ran, "A metered house", {"name": "x"}, paper="Letter"), encoding="utf-8")
    return file


def printed(chromium: Any, file: Path, paper: str, to: Path, scale: float = 1.0) -> list[str]:
    """Text of each page of the print."""
    pypdf = pytest.importorskip("pypdf", reason="NO PYPDF: printed pages were NOT counted")
    with opened(chromium, file, 1280) as seen:
        seen.page.pdf(path=to, format=paper, scale=scale)
    return [unicodedata.normalize("NFKC", p.extract_text()) for p in pypdf.PdfReader(to).pages]


ROOM = 1.05  # fonts differ from one machine to the next, and so does a house's name


@pytest.mark.parametrize("study", sorted(p.stem for p in STUDIES.glob("*.yaml")))
def test_a_brief_is_one_page_with_room_to_spare(chromium: Any, study: str, tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf", reason="NO PYPDF: printed pages were NOT counted")
    made = write_memo(STUDIES / f"{study}.yaml", tmp_path, brief=True, formats=("html", "pdf"))
    assert len(pypdf.PdfReader(made.html.with_suffix(".pdf")).pages) == 1
    for paper in ("Letter", "A4"):
        pages = printed(chromium, made.html, paper, tmp_path / f"{paper}.pdf", ROOM)
        assert len(pages) == 1, (study, paper)
        assert "Cautions" in pages[0]
        assert "How sure that is In" in " ".join(pages[0].split())
        assert "licensed person decide" in " ".join(pages[0].split())
    with opened(chromium, made.html, 1280) as seen:
        found = seen.probe()
        assert (seen.errors, seen.requests) == ([], [])
    assert [c["marks"] > 0 for c in found["charts"]] == [True]


def test_the_answer_is_on_the_first_screen(chromium: Any, memo_page: Path) -> None:
    with opened(chromium, memo_page, 1280) as seen:
        low = seen.page.evaluate(
            "Math.max(...Array.from(document.querySelectorAll('#part-2 .shown > p'))"
            ".map((e) => e.getBoundingClientRect().bottom))"
        )
    assert 0 < low <= 900


def test_appendices_fold_on_the_screen_and_open_on_paper(
    chromium: Any, memo_page: Path, tmp_path: Path
) -> None:
    look = (
        "Array.from(document.querySelectorAll('section.appendix .shown'))"
        ".filter((e) => e.checkVisibility({contentVisibilityAuto: true})).length"
    )
    with opened(chromium, memo_page, 1280) as seen:
        assert seen.page.evaluate(look) == 0
        seen.page.locator("section.appendix summary").first.press("Enter")
        assert seen.page.evaluate(look) >= 1
        address = seen.page.evaluate("document.querySelector('section.appendix:last-of-type').id")
        seen.page.evaluate(f"location.hash = '#{address}'")
        seen.page.wait_for_function(f"document.querySelector('#{address} details').open")
    pages = printed(chromium, memo_page, "A4", tmp_path / "memo.pdf")
    text = " ".join(" ".join(pages).split())
    for words in ("All figures", "All power and starting checks", "Study sha256", f"Page 2 of {len(pages)}"):
        assert words in text
    ends = [
        " ".join(p.split()).removesuffix(f"Page {i + 1} of {len(pages)}").strip() for i, p in enumerate(pages)
    ]
    heads = {h.strip() for h in _headings(memo_page)}
    assert [e for e in ends if any(e.endswith(h) for h in heads)] == [], (
        "a heading stands alone at a page's end"
    )


def _headings(memo_page: Path) -> list[str]:
    return [html.unescape(h) for h in re.findall(r"<h[23]>([^<$]+)</h[23]>", memo_page.read_text("utf-8"))]
