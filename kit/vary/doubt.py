"""How sure an answer is, all of it at once: joint draws, where the choice turns, swings, shares.

`doubt_of` moves a study's ground, which takes some seconds: `doubt_beside` begins it in another process
and `doubt_made` waits for it. What it gives goes from one process to the other without that ground
(`Doubt.alone`) and is put on it again (`Doubt.on`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from kit.study import Study
from kit.vary.aside import Aside
from kit.vary.axes import Axis
from kit.vary.breakeven import breakeven_table, turn_table, win_map
from kit.vary.draws import Draws, chances, draw
from kit.vary.ground import Ground
from kit.vary.kept import Kept, physics
from kit.vary.levers import Lever, outage_hours, path_lever, price_levers, usual_levers
from kit.vary.otherwise import other_ways
from kit.vary.shares import variance_shares
from kit.vary.swings import swings

if TYPE_CHECKING:
    import pandas as pd

CHECKED = 3  # joint runs made exactly beside the draws
NOBODY = "nobody"


@dataclass(frozen=True, eq=False)
class Doubt:
    """Draws of a study, where its choice turns (kit.vary.breakeven.turn_table) and what moves it.

    pair: the chosen option and its nearest rival, None where fewer than two may be chosen; then
    crossed, shares and ways are empty. mapped: who is chosen over the levers `across` and `up`.
    """

    draws: Draws
    turned: pd.DataFrame
    pair: tuple[str, str] | None
    swung: pd.DataFrame
    crossed: pd.DataFrame
    shares: pd.DataFrame
    across: Lever
    up: Lever
    mapped: pd.DataFrame
    axes: Mapping[str, Axis]
    ways: pd.DataFrame

    def alone(self) -> Doubt:
        """The same without the ground it stands on."""
        return self._with(None)

    def on(self, ground: Ground) -> Doubt:
        """The same on a ground of the same study; what was run for it need not be run again."""
        ground.axes.update(self.axes)
        return self._with(ground)

    def _with(self, ground: Any) -> Doubt:
        across, up = (replace(one, ground=ground, setting=_no_setting) for one in (self.across, self.up))
        return replace(self, draws=replace(self.draws, ground=ground), across=across, up=up)


def _no_setting(values: Any) -> dict[str, Any]:
    raise ValueError("this number was moved elsewhere: make its lever anew")


def doubt_beside(ground: Ground) -> Aside[Doubt | None]:
    """Begin `doubt_of` beside what this process does next."""

    def work() -> Doubt | None:
        made = doubt_of(ground)
        return None if made is None else made.alone()

    return Aside(work)


def doubt_made(beside: Aside[Doubt | None], ground: Ground) -> Doubt | None:
    """Wait for what was begun; None where the study has no number with a low and a high value."""
    made = beside.result()
    return None if made is None else made.on(ground)


def doubt_of(ground: Ground, checked: int = CHECKED) -> Doubt | None:
    """All of it for one study; None where no number has a low and a high value."""
    import pandas as pd

    if not any(one.moves != "emissions" for one in ground.ranges):
        return None
    draws = draw(ground, checked=checked)
    swung = swings(ground)
    levers = usual_levers(ground)
    across, up = outage_hours(ground), _up(ground, levers)
    levers += _turning(ground, swung, levers)
    turned = turn_table(levers)
    pair = pair_of(draws)
    crossed = shares = ways = pd.DataFrame()
    if pair is not None:
        crossed = breakeven_table(levers, pair[0], [pair[1]])
        shares = variance_shares(ground, *pair)
        ways = other_ways(ground, pair)
    mapped = win_map(across, up)
    return Doubt(draws, turned, pair, swung, crossed, shares, across, up, mapped, ground.axes, ways)


def doubt_from(study: Study) -> Doubt | None:
    """`doubt_of` from the study alone: its stages are made for it."""
    return doubt_of(Ground(study, physics(study, Kept())))


def _turning(ground: Ground, swung: pd.DataFrame, levers: list[Lever]) -> list[Lever]:
    """A lever for every other range at whose low or high value, all else likely, another option is chosen."""
    chosen = ground.standing().winner_slugs()[0] or NOBODY
    turned = set(swung.loc[swung["winner"].fillna(NOBODY) != chosen, "unknown"])
    searched = {lever.slug for lever in levers}
    return [
        path_lever(ground, one.paths[0])
        for one in ground.ranges
        if one.name in turned and not one.members and searched.isdisjoint(one.paths)
    ]


def _up(ground: Ground, levers: list[Lever]) -> Lever:
    """The second number of the map: a battery's price, else a set's, else the years of the stay."""
    prices = [*price_levers(ground, "battery"), *price_levers(ground, "generator")]
    return prices[0] if prices else levers[-1]


def pair_of(draws: Draws) -> tuple[str, str] | None:
    """The option chosen at likely values and its nearest rival: next most often chosen, else next cheapest.

    None where no two options may be chosen in the draws.
    """
    table = chances(draws)
    table = table[(table["option"] != NOBODY) & (table["stands_frac"] > 0.0)]
    order = table.sort_values(["wins_frac", "regret_usd"], ascending=[False, True])["option"].tolist()
    winner = draws.ground.standing().winner_slugs()[0]
    if winner is not None and winner in order:
        order.remove(winner)
        order.insert(0, winner)
    return (order[0], order[1]) if len(order) > 1 else None
