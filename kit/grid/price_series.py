"""Real-time prices from a CSV file, laid on the steps of a year."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kit.calendar import calendar_year

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.models import StudyModel
    from kit.study.rate_parts import PriceSeries

    Floats = NDArray[np.float64]

_COLUMNS = ("start", "import_usd_per_kwh", "export_usd_per_kwh")
_HOURS = {0.25, 0.5, 1.0}


class PriceSeriesError(ValueError):
    """A price series cannot be used; the text names the file, the line and a way out."""


@dataclass(frozen=True, eq=False)
class StepPrices:
    """Prices of each step, shape (n,) [USD/kWh]; negative prices are kept."""

    import_usd_per_kwh: Floats
    export_usd_per_kwh: Floats


def step_prices(series: PriceSeries, year: Year) -> StepPrices:
    """The prices of a file on the steps of a year: repeated over shorter steps, averaged over longer.

    Raises:
        PriceSeriesError: no such column, a value that is no number, times that are not equal steps, a
            local time that the clock change makes ambiguous or leaves out, a year not wholly covered.
    """
    zone = str(year.index.tz)
    file, calendar_year = series.file, int(year.index[0].year)
    frame, start = _read(file, zone)
    step_h = _step_h(file, start)
    first, last = year.index[0].tz_convert("UTC"), year.index[-1].tz_convert("UTC")
    if start[0] > first or start[-1] + _hours(step_h) < last + _hours(year.step_h):
        span = f"{start[0].tz_convert(zone):%Y-%m-%d %H:%M} to {start[-1].tz_convert(zone):%Y-%m-%d %H:%M}"
        raise PriceSeriesError(f"{file}: covers {span}, not the whole study year {calendar_year}")
    made = []
    for name in _COLUMNS[1:]:
        column = name if name in frame else "import_usd_per_kwh"
        values = frame[column].to_numpy(np.float64) * series.multiply_by
        made.append(_on_steps(values, start, step_h, year))
    return StepPrices(made[0], made[1])


def check_series(model: StudyModel) -> None:
    """Read every price series of a study's plans, for its own year. Raises PriceSeriesError."""
    year = calendar_year(model.year, model.house.time_zone, model.house.step_min)
    plans = [model.rate_plan, *(o.rate_plan for o in model.options.values() if o.rate_plan is not None)]
    for version in (v for plan in plans for v in plan.versions()):
        if version.series is not None:
            step_prices(version.series, year)


def _read(file: str, zone: str) -> tuple[pd.DataFrame, pd.DatetimeIndex]:
    import pandas as pd

    try:
        frame = pd.read_csv(file, dtype=str, skipinitialspace=True, comment="#")
    except (OSError, ValueError) as error:
        raise PriceSeriesError(f"{file}: cannot be read as CSV: {error}") from None
    for name in _COLUMNS[:2]:
        if name not in frame:
            got = ", ".join(map(str, frame.columns))
            raise PriceSeriesError(f"{file}:1: has no column {name}; it has {got}")
    for name in (name for name in _COLUMNS[1:] if name in frame):
        numbers = pd.to_numeric(frame[name], errors="coerce")
        wrong = np.flatnonzero(~np.isfinite(numbers))
        if wrong.size:
            got = frame[name].iloc[wrong[0]]
            raise PriceSeriesError(f"{file}:{_line(wrong[0])}: {name} must be a number (got {got!r})")
        frame[name] = numbers
    if frame.empty:
        raise PriceSeriesError(f"{file}: holds no price")
    return frame, _times(file, frame["start"], zone)


def _line(row: int) -> int:
    """Line in the file of a row, where no comment stands above."""
    return int(row) + 2


