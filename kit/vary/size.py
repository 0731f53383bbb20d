"""The cheapest thing that does it: every configuration of a catalogue, each by the stages of compare().

Nothing is sampled and nothing is fitted: a configuration is walked through every outage start of the
year, as an option written into the study would be, and its row is that option's. What the catalogue
does not hold is not found.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from kit.house import outage_loads
from kit.study import Study
from kit.vary.cases import WORKERS, Case, Done, each_case
from kit.vary.kept import Kept, kept_house
from kit.vary.size_catalogue import Configuration, configurations
from kit.vary.size_hand import hand_method
from kit.vary.size_lacks import ORDER, reach_h
from kit.vary.size_work import bounded, sized

if TYPE_CHECKING:
    import pandas as pd

TOGETHER, FEW_WALKED = 32, 6  # configurations of one case
MANY = 300
CENT_USD = 0.01
DEARER = "It costs more than one that is kept on for a week: not walked."


@dataclass(frozen=True, eq=False)
class Sizing:
    """Every configuration of a catalogue against what was asked.

    table: one row a configuration, the cheapest over the stay first among those that reach the target,
    then the others by cost (kit.vary.size_catalogue and kit.vary.size_work name the columns; frontier:
    none is kept on as long for less; frontier_without_solar: none without solar). best: its row's slug,
    None where none reaches the target; nearest: the one that comes nearest then. hand: the hand method
    beside the computed need (kit.vary.size_hand). life_support: loads for which no size may be called
    adequate.
    """

    study: Study
    table: pd.DataFrame
    best: str | None
    nearest: str | None
    hand: pd.DataFrame
    life_support: tuple[str, ...]
    options: dict[str, Configuration]

    def row(self, slug: str) -> dict[str, Any]:
        """One configuration's row."""
        return dict(self.table.set_index("configuration", drop=False).loc[slug])

    @property
    def chosen(self) -> str:
        """The best, or the nearest where nothing reaches the target."""
        slug = self.best or self.nearest
        assert slug is not None
        return slug

    @property
    def without_solar(self) -> str | None:
        """The cheapest that reaches the target with no array; None where none does."""
        able = self.table[self.table["reaches"] & (self.table["solar_kw"] == 0)]
        return None if able.empty else str(able["configuration"].iloc[0])

    def frontier(self, column: str = "frontier") -> pd.DataFrame:
        """The configurations that nothing cheaper outlasts, by hours kept on."""
        kept = self.table[self.table[column]]
        return kept.sort_values("kept_on_h", kind="stable", ignore_index=True)


def size(study: Study, *, workers: int = WORKERS, progress: str = "outages") -> Sizing:
    """Try every configuration of the study's catalogue against what was asked.

    What power, starts, voltage or the law rule out is not walked. The others are, first those without
    solar, in the order of the least they can cost, until one that is kept on for the whole reach (a week)
    with the asked chance costs less than the next can: what is left then (fails: `dearer`) can neither be
    the cheapest nor on the frontier. Raises StudyError where the study has no catalogue or one that does
    not fit it, ValueError where a configuration cannot be computed at all.
    """
    import pandas as pd

    made = configurations(study)
    options = {one.slug: one for one in made}
    rows: dict[str, dict[str, Any]] = {}
    some = workers if len(made) > MANY else 1  # starting processes takes as long as a few hundred
    for done in each_case(study, _cases(made, TOGETHER), bounded, workers=some, progress="power and starts"):
        rows |= {str(row["configuration"]): row for row in _rows(done)}
    left = sorted(
        (one for one in made if rows[one.slug]["fails"] is None),
        key=lambda one: (one.option.solar is not None, rows[one.slug]["least_cost_usd"], one.slug),
    )
    _walk(study, left, rows, workers, progress)
    for one in left:
        if "reaches" not in rows[one.slug]:
            rows[one.slug] |= {"fails": "dearer", "text": DEARER}
    told = pd.DataFrame([one.columns for one in made])
    table = told.merge(pd.DataFrame(list(rows.values())), on="configuration", validate="one_to_one")
    return _answer(study, options, _ordered(table))


