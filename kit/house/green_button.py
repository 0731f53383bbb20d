"""Interval energy from a Green Button file.

Source: NAESB REQ.21, Energy Services Provider Interface (ESPI), an Atom feed of usage points,
meter readings, reading types and interval blocks tied by links; costs are in hundred-thousandths
of the currency. The file is streamed by kit.house.green_button_feed; what each block means is told
once all of it is known, since a reading type may stand behind the readings it explains.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from kit.house.green_button_feed import Block, Entry, Feed, number_of, read_feed, text_of
from kit.house.local_time import offset_s, utc_of_local, utc_of_standard, written_as_local
from kit.house.meter_clock import DstRule, MeterClock
from kit.house.readings import SHORTEST_DAY_S, Readings, Series, in_order, nothing

WATT_HOURS = 72
FORWARD, NET, REVERSE, NOT_SAID = 1, 4, 19, 0
DELTA = 4
ELECTRICITY = (NOT_SAID, 1, 2)  # commodity: secondary or primary metered
SERVICES = {1: "gas", 2: "water", 4: "heat", 5: "refuse", 6: "sewerage", 8: "TV", 9: "internet"}
COST_UNITS = 100_000  # in one unit of the currency
CURRENCIES = {840: "USD", 124: "CAD", 978: "EUR", 826: "GBP", 36: "AUD", 554: "NZD"}  # ISO 4217


@dataclass(frozen=True)
class _Meaning:
    """What the values of one block are."""

    scale_wh: float = 1.0
    flow: int = FORWARD
    interval_s: int = 0
    currency: str = ""
    point: str = ""
    other: str = ""  # why it is no interval energy of electricity
    problem: str = ""  # why nobody can tell what it is


def read_green_button(path: Path, time_zone: str | None = None, times: str = "as_written") -> Readings:
    """Energy taken from and sent to the grid in each interval, in order of time [Wh].

    Takes reading types of unit 72 (Wh) that accumulate by difference (4, or not said) and flow
    forward (1, or not said), backward (19) or net (4: below zero is sent). Registers, demand,
    volts and daily sums beside them are counted and left out. What makes the readings unusable
    is in `problems` of the result.

    Args:
        time_zone: of the house; needed where `times` is not 'as_written'.
        times: 'as_written', the seconds count from 1970 in UTC as the standard asks; 'local_clock'
            or 'standard_time', they were counted on that clock.

    Raises:
        MeterError: not XML, an entity declared in it, or no Atom feed.
    """
    feed = read_feed(path)
    blocks = [(block, _meaning(block, feed)) for block in feed.blocks]
    energy = [(block, means) for block, means in blocks if not means.problem and not means.other]
    energy, daily_count = _without_daily_sums(energy)
    problems = dict.fromkeys(means.problem for _, means in blocks if means.problem)
    if not energy:
        problems |= dict.fromkeys(means.other for _, means in blocks if means.other)
    if not feed.blocks:
        problems[_no_blocks(feed)] = None
    problems |= dict.fromkeys(_several_meters(energy))
    unknown = [(block, means) for block, means in blocks if means.problem]
    parts = [_series(block, means) for block, means in energy or unknown]
    left_out = sum(count for _, _, count, _ in parts)
    problems |= dict.fromkeys(problem for *_, problem in parts if problem)
    taken, taken_twice, against = in_order(_joined([t for t, *_ in parts], time_zone, times))
    sent, sent_twice, sent_against = in_order(_joined([s for _, s, *_ in parts], time_zone, times))
    notes = _notes(blocks if energy else [], daily_count)
    signs = _clock_signs(feed, taken, taken_twice, parts, time_zone)
    hint = _clock_hint(signs) if times == "as_written" else ""
    for text in (against, sent_against):
        if text:
            problems[f"{text} ({hint})" if hint else text] = None
    return Readings(
        taken=taken,
        sent=sent,
        clock=_clock(feed.entries["LocalTimeParameters"]) if times == "as_written" else None,
        currency=next((m.currency for _, m in energy if m.currency), ""),
        left_out_count=left_out,
        duplicate_count=taken_twice + sent_twice,
        other_count=daily_count + sum(len(b.start_s) for b, m in blocks if m.other and not m.problem),
        unit_known=bool(energy) or not unknown,
        notes=(*notes, hint) if hint else notes,
        problems=tuple(problems),
    )


def _no_blocks(feed: Feed) -> str:
    kinds = {"UsagePoint": "usage point", "MeterReading": "meter reading", "ReadingType": "reading type"}
    there = [f"{len(feed.entries[k])} {name}(s)" for k, name in kinds.items() if feed.entries[k]]
    energy = sum(not _scale(entry).other for entry in feed.entries["ReadingType"])
    types = f", {energy} of them interval energy in Wh" if feed.entries["ReadingType"] else ""
    return "no interval data: it has no IntervalBlock" + (
        f", only {', '.join(there)}{types}" if there else ""
    )


def _same(link: str, other: str) -> bool:
    """Whether two links name one resource; one may be written whole and the other as its end."""
    if not link or not other:
        return False
    return link == other or link.endswith("/" + other) or other.endswith("/" + link)


def _tied(to: list[Entry], by: frozenset[str]) -> Entry | None:
    """The entry whose own link is among `by`; where links do not tell, the only one there is."""
    found = next((entry for entry in to if any(_same(entry.self_link, link) for link in by)), None)
    return found or (to[0] if len(to) == 1 else None)


def _meaning(block: Block, feed: Feed) -> _Meaning:
    """What one interval block holds, by its links."""
    readings, points = feed.entries["MeterReading"], feed.entries["UsagePoint"]
    mine = next((r for r in readings if any(_same(block.up_link, link) for link in r.related)), None)
    reading = mine or _tied(readings, frozenset([block.up_link.removesuffix("/IntervalBlock")]))
    up = reading.up_link if reading else ""
    point = next((p for p in points if any(_same(up, link) for link in p.related)), None)
    point = point or _tied(points, frozenset([up.removesuffix("/MeterReading")]))
    point_link = point.self_link if point else up.removesuffix("/MeterReading")
    if point is not None and (service := number_of(point.content, "ServiceCategory", "kind")) != NOT_SAID:
        other = f"it meters {SERVICES.get(service, f'service {service}')}, not electricity"
        return _Meaning(other=other, point=point_link)
    kind = _tied(feed.entries["ReadingType"], reading.related if reading else frozenset())
    if kind is None:
        several = len(feed.entries["ReadingType"])
        why = f"{several} reading types and no link that tells which" if several else "no reading type"
        return _Meaning(problem=f"no unit: it has {why}, so the values may be anything, gas included")
    return _scale(kind, point_link)


def _scale(kind: Entry, point: str = "") -> _Meaning:
    """What one reading type says."""
    of = kind.content
    unit, flow = number_of(of, "uom", default=-1), number_of(of, "flowDirection")
    accumulation, commodity = number_of(of, "accumulationBehaviour"), number_of(of, "commodity")
    code = number_of(of, "currency")
    other = problem = ""
    if commodity not in ELECTRICITY:
        name = "natural gas" if commodity == 7 else f"commodity {commodity}"
        other = f"its readings are of {name}, not of electricity"
    elif unit < 0:
        problem = "no unit: its reading type names none"
    elif unit != WATT_HOURS:
        other = f"its unit code is {unit}; energy in Wh is 72"
    elif accumulation not in (DELTA, NOT_SAID):
        other = f"accumulation behaviour {accumulation} is not energy of each interval (4)"
    elif flow not in (FORWARD, NET, REVERSE, NOT_SAID):
        other = f"flow direction {flow} is neither forward (1), reverse (19) nor net (4)"
    return _Meaning(
        scale_wh=10.0 ** number_of(of, "powerOfTenMultiplier"),
        flow=flow,
        interval_s=number_of(of, "intervalLength"),
        currency=CURRENCIES.get(code, f"currency {code}") if code else "",
        point=point,
        other=other,
        problem=problem,
    )


def _lengths(block: Block, means: _Meaning) -> np.ndarray:
    """Length of each reading; where the file leaves it out, what its type says."""
    lengths = np.array(block.length_s, dtype=np.int64)
    return np.where(lengths > 0, lengths, means.interval_s)


def _without_daily_sums(
    energy: list[tuple[Block, _Meaning]],
) -> tuple[list[tuple[Block, _Meaning]], int]:
    """(blocks, readings left out): sums of whole days beside intervals hold the same energy again."""
    daily = [_lengths(b, m).min(initial=SHORTEST_DAY_S) >= SHORTEST_DAY_S for b, m in energy]
    ways = [(m.point, m.flow == REVERSE) for _, m in energy]
    fine = {way for way, whole_day in zip(ways, daily, strict=True) if not whole_day}
    drop = [whole_day and way in fine for way, whole_day in zip(ways, daily, strict=True)]
    count = sum(len(b.start_s) for (b, _), gone in zip(energy, drop, strict=True) if gone)
    return [pair for pair, gone in zip(energy, drop, strict=True) if not gone], count


def _several_meters(energy: list[tuple[Block, _Meaning]]) -> list[str]:
    points = sorted({m.point.rpartition("UsagePoint/")[2] for _, m in energy if m.flow != REVERSE})
    if len(points) < 2:
        return []
    return [f"it holds {len(points)} electricity meters (usage points {', '.join(points)}): keep one"]


def _series(block: Block, means: _Meaning) -> tuple[Series, Series, int, str]:
    """(taken, sent, readings without a value, problem or '') of one block."""
    length_s, problem = _lengths(block, means), ""
    start_s = np.array(block.start_s, dtype=np.int64)
    if start_s.size and (start_s < 0).all() and block.interval_start_s >= 0 and (length_s > 0).all():
        start_s = block.interval_start_s + np.concatenate(([0], np.cumsum(length_s)[:-1]))
    if (start_s < 0).any():
        problem = f"{int((start_s < 0).sum())} readings do not say when they start"
    energy_wh = np.array(block.value) * means.scale_wh
    read = np.isfinite(energy_wh) & (start_s >= 0)
    cost = np.array(block.cost) / COST_UNITS
    whole = Series(start_s, length_s, energy_wh, cost).kept(read)
    left_out = int(np.count_nonzero(~np.isfinite(energy_wh)))
    if means.flow == REVERSE:
        return nothing(), whole, left_out, problem
    if means.flow == NET:
        up, down = np.maximum(whole.energy_wh, 0.0), np.maximum(-whole.energy_wh, 0.0)
        none = np.full(down.shape, np.nan)
        taken = Series(whole.start_s, whole.length_s, up, whole.cost_usd)
        return taken, Series(whole.start_s, whole.length_s, down, none), left_out, problem
    return whole, nothing(), left_out, problem


def _joined(parts: list[Series], time_zone: str | None, times: str) -> Series:
    """All blocks as one series, its times in UTC."""
    if not parts:
        return nothing()
    start_s, length_s, energy_wh, cost = (
        np.concatenate([getattr(part, name) for part in parts])
        for name in ("start_s", "length_s", "energy_wh", "cost_usd")
    )
    if times == "local_clock" and time_zone:
        start_s = utc_of_local(start_s, time_zone)[0]
    elif times == "standard_time" and time_zone:
        start_s = utc_of_standard(start_s, time_zone)
    return Series(start_s, length_s, energy_wh, cost)


def _notes(blocks: list[tuple[Block, _Meaning]], daily_count: int) -> tuple[str, ...]:
    counts: dict[str, int] = {}
    for block, means in blocks:
        if means.other:
            counts[means.other] = counts.get(means.other, 0) + len(block.start_s)
    notes = [f"{count} readings beside the intervals are left out: {why}" for why, count in counts.items()]
    if daily_count:
        notes.append(f"{daily_count} daily sums beside the intervals are left out: the same energy again")
    if any(means.flow == NET for _, means in blocks):
        notes.append("the readings are net: what is below zero was sent to the grid")
    return tuple(notes)


def _clock_signs(
    feed: Feed,
    taken: Series,
    dropped_count: int,
    parts: list[tuple[Series, Series, int, str]],
    time_zone: str | None,
) -> list[str]:
    """Signs that the seconds are not of UTC."""
    signs = _midnights(feed, time_zone)
    if time_zone and taken.start_s.size:
        every = taken.start_s
        if dropped_count:  # an hour read twice with equal values counts as a sign too
            every = np.concatenate([part.start_s for part, *_ in parts])
        signs += written_as_local(every, int(np.median(taken.length_s)), time_zone)
    return signs


def _midnights(feed: Feed, time_zone: str | None) -> list[str]:
    """A sign of local time: every day-long block starts at midnight of UTC, in a place elsewhere."""
    clock = _clock(feed.entries["LocalTimeParameters"])
    away = clock.offset_s if clock else 0
    if not away and time_zone:
        away = offset_s(max((b.interval_start_s for b in feed.blocks), default=0), time_zone)
    days = [b for b in feed.blocks if b.interval_start_s >= 0 and b.interval_length_s % 86400 == 0]
    if not away or len(days) < 3 or any(b.interval_start_s % 86400 for b in days):
        return []
    return ["every daily block starts at midnight of UTC, not of the place"]


def _clock_hint(signs: list[str]) -> str:
    if not signs:
        return ""
    return (
        f"its times look like a local clock's written as UTC: {'; '.join(signs[:2])}. "
        "If they are, say so: times: local_clock (or standard_time)"
    )


def _clock(entries: list[Entry]) -> MeterClock | None:
    """The meter's own clock, or None where the file does not give a sound one."""
    if not entries or not text_of(entries[0].content, "tzOffset"):
        return None
    content = entries[0].content
    offset_s = number_of(content, "tzOffset")
    try:
        begins, ends = (DstRule.from_hex(text_of(content, f"dst{when}Rule")) for when in ("Start", "End"))
    except ValueError:
        return MeterClock(offset_s)
    return MeterClock(offset_s, number_of(content, "dstOffset"), begins, ends)
