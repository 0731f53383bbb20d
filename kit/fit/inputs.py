"""What the fit check is handed: plain numbers, by shape rather than by class."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from kit.study.dwelling_models import GasService, PropaneTank


class Peaks(Protocol):
    """Peaks of the must-run list, watts.

    `worst_start_w` is the whole list while its worst load starts, `all_start_w` everything
    starting at once, `largest_120v_w` the starting watts of the largest 120 V piece alone,
    `leg_w` the running watts of the heavier leg of a split-phase panel. `worst_start_va` is the worst
    start in volt-amperes where the list tells them from watts, `leg_start_w` the most on one leg during
    a start where the house names the legs; None where not known.
    """

    @property
    def running_w(self) -> float: ...
    @property
    def worst_start_w(self) -> float: ...
    @property
    def worst_start_slug(self) -> str | None: ...
    @property
    def needs_240v(self) -> Sequence[str]: ...
    @property
    def largest_120v_w(self) -> float: ...
    @property
    def all_start_w(self) -> float: ...
    @property
    def leg_w(self) -> float: ...
    @property
    def worst_start_va(self) -> float | None: ...
    @property
    def leg_start_w(self) -> float | None: ...


class Piece(Protocol):
    """One piece of one appliance: watts and volt-amperes while it runs and while it starts.

    `leg_shares` is its share on leg 1 and on leg 2: (0.5, 0.5) at 240 V. `wired`: not on a cord.
    """

    @property
    def slug(self) -> str: ...
    @property
    def voltage_v(self) -> int: ...
    @property
    def running_w(self) -> float: ...
    @property
    def start_w(self) -> float: ...
    @property
    def running_va(self) -> float: ...
    @property
    def start_va(self) -> float: ...
    @property
    def leg_shares(self) -> tuple[float, float]: ...
    @property
    def wired(self) -> bool: ...
    @property
    def life_support(self) -> bool: ...


class StartList(Protocol):
    """Pieces, and places in `pieces` of each largest set that may be on at the same time.

    `legs_given` is False where the house names no leg: then what runs on a leg is not known.
    """

    @property
    def pieces(self) -> Sequence[Piece]: ...
    @property
    def together(self) -> Sequence[Sequence[int]]: ...
    @property
    def legs_given(self) -> bool: ...


class Allowed(Protocol):
    """What may be built at this address."""

    @property
    def gas(self) -> bool: ...
    @property
    def outdoor_set(self) -> bool: ...
    @property
    def roof(self) -> bool: ...
    @property
    def wiring(self) -> bool: ...


class SolarArray(Protocol):
    """The part of a solar array that fit looks at."""

    @property
    def inverter_kw(self) -> float: ...
    @property
    def charges_battery_in_outage(self) -> bool: ...
    @property
    def allowed_with_generator(self) -> bool: ...


@dataclass(frozen=True)
class Everything:
    """Nothing is forbidden."""

    gas: bool = True
    outdoor_set: bool = True
    roof: bool = True
    wiring: bool = True


@dataclass(frozen=True)
class Site:
    """What the address sets: service, fuel limit, gas supply, the neighbour's distance, night noise limit."""

    service_rating_a: float = 200.0
    busbar_a: float | None = None
    gas: GasService | None = None
    propane_tank: PropaneTank | None = None
    coldest_c: float | None = None
    legal_limit_l: float | None = None
    boundary_m: float | None = None
    night_limit_db_a: float | None = None
