"""The load list: everyday and outage load of every appliance, and what a connection reaches."""

from __future__ import annotations

import math
from dataclasses import dataclass
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
    """

    everyday_kw: NDArray[np.float64]
    everyday_by_appliance_kw: dict[str, NDArray[np.float64]]
    outage_by_appliance_kw: dict[str, NDArray[np.float64]]
    house_kw: NDArray[np.float64]
    metered: bool = False


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
    with a thermostat the duty follows the outdoor temperature of shape (n,).

    Raises:
        ValueError: hours of use that cannot be read, with the appliance's path.
    """
    everyday, outage = {}, {}
    for slug, piece in house.appliances.items():
        warmth_frac = thermostat_duty_frac(piece.thermostat, temperature_c)
        full_kw = piece.count * piece.running_w / 1000.0 * warmth_frac
        in_use = _in_use_frac(piece.use, year, f"house.appliances.{slug}.use")
        everyday[slug] = full_kw * in_use * piece.duty_frac
        if piece.outage_use is not None:
            in_use = _in_use_frac(piece.outage_use, year, f"house.appliances.{slug}.outage_use")
        duty_frac = piece.duty_frac if piece.outage_duty_frac is None else piece.outage_duty_frac
        outage[slug] = full_kw * in_use * duty_frac
    total_kw = _sum(everyday, everyday, year.n)
    return ListLoads(total_kw, everyday, outage, house_kw=total_kw)


def thermostat_duty_frac(
    thermostat: Thermostat | None, temperature_c: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Share of the time a thermostat calls: 0 at idle_at_c, 1 at full_at_c, linear between, shape (n,)."""
    if thermostat is None:
        return np.ones(temperature_c.shape)
    reach_c = thermostat.full_at_c - thermostat.idle_at_c
    return np.clip((temperature_c - thermostat.idle_at_c) / reach_c, 0.0, 1.0)


def _in_use_frac(use: Use, year: Year, path: str) -> NDArray[np.float64]:
    try:
        hours_frac = share_in_hours(year, use.weekday, use.weekend)
    except ValueError as error:
        raise ValueError(f"{path}: {error}") from None
    return hours_frac * np.isin(year.month, use.months)


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
