"""The memo as a page, a PDF and a Word file: the same figures, whatever the study is called."""

from __future__ import annotations

import html
import io
import json
import re
import zipfile
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

import kit.report  # noqa: F401
from kit.report import exporter, paper
from kit.report.run import run_notebook
from tests.contract.sources import ROOT
from tests.unit.report.fake_comparison import fake_comparison
from tests.unit.report.fake_notebook import fake_notebook
from tests.unit.report.odd_comparison import CASES, LONG, RIGHT_TO_LEFT, SCRIPT, odd_comparison

try:
    paper.check_extra(("pdf", "docx"))
    EXTRA = True
except paper.DocsMissingError:
    EXTRA = False
needs_extra = pytest.mark.skipif(
    not EXTRA, reason="NO EXTRA `docs`: PDF and Word were NOT tried; pip install '.[docs]'"
)
_W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"


def plain(text: str) -> str:
    """Text without spaces and hyphens at line ends: what three programs agree on."""
    return re.sub(r"[\s\u00ad\u200b\u2010]+", "", text)


def html_text(page: str) -> str:
    body = re.sub(r"<(script|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return html.unescape(re.sub(r"<[^>]+>", " ", body))


def word_text(data: bytes) -> str:
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        assert file.testzip() is None
        for name in file.namelist():
            if name.endswith((".xml", ".rels")):
                ElementTree.fromstring(file.read(name))  # every part is well formed
        tree = ElementTree.fromstring(file.read("word/document.xml"))
    return "\n".join("".join(t.text or "" for t in p.iter(f"{_W}t")) for p in tree.iter(f"{_W}p"))


def pdf_pages(data: bytes) -> list[str]:
    pypdf = pytest.importorskip("pypdf", reason="NO PYPDF: the text of the PDF was NOT compared")
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages]


@cache
def ran(tmp: Path) -> Any:
    (tmp / "to").mkdir(parents=True)
    return run_notebook(fake_notebook(tmp), tmp / "to" / "memo.ipynb", {"study": "x.yaml"})


