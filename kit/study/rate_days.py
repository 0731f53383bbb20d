"""Dates inside a rate plan: a day of every year ('07-14') or of one year ('2026-07-14')."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise
from typing import Annotated

from pydantic import AfterValidator

_DAY = re.compile(r"(?:(\d{4})-)?(\d{2})-(\d{2})")
_LEAP_YEAR = 2000


def _checked(text: str) -> str:
    day_in(text, None)
    return text


DayText = Annotated[str, AfterValidator(_checked)]


def day_in(text: str, year: int | None) -> date | None:
    """The date that a text means in a calendar year; None where it means a day of another year.

    29 February of every year is 28 February where a year has none. `year` None checks the text only.

    Raises:
        ValueError: text that is no date.
    """
    match = _DAY.fullmatch(text)
    try:
        if match is None:
            raise ValueError
        month, day = int(match[2]), int(match[3])
        written = date(int(match[1]) if match[1] else _LEAP_YEAR, month, day)
    except ValueError:
        raise ValueError(f"{text!r} is not a date: write 07-14 for every year, or 2026-07-14") from None
    if match[1]:
        return written if year is None or written.year == year else None
    if year is None:
        return written
    try:
        return date(year, month, day)
    except ValueError:
        return date(year, 2, 28)


def order_problem(starts: str | None, ends: str | None) -> str:
    """What is wrong with the first and last day a plan is in force; empty where nothing is."""
    if starts is None or ends is None:
        return ""
    if (len(starts) == len("07-14")) != (len(ends) == len("07-14")):
        return f"starts {starts} and ends {ends}: write both with the year, or both without"
    if ends < starts:
        return f"the plan ends on {ends}, before it starts on {starts}"
    return ""


def day_after(text: str) -> str:
    """The next day, written as the day is."""
    day = day_in(text, None)
    assert day is not None
    after = day + timedelta(days=1)
    return after.isoformat() if len(text) > len("07-14") else after.isoformat()[5:]


def rising_problem(texts: Sequence[str]) -> str:
    """What is wrong with the days on which twelve bills begin; empty where nothing is."""
    if any(len(text) != len("07-14") for text in texts):
        return "write days of every year, such as 01-16"
    if len(texts) != 12:
        return f"twelve bills begin on twelve days, got {len(texts)}"
    if not texts[0].startswith("01-"):
        return f"the first day must lie in January, got {texts[0]}"
    for before, after in pairwise(texts):
        if after <= before:
            return f"the days must rise, got {before} before {after}"
    return ""
