"""The verdict from draws, by stated rules, so that it never says more than the draws support.

1. A share of draws is told in hundredths rounded towards a half, with its standard error; 'all' only where it
   was every draw, with the number of draws beside it.
2. Two options are 'too close to call' while the lead is within TIE_ERRORS standard errors of the lead.
3. Where the option that wins most draws is not the one chosen at likely values, that is said first.
4. The answer turns where a search over one number, all else likely, meets another choice: the nearest value
   on each side, those inside the study's own ranges first, at most MOST_TURNS of them.
5. Where exact joint runs chose otherwise than the grid that the draws stand on, that is said.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from kit.stages.sources import DO_NOTHING
from kit.vary.draws import Draws, share_error
from kit.vary.ranges import printed

if TYPE_CHECKING:
    import pandas as pd

TIE_ERRORS = 2.0
MOST_TURNS = 3


def said(draws: Draws, turned: pd.DataFrame, names: Mapping[str, str]) -> tuple[str, ...]:
    """Sentences on how sure the answer is. turned: kit.vary.breakeven.turn_table; names: slug -> name."""
    chosen = draws.ground.standing().winner_slugs()[0]
    sentences = [_share_sentence(draws, names)]
    leader = _leader(draws)[0]
    if leader != chosen:
        sentences.insert(0, _differs(chosen, leader, names))
    sentences.append(_turn_sentence(draws, turned, names))
    checks = draws.checks
    if len(checks) and not bool(checks["winner_same"].all()):
        wrong = int((~checks.groupby("draw")["winner_same"].all()).sum())
        count = checks["draw"].nunique()
        sentences.append(
            f"Exact joint runs chose otherwise than the draws in {wrong} of {count} checked draws: "
            "take the shares as rough."
        )
    return tuple(sentences)


def _shares(draws: Draws) -> dict[str | None, float]:
    """Share of draws that each option, or nobody (None), wins; largest first."""
    winner = draws.standing.winner
    found: dict[str | None, float] = {
        slug: float((winner == k).mean()) for k, slug in enumerate(draws.standing.slugs)
    }
    found[None] = float((winner < 0).mean())
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def _leader(draws: Draws) -> tuple[str | None, float]:
    return next(iter(_shares(draws).items()))


def _share_sentence(draws: Draws, names: Mapping[str, str]) -> str:
    shares = list(_shares(draws).items())
    (first, p), (second, q) = shares[0], shares[1]
    n, model = draws.count, draws.ground.study.model
    wins = _does(first, names, model.asked.judged_by)
    error = math.ceil(100.0 * share_error(p, n))
    about = f"({n:,} draws, standard error {error} in 100)"
    if p == 1.0:
        return f"In all {n:,} draws {wins} over {model.asked.stay_years} years."
    lead_error = math.sqrt(max(p + q - (p - q) ** 2, 1.0 / n) / n)
    if p - q <= TIE_ERRORS * lead_error:
        return (
            f"Too close to call: in {hundredths(p)} of 100 draws {wins}, in {hundredths(q)} "
            f"{_does(second, names, model.asked.judged_by)} {about}."
        )
    text = f"In {hundredths(p)} of 100 draws {wins} over {model.asked.stay_years} years {about}"
    if q > 0.0:
        text += f"; in {_about(q)}, {_short(second, names)}"
    return f"{text}."


def hundredths(share: float) -> int:
    """A share in hundredths, rounded towards 50 and never 0 or 100: less certain, not more."""
    percent = 100.0 * share
    return min(99, max(1, math.floor(percent + 1e-9) if share > 0.5 else math.ceil(percent - 1e-9)))


def _about(share: float) -> str:
    return "fewer than 1" if share < 0.01 else f"{hundredths(share)}"


def _short(slug: str | None, names: Mapping[str, str]) -> str:
    return "none does" if slug is None else "doing nothing" if slug == DO_NOTHING else names[slug]


def _does(slug: str | None, names: Mapping[str, str], judged_by: str) -> str:
    if slug is None:
        return "no option meets what was asked"
    name = "doing nothing" if slug == DO_NOTHING else names[slug]
    if judged_by == "value":
        return f"{name} costs least, lost load counted"
    return f"{name} is the cheapest that meets what was asked"


def _differs(chosen: str | None, leader: str | None, names: Mapping[str, str]) -> str:
    first, other = ("no option" if s is None else _short(s, names) for s in (chosen, leader))
    return f"At likely values {first} is chosen, but over the draws {other} more often."


def _turn_sentence(draws: Draws, turned: pd.DataFrame, names: Mapping[str, str]) -> str:
    told = nearest_turns(draws, turned)
    if not told:
        searched = ", ".join(dict.fromkeys(str(name) for name in turned["name"]))
        return f"By itself no number searched turns it: {searched}."
    parts = [_turn(draws, row, names) for row in told]
    left = int(turned["value"].notna().sum()) - len(told)
    values = "value" if left == 1 else "values"
    more = f", and at {left} more {values}, in the memo under 'What would turn the answer'" if left else ""
    return f"By itself, with all else likely, it turns if {', or if '.join(parts)}{more}."


def nearest_turns(draws: Draws, turned: pd.DataFrame) -> list[dict[str, Any]]:
    """The nearest turn on each side of the likely value a lever; at most MOST_TURNS, within ranges first."""
    ranges = {path: one for one in draws.ground.ranges for path in one.paths}
    found: list[tuple[bool, float, dict[str, Any]]] = []
    for _, rows in turned.dropna(subset=["value"]).groupby("lever", sort=False):
        told: list[dict[str, Any]] = [
            {str(name): None if value != value else value for name, value in row.items()}
            for row in rows.to_dict("records")
        ]
        for side in (
            [row for row in told if row["value"] <= row["likely"]],
            [row for row in told if row["value"] > row["likely"]],
        ):
            if not side:
                continue
            near: dict[str, Any] = min(side, key=lambda row: abs(row["value"] - row["likely"]))
            own = ranges.get(str(near["lever"]))
            inside = own is not None and own.low <= near["value"] <= own.high
            found.append((not inside, _far(near["value"], near["likely"]), near))
    return [row for _, _, row in sorted(found, key=lambda item: item[:2])[:MOST_TURNS]]


def _far(value: float, likely: float) -> float:
    """How far off, as a ratio; one side of zero counts as far."""
    return abs(float(np.log(value / likely))) if value > 0.0 and likely > 0.0 else math.inf


def _turn(draws: Draws, row: Mapping[str, Any], names: Mapping[str, str]) -> str:
    falls = row["value"] <= row["likely"]
    to = row["below"] if falls else row["above"]
    name = "no option meets it" if to is None else "doing nothing" if to == DO_NOTHING else names[str(to)]
    model = draws.ground.study.model
    value = printed(float(row["value"]), str(row["unit"]), model.units == "us", model.money.currency)
    verb = {"outage_hours": "outages last", "outage_length": "outages last"}.get(row["lever"])
    if row["lever"] == "outage_hours":
        return f"outages {'stay under' if falls else 'exceed'} {value} a year (then {name})"
    if row["lever"] == "stay_years":
        return f"the stay is {'under' if falls else 'at least'} {value} (then {name})"
    if verb:
        return f"outages last {'under' if falls else 'over'} {value} in the mean (then {name})"
    whose, colon, what = str(row["name"]).rpartition(": ")
    number = f"the {what} of {whose}" if colon else f"the {what}"
    return f"{number} {'falls under' if falls else 'rises over'} {value} (then {name})"
