"""The smallest change that lets a source carry a start: soft starter, load held off, stronger source."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import floor
from typing import TYPE_CHECKING, Literal

from kit.fit.equipment import DEFER
from kit.fit.inputs import StartList
from kit.fit.rows import plain
from kit.fit.sources import SeenSource
from kit.fit.starts import Demand, StartNeed, demand, restart_groups, restart_order, start_needs
from kit.study.finding import Finding

if TYPE_CHECKING:
    import pandas as pd

SOFT_LEAST_FRAC = 0.4  # a soft starter is taken to leave this much of the starting current (from memory)
MOST_HELD_OFF = 3  # appliances switched off for one start; more is no plan


@dataclass(frozen=True)
class Change:
    """What makes one start pass. kind "none": it passes as it is.

    soft_frac: share of the starting current to be left. held_off: slugs switched off while it starts.
    source_start: what a source would have to give for a moment, in the source's unit.
    """

    kind: Literal["none", "soft_starter", "hold_off", "stronger_source", "voltage"]
    text: str
    soft_frac: float | None = None
    held_off: tuple[str, ...] = ()
    source_start: float | None = None


def start_change(source: SeenSource, listed: StartList, need: StartNeed) -> Change:
    """The smallest change for one appliance.

    In this order: a soft starter on it, if it is wired and starts harder than it runs; the fewest other loads
    held off while it starts (of as few, the one of least watts; never life support); a source that gives
    enough. A soft starter that would have to leave less than SOFT_LEAST_FRAC is not counted on.
    """
    if need.ok:
        return Change("none", "")
    what = need.slug.replace("_", " ")
    if not need.served:
        return Change("voltage", f"240 V for the {what}")
    asked = demand(source, listed)
    pieces = [p for p in listed.pieces if p.slug == need.slug]
    starts_hard = pieces[0].start_w > pieces[0].running_w
    soft = need.soft_frac
    if pieces[0].wired and starts_hard and soft is not None and soft >= SOFT_LEAST_FRAC:
        percent = floor(100.0 * soft + 1e-6)  # rounded down: more would not do
        text = f"a soft starter on the {what} that leaves at most {percent}% of its starting current"
        return Change("soft_starter", text, soft_frac=soft)
    held = _held_off(asked, listed, need.slug)
    if held:
        return Change("hold_off", f"the {plain(held)} held off while the {what} starts", held_off=held)
    enough = need.need if source.gives_240v is False else max(need.need, 2.0 * need.leg_need)
    text = f"a source that gives {enough:.1f} {source.start_unit} for a moment, for the {what}"
    return Change("stronger_source", text, source_start=enough)


def _held_off(asked: Demand, listed: StartList, slug: str) -> tuple[str, ...]:
    """The fewest other appliances without which it starts in every set of loads; () where none are enough."""
    first = next(i for i, p in enumerate(listed.pieces) if p.slug == slug)
    sets = [one for one in listed.together if first in one]
    names = [p.slug for p in listed.pieces]
    may = dict.fromkeys(p.slug for p in listed.pieces if p.slug != slug and not p.life_support)
    watts = {s: sum(p.running_w for p in listed.pieces if p.slug == s) for s in may}
    for size in range(1, MOST_HELD_OFF + 1):
        good = []
        for off in combinations(may, size):
            kept = [
                [i for i in one if i != first and names[i] not in off and asked.served[i]] for one in sets
            ]
            if all(asked.fits(asked.running[rest].sum(axis=0) + asked.starting[first]) for rest in kept):
                good.append(off)
        if good:
            return min(good, key=lambda off: sum(watts[s] for s in off))
    return ()


def start_table(option: str, sources: Sequence[SeenSource], listed: StartList) -> pd.DataFrame:
    """Each source of an option against each appliance's start, on top of all that may run with it.

    Columns: option, source, appliance, start (its own), others (running beside it), need, have, unit,
    leg_need and leg_have (the fuller leg of a 240 V source; NaN at 120 V), alone_ok, ok, order (its
    place in the order that brings the house back; 0 where none does), soft_start_frac (most of its
    starting current that may be left; 1 as it is, NaN where none helps), change (the smallest that makes
    it pass; '' where it passes).
    """
    import pandas as pd

    rows = []
    for source in sources:
        order = _places(source, listed)
        for need in start_needs(source, listed):
            soft = need.soft_frac if need.served else None
            rows.append(
                {
                    "option": option,
                    "source": source.name,
                    "appliance": need.slug,
                    "start": need.start,
                    "others": need.others,
                    "need": need.need,
                    "have": source.start,
                    "unit": source.start_unit,
                    "leg_need": need.leg_need if source.gives_240v else float("nan"),
                    "leg_have": source.start / 2.0 if source.gives_240v else float("nan"),
                    "alone_ok": need.alone_ok,
                    "ok": need.ok,
                    "order": order.get(need.slug, 0),
                    "soft_start_frac": float("nan") if soft is None else soft,
                    "change": start_change(source, listed, need).text,
                }
            )
    return pd.DataFrame(rows)


def _places(source: SeenSource, listed: StartList) -> dict[str, int]:
    """Place of each appliance in the restart order of the set with the most running."""
    places: dict[str, int] = {}
    for one in _by_running(listed):
        order, _ = restart_order(source, listed, one)
        for slug in dict.fromkeys(p.slug for p in order):
            places.setdefault(slug, len(places) + 1)
    return places


def _by_running(listed: StartList) -> list[Sequence[int]]:
    return sorted(listed.together, key=lambda one: -sum(listed.pieces[i].running_w for i in one))


def option_starts(option: str, sources: Sequence[SeenSource], listed: StartList) -> pd.DataFrame:
    """One row a source: what starts, in which order, what stays off, and the smallest change.

    Columns: option, source, appliance_count, carried_count (start on top of all others), hardest
    (appliance), need, have, unit, order (names, hard starts first), left_off (what no order brings on),
    group_count (the fewest groups that may start at once after a dark hour; NaN where none), change.
    """
    import pandas as pd

    rows = []
    for source in sources:
        needs = start_needs(source, listed)
        if not needs:
            continue
        hardest = max(needs, key=lambda n: (n.need, n.start))
        biggest = _by_running(listed)[0]
        order, left_off = restart_order(source, listed, biggest)
        groups = restart_groups(source, listed, biggest)
        rows.append(
            {
                "option": option,
                "source": source.name,
                "appliance_count": len(needs),
                "carried_count": sum(n.ok for n in needs),
                "hardest": hardest.slug.replace("_", " "),
                "need": hardest.need,
                "have": source.start,
                "unit": source.start_unit,
                "order": plain(list(dict.fromkeys(p.slug for p in order))),
                "left_off": plain(list(dict.fromkeys(p.slug for p in left_off))),
                "group_count": float("nan") if groups is None else max(len(groups), 1),
                "change": _ways(source, listed) or "none needed",
            }
        )
    return pd.DataFrame(rows)


def _ways(source: SeenSource, listed: StartList) -> str:
    """The changes of a source in words, '' where none is due. A stronger source makes all others needless."""
    changes = [start_change(source, listed, need) for need in start_needs(source, listed) if not need.ok]
    bare = [c.text for c in changes if c.kind == "voltage"]
    if bare:
        return "; ".join(bare)
    stronger = [c for c in changes if c.kind == "stronger_source"]
    if stronger:
        return max(stronger, key=lambda c: c.source_start or 0.0).text
    return "; and ".join(c.text for c in changes)


def start_findings(option: str, sources: Sequence[SeenSource], listed: StartList) -> list[Finding]:
    """What would let each source carry the starts that it does not carry, one note a source."""
    found = []
    for source in sources:
        ways = _ways(source, listed)
        if ways:
            text = f"The {source.name} does not carry every start: that takes {ways}."
            found.append(Finding("start_change", option, f"options.{option}", text + DEFER, None, "note"))
    return found
