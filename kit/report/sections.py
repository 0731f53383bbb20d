"""The sections of a run notebook: numbered, listed, and the appendices folded away.

A notebook's headings carry no numbers, so that a section can be put anywhere; they get them here,
for the page, the Word file and the PDF alike.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from kit.report.show import RESULT

_HEADING = re.compile(r"^## +(.+?)\s*$", re.MULTILINE)
_APPENDIX = "Appendix: "
_CONTENTS_AT = 2


@dataclass(frozen=True)
class Section:
    """One section: what an address inside the page is called, its number ('' for none), its title."""

    anchor: str
    number: str
    title: str
    appendix: bool

    @property
    def heading(self) -> str:
        if not self.number:
            return self.title
        return f"Appendix {self.number}. {self.title}" if self.appendix else f"{self.number}. {self.title}"


def answered(cells: list[Any]) -> list[Any]:
    """The cells without the questions, headings apart, whose answer shows nothing."""
    silent = {
        i
        for i, (cell, after) in enumerate(pairwise(cells))
        if cell.cell_type == "markdown" and not _HEADING.search(cell.source) and _shows_nothing(after)
    }
    return [cell for i, cell in enumerate(cells) if i not in silent]


def _shows_nothing(cell: Any) -> bool:
    outputs = cell.get("outputs", [])
    return cell.cell_type == "code" and all(RESULT in output.get("data", {}) for output in outputs)


def number_sections(notebook: Any, numbered: bool = True) -> list[Section]:
    """Number the level 2 headings of the notebook's text in place; returns the sections in order.

    From the first heading that begins with 'Appendix: ' on, sections have letters. A cell that opens
    a section holds it in its metadata as `kit_section`, the one before as `kit_before` (None at first);
    `kit_contents` marks where the list of contents stands: behind the answer. Without `numbered`
    the sections have neither numbers nor a list.
    """
    found: list[Section] = []
    for cell in notebook.cells:
        if cell.cell_type != "markdown" or "working" in cell.metadata.get("tags", []):
            continue
        match = _HEADING.search(cell.source)
        if match is None:
            continue
        section = _next(found, match[1], numbered)
        cell.metadata["kit_section"] = section
        cell.metadata["kit_before"] = found[-1] if found else None
        cell.metadata["kit_contents"] = numbered and len(found) == _CONTENTS_AT
        cell["source"] = (cell.source[: match.start()] + cell.source[match.end() :]).strip()
        found.append(section)
    return found


def _next(before: list[Section], title: str, numbered: bool) -> Section:
    if not numbered:
        return Section(f"part-{len(before) + 1}", "", title, False)
    appendix = title.startswith(_APPENDIX) or any(s.appendix for s in before)
    count = sum(s.appendix == appendix for s in before)
    bare = title.removeprefix(_APPENDIX)
    bare = bare[:1].upper() + bare[1:]
    number = _letters(count) if appendix else str(count + 1)
    return Section(f"part-{number.lower()}", number, bare, appendix)


def _letters(count: int) -> str:
    return chr(65 + count) if count < 26 else f"Z{count - 25}"
