"""A record's classes in plain numbers: rates and lengths from indices, logs and fits worked out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kit.grid.duration_fits import solved
from kit.grid.outage_log import LoggedOutages, OutageDataError, read_log
from kit.grid.outage_rates import MINUTES_PER_HOUR, IndexSplit, RateEstimate, rate_from_log, split_indices
from kit.grid.reliability_indices import split_daily
from kit.study.outage_models import Duration, IndexSet, KnownClass

if TYPE_CHECKING:
    from kit.study.outage_models import OutageClass, OutageLog, OutageRecord, ServiceIndices


def known_classes(record: OutageRecord) -> dict[str, KnownClass]:
    """Every class of a record with its rate [1/year] and a duration that says its length.

    A rate that is given stands, also beside indices or a log.

    Raises:
        OutageDataError (a ValueError): a log or daily data that cannot be used, events that cannot be fitted.
    """
    known = {slug: _known(record, block) for slug, block in record.classes.items()}
    for slug, block in known.items():
        try:
            solved(block.duration)
        except ValueError as error:
            raise OutageDataError(f"outages.classes.{slug}.duration", str(error)) from None
    return known


def _known(record: OutageRecord, block: OutageClass) -> KnownClass:
    rate, duration = block.events_per_year, block.duration
    if block.from_indices is not None:
        split = record_split(record.indices)
        rates = {"routine": split.routine_events_per_year, "major": split.major_events_per_year}
        means = {"routine": split.routine_mean_h, "major": split.major_mean_h}
        take = "routine" if block.from_indices == "all" else block.from_indices
        if block.from_indices == "all":
            split = whole_split(record.indices)
            rates, means = {"routine": split.routine_events_per_year}, {"routine": split.routine_mean_h}
        rate = rates[take] if rate is None else rate
        assert duration is not None  # the model asks for it
        duration = duration.model_copy(update={"mean_h": means[take] or 1.0})  # no event: any length will do
    elif block.log is not None:
        hours = class_hours(block.log)
        if rate is None:
            rate = rate_from_log(len(hours), read_log(block.log).years).likely
        if duration is None or not duration.has_length:
            if not hours:
                text = "no outage of this class in the log: give its duration"
                raise OutageDataError(block.log.file, text)
            family = duration.family if duration else None
            kind = duration.kind if duration else "log"
            picked_h = block.log.at_least_h if kind == "fitted" and block.log.at_least_h else None
            duration = Duration(kind=kind, family=family, events_h=list(hours), at_least_h=picked_h)
    assert rate is not None
    assert duration is not None
    given = {name: getattr(block, name) for name in type(block).model_fields}
    return KnownClass.model_construct(**(given | {"events_per_year": rate, "duration": duration}))


def class_hours(log: OutageLog) -> tuple[float, ...]:
    """Hours of the sustained outages that a class takes from its log, in order of time."""
    above_h = log.sustained_above_min / MINUTES_PER_HOUR
    top_h = log.below_h if log.below_h is not None else float("inf")
    return tuple(h for h in read_log(log).hours if h > above_h and log.at_least_h <= h < top_h)


def momentary_per_year(log: OutageLog) -> float:
    """Momentary interruptions that the log holds, a year."""
    made: LoggedOutages = read_log(log)
    return sum(h <= log.sustained_above_min / MINUTES_PER_HOUR for h in made.hours) / made.years


def log_rates(record: OutageRecord) -> dict[str, RateEstimate]:
    """The rate of every class that has a log, with its 90 % range; slug -> [1/year]."""
    return {
        slug: rate_from_log(len(class_hours(block.log)), read_log(block.log).years)
        for slug, block in record.classes.items()
        if block.log is not None
    }


def record_split(indices: ServiceIndices | None) -> IndexSplit:
    """Routine and major events behind a block of indices; a side that is not given has no events."""
    whole, routine = _sides(indices)
    whole = whole or routine
    routine = routine or IndexSet(saifi_per_year=0.0, saidi_h_per_year=0.0)
    assert whole is not None
    (all_count, all_h, _), (count, hours, _) = whole.figures, routine.figures
    return split_indices(all_count, MINUTES_PER_HOUR * all_h, count, MINUTES_PER_HOUR * hours)


def whole_split(indices: ServiceIndices | None) -> IndexSplit:
    """All events of a block of indices as one class, in the place of the routine one."""
    whole, routine = _sides(indices)
    taken = whole or routine
    assert taken is not None
    count, hours, _ = taken.figures
    return split_indices(count, MINUTES_PER_HOUR * hours, count, MINUTES_PER_HOUR * hours)


def _sides(indices: ServiceIndices | None) -> tuple[IndexSet | None, IndexSet | None]:
    """Indices of all events and without major ones, as printed or from daily data."""
    assert indices is not None  # the model asks for the block where a class takes from it
    if indices.daily is None:
        return indices.all_events, indices.without_major
    made = split_daily(indices.daily)
    whole, routine = (
        IndexSet(
            saifi_per_year=one.saifi_per_year, saidi_h_per_year=one.saidi_min_per_year / MINUTES_PER_HOUR
        )
        for one in (made.all_events, made.without_major)
    )
    return whole, routine
