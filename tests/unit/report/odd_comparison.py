"""Invented comparisons that a page must survive: hostile names, one point, none of something, many."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pandas as pd

from tests.unit.report.fake_comparison import fake_comparison

SCRIPT = "</script><script>document.title='broken'</script> & \"quotes\" 'single' <b>bold</b>"
LONG = "A house of very many words " * 18 + "x" * 60
RIGHT_TO_LEFT = "بيت على التل עם בטרייה"
CASES = ("script", "long", "right_to_left", "same_names", "one_point", "no_outages", "thirty")


def odd_comparison(case: str) -> Any:
    """The invented comparison with one thing carried to an extreme."""
    comparison = fake_comparison()
    names = {"script": SCRIPT, "long": LONG, "right_to_left": RIGHT_TO_LEFT}
    if case in names:
        _rename(comparison, names[case])
    elif case == "same_names":
        for outcome in comparison.outcomes.values():
            outcome.name = "Battery"
    elif case == "one_point":
        for outcome in comparison.outcomes.values():
            outcome.hours_kept_on = outcome.hours_kept_on.iloc[:1]
    elif case == "no_outages":
        _without_outages(comparison)
    elif case == "thirty":
        _many(comparison, 30)
    else:
        raise ValueError(f"no odd case {case!r}")
    comparison.summary = pd.DataFrame(
        [{"option": slug, **o.columns} for slug, o in comparison.outcomes.items()]
    )
    return comparison


def _rename(comparison: Any, name: str) -> None:
    model = comparison.study.model
    model.name = model.house.name = model.prepared.by = model.prepared.for_ = name
    for outcome in comparison.outcomes.values():
        outcome.name = name
    comparison.verdict.sentences = (name, name, name)
    comparison.verdict.flips = (name,)


def _without_outages(comparison: Any) -> None:
    """Nothing ever fails: every figure of an outage is empty or zero."""
    for outcome in comparison.outcomes.values():
        for column in outcome.columns:
            if column.startswith(("ride_through", "longest")):
                outcome.columns[column] = None
            elif "outage" in column or "unserved" in column:
                outcome.columns[column] = 0.0
        hours = np.arange(169.0)
        outcome.hours_kept_on = pd.DataFrame({"hours": hours, "share_frac": np.ones(169)})
    comparison.verdict.winner, comparison.verdict.meets, comparison.verdict.flips = None, (), ()


def _many(comparison: Any, count: int) -> None:
    kinds = [s for s in comparison.outcomes if s != "do_nothing"]
    for i in range(count):
        slug = f"option_{i}"
        outcome = copy.copy(comparison.outcomes[kinds[i % len(kinds)]])
        outcome.slug, outcome.name = slug, f"Option number {i} of thirty"
        comparison.outcomes[slug] = outcome
    for kind in kinds:
        del comparison.outcomes[kind]
    comparison.findings = ()
    comparison.verdict.winner = "option_3"
