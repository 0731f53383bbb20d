"""The memo on one page: the question, the answer, the few options that decide, one chart, cautions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from kit.report import memo, tables
from kit.report.cautions import short_cautions
from kit.report.charts import hours_kept_on
from kit.report.show import Shown, bullets, heading, paragraph, together

MOST = 4  # options beside doing nothing
_MOST_FLIPS = 2


@dataclass(frozen=True)
class Shortlist:
    """A comparison narrowed to a few options, which keep their letters and colours."""

    study: Any
    house: Any
    outcomes: dict[str, Any]
    lettered: tuple[str, ...]
    verdict: Any
    findings: tuple[Any, ...]
    assumptions: list[dict[str, Any]]
    summary: pd.DataFrame


def shortlist(comparison: Any) -> Shortlist:
    """Doing nothing, the winner, then what meets the target by cost, then the rest by chance."""
    slugs = list(comparison.outcomes)
    ranked = sorted(slugs[1:], key=lambda slug: _rank(comparison, slug))
    kept = {slugs[0], *ranked[:MOST]}
    outcomes = {slug: outcome for slug, outcome in comparison.outcomes.items() if slug in kept}
    summary = comparison.summary
    return Shortlist(
        comparison.study, comparison.house, outcomes, tuple(slugs), comparison.verdict,
        tuple(f for f in comparison.findings if f.option is None or f.option in kept),
        list(comparison.assumptions), summary[summary["option"].isin(list(kept))],
    )  # fmt: skip


def _rank(comparison: Any, slug: str) -> tuple[bool, bool, float, float]:
    columns = comparison.outcomes[slug].columns
    meets = bool(columns.get("meets_target"))
    chance = columns.get("ride_through_frac_asked") or 0.0
    cost = columns.get("lifetime_cost_usd") or 0.0
    return slug != comparison.verdict.winner, not meets, 0.0 if meets else -float(chance), float(cost)


def head(comparison: Any) -> Shown:
    """Title, cover block, whether the data is invented, a life-support caution first of all."""
    return together(
        [
            memo.title("Backup power in brief", comparison),
            memo.cover(comparison),
            memo.invented(comparison),
            memo.life_support(comparison),
        ]
    )


def question(comparison: Any) -> Shown:
    """What the household asked for, in one sentence."""
    return paragraph(memo.wish(comparison), "lead")


def answer(comparison: Any) -> Shown:
    """The verdict in its sentences, and the first few things that would change it."""
    first, *others = (memo.unbroken(s) for s in comparison.verdict.sentences)
    flips = [memo.unbroken(f) for f in comparison.verdict.flips[:_MOST_FLIPS]]
    left = len(comparison.verdict.flips) - len(flips)
    more = f" ({left} more in the full memo)" if left else ""
    return together(
        [
            paragraph(first, "verdict"),
            paragraph(" ".join(others)) if others else None,
            heading(f"What would change this answer{more}"),
            bullets(flips) if flips else paragraph("Nothing that was tried changes it."),
        ]
    )


def few_figures(comparison: Any) -> Shown:
    """The main figures of the options that decide."""
    return tables.brief_table(shortlist(comparison), "The options that decide")


def chart(comparison: Any) -> Any:
    """Hours kept on, of the same few options."""
    return hours_kept_on(shortlist(comparison), height_px=100)


def cautions(comparison: Any) -> Shown:
    """The cautions that the options shown call for."""
    return bullets(short_cautions(shortlist(comparison)), "cautions")


def more(comparison: Any) -> Shown:
    """How many more options the whole memo holds, and how to get it."""
    left = len(comparison.outcomes) - len(shortlist(comparison).outcomes)
    some = "1 more option" if left == 1 else f"{left} more options"
    others = f"The full memo compares {some}, under these letters; every" if left else "Every"
    return paragraph(
        f"{others} outage, cost line, assumption and source is in {'it' if left else 'the full memo'}: "
        "‘ridethrough memo’ on the study file, or ‘ridethrough memo --from’ on this page.",
        "small",
    )
