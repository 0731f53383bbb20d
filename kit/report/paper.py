"""A run notebook as Word and PDF: the same text and tables as the page, charts as pictures.

Needs the extra `docs`: the document converter and the typesetter, both plain wheels. Nothing
here computes or rounds a figure: the tables are those of the page.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import tempfile
from collections.abc import Sequence
from functools import partial
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from kit.report.theme import WIDTH_PX

Paper = Literal["A4", "Letter"]
FORMATS = ("html", "pdf", "docx")
NEEDS_EXTRA = (
    "PDF and Word need the extra `docs` of the kit, which is not installed: "
    "run `pip install 'ridethrough[docs]'` (in a clone: `pip install -e '.[docs]'`)."
)
TEXT_CM = 17.0  # width of the text on both papers
_SCALE = 2  # picture points per point of the page
_DATE_S = "1767225600"  # a fixed date inside the files, so that the same study gives the same bytes


class DocsMissingError(Exception):
    """The extra `docs` is not installed; the text says how to get it."""


def check_extra(formats: Sequence[str]) -> None:
    """Raises DocsMissingError when one of `formats` needs what is not installed."""
    if not set(formats) - {"html"}:
        return
    try:  # found is not enough: the converter comes with a package of another name, or without its program
        import pypandoc
        import typst  # noqa: F401

        pypandoc.get_pandoc_path()
    except (ImportError, OSError) as error:
        raise DocsMissingError(NEEDS_EXTRA) from error


def paper_for(units: str) -> Paper:
    """Letter for a study in US units, else A4."""
    return "Letter" if units == "us" else "A4"


def documents(
    notebook: Any, title: str, formats: Sequence[str], paper: Paper, kind: str = "memo"
) -> dict[str, bytes]:
    """The bytes of each of `formats` (pdf, docx) of a run notebook. Raises DocsMissingError."""
    check_extra(formats)
    made: dict[str, bytes] = {}
    if not set(formats) & {"pdf", "docx"}:
        return made
    with tempfile.TemporaryDirectory(prefix="ridethrough-") as name:
        folder = Path(name)
        source = folder / "memo.html"
        source.write_text(paper_html(notebook, title, folder, kind), encoding="utf-8")
        if "docx" in formats:
            made["docx"] = _word(source, title, paper, kind)
        if "pdf" in formats:
            made["pdf"] = _pdf(source, title, paper, kind)
    return made


def paper_html(notebook: Any, title: str, folder: Path, kind: str = "memo") -> str:
    """The notebook as plain HTML for the converter; its charts are written into `folder`."""
    from kit.report.exporter import render

    filters = {"kit_picture": partial(_picture, folder), "kit_width": _width}
    html = render(notebook, title, "paper.html.j2", {}, filters, kind=kind)
    # the converter keeps the class of a division only
    html = re.sub(r'<p class="([^"]+)">(.*?)</p>', r'<div class="\1"><p>\2</p></div>', html, flags=re.DOTALL)
    html = re.sub(
        r'<ul class="(\w+)">(.*?)</ul>', r'<div class="\1"><ul>\2</ul></div>', html, flags=re.DOTALL
    )
    return _HALVES.sub(_side_by_side, html)


_HALVES = re.compile(r'(?:<figure class="chart half">.*?</figure>\s*)+', re.DOTALL)
_FIGURE = re.compile(
    r"<figcaption>(.*?)</figcaption>\s*(<img .*?>)\s*</figure>", re.DOTALL
)  # the caption of a small chart stands in its cell


def _side_by_side(found: re.Match[str]) -> str:
    """Small charts two abreast, in a table without lines."""
    cells = [f"<td><p>{caption}</p><p>{image}</p></td>" for caption, image in _FIGURE.findall(found[0])]
    cells += ["<td></td>"] * (len(cells) % 2)
    rows = "".join(f"<tr>{a}{b}</tr>" for a, b in zip(cells[::2], cells[1::2], strict=True))
    return f'<table class="pairs"><tbody>{rows}</tbody></table>'


def _picture(folder: Path, spec: dict[str, Any]) -> str:
    """Draw a chart into the folder; returns the file's name. The caption carries its title."""
    import vl_convert

    drawn = {key: value for key, value in spec.items() if key not in ("title", "$schema")}
    name = f"chart-{len(list(folder.glob('chart-*.png'))) + 1}.png"
    (folder / name).write_bytes(vl_convert.vegalite_to_png(json.dumps(drawn), scale=_SCALE))
    return name


def _width(spec: dict[str, Any]) -> str:
    """How wide a chart stands on the paper: the page's full width is the text's."""
    px = spec.get("width")
    share = px / WIDTH_PX if isinstance(px, int | float) else 1.0
    return f"{min(share, 1.0) * TEXT_CM:.2f}cm"


def _word(source: Path, title: str, paper: Paper, kind: str) -> bytes:
    from kit.report.word_styles import reference, whole_rows

    model = source.with_name("reference.docx")
    plain = _convert([], b"", ("--print-default-data-file", "reference.docx"))
    model.write_bytes(reference(plain, paper, 0.8 if kind == "brief" else 1.0))
    made = _convert([source], b"", ("-t", "docx", f"--reference-doc={model}", *_common(source, title)))
    return whole_rows(made)


def _pdf(source: Path, title: str, paper: Paper, kind: str) -> bytes:
    import typst

    template = source.with_name("paper.typ")
    template.write_text(_template("paper.typ"), encoding="utf-8")
    text = _convert(
        [source],
        b"",
        (
            "-t", "typst", "--standalone", f"--template={template}", "-V", f"papersize={_SIZES[paper]}",
            *(("-V", "brief=1") if kind == "brief" else ()), *_common(source, title),
        ),
    )  # fmt: skip
    body = source.with_name("body.typ")
    body.write_text(_GROUP_ROW.sub(_GROUP_HEAD, text.decode("utf-8")), encoding="utf-8")
    made: bytes = typst.compile(str(body), root=str(source.parent), timestamp=int(_DATE_S))
    return made


# a row that heads a group stays with the row below it: the typesetter does so for heads of level 2
_GROUP_ROW = re.compile(r"^( *)(table\.cell\(colspan: \d+\)\[#strong\[.*\]\]),$", re.MULTILINE)
_GROUP_HEAD = r"\1table.header(level: 2, repeat: false, \2),"
_SIZES: dict[Paper, str] = {"A4": "a4", "Letter": "us-letter"}


def _common(source: Path, title: str) -> tuple[str, ...]:
    rules = source.with_name("paper.lua")
    rules.write_text(_template("paper.lua"), encoding="utf-8")
    short = title if len(title) <= 60 else f"{title[:59].rstrip()}…"
    return ("-f", "html", f"--lua-filter={rules}", "-M", f"short={short}", "-M", "lang=en")


def _convert(sources: Sequence[Path], data: bytes, options: Sequence[str]) -> bytes:
    """What the converter writes to its output. RuntimeError with its own words when it fails."""
    import pypandoc

    folder = sources[0].parent if sources else None
    done = subprocess.run(
        [pypandoc.get_pandoc_path(), *(str(s) for s in sources), *options, "-o", "-"],
        input=data, capture_output=True, cwd=folder, env={**os.environ, "SOURCE_DATE_EPOCH": _DATE_S},
    )  # fmt: skip
    if done.returncode:
        raise RuntimeError(f"the document converter failed: {done.stderr.decode('utf-8', 'replace').strip()}")
    return done.stdout


def _template(name: str) -> str:
    return (resources.files("kit.report") / "templates" / name).read_text(encoding="utf-8")
