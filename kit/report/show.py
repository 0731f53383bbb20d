"""What a notebook cell displays: text with an HTML face, and charts that need no network.

Charts travel as Vega-Lite JSON under the version 5 media type, the newest one JupyterLab
draws without fetching anything; the exported page draws the same JSON with its own copy of
the library.
"""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

VEGALITE = "application/vnd.vegalite.v5+json"
RESULT = "application/vnd.ridethrough.result+json"
_SCHEMA_5 = "https://vega.github.io/schema/vega-lite/v5.json"


@dataclass(frozen=True)
class Shown:
    """One piece of a memo: HTML, and the same in plain text."""

    html: str
    text: str

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, Any]:
        return {"text/html": self.html, "text/plain": self.text}

    def __add__(self, other: Shown) -> Shown:
        return Shown(f"{self.html}\n{other.html}", f"{self.text}\n\n{other.text}".strip())


def escape(value: object) -> str:
    """Text of the study made safe inside HTML, quotes too."""
    return html.escape(str(value), quote=True)


def paragraph(text: str, kind: str = "") -> Shown:
    """One paragraph of plain text."""
    attribute = f' class="{kind}"' if kind else ""
    return Shown(f"<p{attribute}>{escape(text)}</p>", text)


def bullets(items: Sequence[str], kind: str = "", ordered: bool = False) -> Shown:
    """A list of plain sentences."""
    attribute = f' class="{kind}"' if kind else ""
    tag = "ol" if ordered else "ul"
    body = "".join(f"<li>{escape(item)}</li>" for item in items)
    marks = [f"{i}." if ordered else "-" for i in range(1, len(items) + 1)]
    text = "\n".join(f"{mark} {item}" for mark, item in zip(marks, items, strict=True))
    return Shown(f"<{tag}{attribute}>{body}</{tag}>", text)


def heading(text: str, level: int = 3) -> Shown:
    """A heading inside a section."""
    return Shown(f"<h{level}>{escape(text)}</h{level}>", text)


def together(parts: Sequence[Shown | None]) -> Shown:
    """Several pieces one under the other; None is skipped."""
    kept = [p for p in parts if p is not None]
    return Shown("\n".join(p.html for p in kept), "\n\n".join(p.text for p in kept))


def chart_bundle(chart: Any) -> dict[str, Any]:
    """Media bundle of one altair chart: Vega-Lite JSON and a plain sentence.

    The schema is not checked here, which takes several times as long as the rest: the tests check
    every chart's.
    """
    from kit.report.chart_data import plain_data

    with plain_data():
        spec = chart.to_dict(validate=False)
    spec["$schema"] = _SCHEMA_5
    title = spec.get("title", "")
    title = title.get("text", "") if isinstance(title, dict) else title
    return {VEGALITE: spec, "text/plain": f"Chart: {title}. {spec.get('description', '')}".strip()}


def show(*charts: Any) -> None:
    """Display altair charts one after another, in a notebook or a memo."""
    from IPython.display import display

    for chart in charts:
        display(chart_bundle(chart), raw=True)