@pytest.fixture(scope="module")
def memo(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    notebook = ran(tmp_path_factory.mktemp("memo"))
    name = fake_comparison().study.model.name
    made: dict[str, Any] = {"html": exporter.page(notebook, name, {}, paper="Letter"), "notebook": notebook}
    if EXTRA:
        made |= paper.documents(notebook, name, ("pdf", "docx"), "Letter")
    return made


def figures_of(notebook: Any) -> list[str]:
    """Every cell of the tables of main figures and of all figures, and the verdict, as printed."""
    from kit.report import memo as sections
    from kit.report import tables

    comparison = fake_comparison()
    found: list[str] = []
    for shown in (tables.headline_table(comparison), tables.full_table(comparison)):
        cells = re.findall(r"<td[^>]*>([^<]*)", shown.html)
        found += [html_text(c) for c in cells if re.search(r"\d", c)]
    answer = [sections.unbroken(s) for s in comparison.verdict.sentences + comparison.verdict.flips]
    assert len(found) > 100
    return found + answer


@needs_extra
@pytest.mark.parametrize("form", ["docx", "pdf"])
def test_every_figure_of_the_page_is_in_the_file(memo: dict[str, Any], form: str) -> None:
    texts = {
        "html": plain(html_text(memo["html"])),
        "docx": plain(word_text(memo["docx"])),
        "pdf": plain("".join(re.sub(r"\S.*Page \d+ of \d+\s*$", "", p) for p in pdf_pages(memo["pdf"]))),
    }
    wanted = [plain(figure) for figure in figures_of(memo["notebook"])]
    assert [w for w in wanted if w not in texts["html"]] == []
    assert [w for w in wanted if w not in texts[form]] == []
    # not only somewhere: as often, row by row, in the table of main figures
    for row in main_rows(memo["html"]):
        assert "".join(row) in texts[form], row


def main_rows(page: str) -> list[list[str]]:
    """Rows of the table of main figures: head and cells, notes' letters included, squeezed."""
    table = re.search(r"<caption><span>Main figures</span></caption>.*?</table>", page, re.DOTALL)
    assert table
    rows = re.findall(r"<tr>(<th scope=\"row\">.*?)</tr>", table[0], re.DOTALL)
    assert len(rows) >= 8
    return [[plain(html_text(c)) for c in re.findall(r"<t[hd][^>]*>.*?</t[hd]>", row)] for row in rows]


@needs_extra
def test_a_changed_figure_would_be_seen(memo: dict[str, Any]) -> None:
    text = plain(word_text(memo["docx"]))
    rows = ["".join(row) for row in main_rows(memo["html"])]
    assert all(row in text for row in rows)
    assert not all(row in text.replace("$1,900", "$1,901") for row in rows)


@needs_extra
def test_word_has_real_tables_headings_pictures_and_page_numbers(memo: dict[str, Any]) -> None:
    with zipfile.ZipFile(io.BytesIO(memo["docx"])) as file:
        names = file.namelist()
        document = file.read("word/document.xml").decode("utf-8")
        footer = file.read(next(n for n in names if "footer" in n and n.endswith(".xml"))).decode("utf-8")
    assert document.count("<w:tbl>") >= 8
    assert document.count("<w:tblHeader") >= 8
    assert document.count('w:val="Heading1"') >= 15
    assert document.count('w:val="Title"') == 1
    assert len([n for n in names if n.endswith(".png")]) >= 5
    size = re.search(r"<w:pgSz ([^>]*)/>", document)
    assert size
    assert {'w:w="12240"', 'w:h="15840"'} <= set(size[1].split())
    assert "PAGE" in footer
    assert "NUMPAGES" in footer
    assert 'w:val="TableCaption"' in document
    assert document.count('w:val="Tablefigure') > 200
    rows = re.findall(r"<w:tr>(?:<w:trPr>(.*?)</w:trPr>)?", document)
    assert all("<w:cantSplit/>" in row for row in rows)
    groups = [row for row in re.findall(r"<w:tr>.*?</w:tr>", document, re.DOTALL) if "<w:gridSpan" in row]
    assert groups
    assert all("<w:keepNext/>" in row for row in groups)
    pairs = [m for m in re.findall(r"<w:tc>(.*?)</w:tc>", document, re.DOTALL) if "<w:drawing>" in m]
    sizes_cm = [int(wide) / 360_000 for cell in pairs for wide in re.findall(r'<wp:extent cx="(\d+)"', cell)]
    assert sizes_cm
    assert max(sizes_cm) < 8.5  # two of them stand in the text's 17 cm
    with zipfile.ZipFile(io.BytesIO(memo["docx"])) as file:
        styles = file.read("word/styles.xml").decode("utf-8")
    used = set(re.findall(r'<w:pStyle w:val="(\w+)"', document))
    assert used <= set(re.findall(r'w:styleId="(\w+)"', styles))


@needs_extra
def test_the_paper_follows_the_units(memo: dict[str, Any]) -> None:
    pypdf = pytest.importorskip("pypdf")
    assert (paper.paper_for("us"), paper.paper_for("metric")) == ("Letter", "A4")
    letter = pypdf.PdfReader(io.BytesIO(memo["pdf"])).pages[0].mediabox
    assert (round(letter.width), round(letter.height)) == (612, 792)
    a4 = pypdf.PdfReader(io.BytesIO(paper.documents(memo["notebook"], "x", ("pdf",), "A4")["pdf"])).pages
    assert (round(a4[0].mediabox.width), round(a4[0].mediabox.height)) == (595, 842)
    assert f"Page 1 of {len(a4)}" in a4[0].extract_text()


@needs_extra
def test_the_same_notebook_gives_the_same_bytes(memo: dict[str, Any]) -> None:
    name = fake_comparison().study.model.name
    again = paper.documents(memo["notebook"], name, ("pdf", "docx"), "Letter")
    assert again["docx"] == memo["docx"]
    assert again["pdf"] == memo["pdf"]


def test_sections_are_numbered_and_appendices_fold(memo: dict[str, Any]) -> None:
    page = memo["html"].replace(exporter.chart_library(), "")
    heads = re.findall(r"<h2>(.*?)</h2>", page)
    numbers = [h.split(".")[0] for h in heads if not h.startswith("Appendix ")]
    assert numbers == [str(i + 1) for i in range(len(numbers))]
    letters = [h.split(".")[0].removeprefix("Appendix ") for h in heads if h.startswith("Appendix ")]
    assert letters == [chr(65 + i) for i in range(len(letters))]
    assert heads[-1].endswith("How to reproduce")
    assert page.count("<section ") == page.count("</section>") == len(heads)
    assert page.count("<details") == page.count("</details>") == len(letters) + 1
    for anchor in re.findall(r'href="#(part-\w+)"', page):
        assert f'id="{anchor}"' in page


def test_a_question_without_an_answer_is_left_out(memo: dict[str, Any]) -> None:
    assert "Can the figures go on to another program?" not in memo["html"]
    assert "And the same in figures?" in memo["html"]


def odd_notebook(folder: Path, case: str, brief: bool) -> Any:
    """The memo, or the brief, of an odd comparison."""
    fake = f"sys.path.insert(0, {str(ROOT)!r})\nfrom tests.unit.report.odd_comparison import odd_comparison\n"
    if not brief:
        imports = "from kit.report import appendix, care, charts, expected, foresight, luck, memo\n"
        imports += "from kit.report import money_charts, reserve, tables\nfrom kit.report.show import show"
        frames = "from tests.unit.report.fake_comparison import fake_frontier, fake_neglected, fake_stays\n"
        extra = {
            "imports": f"import kit.report\nimport sys\n{fake}{frames}{imports}",
            "comparison": f"comparison = odd_comparison({case!r})",
        }
        if case == "thirty":  # the variations of the invented options do not fit others
            extra |= dict.fromkeys(
                ("neglect", "care", "frontier", "reserve", "reserves", "stays", "luck"), ""
            )
        return run_notebook(fake_notebook(folder, extra), folder / "ran.ipynb", {"study": "x"})
    book = json.loads((ROOT / "notebooks" / "brief.ipynb").read_text(encoding="utf-8"))
    sources = {
        "imports": f"import kit.report\nimport sys\n{fake}from kit.report import appendix, brief, doubt\n"
        "from kit.report.show import show",
        "study": "",
        "comparison": f"comparison = odd_comparison({case!r})",
        "doubted": "doubted = None",
    }
    for cell in book["cells"]:
        cell["source"] = sources.get(cell["id"], cell["source"])
    path = folder / "brief.ipynb"
    path.write_text(json.dumps(book), encoding="utf-8")
    return run_notebook(path, folder / "ran.ipynb", {"study": "x"})


@pytest.mark.parametrize("case", CASES)
def test_an_odd_brief_in_every_format(tmp_path: Path, case: str) -> None:
    name = odd_comparison(case).study.model.name
    notebook = odd_notebook(tmp_path, case, brief=True)
    page = exporter.page(notebook, name, {"name": name}, kind="brief")
    inert(page, case)
    if not EXTRA:
        return
    made = paper.documents(notebook, name, ("pdf", "docx"), "A4", "brief")
    said = plain(name)
    assert said in plain(word_text(made["docx"]))
    pages = pdf_pages(made["pdf"])
    assert 1 <= len(pages) <= (1 if case not in ("script", "long") else 9)
    if case != "right_to_left":  # the order of glyphs in a PDF is the reader's business there
        assert said[:400] in plain("".join(pages))


@pytest.mark.parametrize("case", ["script", "right_to_left", "one_point", "no_outages"])
def test_an_odd_memo_as_a_page(tmp_path: Path, case: str) -> None:
    name = odd_comparison(case).study.model.name
    inert(exporter.page(odd_notebook(tmp_path, case, brief=False), name, {"name": name}), case)


def inert(page: str, case: str) -> None:
    own = page.replace(exporter.chart_library(), "")
    assert "document.title='broken'</script>" not in own
    assert len(re.findall(r"<script\b", own)) == own.count("</script>")
    assert "<b>bold" not in own
    if case == "right_to_left":
        assert f'<h1 dir="auto">{RIGHT_TO_LEFT}</h1>' in page
    if case == "long":
        assert LONG.strip() in re.sub(r"\s+", " ", html_text(page))
    if case == "script":
        assert SCRIPT in html_text(page)


@needs_extra
def test_a_large_odd_memo_in_every_format(tmp_path: Path) -> None:
    notebook = odd_notebook(tmp_path, "thirty", brief=False)
    made = paper.documents(notebook, SCRIPT, ("pdf", "docx"), "A4")
    assert "Option number 29 of thirty" in word_text(made["docx"])
    assert len(pdf_pages(made["pdf"])) > 5