def _times(file: str, texts: pd.Series, zone: str) -> pd.DatetimeIndex:
    """UTC start of each row; local clock times are read in the house's own zone."""
    import pandas as pd

    with_offset = texts.str.contains(r"(?:Z|[+-]\d{2}:?\d{2})$", regex=True, na=False)
    if with_offset.any() and not with_offset.all():
        row = int(np.flatnonzero(with_offset != with_offset.iloc[0])[0])
        raise PriceSeriesError(f"{file}:{_line(row)}: some times have an offset and some have none")
    parsed = pd.to_datetime(texts, errors="coerce", utc=bool(with_offset.all()), format="ISO8601")
    wrong = np.flatnonzero(parsed.isna())
    if wrong.size:
        got = texts.iloc[wrong[0]]
        raise PriceSeriesError(f"{file}:{_line(wrong[0])}: {got!r} is no time: write 2026-07-14T16:00-05:00")
    index = pd.DatetimeIndex(parsed)
    return index if with_offset.all() else _localized(file, index, zone)


def _localized(file: str, index: pd.DatetimeIndex, zone: str) -> pd.DatetimeIndex:
    """Local clock times in their zone: the hour shown twice must stand there twice, in order."""
    import pandas as pd

    hint = f"write the offset, as in {index[0]:%Y-%m-%dT%H:%M}-05:00"
    shifted = pd.DatetimeIndex(index.tz_localize(zone, ambiguous="NaT", nonexistent="shift_forward"))
    known = np.asarray(shifted.notna())
    absent = np.flatnonzero(known & np.asarray(shifted.tz_localize(None) != index))
    if absent.size:
        row = int(absent[0])
        text = f"{index[row]:%Y-%m-%d %H:%M} does not exist in {zone}, clocks go forward over it"
        raise PriceSeriesError(f"{file}:{_line(row)}: {text}; {hint}")
    twice = np.flatnonzero(~known)
    counts = index[twice].value_counts()
    once = counts[counts != 2]
    if len(once):
        row = int(twice[index[twice] == once.index[0]][0])
        text = f"{once.index[0]:%Y-%m-%d %H:%M} happens twice in {zone}, and stands here {once.iloc[0]} times"
        raise PriceSeriesError(f"{file}:{_line(row)}: {text}; {hint}")
    seen: set[pd.Timestamp] = set()
    first = np.zeros(len(index), dtype=bool)  # the first of two is still daylight time
    for row in twice.tolist():
        first[row] = index[row] not in seen
        seen.add(index[row])
    return index.tz_localize(zone, ambiguous=first).tz_convert("UTC")


def _step_h(file: str, start: pd.DatetimeIndex) -> float:
    if len(start) < 2:
        raise PriceSeriesError(f"{file}: one row is no series")
    gaps_h = np.diff(start.as_unit("ns").asi8) / 3.6e12
    step_h = float(gaps_h[0])
    uneven = np.flatnonzero(np.abs(gaps_h - step_h) > 1e-9)
    if uneven.size:
        row = int(uneven[0]) + 1
        raise PriceSeriesError(
            f"{file}:{_line(row)}: {gaps_h[uneven[0]]:g} h after the row before, the others {step_h:g} h: "
            "a row is missing, twice, or out of order"
        )
    if step_h not in _HOURS:
        raise PriceSeriesError(f"{file}: rows are {step_h:g} h apart; give 15, 30 or 60 min")
    return step_h


def _hours(count: float) -> pd.Timedelta:
    import pandas as pd

    return pd.Timedelta(hours=count)


def _on_steps(values: Floats, start: pd.DatetimeIndex, step_h: float, year: Year) -> Floats:
    """Mean price over each step of the year."""
    fine_h = min(step_h, year.step_h)
    per_row, per_step = round(step_h / fine_h), round(year.step_h / fine_h)
    offset_h = (year.index[0].tz_convert("UTC") - start[0]).total_seconds() / 3600.0
    skip = round(offset_h / fine_h)
    fine = np.repeat(values, per_row)[skip : skip + year.n * per_step]
    return np.asarray(fine.reshape(year.n, per_step).mean(axis=1))
