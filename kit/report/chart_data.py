"""The tables of a chart as plain values, in a fraction of the time that altair's own way takes.

altair copies and casts every table column by column inside pandas, for types that no chart of ours holds.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pandas as pd

_NAME = "ridethrough"
_NUMBERS, _WHOLE = "f", "iub"


def plain_data() -> Any:
    """A context: while it lasts, altair takes the tables of charts through `plain_values`."""
    return _known_to_altair().enable(_NAME)


@cache
def _known_to_altair() -> Any:
    """altair's register of such functions, once ours is in it."""
    from altair import data_transformers

    data_transformers.register(_NAME, plain_values)
    return data_transformers


def plain_values(data: Any) -> Any:
    """A table of numbers, words and yes or no as altair's `values`; anything else as altair does it."""
    columns = _columns(data) if isinstance(data, pd.DataFrame) else None
    if columns is None:
        from altair import default_data_transformer

        return default_data_transformer(data)
    names = list(columns)
    return {"values": [dict(zip(names, row, strict=True)) for row in zip(*columns.values(), strict=True)]}


def _columns(table: pd.DataFrame) -> dict[str, list[Any]] | None:
    """Each column as Python values, what is missing or endless as None; None where one is of another kind."""
    out: dict[str, list[Any]] = {}
    for name, column in table.items():
        kind = getattr(column.dtype, "kind", "")
        if not isinstance(name, str) or name in out:
            return None
        if isinstance(column.dtype, np.dtype) and kind in _NUMBERS:
            values = column.to_numpy()
            whole = bool(np.isfinite(values).all())
            made = values.tolist()
            out[name] = made if whole else [v if np.isfinite(v) else None for v in made]
        elif isinstance(column.dtype, np.dtype) and kind in _WHOLE:
            out[name] = column.to_numpy().tolist()
        elif isinstance(column.dtype, pd.StringDtype):
            out[name] = [v if isinstance(v, str) else None for v in column.tolist()]
        else:
            return None
    return out
