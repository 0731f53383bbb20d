"""Outage rates from published reliability indices and from a household's own log."""

from __future__ import annotations

from dataclasses import dataclass

MINUTES_PER_HOUR = 60.0


@dataclass(frozen=True)
class IndexSplit:
    """Routine and major events of an average customer, not counted twice.

    Attributes:
        routine_events_per_year, major_events_per_year: [1/year].
        routine_mean_h, major_mean_h: mean hours of one event [h]; 0 where there is none.
    """

    routine_events_per_year: float
    routine_mean_h: float
    major_events_per_year: float
    major_mean_h: float

    @property
    def major_return_years(self) -> float | None:
        """Years between major events on average; None where there is none [year]."""
        return 1.0 / self.major_events_per_year if self.major_events_per_year > 0.0 else None


def split_indices(
    saifi_all: float, saidi_all_min: float, saifi_without: float, saidi_without_min: float
) -> IndexSplit:
    """Routine and major rates from a utility's indices with and without major event days.

    SAIFI counts sustained interruptions of the average customer in a year and SAIDI their minutes
    (IEEE Std 1366-2012); 'all events' includes the major event days, so the major part is the
    difference. Inputs as US EIA, Electric Power Annual, Table 11.1 prints them.

    Args:
        saifi_all, saifi_without: interruptions a year, with and without major event days [1/year].
        saidi_all_min, saidi_without_min: minutes a year, with and without [min/year].

    Raises:
        ValueError: negative figures, 'without' above 'all', or minutes without interruptions.
    """
    major_count, major_min = saifi_all - saifi_without, saidi_all_min - saidi_without_min
    if min(saifi_without, saidi_without_min) < 0.0:
        raise ValueError("SAIFI and SAIDI are at or above 0")
    if major_count < 0.0 or major_min < 0.0:
        raise ValueError("indices without major event days are above those with all events: swapped?")
    for count, minutes in ((saifi_without, saidi_without_min), (major_count, major_min)):
        if count == 0.0 and minutes > 0.0:
            raise ValueError(f"{minutes:g} minutes a year but no interruption: check SAIFI")
    return IndexSplit(
        routine_events_per_year=saifi_without,
        routine_mean_h=saidi_without_min / saifi_without / MINUTES_PER_HOUR if saifi_without else 0.0,
        major_events_per_year=major_count,
        major_mean_h=major_min / major_count / MINUTES_PER_HOUR if major_count else 0.0,
    )


@dataclass(frozen=True)
class RateEstimate:
    """Events a year, with the range that holds the true rate with 90 % chance [1/year]."""

    likely: float
    low: float
    high: float


def rate_from_log(event_count: int, years: float) -> RateEstimate:
    """Outage rate from a household's own log of `event_count` events in `years` years.

    The rate given the log is Gamma(event_count + 0.5, years): Poisson counts with Jeffreys'
    prior (Gelman et al., Bayesian Data Analysis, ch. 2; from memory). `likely` is its mean, the
    range its 5 % and 95 % points.

    Raises:
        ValueError: a negative count or no time.
    """
    from scipy.special import gammaincinv

    if event_count < 0 or not years > 0.0:
        raise ValueError(f"a log has 0 or more events in more than 0 years, got {event_count} in {years:g}")
    shape = event_count + 0.5
    low, high = (float(gammaincinv(shape, p)) / years for p in (0.05, 0.95))
    return RateEstimate(likely=shape / years, low=low, high=high)
