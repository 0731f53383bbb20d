"""The look of the Word file: the converter's own model document with our styles, paper and footer."""

from __future__ import annotations

import io
import re
import zipfile

_FONT = '<w:rFonts w:ascii="Arial" w:hAnsi="Arial" w:eastAsia="Arial" w:cs="Arial"/>'
_FOOTER = "word/footer1.xml"
_NAMES = 'xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"'
_RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_INK, _SOFT, _ALARM, _ACCENT = "1D2529", "56616A", "A3271F", "0F4C81"
_TWIPS = {"A4": (11906, 16838), "Letter": (12240, 15840)}  # twentieths of a point
_TEXT_TWIPS = 9638  # 17 cm
_FIXED_DATE = (2026, 1, 1, 0, 0, 0)


def reference(model: bytes, paper: str, size: float = 1.0) -> bytes:
    """The converter's model document made ours: styles, paper size, a footer with page numbers.

    `size`: of type and the spaces between paragraphs, 1.0 for a memo, less for one page.
    """
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(model)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            text = old.read(name)
            if name in _CHANGES:
                text = _CHANGES[name](text.decode("utf-8"), paper, size).encode("utf-8")
            new.writestr(zipfile.ZipInfo(name, _FIXED_DATE), text)
        new.writestr(zipfile.ZipInfo(_FOOTER, _FIXED_DATE), _footer())
    return out.getvalue()


def whole_rows(document: bytes) -> bytes:
    """The document with no table row cut by the end of a page, and none that heads a group left alone there.

    So a small chart stays with its caption.
    """
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(document)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "word/document.xml":
                data = re.sub(rb"<w:tr>(?!<w:trPr>)", b"<w:tr><w:trPr></w:trPr>", data)
                data = data.replace(b"<w:tr><w:trPr>", b"<w:tr><w:trPr><w:cantSplit/>")
                data = re.sub(rb"<w:tr>.*?</w:tr>", _with_next, data, flags=re.DOTALL)
            new.writestr(zipfile.ZipInfo(name, _FIXED_DATE), data)
    return out.getvalue()


def _with_next(row: re.Match[bytes]) -> bytes:
    if b"<w:gridSpan" not in row[0]:
        return row[0]
    return re.sub(rb"(<w:pPr><w:pStyle [^>]*/>)", rb"\1<w:keepNext/>", row[0])


def _footer() -> str:
    def number(what: str) -> str:
        return f'<w:fldSimple w:instr=" {what} "><w:r><w:t>1</w:t></w:r></w:fldSimple>'

    def said(text: str) -> str:
        return f'<w:r><w:t xml:space="preserve">{text}</w:t></w:r>'

    return (
        f'<?xml version="1.0" encoding="UTF-8" standalone="yes"?><w:ftr {_NAMES}><w:p><w:pPr>'
        f'<w:pStyle w:val="Small"/><w:jc w:val="right"/></w:pPr>'
        f"{said('Page ')}{number('PAGE')}{said(' of ')}{number('NUMPAGES')}</w:p></w:ftr>"
    )


def _document(text: str, paper: str, size: float) -> str:
    wide, high = _TWIPS[paper]
    side = (wide - _TEXT_TWIPS) // 2
    section = (
        f'<w:sectPr><w:footerReference xmlns:r="{_RELATION}" w:type="default" r:id="rIdFooter"/>'
        f'<w:pgSz w:w="{wide}" w:h="{high}"/><w:pgMar w:top="1020" w:right="{side}" w:bottom="1080" '
        f'w:left="{side}" w:header="500" w:footer="500" w:gutter="0"/></w:sectPr>'
    )
    return re.sub(r"<w:sectPr>.*?</w:sectPr>", section, text, flags=re.DOTALL)


def _relations(text: str, paper: str, size: float) -> str:
    link = f'<Relationship Type="{_RELATION}/footer" Id="rIdFooter" Target="footer1.xml"/>'
    return text.replace("</Relationships>", f"{link}</Relationships>")


def _types(text: str, paper: str, size: float) -> str:
    kind = "application/vnd.openxmlformats-officedocument.wordprocessingml.footer+xml"
    return text.replace("</Types>", f'<Override PartName="/{_FOOTER}" ContentType="{kind}"/></Types>')