def _walk(
    study: Study, left: Sequence[Configuration], rows: dict[str, dict[str, Any]], workers: int, progress: str
) -> None:
    """Put the walked rows into `rows`, but of those that can cost no less than one that lasts the reach.

    `left` holds those without solar first, each part by the least it can cost. What decides is found
    in that order, so the number of workers changes nothing.
    """
    top = math.inf

    def worth() -> Iterator[Case]:
        for case in _cases(left, FEW_WALKED):
            assert case.options is not None
            if min(rows[slug]["least_cost_usd"] for slug in case.options) < top:
                yield case

    some = workers if len(left) > FEW_WALKED else 1
    for done in each_case(study, worth(), sized, workers=some, progress=progress):
        for row in _rows(done):
            slug, cost_usd = row["configuration"], row["lifetime_cost_usd"]
            least_usd = rows[slug]["least_cost_usd"]
            if least_usd >= top:
                continue
            if cost_usd < least_usd - CENT_USD:
                raise ValueError(f"{slug} costs less with outages than without: {cost_usd} and {least_usd}")
            rows[slug] = row | {"least_cost_usd": least_usd}
            if row["reaches"] and row["kept_on_h"] >= reach_h(study):
                top = min(top, cost_usd)


def _cases(made: Sequence[Configuration], together: int) -> list[Case]:
    """A few configurations to a case, in their order."""
    groups = [made[k : k + together] for k in range(0, len(made), together)]
    return [
        Case(f"configurations-{k}", options={one.slug: one.option for one in group})
        for k, group in enumerate(groups)
    ]


def _rows(done: Done) -> tuple[dict[str, Any], ...]:
    if done.failed is not None:
        raise ValueError(f"a configuration could not be computed: {done.failed}")
    return done.rows


def _ordered(table: pd.DataFrame) -> pd.DataFrame:
    """Those that reach the target first, each part by lifetime cost, at least by what it is known to cost."""
    table["reaches"] = table["reaches"].eq(True)
    table["kept_on_h"] = table["kept_on_h"].astype(float)
    cost = table["lifetime_cost_usd"].astype(float)
    by = table.assign(cost=cost.fillna(table["least_cost_usd"]))
    order = by.sort_values(
        ["reaches", "cost", "up_front_usd", "configuration"],
        ascending=[False, True, True, True],
        kind="stable",
    )
    table = table.loc[order.index].reset_index(drop=True)
    table["frontier"] = _frontier(table, table["kept_on_h"] > 0)
    table["frontier_without_solar"] = _frontier(table, (table["kept_on_h"] > 0) & (table["solar_kw"] == 0))
    return table


def _answer(study: Study, options: dict[str, Configuration], table: pd.DataFrame) -> Sizing:
    best = str(table["configuration"].iloc[0]) if bool(table["reaches"].iloc[0]) else None
    nearest = None if best else _nearest(table)
    house = kept_house(study, Kept())
    alive = outage_loads(study.model.house, house.lists, "whole_house").life_support
    hand = hand_method(study, house, options[best or nearest or ""], options, table)
    return Sizing(study, table, best, nearest, hand, alive, options)


def _frontier(table: pd.DataFrame, among: pd.Series[bool]) -> list[bool]:
    """Whether no other is kept on at least as long for less. Of two alike in both the first row stays."""
    walked = table[among]
    order = walked.sort_values(["kept_on_h", "lifetime_cost_usd"], ascending=[False, True], kind="stable")
    on, least = set(), math.inf
    for slug, cost_usd in zip(order["configuration"], order["lifetime_cost_usd"], strict=True):
        if cost_usd < least:
            on.add(slug)
            least = cost_usd
    return [slug in on for slug in table["configuration"]]


def _nearest(table: pd.DataFrame) -> str:
    """The one that fails the latest check by the least: most chance, else the largest share of the need."""
    stage = table["fails"].map({name: k for k, name in enumerate(ORDER)})
    built = table.assign(walked=stage >= ORDER.index("taking over"), stage=stage)
    built["share"] = (built["have"] / built["need"]).where(built["need"] > 0, 0.0)
    built.loc[built["fails"].isin(["budget", "legal fuel"]), "share"] = built["need"] / built["have"]
    built["chance"] = built["ride_through_frac_asked"].where(
        built["walked"] | (built["fails"] == "budget"), 0.0
    )
    order = built.sort_values(
        ["chance", "stage", "share", "lifetime_cost_usd"],
        ascending=[False, False, False, True],
        kind="stable",
    )
    return str(order["configuration"].iloc[0])
