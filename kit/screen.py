"""The comparison as plain text for a terminal: measures down, options across."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from kit.report.formats import DASH, NBSP, Units, figure
from kit.report.measures import GROUPS, MEASURES

if TYPE_CHECKING:
    from kit.compare import Comparison
    from kit.study.finding import Finding

NAME_CHARS = 13
INDENT = "  "


def comparison_text(result: Comparison, width_chars: int = 100) -> str:
    """Verdict, table and findings of a comparison, no line longer than `width_chars` where that can be.

    Options that do not fit beside each other follow in a second table with the same rows.
    """
    model = result.study.model
    invented = " (invented data)" if model.invented else ""
    parts = [f"{model.name}{invented}, study {result.study.sha256[:12]}"]
    parts += [textwrap.fill(sentence, width_chars) for sentence in result.verdict.sentences]
    names = {slug: outcome.name for slug, outcome in result.outcomes.items()}
    rows = {str(row["option"]): row for row in result.summary.to_dict("records")}
    parts += table_text(rows, names, model.units, model.money.currency, width_chars)
    findings = [
        textwrap.fill(line, width_chars, subsequent_indent=INDENT)
        for line in finding_lines(result.findings, names)
    ]
    if findings:
        parts.append("\n".join(findings))
    parts.append("Findings never approve: local code and a licensed person decide.")
    return "\n\n".join(parts)


def finding_lines(findings: Iterable[Finding], names: Mapping[str, str]) -> list[str]:
    """Findings that stop or warn, one line each; one that several options share is said once."""
    options: dict[tuple[str, str], list[str]] = {}
    for finding in findings:
        if finding.severity != "note":
            name = names.get(finding.option, finding.option) if finding.option else "study"
            options.setdefault((finding.severity, finding.text), []).append(name)
    return [f"{severity}: {'; '.join(named)}: {text}" for (severity, text), named in options.items()]


def table_text(
    rows: Mapping[str, Mapping[Any, Any]],
    names: Mapping[str, str],
    units: Units,
    currency: str,
    width_chars: int,
) -> list[str]:
    """One text table for each handful of options that fits; `rows` is option slug -> column -> value.

    A measure that is empty for every option is named in a last line instead.
    """
    present = [m for m in MEASURES if any(m.column in row for row in rows.values())]
    cells = {
        slug: {m.column: _cell(row.get(m.column), m.unit, units, currency) for m in present}
        for slug, row in rows.items()
    }
    shown = [m for m in present if any(cells[slug][m.column] != DASH for slug in rows)]
    heads = {slug: textwrap.wrap(names.get(slug, slug), NAME_CHARS) for slug in rows}
    widths = {slug: max(map(len, [*heads[slug], *cells[slug].values()])) for slug in rows}
    label_chars = max((len(INDENT + m.label) for m in shown), default=0)
    tables = []
    for slugs in _fitting(widths, width_chars - label_chars):
        lines = _head_lines(heads, widths, slugs, label_chars)
        for group in GROUPS:
            members = [m for m in shown if m.group == group]
            if members:
                lines += ["", group]
            for m in members:
                figures = "".join(f"{INDENT}{cells[s][m.column]:>{widths[s]}}" for s in slugs)
                lines.append(f"{INDENT + m.label:<{label_chars}}{figures}")
        tables.append("\n".join(lines))
    empty = ", ".join(m.label for m in present if m not in shown)
    if empty:
        tables.append(textwrap.fill(f"No figure for any option: {empty}.", width_chars))
    return tables


def _cell(value: Any, unit: str, units: Units, currency: str) -> str:
    plain = value.item() if hasattr(value, "item") else value
    return figure(plain, unit, units, currency).replace(NBSP, " ")


def _fitting(widths: Mapping[str, int], room_chars: int) -> Iterator[list[str]]:
    """Options in their order, as many at a time as fit into `room_chars`, at least one."""
    batch: list[str] = []
    used = 0
    for slug, width in widths.items():
        need = width + len(INDENT)
        if batch and used + need > room_chars:
            yield batch
            batch, used = [], 0
        batch.append(slug)
        used += need
    if batch:
        yield batch


def _head_lines(
    heads: Mapping[str, Sequence[str]], widths: Mapping[str, int], slugs: Sequence[str], label_chars: int
) -> list[str]:
    """Names of the options, broken over a few lines that end at the table's first row."""
    height = max(len(heads[s]) for s in slugs)
    padded = {s: [""] * (height - len(heads[s])) + list(heads[s]) for s in slugs}
    return [
        " " * label_chars + "".join(f"{INDENT}{padded[s][i]:>{widths[s]}}" for s in slugs).rstrip()
        for i in range(height)
    ]
