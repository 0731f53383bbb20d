"""The load list: everyday and outage load of every appliance, and what a connection reaches."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from kit.calendar import share_in_hours

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.house_models import Appliance, House, Thermostat, Use


@dataclass(frozen=True, eq=False)
class ListLoads:
    """Loads of the list, mean of each step; arrays of shape (n,) [kW].

    Attributes:
        everyday_kw: the whole list on an ordinary day.
        everyday_by_appliance_kw, outage_by_appliance_kw: by slug.
        house_kw: what the house draws from the grid: the meter where there is one, else the list.
        metered: whether house_kw comes from a meter.
        outage_full_by_appliance_kw: in an outage, were everything that calls at all running without a
            pause in its hours of use: the ceiling of the catch-up after hours without power.
    """

    everyday_kw: NDArray[np.float64]
    everyday_by_appliance_kw: dict[str, NDArray[np.float64]]
    outage_by_appliance_kw: dict[str, NDArray[np.float64]]
    house_kw: NDArray[np.float64]
    metered: bool = False
    outage_full_by_appliance_kw: dict[str, NDArray[np.float64]] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class OutageLoads:
    """What one connection carries in an outage, and the everyday load behind it; arrays (n,) [kW].

    Attributes:
        must_run_kw, wanted_kw, can_wait_kw: loads it reaches, by tier.
        unreached_must_run: slugs of must-run loads it does not reach, and their load.
        tolerates_gap_s: the shortest gap a reached must-run load bears (of all must-run loads
            where none is reached, infinite where there are none); 0 for life support.
        behind_kw: everyday load behind the connection, all a battery can shift.
        life_support: slugs of reached and unreached loads that keep someone alive.
    """

    must_run_kw: NDArray[np.float64]
    wanted_kw: NDArray[np.float64]
    can_wait_kw: NDArray[np.float64]
    unreached_must_run: tuple[str, ...]
    unreached_must_run_kw: NDArray[np.float64]
    tolerates_gap_s: float
    behind_kw: NDArray[np.float64]
    life_support: tuple[str, ...]


def list_loads(house: House, year: Year, temperature_c: NDArray[np.float64]) -> ListLoads:
    """The load of every appliance of the list, everyday and in an outage.

    kW = count x running watts / 1000 x share of the step in its hours and months of use x duty;
    with a thermostat the duty follows the outdoor temperature of shape (n,). In an outage an appliance
    has its own hours, duty and balance temperature where they are given, and with
    `outage_people_home` its weekend hours on weekdays too.

    Raises:
        ValueError: hours of use that cannot be read, with the appliance's path.
    """
    everyday, outage, full = {}, {}, {}
    for slug, piece in house.appliances.items():
        rated_kw = piece.count * piece.draw_w / 1000.0
        path = f"house.appliances.{slug}"
        warmth_frac = thermostat_duty_frac(piece.thermostat, temperature_c, rated_kw)
        hours_frac, duty_frac = _in_use(piece.use, year, piece.on_frac, f"{path}.use")
        everyday[slug] = rated_kw * warmth_frac * hours_frac * duty_frac
        use, where, home = piece.outage_use, f"{path}.outage_use", False
        if use is None:
            use, where, home = piece.use, f"{path}.use", house.outage_people_home
        warmth_frac = thermostat_duty_frac(piece.thermostat, temperature_c, rated_kw, in_outage=True)
        hours_frac, duty_frac = _in_use(use, year, piece.on_frac, where, home)
        if piece.outage_duty_frac is not None:
            duty_frac = np.full(year.n, piece.outage_duty_frac)
        outage[slug] = rated_kw * warmth_frac * hours_frac * duty_frac
        full[slug] = rated_kw * hours_frac * (outage[slug] > 0)
    total_kw = _sum(everyday, everyday, year.n)
    return ListLoads(total_kw, everyday, outage, house_kw=total_kw, outage_full_by_appliance_kw=full)


def thermostat_duty_frac(
    thermostat: Thermostat | None,
    temperature_c: NDArray[np.float64],
    rated_kw: float = 0.0,
    in_outage: bool = False,
) -> NDArray[np.float64]:
    """Share of the time a thermostat calls, shape (n,): 0 at idle_at_c, linear up to 1.

    It reaches 1 at full_at_c, or where load_kw_per_c x degrees is `rated_kw`. In an outage the line starts
    at outage_idle_at_c where that is given.
    """
    if thermostat is None:
        return np.ones(temperature_c.shape)
    moved_c = thermostat.outage_idle_at_c if in_outage else None
    idle_c = thermostat.idle_at_c if moved_c is None else moved_c
    return np.clip((temperature_c - idle_c) / thermostat.reach_c(rated_kw), 0.0, 1.0)


def _in_use(
    use: Use, year: Year, duty_frac: float, path: str, home: bool = False
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Share of each step inside its hours, months and seasons of use, and the duty in it, both (n,).

    `home`: weekdays are lived like weekends.
    """
    hours_frac = _hours_frac(year, use.weekday, use.weekend, home, path)
    duties_frac = np.full(year.n, duty_frac)
    for slug, season in use.seasons.items():
        weekday = use.weekday if season.weekday is None else season.weekday
        weekend = use.weekend if season.weekend is None else season.weekend
        inside = np.isin(year.month, season.months)
        share_frac = _hours_frac(year, weekday, weekend, home, f"{path}.seasons.{slug}")
        hours_frac = np.where(inside, share_frac, hours_frac)
        if season.duty_frac is not None:
            duties_frac[inside] = season.duty_frac
    return hours_frac * np.isin(year.month, use.months), duties_frac


