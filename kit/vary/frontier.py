"""The reserve frontier: what a battery earns between outages against how long it carries the house.

A high reserve keeps more for outages and leaves less to earn with; this is the trade a household
decides when it sets the reserve.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from kit.grid.bill import bill
from kit.house import HouseYear
from kit.operate.events import EventKind, luck, over_kinds
from kit.operate.forewarned import warned_parts
from kit.operate.outages import Backup
from kit.operate.ride import ride_through_h
from kit.operate.single import first_gaps_h, told_by_h
from kit.recall import recall
from kit.stages.daily import Daily, best_schedule, use_of
from kit.stages.forewarning import forewarned_charge
from kit.stages.outage import OutageSide
from kit.stages.sources import Sources
from kit.study import Study
from kit.vary.kept import option_keys

if TYPE_CHECKING:
    import pandas as pd

HOURS = (4, 8, 24, 72)
RESERVES_FRAC = tuple(round(0.1 * k, 1) for k in range(11))

# Charge and hours kept on at every start, of each kind and its part with or without a warning.
Walked = dict[tuple[int, int], list[tuple[np.ndarray, np.ndarray]]]


def reserve_frontier(
    study: Study,
    house: HouseYear,
    kinds: tuple[EventKind, ...],
    options: dict[str, Sources],
    daily: dict[str, Daily],
    outages: dict[str, OutageSide],
    reserves_frac: tuple[float, ...] = RESERVES_FRAC,
) -> pd.DataFrame:
    """One row an option with a battery and a reserve, new equipment, everyday use by the clock.

    Columns: option, reserve_frac, saving_usd_per_year (bill with the same plan and solar and no
    battery, less the bill), foresight_usd_per_year (the same with perfect foresight), and
    ride_through_frac_4h, _8h, _24h, _72h.
    """
    import pandas as pd

    def of_option(slug: str) -> list[dict[str, object]]:
        without_usd = daily[slug].bill.total_usd + daily[slug].saving_from_battery_usd
        backup, seed = outages[slug].backup, study.model.seed
        return recall(
            "reserve frontier",
            (physics[slug], without_usd, reserves_frac),
            lambda: _rows(house, options[slug], backup, kinds, seed, without_usd, reserves_frac),
        )

    physics = option_keys(study, list(options))
    with_battery = [slug for slug in options if outages[slug].backup.battery is not None]
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        made = [row for rows in pool.map(of_option, with_battery) for row in rows]
    return pd.DataFrame(made)


def _rows(
    house: HouseYear,
    option: Sources,
    backup: Backup,
    kinds: tuple[EventKind, ...],
    seed: int,
    without_usd: float,
    reserves_frac: tuple[float, ...],
) -> list[dict[str, object]]:
    """The rows of one option; without_usd: the yearly bill with the same plan and solar and no battery."""
    known: dict[bytes, list[float]] = {}
    walked: Walked = {}
    rows: list[dict[str, object]] = []
    for reserve_frac in reserves_frac:
        case = _with_reserve(option, reserve_frac)
        use = use_of(house, case, 0)
        assert case.battery is not None
        best = best_schedule(house, case, case.battery, case.solar_kw)
        key = use.stored_kwh.tobytes()  # the same charge at every start rides the same outages
        if key not in known:
            warned = forewarned_charge(house, case, use, case.battery, kinds)
            charged = {number: one.stored_kwh for number, one in warned.items()}
            held = replace(backup, stored_kwh=use.stored_kwh, forewarned_kwh=charged)
            known[key] = _ride_through(held, kinds, seed, walked)
        chances = {f"ride_through_frac_{h}h": chance for h, chance in zip(HOURS, known[key], strict=True)}
        use_usd = bill(case.plan, house.year, use.import_kwh, use.export_kwh).total_usd
        best_usd = bill(case.plan, house.year, best.import_kwh, best.export_kwh).total_usd
        saved = {
            "saving_usd_per_year": without_usd - use_usd,
            "foresight_usd_per_year": without_usd - best_usd,
        }
        rows.append({"option": option.slug, "reserve_frac": reserve_frac, **saved, **chances})
    return rows


def _with_reserve(option: Sources, reserve_frac: float) -> Sources:
    """The option with another reserve, used by the clock (held batteries never go down to theirs)."""
    block = option.option
    assert option.battery is not None
    assert block is not None
    assert block.battery is not None
    reserve_kwh = max(reserve_frac * option.battery.usable_kwh, option.battery.floor_kwh)
    used = block.battery.model_copy(update={"everyday": "clock", "reserve_frac": reserve_frac})
    return replace(
        option,
        battery=replace(option.battery, reserve_kwh=reserve_kwh),
        option=block.model_copy(update={"battery": used}),
    )


def _ride_through(backup: Backup, kinds: tuple[EventKind, ...], seed: int, walked: Walked) -> list[float]:
    """Chance to ride through each of HOURS, over starts weighted by events that last so long."""
    longest = told_by_h(backup, float(max(HOURS)))
    ends = {
        kind.slug: [
            (share, part.start_weight, _ends_h(charged, part, seed, longest, walked.setdefault((k, p), [])))
            for p, (share, part, charged) in enumerate(warned_parts(backup, kind))
        ]
        for k, kind in enumerate(kinds)
    }
    chances = []
    for hours in HOURS:
        kept = [
            sum(share * float(weight[ends_h >= hours - 1e-9].sum()) for share, weight, ends_h in ends[k.slug])
            for k in kinds
        ]
        chances.append(over_kinds(kinds, float(hours), kept))
    return chances


def _ends_h(
    backup: Backup, kind: EventKind, seed: int, hours: float, walked: list[tuple[np.ndarray, np.ndarray]]
) -> np.ndarray:
    """Hours kept on from every start (n,): by the reflected walk where nothing refills the battery.

    `walked`: charge and hours of the same option and kind with other reserves. Its machines are the
    same, so a start that finds the same charge meets the same; only the others are walked.
    """
    b = backup.battery
    refilled = backup.generator is not None or (backup.solar_charges and backup.solar_kw.any())
    if b is None or refilled or b.wanted_above_kwh < b.usable_kwh or _may_stop(backup):
        ends_h = np.full(backup.stored_kwh.size, np.nan)
        for stored_kwh, known_h in walked:
            ends_h = np.where(stored_kwh == backup.stored_kwh, known_h, ends_h)
        new = np.flatnonzero(np.isnan(ends_h))
        if new.size:
            ends_h[new] = first_gaps_h(backup, kind, seed, hours, new)
        walked.append((backup.stored_kwh, ends_h))
        return ends_h
    carried = ride_through_h(
        backup.must_kw + b.idle_kw,
        np.maximum(backup.stored_kwh - b.floor_kwh, 0.0),
        b.usable_kwh - b.floor_kwh,
        backup.step_h,
        charge_kw=0.0,
        discharge_kw=backup.battery_kw + b.idle_kw,
        discharge_efficiency_frac=b.discharge_efficiency_frac,
        horizon_h=hours,
    )
    block = backup.battery_block
    islands = block.fails_to_island_frac if block else 0.0
    works = luck(seed, kind, np.arange(carried.size), None, islands, None).islands
    return np.where(works, carried, 0.0)


def _may_stop(backup: Backup) -> bool:
    """Whether the inverter may fail on the way, or takes over later than the loads bear."""
    block, gap = backup.battery_block, backup.battery_gap
    fails = block is not None and block.inverter_mttf_h is not None
    return fails or gap is None or gap.needs_person or gap.gap_s / 3600.0 > backup.tolerates_h
