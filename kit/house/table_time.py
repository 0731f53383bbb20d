"""Dates and times of day as utilities write them in tables."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

DAY_S = 86400
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?!\d)")
_PACKED = re.compile(r"(\d{4})(\d{2})(\d{2})(?!\d)")
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d{2})(?!\d)")
_DAY_NAMED = re.compile(r"(\d{1,2})[- ]([a-z]{3,9})\.?[-, ]+(\d{4}|\d{2})(?!\d)", re.IGNORECASE)
_MONTH_NAMED = re.compile(r"([a-z]{3,9})\.? (\d{1,2}),? (\d{4})(?!\d)", re.IGNORECASE)
_WEEKDAY = re.compile(r"(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+", re.IGNORECASE)
_CLOCK = re.compile(
    r"(\d{1,2})(?::(\d{2}))?(?::(\d{2})(?:\.\d+)?)?\s*([ap])?\.?(?:m\.?)?\s*(z|[+-]\d{2}:?\d{2}|[a-z]{2,4}t)?",
    re.IGNORECASE,
)
_HOUR = re.compile(r"(?:he|hour ending|hour|hr|h)\.?\s*(\d{1,2})", re.IGNORECASE)
_RANGE = re.compile(r"\s+(?:to|until|-|–)\s+")


@dataclass(frozen=True)
class Day:
    """A date. Where `sure` is false, nobody knows yet which of month and day is which."""

    year: int
    month: int
    day: int
    sure: bool = True


@dataclass(frozen=True)
class Clock:
    """A time of day: seconds after midnight (86,400 for 24:00), the offset from UTC where given.

    later: 1 where it is said to be standard time, 0 daylight time, -1 not said.
    """

    second: int
    offset_s: int | None = None
    later: int = -1


@lru_cache(maxsize=20_000)
def split_day(text: str) -> tuple[Day, str] | None:
    """(date at the start of a text, what follows it), or None where no date stands there."""
    text = _WEEKDAY.sub("", text, count=1) if _WEEKDAY.match(text) else text
    if match := _YEAR_FIRST.match(text):
        found = Day(int(match[1]), int(match[3]), int(match[4]))
    elif match := _PACKED.match(text):
        found = Day(int(match[1]), int(match[2]), int(match[3]))
    elif match := _YEAR_LAST.match(text):
        first, second = int(match[1]), int(match[3])
        if match[2] == ".":
            found = Day(_full(match[4]), second, first)  # dots: day first, everywhere they are used
        else:
            found = Day(_full(match[4]), first, second, sure=False)
    elif (match := _DAY_NAMED.match(text)) and match[2].lower()[:3] in MONTHS:
        found = Day(_full(match[3]), MONTHS.index(match[2].lower()[:3]) + 1, int(match[1]))
    elif (match := _MONTH_NAMED.match(text)) and match[1].lower()[:3] in MONTHS:
        found = Day(int(match[3]), MONTHS.index(match[1].lower()[:3]) + 1, int(match[2]))
    else:
        return None
    if not (1 <= found.month <= 31 and 1 <= found.day <= 31 and 1970 <= found.year <= 2100):
        return None
    return found, text[match.end() :].lstrip("Tt, ")


def _full(year: str) -> int:
    return int(year) + (2000 if len(year) == 2 else 0)


@lru_cache(maxsize=20_000)
def read_clock(text: str) -> Clock | None:
    """A time of day: '13:00', '1:00 PM', '24:00', '0130', 'HE 5', '17:00-05:00'; None for others."""
    if match := _HOUR.fullmatch(text):
        return Clock(int(match[1]) * 3600) if int(match[1]) <= 25 else None
    if re.fullmatch(r"\d{3,4}", text):
        text = f"{text[:-2]}:{text[-2:]}"
    match = _CLOCK.fullmatch(text)
    if match is None:
        return None
    hour, minute, second = int(match[1]), int(match[2] or 0), int(match[3] or 0)
    if half := (match[4] or "").lower():
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "p" else 0)
    total = hour * 3600 + minute * 60 + second
    if minute > 59 or second > 59 or total > DAY_S:
        return None
    zone = (match[5] or "").lower()
    if not zone or zone[0] not in "z+-":
        return Clock(total, None, {"dt": 0, "st": 1}.get(zone[-2:], -1))
    digits = zone.replace(":", "")
    away = 0 if zone == "z" else int(f"{digits[0]}1") * (int(digits[1:3]) * 3600 + int(digits[3:5]) * 60)
    return Clock(total, away)


def first_clock(text: str) -> str:
    """'00:00-00:30' or '1 AM to 2 AM' in a column of times -> its first; no offset from UTC stands there."""
    first, dash, second = first_of_range(text).partition("-")
    return first.strip() if dash and ":" in second else first_of_range(text)


def first_of_range(text: str) -> str:
    """'2025-01-01 00:00 to 2025-01-01 01:00' -> its first time; other text as it is."""
    return _RANGE.split(text, maxsplit=1)[0]
