"""The same study counted another way: the answer must not hang on how money and hours are counted."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from kit.house import in_quarters
from kit.study.models import Money
from kit.vary.axes import walked_again
from kit.vary.ground import Ground, Standing
from kit.vary.kept import kept_with
from kit.vary.parts import rows_kept, rows_of

if TYPE_CHECKING:
    import pandas as pd

INFLATION = 0.025  # of the other money, where the study names none; the result does not hang on it
RATES = (
    "discount_rate_frac",
    "electricity_escalation_frac",
    "fuel_escalation_frac",
    "upkeep_escalation_frac",
    "replacement_escalation_frac",
)
QUARTER_H = 0.25


def other_ways(ground: Ground, slugs: Sequence[str]) -> pd.DataFrame:
    """Lifetime cost and chance of some options, counted in up to four ways.

    Columns: way (studied, basis, timing, quarters), option, lifetime_cost_usd, ride_through_frac_asked,
    winner (of all options; of these alone in steps of a quarter of an hour, to which no study is
    run whose prices stand by its own steps).
    """
    import pandas as pd

    money = ground.study.model.money
    timing = "mid_year" if money.timing == "end_of_year" else "end_of_year"
    ways = {
        "studied": ground.standing(),
        "basis": _paid_as(ground, *other_basis(money)),
        "timing": _paid_as(ground, {"timing": timing}, {}),
    }
    if ground.stages.house.year.step_h > QUARTER_H and not _own_steps(ground):
        ways["quarters"] = _quarters(ground, slugs)
    made = [
        {
            "way": way,
            "option": slug,
            "lifetime_cost_usd": standing.lifetime_cost_usd[0, standing.place(slug)],
            "ride_through_frac_asked": standing.ride_through_frac_asked[0, standing.place(slug)],
            "winner": standing.winner_slugs()[0],
        }
        for way, standing in ways.items()
        for slug in slugs
    ]
    return pd.DataFrame(made)


def other_basis(money: Money) -> tuple[dict[str, Any], dict[str, float]]:
    """The same money terms in the other basis, real or nominal.

    Returns: its basis and inflation; every yearly rate by its name, with inflation or without.
    """
    inflation = INFLATION if money.inflation_frac is None else money.inflation_frac
    to_nominal = money.money_basis == "real"
    factor = 1.0 + inflation if to_nominal else 1.0 / (1.0 + inflation)
    terms = {"money_basis": "nominal" if to_nominal else "real", "inflation_frac": inflation}
    return terms, {name: (1.0 + getattr(money, name)) * factor - 1.0 for name in RATES}


def _paid_as(ground: Ground, terms: dict[str, Any], rates: dict[str, float]) -> Standing:
    model = ground.study.model
    money = model.money.model_copy(update=terms)
    other = Ground(replace(ground.study, model=model.model_copy(update={"money": money})), ground.stages)
    return other.standing({f"money.{name}": [rate] for name, rate in rates.items()})


def _own_steps(ground: Ground) -> bool:
    """Whether a price stands by the steps of the study, as a series of wholesale prices does."""
    plans = [option.plan for option in ground.stages.options.values()]
    return any(plan.series is not None for plan in plans)


def _quarters(ground: Ground, slugs: Sequence[str]) -> Standing:
    known, study = ground.known, ground.study

    def rows(missing: Collection[str]) -> dict[str, Any]:
        few = {slug: option for slug, option in study.model.options.items() if slug in missing}
        changed = replace(study, model=study.model.model_copy(update={"options": few}))
        house = in_quarters(study.model.house, ground.stages.house, study.model.year)
        return rows_of(changed, walked_again(known, changed, kept_with(changed, house)))

    made = rows_kept(known, "quarters", {slug: {"step_h": QUARTER_H} for slug in slugs}, rows)
    return ground.standing(rows={slug: row[None, :] for slug, row in made.items()}, only=slugs)
