"""Parts that every line chart shares: lines, markers, letters at the ends that never meet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from kit.report.theme import INK, Look

Floats = NDArray[np.float64]


def end_labels(frame: pd.DataFrame, x: str, y: str, low: float, high: float, gap_frac: float) -> pd.DataFrame:
    """Last point of every line, pushed apart so that no two labels meet."""
    ends = frame.sort_values(x, kind="stable").groupby("label", sort=False).tail(1)
    ends = ends.sort_values(y, kind="stable").reset_index(drop=True)
    return ends.assign(label_at=_apart(ends[y].to_numpy(dtype=float), low, high, gap_frac * (high - low)))


def _apart(wanted: Floats, low: float, high: float, gap: float) -> Floats:
    """Places for rising `wanted`, at least `gap` apart, as near to it as can be (least squares).

    Between low and high, and from `high` down where they do not fit. Neighbours that would meet are
    moved as one block: the pooling of adjacent violators, which gives the isotonic regression.
    """
    steps = gap * np.arange(len(wanted))
    blocks: list[tuple[float, int]] = []
    for value in (wanted - steps).tolist():
        count = 1
        while blocks and blocks[-1][0] > value:
            mean, many = blocks.pop()
            value = (value * count + mean * many) / (count + many)
            count += many
        blocks.append((value, count))
    at = np.repeat([mean for mean, _ in blocks], [count for _, count in blocks]) + steps
    return np.minimum(np.maximum(at, low + steps), high - steps[::-1])


LETTER_PX = 16.0  # a line of letters 13 px high


def end_rows(frame: pd.DataFrame, x: str, y: str, low: float, high: float, gap_frac: float) -> pd.DataFrame:
    """The letters at the ends: one a row, or several in a row where single ones would not fit.

    Columns: x, y (of the line, or the mean of several), letter (all of the row), label_at.
    """
    ends, gap = end_labels(frame, x, y, low, high, gap_frac), gap_frac * (high - low)
    if len(ends) <= (most := int(1.0 / gap_frac + 1e-9) + 1):
        return ends
    for per_row in range(2, len(ends) + 1):
        rows = [ends.iloc[places] for places in _rows_of(ends[y].to_numpy(dtype=float), per_row, gap)]
        at = np.array([row[y].mean() for row in rows])
        apart = _apart(at, low, high, gap)
        far = float(np.abs(apart - at).max()) > _FAR_ROWS * gap and per_row < _USUAL_PER_ROW
        if len(rows) <= most and not far:
            break
    letters = [" ".join(sorted(row["letter"], key=_in_order)) for row in rows]
    return pd.DataFrame({x: [row[x].iloc[0] for row in rows], y: at, "letter": letters, "label_at": apart})


_FAR_ROWS = 2  # a row of letters farther from its lines than this rather takes more letters,
_USUAL_PER_ROW = 4  # up to so many: more would take too much of a narrow page


def _rows_of(at: Floats, per_row: int, gap: float) -> list[list[int]]:
    """Neighbours share a row, up to `per_row` of them; where rows stay few, only those that would meet."""
    rows: list[list[int]] = []
    for i, value in enumerate(at):
        if rows and len(rows[-1]) < per_row and value - at[rows[-1][0]] < gap:
            rows[-1].append(i)
        else:
            rows.append([i])
    return rows


def _in_order(letter: str) -> tuple[int, str]:
    return len(letter), f"{letter:>4}"


def room_px(ends: pd.DataFrame) -> int:
    """The width that the letters at the ends need."""
    return 22 + 8 * max((len(str(letters)) for letters in ends["letter"]), default=1)


def spread_marks(frame: pd.DataFrame, x: str, items: Sequence[Look], end: float) -> pd.DataFrame:
    """A few markers a line, at different places on different lines so that none hides another."""
    parts = []
    for i, look in enumerate(items):
        line = frame[frame["label"] == look.label]
        at = end * (np.arange(5) + (i + 0.5) / len(items)) / 5
        nearest = [int(np.abs(line[x].to_numpy() - a).argmin()) for a in at]
        parts.append(line.iloc[sorted(set(nearest))])
    return pd.concat(parts)


def lines_of(frame: pd.DataFrame, items: Sequence[Look], x: Any, y: Any) -> list[Any]:
    """One line an option, in its colour and dash."""
    import altair as alt

    return [
        alt.Chart(frame.loc[frame["label"] == look.label, [x.shorthand[:-2], y.shorthand[:-2]]].round(5))
        .mark_line(color=look.colour, strokeDash=list(look.dash))
        .encode(x, y)
        for look in items
    ]


def end_letters(ends: pd.DataFrame, x: str, items: Sequence[Look]) -> Any:
    """The letter of each option at the end of its line, in its colour where it stands alone.

    Rows of several letters leave a narrow page no room for the lines: there they are not shown.
    """
    import altair as alt

    inks = {look.letter: look.colour for look in items}
    shared = ends["letter"].str.contains(" ").any()
    narrow = {"opacity": alt.condition("width > 400", alt.value(1), alt.value(0))} if shared else {}
    return (
        alt.Chart(ends.assign(ink=ends["letter"].map(inks).fillna(INK)))
        .mark_text(align="left", dx=8, fontWeight=600, fontSize=13)
        .encode(
            alt.X(f"{x}:Q"),
            alt.Y("label_at:Q"),
            text=alt.Text("letter:N"),
            color=alt.Color("ink:N", scale=None),
            **narrow,
        )
    )  # fmt: skip
