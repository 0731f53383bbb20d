"""Ladders: what each energy line of a plan counts, and its tiers in every segment of the year."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kit.grid.bill_days import Segments, dates_of, season_of_day

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.rate_models import RatePlan
    from kit.study.rate_parts import Tier

    Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Rungs:
    """The tiers of one season; W of them in each of T segments.

    Attributes:
        name: what the line adds to its ladder's name; empty where there is one season.
        share: share of each segment's days in the season, shape (T,).
        low_kwh, high_kwh: limits, shape (T, W) [kWh].
        price_usd_per_kwh: shape (W,) [USD/kWh].
    """

    name: str
    share: Floats
    low_kwh: Floats
    high_kwh: Floats
    price_usd_per_kwh: Floats


@dataclass(frozen=True, eq=False)
class Ladder:
    """What one energy line counts: the kWh of some columns, in tiers.

    Attributes:
        name: text of the line.
        columns: which columns' kWh it counts, shape (C,), 0 or 1.
        seasons: tiers of each season; a segment over a change of season is shared by days
            (common practice, no source).
        adder: True for a price on kWh that another ladder counts already.
    """

    name: str
    columns: Floats
    seasons: tuple[Rungs, ...]
    adder: bool

    @property
    def first_usd_per_kwh(self) -> Floats:
        """Price of the first tier in each segment, shape (T,) [USD/kWh]."""
        return np.asarray(sum(rungs.share * rungs.price_usd_per_kwh[0] for rungs in self.seasons))

    def marginal_usd_per_kwh(self, billed_kwh: Floats) -> Floats:
        """Price of the next kWh in each segment after `billed_kwh` (T,) [USD/kWh]."""
        total = np.zeros(billed_kwh.size)
        for rungs in self.seasons:
            tier = np.minimum(
                (billed_kwh[:, None] >= rungs.high_kwh).sum(axis=1), rungs.price_usd_per_kwh.size - 1
            )
            total += rungs.share * rungs.price_usd_per_kwh[tier]
        return total


def season_shares(plan: RatePlan, year: Year, cut: Segments) -> dict[str, Floats]:
    """Season slug -> share of the days of each segment that lie in it, shape (T,)."""
    season = season_of_day(plan, dates_of(year))
    return {
        slug: np.bincount(cut.of_day, weights=season == slug, minlength=cut.count) / cut.days
        for slug in plan.seasons
    }


def ladders(plan: RatePlan, year: Year, cut: Segments) -> tuple[Ladder, ...]:
    """Every ladder of a plan. Columns are the periods, then the periods again for each critical peak."""
    shares = season_shares(plan, year, cut)
    count, events = len(plan.energy), list(plan.critical_peaks.values())
    staying = np.array([e.adder_usd_per_kwh is not None for e in events], dtype=float)
    by_period = np.kron(np.concatenate([[1.0], staying]), np.eye(count))  # (P, C)
    over_all = plan.season_tiers
    if plan.tiers is not None:
        over_all = dict.fromkeys(plan.seasons, plan.tiers)
    made = []
    if over_all is not None:
        made.append(Ladder("energy", by_period.sum(axis=0), _by_season(plan, shares, cut), adder=False))
    for number, (slug, period) in enumerate(plan.energy.items()):
        if over_all is not None and not period.price_usd_per_kwh:
            continue
        name = f"energy {slug}" if over_all is None else f"adder {slug}"
        within = sum((shares[s] for s in period.seasons), np.zeros(cut.count)) if period.seasons else None
        tiers = period.tiers or [_open_tier(period.price_usd_per_kwh or 0.0)]
        rungs = _rungs("", np.ones(cut.count), tiers, cut, within)
        made.append(Ladder(name, by_period[number], (rungs,), adder=over_all is not None))
    for number, (slug, event) in enumerate(plan.critical_peaks.items(), start=1):
        mine = np.kron(np.eye(len(events) + 1)[number], np.ones(count))
        adder = event.adder_usd_per_kwh is not None
        price = event.adder_usd_per_kwh if adder else event.price_usd_per_kwh
        rungs = _rungs("", np.ones(cut.count), [_open_tier(price or 0.0)], cut, None)
        made.append(Ladder(f"critical peak {slug}", mine, (rungs,), adder=adder))
    return tuple(made)


def _by_season(plan: RatePlan, shares: dict[str, Floats], cut: Segments) -> tuple[Rungs, ...]:
    if plan.tiers is not None or plan.season_tiers is None:
        return (_rungs("", np.ones(cut.count), plan.tiers or [], cut, None),)
    several = len(plan.season_tiers) > 1
    return tuple(
        _rungs(f" {slug}" if several else "", shares[slug], plan.season_tiers[slug], cut, None)
        for slug in plan.seasons
    )


def _open_tier(price_usd_per_kwh: float) -> Tier:
    from kit.study.rate_parts import Tier

    return Tier(price_usd_per_kwh=price_usd_per_kwh)


def _rungs(name: str, share: Floats, tiers: Sequence[Tier], cut: Segments, within: Floats | None) -> Rungs:
    """Tiers as arrays. Limits a month go with a segment's share of its bill, limits a day with its days;
    `within`: share of its days in which the period holds at all."""
    part = np.ones(cut.count) if within is None else within
    high = np.full((cut.count, len(tiers)), np.inf)
    for number, tier in enumerate(tiers):
        if tier.up_to_kwh_per_month is not None:
            high[:, number] = tier.up_to_kwh_per_month * cut.share * part
        elif tier.up_to_kwh_per_day is not None:
            high[:, number] = tier.up_to_kwh_per_day * cut.days * part
    low = np.hstack([np.zeros((cut.count, 1)), high[:, :-1]])
    return Rungs(name, share, low, high, np.array([tier.price_usd_per_kwh for tier in tiers]))