def _paragraph_style(
    name: str,
    half_points: int,
    *,
    before: int = 0,
    after: int = 120,
    bold: bool = False,
    italic: bool = False,
    colour: str = _INK,
    keep: bool = False,
    level: int | None = None,
    border: str = "",
) -> str:
    """One paragraph style. Spaces in twentieths of a point, `level` of the outline from 0."""
    identity = name.replace(" ", "")
    identity = identity[:1].upper() + identity[1:]
    outline = f'<w:outlineLvl w:val="{level}"/>' if level is not None else ""
    look = f"{_FONT}{'<w:b/>' if bold else ''}{'<w:i/>' if italic else ''}"
    return (
        f'<w:style w:type="paragraph" w:styleId="{identity}"><w:name w:val="{name}"/>'
        f'<w:basedOn w:val="Normal"/><w:qFormat/><w:pPr>{"<w:keepNext/><w:keepLines/>" if keep else ""}'
        f'{border}<w:spacing w:before="{before}" w:after="{after}"/>{outline}</w:pPr>'
        f'<w:rPr>{look}<w:color w:val="{colour}"/><w:sz w:val="{half_points}"/>'
        f'<w:szCs w:val="{half_points}"/></w:rPr></w:style>'
    )


def _edge(sides: str, colour: str, eighths: int, space: int = 6) -> str:
    lines = "".join(
        f'<w:{side} w:val="single" w:sz="{eighths}" w:space="{space}" w:color="{colour}"/>'
        for side in sides.split()
    )
    return f"<w:pBdr>{lines}</w:pBdr>"


_STYLES: tuple[str, ...] = (
    _paragraph_style("Title", 40, after=100, bold=True),
    _paragraph_style("heading 1", 26, before=360, after=80, bold=True, keep=True, level=0,
                     border=_edge("top", _INK, 8)),
    _paragraph_style("heading 2", 22, before=200, after=80, bold=True, keep=True, level=1),
    _paragraph_style("heading 3", 20, before=160, after=60, bold=True, keep=True, level=2),
    _paragraph_style("Body Text", 20),
    _paragraph_style("Compact", 20, after=60),
    _paragraph_style("Kicker", 20, after=40, colour=_SOFT),
    _paragraph_style("Question", 20, italic=True, colour=_SOFT, keep=True),
    _paragraph_style("Lead", 22),
    _paragraph_style("Verdict", 23, bold=True, border=_edge("left", _ACCENT, 24)),
    _paragraph_style("Danger", 20, border=_edge("top left bottom right", _ALARM, 12)),
    _paragraph_style("Small", 17, colour=_SOFT),
    _paragraph_style("Cautions", 20, after=60),
    _paragraph_style("Table figure", 16, before=20, after=20),
    _paragraph_style("Table figure small", 13, before=14, after=14),
    _paragraph_style("Table Caption", 19, before=160, after=60, bold=True, keep=True),
    _paragraph_style("Image Caption", 19, after=160, keep=False),
    _paragraph_style("Captioned Figure", 20, before=160, after=40, keep=True),
)  # fmt: skip

_TABLE_LINES = (
    '<w:tblBorders><w:top w:val="single" w:sz="6" w:color="1D2529"/>'
    '<w:bottom w:val="single" w:sz="6" w:color="1D2529"/>'
    '<w:insideH w:val="single" w:sz="4" w:color="D5DADD"/></w:tblBorders>'
)


def _scaled(style: str, size: float) -> str:
    """A style with its type size and spaces made smaller; half points stay whole."""
    return re.sub(
        r'(<w:(?:sz|szCs) w:val|w:before|w:after)="(\d+)"',
        lambda found: f'{found[1]}="{round(int(found[2]) * size)}"',
        style,
    )


def _styles(text: str, paper: str, size: float) -> str:
    for style in (_scaled(style, size) for style in _STYLES):
        identity = re.search(r'w:styleId="(\w+)"', style)
        assert identity is not None
        old = re.compile(rf'<w:style (?:(?!</w:style>).)*?w:styleId="{identity[1]}".*?</w:style>', re.DOTALL)
        text = old.sub("", text, count=1).replace("</w:styles>", f"{style}</w:styles>")
    text = text.replace(
        '<w:rFonts w:asciiTheme="minorHAnsi" w:eastAsiaTheme="minorEastAsia" w:hAnsiTheme="minorHAnsi" '
        'w:cstheme="minorBidi" />',
        _FONT,
    )
    text = text.replace(
        '<w:sz w:val="24" />\n        <w:szCs w:val="24" />', '<w:sz w:val="20"/><w:szCs w:val="20"/>', 1
    )
    margins = '<w:left w:w="108" w:type="dxa" />', '<w:right w:w="108" w:type="dxa" />'
    text = text.replace(
        '<w:tblInd w:w="0" w:type="dxa" />', f'<w:tblInd w:w="0" w:type="dxa"/>{_TABLE_LINES}', 1
    )
    for margin in margins:
        text = text.replace(margin, margin.replace("108", "50"))
    return text


_CHANGES = {
    "word/document.xml": _document,
    "word/_rels/document.xml.rels": _relations,
    "[Content_Types].xml": _types,
    "word/styles.xml": _styles,
}
