"""Public holidays of a country, by date and name.

The library that knows them loads the calendar of every country to give one, a seventh of a cold start, so its
answer is kept between runs (kit.disk).
"""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np


@lru_cache(maxsize=32)
def public_holidays(
    country: str, subdivision: str | None, years: tuple[int, ...]
) -> tuple[tuple[dt.date, str], ...]:
    """Date and name of every public holiday in these years, several names of a day joined by '; '.

    country: ISO 3166 code of two letters; subdivision: a state or province of it, None for none.

    Raises:
        ValueError: a country or a subdivision without a calendar.
    """
    from importlib.metadata import version

    from kit.disk import kept

    key = ("holidays", version("holidays"), country, str(subdivision), str(years))
    found = kept("house", "holidays", key, lambda: _asked(country, subdivision, years))
    dates = (dt.date.fromisoformat(date) for date in found["date"].tolist())
    return tuple(zip(dates, found["name"].tolist(), strict=True))


def _asked(country: str, subdivision: str | None, years: tuple[int, ...]) -> dict[str, np.ndarray]:
    """What the library says, as arrays of text."""
    import holidays
    import numpy as np
    from holidays.registry import EntityLoader

    # not list_supported_countries, which looks into the calendar of each country
    if country not in set(EntityLoader.get_country_codes(include_aliases=True)):
        raise ValueError(f"no holiday calendar for country {country!r}: ISO codes such as US, CA")
    if subdivision is not None and subdivision not in holidays.country_holidays(country).subdivisions:
        raise ValueError(f"country {country} has no subdivision {subdivision!r}")
    named = holidays.country_holidays(country, subdiv=subdivision, years=years)
    return {
        "date": np.array([date.isoformat() for date in named], dtype=str),
        "name": np.array(list(named.values()), dtype=str),
    }
