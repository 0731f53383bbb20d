"""Parts that every line chart shares: lines, markers, letters at the ends that never meet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from kit.report.theme import Look


def end_labels(frame: pd.DataFrame, x: str, y: str, low: float, high: float, gap_frac: float) -> pd.DataFrame:
    """Last point of every line, pushed apart so that no two labels meet."""
    ends = frame.sort_values(x, kind="stable").groupby("label", sort=False).tail(1)
    ends = ends.sort_values(y, kind="stable").reset_index(drop=True)
    gap = gap_frac * (high - low)
    at = ends[y].to_numpy(dtype=float).copy()
    for i in range(1, len(at)):
        at[i] = max(at[i], at[i - 1] + gap)
    if len(at) and at[-1] > high:
        at[-1] = high
        for i in range(len(at) - 2, -1, -1):
            at[i] = min(at[i], at[i + 1] - gap)
    return ends.assign(label_at=at)


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
    """The letter of each option at the end of its line."""
    import altair as alt

    inks = {look.letter: look.colour for look in items}
    return (
        alt.Chart(ends.assign(ink=ends["letter"].map(inks)))
        .mark_text(align="left", dx=8, fontWeight=600, fontSize=13)
        .encode(
            alt.X(f"{x}:Q"),
            alt.Y("label_at:Q"),
            text=alt.Text("letter:N"),
            color=alt.Color("ink:N", scale=None),
        )
    )  # fmt: skip
