"""One HTML table for the whole memo: real header cells, notes under it, a plain text twin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from kit.report.show import Shown, escape


@dataclass(frozen=True)
class Cell:
    """One cell, a line break where the text has one. `note` is printed under the table, behind a letter;
    `kind` is a CSS class.
    """

    text: str
    note: str = ""
    kind: str = ""


@dataclass(frozen=True)
class Group:
    """A run of rows under one heading (no heading where empty). First cell heads the row."""

    heading: str
    rows: Sequence[Sequence[str | Cell]]


@dataclass
class _Notes:
    letters: dict[str, str] = field(default_factory=dict)

    def letter(self, note: str) -> str:
        if note not in self.letters:
            count = len(self.letters)
            self.letters[note] = chr(97 + count) if count < 26 else str(count + 1)
        return self.letters[note]


def table(
    caption: str,
    columns: Sequence[str],
    groups: Sequence[Group],
    text_columns: Sequence[int] = (),
    kind: str = "",
) -> Shown:
    """A table. Columns are right-aligned figures but the first and those in `text_columns`."""
    notes = _Notes()
    body = "".join(_group_html(g, len(columns), text_columns, notes) for g in groups)
    head = "".join(
        f'<th scope="col"{_align(i, text_columns)}>{_lines(name)}</th>' for i, name in enumerate(columns)
    )
    foot = "".join(f"<li><sup>{letter}</sup> {escape(note)}</li>" for note, letter in notes.letters.items())
    foot = f'<ul class="notes">{foot}</ul>' if foot else ""
    kinds = f"{kind or 'figures'}{' many' if len(columns) > 8 else ''}"
    html = (
        f'<div class="wide" role="region" tabindex="0" aria-label="{escape(caption)}">'
        f'<table class="{kinds}"><caption><span>{escape(caption)}</span></caption>'
        f"<thead><tr>{head}</tr></thead>{body}</table></div>{foot}"
    )
    return Shown(html, _plain(caption, columns, groups, text_columns, notes))


def _lines(name: str) -> str:
    return "<br>".join(escape(line) for line in name.split("\n"))


def _align(column: int, text_columns: Sequence[int]) -> str:
    return ' class="text"' if column == 0 or column in text_columns else ""


def _group_html(group: Group, width: int, text_columns: Sequence[int], notes: _Notes) -> str:
    rows = []
    if group.heading:
        rows.append(
            f'<tr class="group"><th scope="rowgroup" colspan="{width}">{escape(group.heading)}</th></tr>'
        )
    for row in group.rows:
        cells = [_as_cell(c) for c in row]
        out = f'<th scope="row">{_cell_html(cells[0], notes)}</th>'
        for i, cell in enumerate(cells[1:], start=1):
            kinds = " ".join(k for k in ("text" if i in text_columns else "", cell.kind) if k)
            attribute = f' class="{kinds}"' if kinds else ""
            out += f"<td{attribute}>{_cell_html(cell, notes)}</td>"
        rows.append(f"<tr>{out}</tr>")
    return f"<tbody>{''.join(rows)}</tbody>"


def _as_cell(value: str | Cell) -> Cell:
    return value if isinstance(value, Cell) else Cell(value)


def _cell_html(cell: Cell, notes: _Notes) -> str:
    mark = f"<sup>{notes.letter(cell.note)}</sup>" if cell.note else ""
    return f"{_lines(cell.text)}{mark}"


def _plain(
    caption: str, columns: Sequence[str], groups: Sequence[Group], text_columns: Sequence[int], notes: _Notes
) -> str:
    lines: list[list[str] | str] = [list(columns)]
    for group in groups:
        if group.heading:
            lines.append(group.heading)
        for row in group.rows:
            cells = [_as_cell(c) for c in row]
            lines.append(
                [c.text.replace("\n", " ") + (f" ({notes.letters[c.note]})" if c.note else "") for c in cells]
            )
    lines[0] = [name.replace("\n", " ") for name in columns]
    rows = [line for line in lines if isinstance(line, list)]
    widths = [max(len(r[i]) for r in rows if i < len(r)) for i in range(len(columns))]
    out = [caption, ""]
    for line in lines:
        if isinstance(line, str):
            out += ["", line]
            continue
        left = [i == 0 or i in text_columns for i in range(len(line))]
        cells_out = [c.ljust(w) if lft else c.rjust(w) for c, w, lft in zip(line, widths, left, strict=False)]
        out.append("  ".join(cells_out).rstrip())
    out += [""] * bool(notes.letters) + [f"({letter}) {note}" for note, letter in notes.letters.items()]
    return "\n".join(out)
