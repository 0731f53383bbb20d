"""How the published checks are shown: what is not checked first, then counts, then every case."""

from __future__ import annotations

import ast
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from kit.report.checks import MEANING, Check, Checked, Provenance, Published, Value
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, bullets, paragraph, together

SHORT: dict[Provenance, str] = {
    "seen": "page seen",
    "data": "open data",
    "worked": "worked by hand",
    "memory": "from memory",
    "practice": "common practice",
}
COLUMNS = ("Case", "Unit", "Expected", "Ours", "Difference", "Within", "Verdict")
MOST_DIGITS = 10
MOST_DECIMALS = 12


def not_checked(published: Published) -> Shown:
    """What no case reaches, and what stands on memory alone; in an installed kit, why nothing is here."""
    if published.missing:
        return paragraph(published.missing)
    return together(
        [
            bullets(published.unchecked),
            paragraph("How the expected values of the cases came here:"),
            bullets(list(_origins(published))),
            paragraph("Sources of cases that nobody opened again, and cases that have none:"),
            bullets(_unopened(published)),
            paragraph("Notes in the kit's own sources that say 'from memory', by file:"),
            bullets(list(notes_from_memory(Path(__file__).parents[1]))),
        ]
    )


def _origins(published: Published) -> Iterator[str]:
    counted = Counter(one.check.provenance for one in published.checked)
    for provenance, meaning in MEANING.items():
        if counted[provenance]:
            yield f"{counted[provenance]} of {len(published.checked)}: {meaning}"


def _unopened(published: Published) -> list[str]:
    shaky = [one.check.source for one in published.checked if one.check.provenance in ("memory", "practice")]
    return list(dict.fromkeys(shaky))


def notes_from_memory(folder: Path) -> Iterator[str]:
    """One line a source file of the kit: the short texts in it that say 'from memory'."""
    for path in sorted(folder.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if "from memory" in text and folder / "report" not in path.parents:
            told = "; ".join(dict.fromkeys(_notes(text))) or "in its description"
            yield f"{path.relative_to(folder.parent).as_posix()}: {told}"


def _notes(source: str) -> Iterator[str]:
    """Texts and remarks, not descriptions, that say so in one line."""
    nodes = list(ast.walk(ast.parse(source)))
    described = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    texts = (n for n in nodes if isinstance(n, ast.Constant) and id(n) not in described)
    yield from (str(text.value) for text in texts if "from memory" in str(text.value))
    for line in source.splitlines():
        remark = line.partition("  # ")[2]
        if "from memory" in remark:
            yield remark


def check_summary(published: Published) -> Shown:
    """The one line, then the counts by subject and by how the expected value came here."""
    if published.missing:
        return paragraph(published.missing)
    rows = [_count_row(subject, found) for subject, found in by_subject(published).items()]
    heads = ["Subject", "Cases", "Agree", *(words.capitalize() for words in SHORT.values())]
    return together(
        [
            paragraph(summary_line(published), "lead"),
            table("Cases by subject", heads, [Group("", rows)]),
        ]
    )


def summary_line(published: Published) -> str:
    """`N of N agree; M from memory`, and how many differ where any does."""
    agreeing = sum(one.agrees for one in published.checked)
    memory = sum(one.check.provenance == "memory" for one in published.checked)
    return f"{agreeing} of {len(published.checked)} agree; {memory} from memory."


def by_subject(published: Published) -> dict[str, list[Checked]]:
    """The checks under their subjects, in the order of the registry."""
    found: dict[str, list[Checked]] = {}
    for one in published.checked:
        found.setdefault(one.check.subject, []).append(one)
    return found


def _count_row(subject: str, found: Sequence[Checked]) -> list[str | Cell]:
    counted = Counter(one.check.provenance for one in found)
    told = [str(counted[provenance] or "") for provenance in SHORT]
    return [subject, str(len(found)), str(sum(one.agrees for one in found)), *told]


def differing(published: Published) -> Shown:
    """The cases that do not agree, or that there is none."""
    if published.missing:
        return paragraph(published.missing)
    wrong = [one for one in published.checked if not one.agrees]
    if not wrong:
        return paragraph("Every case agrees within what its source allows.")
    return _table("Cases that differ", wrong)


def check_tables(published: Published) -> Shown:
    """Every case: a table a subject, its rows under the source they come from."""
    if published.missing:
        return paragraph(published.missing)
    parts: list[Shown] = []
    for subject, found in by_subject(published).items():
        agreeing = sum(one.agrees for one in found)
        parts.append(_table(f"{subject}: {agreeing} of {len(found)} agree", found))
    return together(parts)


def _table(caption: str, found: Sequence[Checked]) -> Shown:
    groups: dict[str, list[list[str | Cell]]] = {}
    for one in found:
        heads = f"{one.check.source} [{SHORT[one.check.provenance]}]"
        groups.setdefault(heads, []).append(_row(one))
    return table(caption, COLUMNS, [Group(heads, rows) for heads, rows in groups.items()], (1,))


def _row(one: Checked) -> list[str | Cell]:
    check = one.check
    ours = Cell("none", one.stopped) if one.ours is None else Cell(_told(one.ours, decimals(check)))
    verdict = "agrees" if one.agrees else "DIFFERS"
    return [
        check.name,
        check.unit,
        _told(check.expected),
        ours,
        _difference(one),
        Cell(_allowed(check), check.why),
        Cell(verdict, kind="" if one.agrees else "no"),
    ]


def _told(value: Value, places: int | None = None) -> str:
    """A number, a range or a text; `places`: decimals, None for all that were typed."""
    if isinstance(value, str):
        return value
    if isinstance(value, tuple):
        return " to ".join(_told(end, places) for end in value)
    return f"{value:,.12g}" if places is None else f"{value:,.{places}f}"


def _difference(one: Checked) -> str:
    if one.ours is None:
        return ""
    if isinstance(one.check.expected, str):
        return "same" if one.agrees else "not the same"
    text = f"{one.difference:+,.{decimals(one.check)}f}"
    return text if text.strip("+-0.") else "0"


def _allowed(check: Check) -> str:
    allowed = check.allowed()
    if isinstance(check.expected, str) or not allowed:
        return "exact"
    return f"{allowed:.2g}"


def decimals(check: Check) -> int:
    """Decimals that show a tenth of the allowed difference, no more than ten digits in all."""
    allowed = check.allowed()
    if isinstance(check.expected, str):
        return 0
    ends = check.expected if isinstance(check.expected, tuple) else (check.expected,)
    size = max(abs(end) for end in ends)
    before = math.floor(math.log10(size)) + 1 if size else 1
    if not allowed:
        return 0 if all(float(end).is_integer() for end in ends) else 3
    wanted = 1 - math.floor(math.log10(allowed))
    return max(0, min(wanted, MOST_DIGITS - before, MOST_DECIMALS))
