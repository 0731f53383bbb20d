"""Small meter files, invented, for tests."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np
import pandas as pd

HEAD = '<?xml version="1.0"?>\n<feed xmlns="http://www.w3.org/2005/Atom" xmlns:e="http://naesb.org/espi">'
HOUR_S = 3600


def epoch(text: str) -> int:
    """Seconds since 1970 of a moment of UTC."""
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp())


def entry(resource: str, self_link: str = "", up: str = "", related: Sequence[str] = ()) -> str:
    links = [("self", self_link), ("up", up), *(("related", r) for r in related)]
    tags = "".join(f'<link rel="{rel}" href="{href}"/>' for rel, href in links if href)
    return f"<entry>{tags}<content>{resource}</content></entry>"


def reading_type(
    unit: int | None = 72, accumulation: int = 4, flow: int = 1, power: int = 0, commodity: int = 1
):
    """A reading type resource with the codes given."""
    uom = "" if unit is None else f"<e:uom>{unit}</e:uom>"
    return (
        f"<e:ReadingType><e:accumulationBehaviour>{accumulation}</e:accumulationBehaviour>"
        f"<e:commodity>{commodity}</e:commodity><e:flowDirection>{flow}</e:flowDirection>"
        f"<e:powerOfTenMultiplier>{power}</e:powerOfTenMultiplier>{uom}</e:ReadingType>"
    )


def block(values: Sequence[float | str], start_s: int, length_s: int = HOUR_S) -> str:
    readings = "".join(
        f"<e:IntervalReading><e:timePeriod><e:duration>{length_s}</e:duration>"
        f"<e:start>{start_s + i * length_s}</e:start></e:timePeriod>"
        f"<e:value>{value}</e:value></e:IntervalReading>"
        for i, value in enumerate(values)
    )
    return f"<e:IntervalBlock>{readings}</e:IntervalBlock>"


def feed(*entries: str) -> str:
    return HEAD + "".join(entries) + "</feed>"


def simple(values: Sequence[float | str], start_s: int, length_s: int = HOUR_S, **kind: int) -> str:
    """A feed of one block and one reading type."""
    return feed(entry(reading_type(**kind)), entry(block(values, start_s, length_s)))


def table(start: str, end: str, zone: str, kw: float | np.ndarray, minutes: int = 60) -> str:
    """A table of local times with their offsets and energy."""
    index = pd.date_range(start, end, freq=f"{minutes}min", tz=zone, inclusive="left")
    kwh = np.broadcast_to(np.asarray(kw, dtype=float) * minutes / 60, len(index))
    rows = (f"{t.isoformat()},{float(v)!r}" for t, v in zip(index, kwh, strict=True))
    return "Start,kWh\n" + "\n".join(rows) + "\n"


def series(
    values: Sequence[float | str], start_s: int, number: int = 1, length_s: int = HOUR_S, **kind: int
) -> list[str]:
    """Entries of one meter reading of usage point 1: its type, the reading, its block, tied by links."""
    at = f"UsagePoint/1/MeterReading/{number}"
    return [
        entry(reading_type(**kind), f"ReadingType/{number}"),
        entry(
            "<e:MeterReading/>",
            at,
            "UsagePoint/1/MeterReading",
            [f"ReadingType/{number}", f"{at}/IntervalBlock"],
        ),
        entry(block(values, start_s, length_s), f"{at}/IntervalBlock/1", f"{at}/IntervalBlock"),
    ]
