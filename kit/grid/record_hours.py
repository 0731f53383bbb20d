"""The 12 x 24 schedules of a rate record as seasons, days and hours."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

Row = tuple[int, ...]
MONTHS = range(1, 13)


@dataclass(frozen=True)
class Schedule:
    """Which period holds in each hour; `by_month` has for each month its weekday and its weekend row."""

    by_month: tuple[tuple[Row, Row], ...]

    @classmethod
    def of(cls, record: dict[str, Any], weekday: str, weekend: str, period_count: int) -> Schedule:
        """The schedule of two fields. ValueError where one is not 12 x 24, or names an unknown period."""
        rows = [_rows(record, field, period_count) for field in (weekday, weekend)]
        return cls(tuple(zip(*rows, strict=True)))

    def blocks(self, name: str, seasons: dict[str, list[int]]) -> Iterator[tuple[str, int, dict[str, Any]]]:
        """(slug, number of the record's period, seasons, days and hours) of each block of a plan.

        A period whose hours are not the same all year gives a block for each way they are.
        """
        numbers = sorted({n for pair in self.by_month for row in pair for n in row})
        for number in numbers:
            alike: dict[tuple[str, str], list[str]] = {}
            for season, months in seasons.items():
                hours = tuple(_hours(row, number) for row in self.by_month[months[0] - 1])
                if any(hours):
                    alike.setdefault((hours[0], hours[1]), []).append(season)
            for part, ((weekday, weekend), where) in enumerate(alike.items(), start=1):
                slug = f"{name}_{number}" if len(alike) == 1 else f"{name}_{number}_{part}"
                block: dict[str, Any] = {"seasons": where} if len(where) < len(seasons) else {}
                yield slug, number, block | _days(weekday, weekend)


def season_months(parts: Sequence[Sequence[Any]]) -> dict[str, list[int]]:
    """Months in which everything is the same, as seasons. `parts`: sequences of twelve values."""
    alike: dict[str, list[int]] = {}
    for month in MONTHS:
        alike.setdefault(repr([part[month - 1] for part in parts]), []).append(month)
    if len(alike) == 1:
        return {"all_year": list(MONTHS)}
    return {f"season_{number}": months for number, months in enumerate(alike.values(), start=1)}


def _rows(record: dict[str, Any], field: str, period_count: int) -> list[Row]:
    found = record.get(field)
    if found is None and period_count == 1:
        return [(0,) * 24] * 12
    if not isinstance(found, list) or len(found) != 12 or any(len(row) != 24 for row in found):
        raise ValueError(f"{field} must hold 12 months of 24 hours")
    wrong = {n for row in found for n in row if n not in range(period_count)}
    if wrong:
        raise ValueError(f"{field} names period {min(wrong, key=str)}; there are {period_count}, from 0")
    return [tuple(row) for row in found]


def _hours(row: Row, number: int) -> str:
    """Hours of one period in one day, as the plan writes them: '6-9, 17-22'; empty where there are none."""
    edges = [h for h in range(25) if (h < 24 and row[h] == number) != (h > 0 and row[h - 1] == number)]
    return ", ".join(f"{a}-{b}" for a, b in zip(edges[::2], edges[1::2], strict=True))


def _days(weekday: str, weekend: str) -> dict[str, str]:
    if weekday == weekend:
        return {"hours": weekday}
    if not weekend:
        return {"days": "weekday", "hours": weekday}
    if not weekday:
        return {"days": "weekend", "hours": weekend}
    return {"hours": weekday, "weekend_hours": weekend}
