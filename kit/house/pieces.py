"""The load list as single pieces: what runs together, and on which leg of the panel each stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.house.appliances import ListLoads
    from kit.study.house_models import House

LegName = Literal["1", "2", "both"]


@dataclass(frozen=True)
class Piece:
    """One piece of one appliance.

    running_*, start_*: while it runs and while it starts, W and VA, its soft starter counted.
    plain_start_*: the same without a soft starter. leg: "both" for 240 V. wired: not on a cord.
    catches_up: whether hours without power leave it work to do.
    """

    slug: str
    name: str
    voltage_v: int
    leg: LegName
    running_w: float
    start_w: float
    running_va: float
    start_va: float
    wired: bool
    life_support: bool
    catches_up: bool

    @property
    def leg_shares(self) -> tuple[float, float]:
        """Share of its power on leg 1 and on leg 2."""
        return {"1": (1.0, 0.0), "2": (0.0, 1.0), "both": (0.5, 0.5)}[self.leg]


@dataclass(frozen=True)
class StartList:
    """Pieces of some appliances and which of them can be on at the same time.

    together: places in `pieces` of every largest set that may be on in one step of the year; any
    other set that may be on is part of one of them. legs_given: whether the house names a leg at all.
    """

    pieces: tuple[Piece, ...]
    together: tuple[tuple[int, ...], ...]
    legs_given: bool


def start_list(house: House, lists: ListLoads, slugs: Iterable[str], in_outage: bool = True) -> StartList:
    """The named appliances as pieces. Those that are never on in the year are left out.

    Two loads with hours in different parts of one step count as on together.
    """
    loads = lists.outage_by_appliance_kw if in_outage else lists.everyday_by_appliance_kw
    chosen = [s for s in dict.fromkeys(slugs) if bool((loads[s] > 0).any())]
    legs = assign_legs(house, chosen)
    pieces = []
    owner = []
    for place, slug in enumerate(chosen):
        piece = house.appliances[slug]
        name = piece.name or slug.replace("_", " ").capitalize()
        one = Piece(
            slug=slug,
            name=name,
            voltage_v=piece.voltage_v,
            leg=legs[slug],
            running_w=piece.draw_w,
            start_w=piece.start_total_w,
            running_va=piece.draw_va,
            start_va=piece.start_total_va,
            wired=piece.connection == "wired",
            life_support=piece.life_support,
            catches_up=piece.holds_a_level,
        )
        pieces += [one] * piece.count
        owner += [place] * piece.count
    sets = _largest_sets([loads[s] > 0 for s in chosen])
    together = tuple(tuple(i for i, place in enumerate(owner) if place in one) for one in sets)
    given = any(p.leg is not None for p in house.appliances.values())
    return StartList(tuple(pieces), together, given)


def _largest_sets(on: list[NDArray[np.bool_]]) -> list[frozenset[int]]:
    """Every set of loads that is on in some step and in no larger set; `on` holds one (n,) a load."""
    if not on:
        return []
    packed = np.packbits(np.stack(on, axis=1), axis=1)  # what is on in a step as a few bytes
    patterns = set(packed.view(f"V{packed.shape[1]}").ravel().tolist())
    rows = np.unpackbits(np.frombuffer(b"".join(patterns), np.uint8).reshape(len(patterns), -1), axis=1)
    sets = sorted((frozenset(np.flatnonzero(row).tolist()) for row in rows), key=len, reverse=True)
    kept: list[frozenset[int]] = []
    for one in sets:
        if one and not any(one <= other for other in kept):
            kept.append(one)
    return sorted(kept, key=sorted)


def assign_legs(house: House, slugs: Iterable[str]) -> dict[str, LegName]:
    """The leg of each named appliance: 240 V on both, given legs kept, the rest balanced.

    Balanced: the running watts of the 120 V loads differ as little as any placing allows, in whole
    watts; what shares a circuit stays together. Exact for any list: every sum that can stand on leg 1
    is kept. Of equally good placings the one that fills leg 1 first in the order of the list is taken.
    A panel that is not named leg by leg may stand otherwise.
    """
    legs: dict[str, LegName] = {}
    groups: dict[str, list[str]] = {}
    fixed_w = [0, 0]
    for slug in dict.fromkeys(slugs):
        piece = house.appliances[slug]
        if piece.voltage_v == 240:
            legs[slug] = "both"
        elif piece.leg is not None:
            legs[slug] = "1" if piece.leg == 1 else "2"
            fixed_w[piece.leg - 1] += round(piece.count * piece.draw_w)
        else:
            groups.setdefault(f"circuit {piece.circuit}" if piece.circuit else slug, []).append(slug)
    weights = [
        round(sum(house.appliances[s].count * house.appliances[s].draw_w for s in group))
        for group in groups.values()
    ]
    on_leg_1 = balanced(weights, fixed_w[0], fixed_w[1])
    for place, group in enumerate(groups.values()):
        for slug in group:
            legs[slug] = "1" if place in on_leg_1 else "2"
    return legs


def balanced(weights_w: list[int], leg_1_w: int = 0, leg_2_w: int = 0) -> frozenset[int]:
    """Places of the weights that go on leg 1 so that the legs, with what they hold, differ least."""
    reached: dict[int, tuple[int, ...]] = {0: ()}
    for place, weight in enumerate(weights_w):
        for total, places in list(reached.items()):
            reached.setdefault(total + weight, (*places, place))
    rest = sum(weights_w) + leg_2_w - leg_1_w
    best = min(reached, key=lambda total: (abs(rest - 2 * total), -total))
    return frozenset(reached[best])
