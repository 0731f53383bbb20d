"""The readings of a meter as a plain table that any program reads, this kit too."""

from __future__ import annotations

import importlib
from io import BytesIO
from typing import TYPE_CHECKING, Literal

import numpy as np

from kit.house.meter import local_of

if TYPE_CHECKING:
    import pandas as pd

    from kit.house.readings import Readings


class ParquetMissingError(Exception):
    """Parquet is asked for and its library is not there; the text says what to do."""


def tidy_table(readings: Readings, time_zone: str | None) -> pd.DataFrame:
    """One row an interval, in order of time.

    Columns: start (ISO text of the local clock, with its offset from UTC), minutes, kwh (from the
    grid), and where the file has them export_kwh and cost_usd (in the file's currency). An interval
    that was read in one direction only is empty in the other.
    """
    import pandas as pd

    taken, sent = readings.taken, readings.sent
    start_s = np.union1d(taken.start_s, sent.start_s)
    columns: dict[str, object] = {"start": _iso_text(start_s, readings, time_zone)}
    lengths = pd.Series(taken.length_s, index=taken.start_s).reindex(start_s)
    lengths = lengths.fillna(pd.Series(sent.length_s, index=sent.start_s).reindex(start_s))
    columns["minutes"] = lengths.to_numpy() / 60
    columns["kwh"] = pd.Series(taken.energy_wh / 1000, index=taken.start_s).reindex(start_s).to_numpy()
    if sent.start_s.size:
        kwh = pd.Series(sent.energy_wh / 1000, index=sent.start_s)
        columns["export_kwh"] = kwh.reindex(start_s).to_numpy()
    if np.isfinite(taken.cost_usd).any():
        cost = pd.Series(taken.cost_usd, index=taken.start_s)
        columns["cost_usd"] = cost.reindex(start_s).to_numpy()
    return pd.DataFrame(columns)


def _iso_text(start_s: np.ndarray, readings: Readings, time_zone: str | None) -> list[str]:
    """'2025-01-31T17:00:00-05:00' of each start."""
    local = local_of(start_s, readings, time_zone)
    away_min = (local - start_s) // 60
    texts = np.datetime_as_string(local.astype("datetime64[s]"))
    signs = {
        m: f"{'-' if m < 0 else '+'}{abs(m) // 60:02d}:{abs(m) % 60:02d}" for m in set(away_min.tolist())
    }
    return [f"{text}{signs[m]}" for text, m in zip(texts.tolist(), away_min.tolist(), strict=True)]


def tidy_bytes(table: pd.DataFrame, form: Literal["csv", "parquet"]) -> bytes:
    """The table as a file's content.

    Raises:
        ParquetMissingError: the extra that brings Parquet is not installed.
    """
    if form == "csv":
        return table.to_csv(index=False, lineterminator="\n").encode()
    try:
        importlib.import_module("pyarrow")
    except ImportError:
        raise ParquetMissingError(
            "Parquet needs pyarrow, which comes with the extra: pip install 'ridethrough[parquet]'"
        ) from None
    stream = BytesIO()
    table.to_parquet(stream, index=False, engine="pyarrow")
    return stream.getvalue()
