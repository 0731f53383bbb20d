"""The local clock a Green Button file carries: offset from UTC and rules of daylight saving.

Source: NAESB REQ.21 ESPI, LocalTimeParameters and DstRuleType (bit layout from memory; the
sample files' rules decode to the US rules of 2007: second Sunday of March, first of November).
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_BY_DATE, _ON_OR_AFTER, _LAST = 0, 1, 7


@dataclass(frozen=True)
class DstRule:
    """The day and time of year at which the clock changes, on the clock that ends."""

    month: int
    operator: int  # 0 the date; 1 first such weekday on or after it; 2 to 6 first to fifth; 7 last
    day: int
    weekday: int  # 1 Monday to 7 Sunday, 0 none
    seconds: int  # after local midnight

    @classmethod
    def from_hex(cls, text: str) -> DstRule:
        """Decode eight hexadecimal digits.

        Raises:
            ValueError: no hexadecimal number, or no such month.
        """
        bits = int(text, 16)
        rule = cls(
            month=bits >> 28 & 0xF,
            operator=bits >> 25 & 0x7,
            day=bits >> 20 & 0x1F,
            weekday=bits >> 17 & 0x7,
            seconds=(bits >> 12 & 0x1F) * 3600 + (bits & 0xFFF),
        )
        if not 1 <= rule.month <= 12:
            raise ValueError(f"daylight saving rule {text!r} has no month from 1 to 12")
        return rule

    def local_in(self, year: int) -> datetime:
        """The moment of change in `year`, without a zone."""
        last = calendar.monthrange(year, self.month)[1]
        days = [datetime(year, self.month, day) for day in range(1, last + 1)]
        alike = [d for d in days if d.isoweekday() == self.weekday] or days
        if self.operator == _BY_DATE:
            chosen = days[min(max(self.day, 1), last) - 1]
        elif self.operator == _ON_OR_AFTER:
            chosen = next((d for d in alike if d.day >= self.day), alike[-1])
        elif self.operator == _LAST:
            chosen = alike[-1]
        else:
            chosen = alike[min(self.operator - 2, len(alike) - 1)]
        return chosen + timedelta(seconds=self.seconds)


@dataclass(frozen=True)
class MeterClock:
    """A meter's local clock."""

    offset_s: int  # standard time, seconds east of UTC
    saving_s: int = 0
    begins: DstRule | None = None
    ends: DstRule | None = None

    def local_s(self, utc_s: NDArray[np.int64]) -> NDArray[np.int64]:
        """Seconds since 1970-01-01 00:00 on the local clock, for seconds of UTC; same shape."""
        standard = utc_s + self.offset_s
        if not (self.saving_s and self.begins and self.ends) or not utc_s.size:
            return standard
        years = (standard.min(), standard.max())
        first, last = (datetime.fromtimestamp(int(s), UTC).year for s in years)
        saving = np.zeros(utc_s.shape, dtype=bool)
        for year in range(first, last + 1):
            here = _years(standard) == year
            begins = _seconds(self.begins.local_in(year))
            ends = _seconds(self.ends.local_in(year)) - self.saving_s
            after, before = standard >= begins, standard < ends
            saving |= here & ((after & before) if begins < ends else (after | before))
        return standard + saving * self.saving_s


def _seconds(moment: datetime) -> int:
    return int(moment.replace(tzinfo=UTC).timestamp())


def _years(seconds: NDArray[np.int64]) -> NDArray[np.int64]:
    return seconds.astype("datetime64[s]").astype("datetime64[Y]").astype(np.int64) + 1970
