"""Peaks and starts of the load list, which means over a step cannot show."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.house.appliances import ListLoads
    from kit.study.house_models import House


@dataclass(frozen=True)
class Peaks:
    """The worst the chosen appliances can ask for together, in watts.

    Attributes:
        running_w: highest sum of running watts of all that may run in one step.
        worst_start_w: the highest draw while one piece starts, the rest that may run with it running.
        worst_start_slug: the appliance whose start that is; '' for an empty list.
        all_start_w: everything of the worst step starting at once, as when power comes back.
        needs_240v: slugs of the 240 V loads.
        largest_120v_w: starting watts of the largest single 120 V piece.
        leg_w: running watts on the heavier leg of a split-phase panel: half of all 240 V load and
            half of all 120 V load in one step, plus half of the largest 120 V piece, the most by
            which a panel filled with care can be out of balance (common practice, no source).
    """

    running_w: float
    worst_start_w: float
    worst_start_slug: str
    all_start_w: float
    needs_240v: tuple[str, ...]
    largest_120v_w: float
    leg_w: float


def peaks(house: House, lists: ListLoads, slugs: Iterable[str], in_outage: bool = True) -> Peaks:
    """The worst coincidence of the named appliances over the steps of the year.

    All that may run in a step are taken to run in it at once, all pieces of each, whatever their
    duty; what a season, the hours of use or the thermostat rule out in that step does not count.
    Two loads with hours in different parts of one step count together.
    """
    chosen = list(dict.fromkeys(slugs))
    loads = lists.outage_by_appliance_kw if in_outage else lists.everyday_by_appliance_kw
    pieces = {slug: house.appliances[slug] for slug in chosen}
    on = {slug: loads[slug] > 0 for slug in chosen}
    n = lists.everyday_kw.size
    running = _total(on, {s: p.count * p.draw_w for s, p in pieces.items()}, n)
    starts = {s: p.start_total_w - p.draw_w for s, p in pieces.items() if on[s].any()}
    worst = {s: float(running[on[s]].max()) + extra_w for s, extra_w in starts.items()}
    slug = max(worst, key=lambda s: (worst[s], starts[s]), default="")
    split = {s: p for s, p in pieces.items() if p.voltage_v == 240}
    single = {s: p for s, p in pieces.items() if p.voltage_v == 120}
    at_240 = _total(on, {s: p.count * p.draw_w for s, p in split.items()}, n)
    at_120 = _total(on, {s: p.count * p.draw_w for s, p in single.items()}, n)
    largest = np.zeros(n)
    for s, p in single.items():
        largest = np.maximum(largest, on[s] * p.draw_w)
    return Peaks(
        running_w=float(running.max(initial=0.0)),
        worst_start_w=worst.get(slug, 0.0),
        worst_start_slug=slug,
        all_start_w=float(
            _total(on, {s: p.count * p.start_total_w for s, p in pieces.items()}, n).max(initial=0.0)
        ),
        needs_240v=tuple(split),
        largest_120v_w=max((p.start_total_w for p in single.values()), default=0.0),
        leg_w=float((at_240 / 2 + (at_120 + largest) / 2).max(initial=0.0)),
    )


def _total(on: dict[str, NDArray[np.bool_]], watts: dict[str, float], n: int) -> NDArray[np.float64]:
    """Sum of watts over what is on, shape (n,) [W]."""
    total = np.zeros(n)
    for slug, each in watts.items():
        total += on[slug] * each
    return total
