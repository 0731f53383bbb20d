"""The answer where lost load has its price and no target must be met: the least cost of all, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kit.stages.columns import Value
from kit.stages.sources import DO_NOTHING
from kit.study import Study

Row = Mapping[str, Value]
WITH_LOST_LOAD = "lifetime_cost_with_lost_load_usd"


def by_value(
    study: Study, names: Mapping[str, str], rows: Mapping[str, Row], ranked: Sequence[str]
) -> tuple[str, ...]:
    """Three sentences. ranked: slugs that stand, cheapest first, lost load counted."""
    winner, asked = ranked[0], study.model.asked
    name = "doing nothing" if winner == DO_NOTHING else names[winner]
    first = (
        f"With lost load at its price in this study, {name} costs least of all "
        f"{len(rows) - 1} options and doing nothing over {asked.stay_years} years."
    )
    cost, dark_usd = (_number(rows[winner], c) for c in (WITH_LOST_LOAD, "lifetime_cost_usd"))
    hours = _number(rows[winner], "must_run_unserved_h_per_year")
    second = (
        f"Its lifetime cost is {_usd(cost, study)}, of which {_usd(cost - dark_usd, study)} is the price of "
        f"{hours:.2g} must-run hours a year without power."
    )
    if len(ranked) == 1:
        return first, second, "No other option stands for choice."
    other = ranked[1]
    gap = _number(rows[other], WITH_LOST_LOAD) - cost
    named = "doing nothing" if other == DO_NOTHING else names[other]
    saved = _number(rows[winner], "must_run_unserved_h_per_year")
    saved -= _number(rows[other], "must_run_unserved_h_per_year")
    third = f"The next, {named}, costs {_usd(gap, study)} more over its life"
    if winner == DO_NOTHING and saved > 0:
        third += f" for {saved:.2g} hours a year that it keeps on"
    return first, second, third + "."


def _usd(value: float, study: Study) -> str:
    return f"{study.model.money.currency} {value:,.{0 if abs(value) >= 100 else 2}f}"


def _number(row: Row, name: str) -> float:
    value = row[name]
    assert isinstance(value, float)
    return value
