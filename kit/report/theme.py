"""One look for every chart: our palette, dashes, marker shapes, type sizes.

Colour never carries meaning alone. An option has a letter, a colour, a dash and a marker
shape; a cost line or a source of power has a colour of clearly different lightness and a
word beside it. The palette was chosen for lightness steps that survive a grey printer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import Any, ParamSpec, TypeVar

Given = ParamSpec("Given")
Drawn = TypeVar("Drawn")

FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Noto Sans', 'Liberation Sans', sans-serif"
INK = "#1d2529"
SOFT_INK = "#56616a"
RULE = "#d5dadd"
ALARM = "#a3271f"
WIDTH_PX = 864
TEXT_PX = 12
LABEL_PX = 12

_COLOURS = (
    "#6f777d",
    "#0f4c81",
    "#c8691c",
    "#2b7a5d",
    "#8b3a73",
    "#a08b1d",
    "#4c95bd",
    "#5b3a29",
    "#b0606a",
    "#3c3c8c",
)
_DASHES: tuple[tuple[int, ...], ...] = (
    (2, 3), (1, 0), (7, 3), (10, 3, 2, 3), (4, 2), (12, 4), (2, 2, 6, 2), (14, 3, 3, 3),
    (5, 2, 1, 2), (18, 2),
)  # fmt: skip
_SHAPES = (
    "circle",
    "square",
    "triangle-up",
    "diamond",
    "cross",
    "triangle-down",
    "triangle-left",
    "triangle-right",
    "M0,-1L.87,-.5L.87,.5L0,1L-.87,.5L-.87,-.5Z",  # hexagon
    "M-1,-1L1,-1L-1,1L1,1Z",  # hourglass
)


@dataclass(frozen=True)
class Look:
    """How one option is drawn and named. `letter` keys tables and charts to each other."""

    slug: str
    name: str
    letter: str
    colour: str
    dash: tuple[int, ...]
    shape: str

    @property
    def label(self) -> str:
        """Letter and name, as in every legend and table head."""
        return f"{self.letter}\N{NO-BREAK SPACE} {self.name}"

    @property
    def heading(self) -> str:
        """The same for a narrow table head: the letter on a line of its own."""
        return f"{self.letter}\n{self.name}"


def looks(comparison: Any) -> list[Look]:
    """One look an option, in the order of the comparison. Doing nothing is always A and grey.

    A comparison narrowed to a few options says in `lettered` which there were, so that letters stay.
    """
    places = {slug: i for i, slug in enumerate(getattr(comparison, "lettered", comparison.outcomes))}
    out = []
    for slug, outcome in comparison.outcomes.items():
        i = places[slug]
        colour, dash, shape = _looks_of(i)
        letter = chr(65 + i) if i < 26 else f"Z{i - 25}"
        name = outcome.name or slug.replace("_", " ")
        out.append(Look(slug, name, letter, colour, dash, shape))
    return out


def _looks_of(i: int) -> tuple[str, tuple[int, ...], str]:
    """Colour, dash and shape of option i: after nine options each colour meets another dash and shape."""
    if i == 0:
        return _COLOURS[0], _DASHES[0], _SHAPES[0]
    again, place = divmod(i - 1, len(_COLOURS) - 1)
    others = len(_COLOURS) - 1
    dash, shape = 1 + (place + 2 * again) % others, 1 + (place + 4 * again) % others
    return _COLOURS[1 + place], _DASHES[dash], _SHAPES[shape]


def option_key(comparison: Any) -> str:
    """Letters and names of the options, as one line of text."""
    return "; ".join(look.label for look in looks(comparison))


def option_marks(items: Sequence[Look]) -> dict[str, Any]:
    """Encodings colour and shape of the markers of options, sharing one legend keyed by `label`.

    Lines are drawn one an option with `Look.colour` and `Look.dash`, so that no dash spoils
    the outline of a legend symbol.
    """
    import altair as alt

    domain = [look.label for look in items]
    legend = alt.Legend(
        title=None,
        orient="top",
        direction="horizontal",
        columns=alt.ExprRef(f"width > 640 ? {_across(domain)} : width > 480 ? 2 : 1"),
        labelLimit=330,
        symbolLimit=0,
        symbolSize=80,
        columnPadding=18,
        rowPadding=3,
        offset=24,
    )
    colours, shapes = [x.colour for x in items], [x.shape for x in items]
    return {
        "color": alt.Color("label:N", scale=alt.Scale(domain=domain, range=colours), legend=legend),
        "shape": alt.Shape("label:N", scale=alt.Scale(domain=domain, range=shapes), legend=legend),
    }


def _across(labels: Sequence[str]) -> int:
    """How many legend entries fit beside each other on a wide page."""
    longest = max((len(label) for label in labels), default=0)
    return 4 if longest <= 22 else 3 if longest <= 30 else 2


def config() -> dict[str, Any]:
    """The chart configuration shared by all charts."""
    text = {"font": FONT, "fontSize": TEXT_PX}
    return {
        "font": FONT,
        "background": "white",
        "view": {"stroke": None},
        "title": {
            "anchor": "start", "frame": "group", "font": FONT, "fontSize": 14, "fontWeight": 600,
            "color": INK,
            "subtitleFont": FONT, "subtitleFontSize": TEXT_PX, "subtitleColor": SOFT_INK, "offset": 10,
            "subtitlePadding": 4,
        },
        "axis": {
            "labelFont": FONT, "labelFontSize": TEXT_PX, "labelColor": INK, "titleFont": FONT,
            "titleFontSize": TEXT_PX, "titleFontWeight": 400, "titleColor": SOFT_INK, "gridColor": "#e7eaec",
            "domainColor": "#9aa3a9", "tickColor": "#9aa3a9", "titlePadding": 8, "labelPadding": 4,
            "labelFlush": False,
        },
        "legend": {
            "labelFont": FONT, "labelFontSize": TEXT_PX, "labelColor": INK, "titleFont": FONT,
            "titleFontSize": TEXT_PX, "titleColor": SOFT_INK, "offset": 8,
        },
        "text": text,
        "line": {"strokeWidth": 2},
        "point": {"size": 60, "filled": True},
    }  # fmt: skip


def unchecked(draw: Callable[Given, Drawn]) -> Callable[Given, Drawn]:
    """Spare the chart altair's check of each part as it is made; the tests check every whole chart."""

    @wraps(draw)
    def spared(*args: Given.args, **kwargs: Given.kwargs) -> Drawn:
        from altair.utils.schemapi import debug_mode

        with debug_mode(False):
            return draw(*args, **kwargs)

    return spared


def finish(
    chart: Any,
    title: str,
    description: str,
    height_px: int,
    right_px: int = 12,
    subtitle: str = "",
    width_px: int = WIDTH_PX,
) -> Any:
    """Give a new single or layered chart its size, title, spoken description and the common look.

    The width is that of the whole picture, axes included, so a narrower page can lower it. The
    chart itself is changed: altair's own methods copy all its layers at every step.
    """
    import altair as alt

    chart.width = width_px
    chart.height = height_px
    chart.title = alt.Title(title, subtitle=subtitle) if subtitle else alt.Title(title)
    chart.description = description
    chart.autosize = alt.AutoSizeParams(type="fit-x", contains="padding")
    chart.padding = {"left": 4, "right": right_px, "top": 4, "bottom": 4}
    chart.config = config()
    return chart