def _hours_frac(year: Year, weekday: str, weekend: str, home: bool, path: str) -> NDArray[np.float64]:
    try:
        return share_in_hours(year, weekend if home else weekday, weekend)
    except ValueError as error:
        raise ValueError(f"{path}: {error}") from None


def _sum(loads: dict[str, NDArray[np.float64]], slugs: object, n: int) -> NDArray[np.float64]:
    total = np.zeros(n)
    for slug in slugs:  # type: ignore[attr-defined]
        total += loads[slug]
    return total


def reaches(appliance: Appliance, connected_to: str | None) -> bool:
    """Whether a source connected there can carry this appliance at all.

    Raises:
        ValueError: a connection of no known name.
    """
    if connected_to is None:
        return False
    if connected_to == "whole_house":
        return True
    if connected_to == "backed_panel":
        return appliance.backed
    if connected_to == "plug_in":
        return appliance.connection == "cord"
    raise ValueError(f"connected_to must be whole_house, backed_panel or plug_in, got {connected_to!r}")


def outage_loads(house: House, lists: ListLoads, connected_to: str | None) -> OutageLoads:
    """The loads a connection reaches, by tier, and what it leaves in the dark.

    behind_kw of a metered house is the meter for the whole house, else the lower of the meter
    and the everyday list load of the circuits reached: a connection shifts no more than either.
    """
    n = lists.everyday_kw.size
    pieces = house.appliances
    reached = [slug for slug, piece in pieces.items() if reaches(piece, connected_to)]
    tiers = {
        tier: _sum(lists.outage_by_appliance_kw, [s for s in reached if pieces[s].tier == tier], n)
        for tier in ("must_run", "wanted", "can_wait")
    }
    must_run = [slug for slug, piece in pieces.items() if piece.tier == "must_run"]
    dark = tuple(slug for slug in must_run if slug not in reached)
    strict = [slug for slug in must_run if slug in reached] or must_run
    gaps_s = [0.0 if pieces[s].life_support else pieces[s].tolerates_gap_s for s in strict]
    return OutageLoads(
        must_run_kw=tiers["must_run"],
        wanted_kw=tiers["wanted"],
        can_wait_kw=tiers["can_wait"],
        unreached_must_run=dark,
        unreached_must_run_kw=_sum(lists.outage_by_appliance_kw, dark, n),
        tolerates_gap_s=min(gaps_s, default=math.inf),
        behind_kw=_behind_kw(lists, reached, connected_to),
        life_support=tuple(slug for slug, piece in pieces.items() if piece.life_support),
    )


def _behind_kw(lists: ListLoads, reached: list[str], connected_to: str | None) -> NDArray[np.float64]:
    if connected_to == "whole_house":
        return lists.house_kw.copy()
    listed_kw = _sum(lists.everyday_by_appliance_kw, reached, lists.everyday_kw.size)
    return np.minimum(lists.house_kw, listed_kw)
