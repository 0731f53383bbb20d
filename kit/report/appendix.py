"""The record behind a memo: findings, notes, assumptions, sources, how to reproduce, the data."""

from __future__ import annotations

from typing import Any

from kit.report import cautions as caution_texts
from kit.report.formats import figure
from kit.report.html_table import Cell, Group, table
from kit.report.show import RESULT, Shown, bullets, paragraph, together
from kit.report.theme import looks, option_key
from kit.units import split_name, unit_label

_ORDER = {"stop": 0, "warning": 1, "note": 2}
_WORDS = {"stop": "Stops", "warning": "Warning", "note": "Note"}


def findings(comparison: Any) -> Shown:
    """What stops an option, and the warnings; the letters say whom each concerns."""
    return _findings(comparison, ("stop", "warning"), "No check of this study gave a warning.")


def notes(comparison: Any) -> Shown:
    """The notes of the checks; the letters say whom each concerns."""
    return _findings(comparison, ("note",), "No notes.")


def _findings(comparison: Any, severities: tuple[str, ...], otherwise: str) -> Shown:
    letters = {x.slug: x.letter for x in looks(comparison)}
    whom: dict[tuple[str, str, str | None], list[str]] = {}
    for f in comparison.findings:
        if f.severity in severities:
            who = letters.get(f.option or "", "the study")
            whom.setdefault((f.severity, f.text, f.source), []).append(who)
    order = sorted(whom, key=lambda k: (_ORDER[k[0]], whom[k][0] != "the study", whom[k][0]))
    items = [
        f"{_WORDS[k[0]]}, {', '.join(dict.fromkeys(whom[k]))}: {_sentence(k[1])}"
        + (f" Source: {_sentence(k[2])}" if k[2] else "")
        for k in order
    ]
    if not items:
        return together([paragraph(otherwise), paragraph(caution_texts.FINDINGS, "small")])
    key = paragraph(f"{option_key(comparison)}.", "small")
    return together([key, bullets(items, "findings"), paragraph(caution_texts.FINDINGS, "small")])


def _sentence(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else f"{text}."


_CHOICES = {"kit_file", "name", "year", "seed", "units", "invented", "prepared", "asked", "allowed"}


def assumptions(comparison: Any) -> Shown:
    """Parts of the study that stand on no publication, so the reader can contradict them."""
    covers: dict[str, list[str]] = {}
    for item in comparison.assumptions:
        keys = str(item.get("path") or "the study").split(".")
        if keys[0] not in _CHOICES:
            why = str(item.get("source") or item["text"])
            covers.setdefault(why, []).append(_words(keys[1:3] if keys[0] == "options" else keys[:3]))
    if not covers:
        return paragraph("Every value of this study names a published source; the appendix lists them.")
    rows = [[why, _some(places)] for why, places in covers.items()]
    return table(
        "Taken without a publication",
        ["What is said of it", "Parts of the study"],
        [Group("", rows)],
        (1,),
        "words",
    )


def _words(keys: list[str]) -> str:
    *blocks, last = keys or [""]
    stem, _ = split_name(last)
    label = unit_label(last)
    end = stem.replace("_", " ") + (f" ({label})" if label else "") if stem else last.replace("_", " ")
    return " › ".join([*(k.replace("_", " ") for k in blocks if k != "options"), end])


def _some(parts: list[str], most: int = 6) -> str:
    kept = list(dict.fromkeys(parts))
    return "; ".join(kept[:most]) + (f"; and {len(kept) - most} more" if len(kept) > most else "")


def sources(comparison: Any) -> Shown:
    """The publications named in the study with the values they cover, and the kit's own defaults in use."""
    study = comparison.study
    named: dict[str, list[str]] = {}
    for path, origin in sorted(study.provenance.items()):
        if origin.source and "assum" not in origin.source.lower() and "invented" not in origin.source.lower():
            dated = f" (as of {origin.as_of})" if origin.as_of else ""
            named.setdefault(f"{origin.source}{dated}", []).append(_words(path.split(".")))
    by_source = [[source, _some(paths, 4)] for source, paths in named.items()]
    defaults: dict[tuple[str, str], list[str]] = {}
    for path, value in sorted(study.defaults_used.items()):
        keys = path.split(".")
        if value in ("", None, [], {}) or keys[0] in _CHOICES:
            continue
        defaults.setdefault((_words(keys[-1:]), _default(value)), []).append(_words(keys[:-1]))
    used = [[name, value, _some(places, 3)] for (name, value), places in defaults.items()]
    made = [
        table("Sources named in the study", ["Source", "Covers"], [Group("", by_source)], (1,), "words")
        if by_source
        else None,
        table("The kit’s defaults in use", ["Value", "Taken as", "In"], [Group("", used)], (1, 2), "words")
        if used
        else None,
    ]
    return together(made) if any(made) else paragraph("The study names no source.")


def _default(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        return "every month" if value == list(range(1, 13)) else ", ".join(map(str, value))
    return figure(value, "") if isinstance(value, bool) else str(value)


def reproduce(comparison: Any) -> Shown:
    """Name, hashes, versions and seed; never a path or a time of day."""
    from importlib.metadata import PackageNotFoundError, version

    study = comparison.study
    about = comparison.to_json()["study"]
    rows: list[list[str | Cell]] = [["Study", study.model.name], ["Study sha256", study.sha256]]
    rows += [
        [f"Data file {name.rsplit('/', 1)[-1]} sha256", digest]
        for name, digest in sorted(study.data_files.items())
    ]
    rows.append(["Kit", str(about["kit_version"])])
    for package in ("pandas", "numpy", "tzdata", "holidays"):
        try:
            rows.append([package, version(package)])
        except PackageNotFoundError:
            rows.append([package, "not installed"])
    rows.append(["Seed of the draws", str(about["seed"])])
    shown = table("How to reproduce", ["", "Value"], [Group("", rows)], (1,), "words codes")
    return shown + paragraph(
        "The same study file, data files, versions and seed give the same figures. "
        "Run the command ‘ridethrough memo’ on the study file; the parameters as resolved are "
        "embedded in the exported page.",
        "small",
    )


class Result:
    """The summary as data for whoever ran the notebook; a reader sees one line."""

    def __init__(self, comparison: Any) -> None:
        self.data: dict[str, Any] = comparison.to_json()

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, Any]:
        return {RESULT: self.data, "text/plain": f"{len(self.data['options'])} options, as data"}


def result(comparison: Any) -> Result:
    """The comparison as JSON, attached to the notebook; the exported page leaves it out."""
    return Result(comparison)
