"""What a piece of equipment needs over the years: service, exercise, replacement.

Run hours of a year are taken as spread evenly over it. Dates are in years from
the purchase. Service is due by run hours or by the calendar, whichever comes
first, and doing it starts both counts again; a new engine starts all of them.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np
from numpy.typing import ArrayLike

from kit.account.time_value import Floats, by_year
from kit.study.equipment_models import Exercise, ServiceTask

MOST_EVENTS = 100_000  # of one task over a life; more means a wrong unit
DATE_DIGITS = 9  # dates are compared to this many places, about 30 ms


@dataclass(frozen=True)
class ExerciseRun:
    """A year of test runs. `fuel` in the unit of the fuel curve, L or m3."""

    run_h: float
    generated_kwh: float
    fuel: float


def exercise_run(
    exercise: Exercise, running_kw: float, fuel_per_h: Callable[[float], float] | float
) -> ExerciseRun:
    """Hours, energy and fuel of a year's exercise runs.

    running_kw: of the set after derating. fuel_per_h: fuel an hour at an output [kW],
    or the figure at the exercise output. Energy is lost in the set or a load bank.
    """
    run_h = exercise.runs_per_year * exercise.minutes / 60.0
    output_kw = exercise.output_frac * running_kw
    rate = float(fuel_per_h(output_kw)) if callable(fuel_per_h) else float(fuel_per_h)
    if not (math.isfinite(rate) and rate >= 0):
        raise ValueError(f"fuel_per_h at {output_kw:g} kW must be 0 or more, got {rate}")
    return ExerciseRun(run_h, run_h * output_kw, run_h * rate)


class _Use:
    """Use added up over the years (hours or kWh), even within a year."""

    def __init__(self, use_by_year: Floats) -> None:
        each = use_by_year.tolist()
        if min(each) < 0:
            raise ValueError("use of a year must be 0 or more")
        self.end_year = len(each)
        self._total = [0.0, *accumulate(each)]

    def until(self, date_year: float) -> float:
        """Use from the purchase to a date within the years."""
        k = min(int(date_year), self.end_year - 1)
        return float(self._total[k] + (date_year - k) * (self._total[k + 1] - self._total[k]))

    def date_of(self, use: float) -> float:
        """First date by which that much is used; infinite where the years end before."""
        k = bisect_left(self._total, use * (1 - 1e-12))
        if k > self.end_year:
            return math.inf
        if k == 0:
            return 0.0
        before, after = self._total[k - 1], self._total[k]
        return k - 1 + min(1.0, (use - before) / (after - before))


def _due_dates(
    use: _Use, start_year: float, stop_year: float, every_use: float | None, every_years: float | None
) -> list[float]:
    """Dates after the start up to the stop at which something due by use or by years falls due."""
    dates: list[float] = []
    date, used = start_year, use.until(start_year)
    while True:
        by_use = use.date_of(used + every_use) if every_use else math.inf
        by_calendar = date + every_years if every_years else math.inf
        date, used = (
            (by_use, used + (every_use or 0.0))
            if by_use <= by_calendar
            else (by_calendar, use.until(by_calendar) if by_calendar <= use.end_year else math.inf)
        )
        if round(date, DATE_DIGITS) > stop_year:
            return dates
        dates.append(round(date, DATE_DIGITS))
        if len(dates) > MOST_EVENTS:
            raise ValueError(
                f"due more than {MOST_EVENTS} times: check the unit of {every_use}, {every_years}"
            )


def year_of(date_year: float) -> int:
    """The year 1..N in whose course, or at whose end, a date falls."""
    return max(1, math.ceil(round(date_year, DATE_DIGITS)))


def service_count_by_year(
    every_h: float | None, every_years: float | None, run_h_by_year: ArrayLike, horizon_years: int,
    new_engine_years: Sequence[float] = (),
) -> Floats:  # fmt: skip
    """How often one task is done in each year (N,).

    every_h, every_years: due after that many run hours or years since last done.
    run_h_by_year: outage and exercise hours, one number or (N,) [h].
    new_engine_years: dates at which a new engine starts every count again; what is due
    on that very date is not done. Due at the horizon's end is done.
    """
    use = _Use(by_year(run_h_by_year, horizon_years, "run_h_by_year"))
    counts = np.zeros(horizon_years)
    starts = [0.0, *sorted(new_engine_years)]
    for start, stop in zip(starts, [*starts[1:], None], strict=True):
        last = float(horizon_years) if stop is None else stop
        for date in _due_dates(use, start, last, every_h, every_years):
            if stop is None or date < round(stop, DATE_DIGITS):
                counts[year_of(date) - 1] += 1
    return counts


def break_in_count_by_year(
    break_in_h: float | None, run_h_by_year: ArrayLike, horizon_years: int,
    new_engine_years: Sequence[float] = (),
) -> Floats:  # fmt: skip
    """Break-in services of each year (N,): once an engine, at its first `break_in_h` run hours."""
    counts = np.zeros(horizon_years)
    use = _Use(by_year(run_h_by_year, horizon_years, "run_h_by_year"))
    if break_in_h is None:
        return counts
    starts = [0.0, *sorted(new_engine_years)]
    for start, stop in zip(starts, [*starts[1:], math.inf], strict=True):
        date = use.date_of(use.until(start) + break_in_h)
        if date < stop and date <= horizon_years:
            counts[year_of(date) - 1] += 1
    return counts


def service_usd_by_year(
    service: Mapping[str, ServiceTask], run_h_by_year: ArrayLike, horizon_years: int,
    break_in_h: float | None = None, break_in_usd: float = 0.0, new_engine_years: Sequence[float] = (),
) -> Floats:  # fmt: skip
    """Cost of a generator's service in each year at today's prices (N,) [usd], positive.

    Every task of `service` counts for itself; see service_count_by_year.
    """
    total = break_in_usd * break_in_count_by_year(break_in_h, run_h_by_year, horizon_years, new_engine_years)
    for task in service.values():
        total += task.price_usd * service_count_by_year(
            task.every_h, task.every_years, run_h_by_year, horizon_years, new_engine_years
        )
    return total


def replacement_years(
    life_years: float, life_use: float | None, use_by_year: ArrayLike, horizon_years: int
) -> tuple[float, ...]:
    """Dates at which a piece is worn out and bought again, all before the horizon.

    life_years: life by age [years]. life_use: life by use, run hours of an engine [h] or
    delivered energy of a battery [kWh], None where age alone counts; the earlier of both ends it.
    use_by_year: in the unit of life_use, one number or (N,). A piece that wears out at the
    horizon is not replaced. A date inside a year is booked at that year's end.
    """
    if not life_years > 0 or (life_use is not None and not life_use > 0):
        raise ValueError(f"a life must be above 0, got {life_years} years and {life_use} of use")
    use = _Use(by_year(use_by_year, horizon_years, "use_by_year"))
    dates = _due_dates(use, 0.0, float(horizon_years), life_use, life_years)
    return tuple(date for date in dates if date < horizon_years)


def unused_life_frac(
    life_years: float, life_use: float | None, use_by_year: ArrayLike, horizon_years: int
) -> float:
    """Share of the last piece's life that is left at the horizon, by straight line, 0 to 1.

    Of age and use, the one that has worn it more. Arguments as in replacement_years.
    """
    bought = (0.0, *replacement_years(life_years, life_use, use_by_year, horizon_years))[-1]
    worn = (horizon_years - bought) / life_years
    if life_use is not None:
        use = _Use(by_year(use_by_year, horizon_years, "use_by_year"))
        worn = max(worn, (use.until(horizon_years) - use.until(bought)) / life_use)
    return min(1.0, max(0.0, 1.0 - worn))
