"""Peaks and starts of the load list, which means over a step cannot show."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kit.house.pieces import assign_legs

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from kit.house.appliances import ListLoads
    from kit.study.house_models import Appliance, House


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
        leg_w: running watts on the heavier leg of a split-phase panel. Where the house names legs: by
            them, the rest balanced. Else half of all 240 V load and half of all 120 V load in one step,
            plus half of the largest 120 V piece, the most by which a panel filled with care can be out of
            balance (common practice, no source).
        worst_start_va: the highest VA while one piece starts, locked-rotor kVA counted for motors given by
            code letter; None where the list tells no VA apart from its watts.
        leg_start_w: the most on one leg while one piece starts; None where the house names no leg.
    """

    running_w: float
    worst_start_w: float
    worst_start_slug: str
    all_start_w: float
    needs_240v: tuple[str, ...]
    largest_120v_w: float
    leg_w: float
    worst_start_va: float | None = None
    leg_start_w: float | None = None


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
    single = {s: p for s, p in pieces.items() if p.voltage_v == 120}
    leg_w, leg_start_w = _on_given_legs(house, on, pieces, n)
    if leg_w is None:
        leg_w = _leg_of_a_careful_panel_w(on, pieces, n)
    return Peaks(
        running_w=float(running.max(initial=0.0)),
        worst_start_w=worst.get(slug, 0.0),
        worst_start_slug=slug,
        all_start_w=float(
            _total(on, {s: p.count * p.start_total_w for s, p in pieces.items()}, n).max(initial=0.0)
        ),
        needs_240v=tuple(s for s, p in pieces.items() if p.voltage_v == 240),
        largest_120v_w=max((p.start_total_w for p in single.values()), default=0.0),
        leg_w=leg_w,
        worst_start_va=_worst_start_va(on, pieces, n),
        leg_start_w=leg_start_w,
    )


def worst_starts(
    house: House, lists: ListLoads, slugs: Iterable[str], in_outage: bool = True
) -> pd.DataFrame:
    """Each appliance starting on top of the most that may run with it, the hardest start first.

    Columns: appliance, count, voltage_v, leg, running_w and start_w of one piece, others_w (all else that
    may run in its worst step, its own other pieces too), total_w, total_va, and the watts on each leg
    in its worst step for that leg (leg_1_w, leg_2_w). Legs that the house does not name are balanced.
    """
    import pandas as pd

    loads = lists.outage_by_appliance_kw if in_outage else lists.everyday_by_appliance_kw
    chosen = [s for s in dict.fromkeys(slugs) if bool((loads[s] > 0).any())]
    pieces = {slug: house.appliances[slug] for slug in chosen}
    on = {slug: loads[slug] > 0 for slug in chosen}
    n = lists.everyday_kw.size
    legs = assign_legs(house, chosen)
    running_w = _total(on, {s: p.count * p.draw_w for s, p in pieces.items()}, n)
    running_va = _total(on, {s: p.count * p.draw_va for s, p in pieces.items()}, n)
    leg_w = [
        _total(on, {s: _leg_share(legs[s], k) * p.count * p.draw_w for s, p in pieces.items()}, n)
        for k in "12"
    ]
    rows = []
    for slug, piece in pieces.items():
        others_w = float(running_w[on[slug]].max()) - piece.draw_w
        extra_w = piece.start_total_w - piece.draw_w
        rows.append(
            {
                "appliance": slug,
                "count": piece.count,
                "voltage_v": piece.voltage_v,
                "leg": legs[slug],
                "running_w": piece.draw_w,
                "start_w": piece.start_total_w,
                "others_w": others_w,
                "total_w": others_w + piece.start_total_w,
                "total_va": float(running_va[on[slug]].max()) - piece.draw_va + piece.start_total_va,
                "leg_1_w": float(leg_w[0][on[slug]].max()) + _leg_share(legs[slug], "1") * extra_w,
                "leg_2_w": float(leg_w[1][on[slug]].max()) + _leg_share(legs[slug], "2") * extra_w,
            }
        )
    table = pd.DataFrame(rows)
    if rows:
        table = table.sort_values(["total_w", "start_w"], ascending=False, kind="stable", ignore_index=True)
    return table


def _leg_share(leg: str, which: str) -> float:
    return 0.5 if leg == "both" else float(leg == which)


def _leg_of_a_careful_panel_w(
    on: dict[str, NDArray[np.bool_]], pieces: dict[str, Appliance], n: int
) -> float:
    """Half of everything, and half of the largest 120 V piece on top."""
    at_240 = _total(on, {s: p.count * p.draw_w for s, p in pieces.items() if p.voltage_v == 240}, n)
    at_120 = _total(on, {s: p.count * p.draw_w for s, p in pieces.items() if p.voltage_v == 120}, n)
    largest = np.zeros(n)
    for s, p in pieces.items():
        if p.voltage_v == 120:
            largest = np.maximum(largest, on[s] * p.draw_w)
    return float((at_240 / 2 + (at_120 + largest) / 2).max(initial=0.0))


def _on_given_legs(
    house: House, on: dict[str, NDArray[np.bool_]], pieces: dict[str, Appliance], n: int
) -> tuple[float | None, float | None]:
    """The heavier leg running, and the heaviest while one piece starts; None where no leg is named."""
    if all(piece.leg is None for piece in house.appliances.values()):
        return None, None
    pieces = {s: p for s, p in pieces.items() if on[s].any()}
    legs = assign_legs(house, pieces)
    running, starting = 0.0, 0.0
    for which in "12":
        share = {s: _leg_share(legs[s], which) for s in pieces}
        leg_w = _total(on, {s: share[s] * p.count * p.draw_w for s, p in pieces.items()}, n)
        running = max(running, float(leg_w.max(initial=0.0)))
        for s, p in pieces.items():
            extra_w = share[s] * (p.start_total_w - p.draw_w)
            starting = max(starting, float(leg_w[on[s]].max()) + extra_w)
    return running, starting


def _worst_start_va(on: dict[str, NDArray[np.bool_]], pieces: dict[str, Appliance], n: int) -> float | None:
    """The most VA while one piece starts; None where no motor and no power factor tells VA from watts."""
    if all(p.motor is None and p.draw_va == p.draw_w for p in pieces.values()):
        return None
    running = _total(on, {s: p.count * p.draw_va for s, p in pieces.items()}, n)
    starts = [
        float(running[on[s]].max()) + p.start_total_va - p.draw_va for s, p in pieces.items() if on[s].any()
    ]
    return max(starts, default=None)


def _total(on: dict[str, NDArray[np.bool_]], watts: dict[str, float], n: int) -> NDArray[np.float64]:
    """Sum of watts over what is on, shape (n,) [W]."""
    total = np.zeros(n)
    for slug, each in watts.items():
        total += on[slug] * each
    return total
