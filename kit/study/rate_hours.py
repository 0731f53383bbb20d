"""Do the periods of a rate plan cover every hour of every season exactly once?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Protocol

DAY_CLASSES = ("weekday", "weekend", "holiday")
MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September"]
MONTHS += ["October", "November", "December"]
Windows = tuple[tuple[float, float], ...]


class Timed(Protocol):
    """Anything that holds in some seasons and hours."""

    @property
    def seasons(self) -> list[str] | None: ...

    def windows(self, day_class: str) -> Windows | None: ...


def clock_text(hour: float) -> str:
    """16.5 as '16:30'."""
    minutes = round(hour * 60)
    return f"{minutes // 60}:{minutes % 60:02d}"


def month_problems(seasons: Mapping[str, list[int]]) -> list[str]:
    """Months that stand in no season or in more than one, by name."""
    problems = []
    for month in range(1, 13):
        where = [s for s, months in seasons.items() for m in months if m == month]
        if len(where) > 1:
            problems.append(f"seasons: {MONTHS[month - 1]} is named twice ({', '.join(where)})")
    missing = [MONTHS[m - 1] for m in range(1, 13) if not any(m in months for months in seasons.values())]
    if missing:
        problems.append(f"seasons: no season for {', '.join(missing)}")
    return problems


def coverage_problems(
    seasons: Mapping[str, object], periods: Mapping[str, Timed], day_classes: Sequence[str] = DAY_CLASSES[:2]
) -> list[str]:
    """Hours of a season and day class that have no period, or more than one."""
    problems = []
    for season in seasons:
        here = {k: p for k, p in periods.items() if p.seasons is None or season in p.seasons}
        for day_class in day_classes:
            found = _day_problems(_taken(here, day_class), here, day_class)
            problems += [f"{season} {day_class} {text}" for text in found]
    return problems


def rest_windows(periods: Mapping[str, Timed], season: str, day_class: str) -> Windows:
    """Hours of a season and day class that no period with stated hours takes."""
    here = {k: p for k, p in periods.items() if p.seasons is None or season in p.seasons}
    return tuple((a, b) for a, b, names in _pieces(_taken(here, day_class)) if not names)


def _taken(periods: Mapping[str, Timed], day_class: str) -> list[tuple[float, float, str]]:
    return [(a, b, name) for name, p in periods.items() for a, b in p.windows(day_class) or ()]


def _pieces(taken: list[tuple[float, float, str]]) -> list[tuple[float, float, tuple[str, ...]]]:
    """The day cut where periods change: (from, to, names of the periods that hold)."""
    edges = sorted({0.0, 24.0} | {edge for a, b, _ in taken for edge in (a, b)})
    pieces: list[tuple[float, float, tuple[str, ...]]] = []
    for a, b in pairwise(edges):
        names = tuple(name for start, end, name in taken if start <= a and b <= end)
        if pieces and pieces[-1][2] == names:
            pieces[-1] = (pieces[-1][0], b, names)
        else:
            pieces.append((a, b, names))
    return pieces


def _day_problems(
    taken: list[tuple[float, float, str]], periods: Mapping[str, Timed], day_class: str
) -> list[str]:
    rests = [name for name, p in periods.items() if p.windows(day_class) is None]
    problems = []
    if len(rests) > 1:
        problems.append(f"has two periods for the rest: {', '.join(rests)}")
    for start, end, names in _pieces(taken):
        span = f"{clock_text(start)} to {clock_text(end)}"
        if len(names) > 1:
            count = "two" if len(names) == 2 else str(len(names))
            problems.append(f"{span} has {count} periods: {', '.join(names)}")
        elif not names and not rests:
            problems.append(f"{span} has no period")
    return problems
