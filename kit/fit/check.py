"""The power and start check of one option."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import TYPE_CHECKING

from kit.fit import rows as row
from kit.fit.cautions import cautions
from kit.fit.equipment import Equipment
from kit.fit.inputs import Allowed, Everything, Peaks, Site, SolarArray
from kit.fit.sources import SeenSource, seen_battery, seen_generator, seen_sources
from kit.study.finding import Finding
from kit.systems.battery import BatterySystem
from kit.systems.generator import GeneratorSet
from kit.systems.transfer import Gap, PowerPath, option_gap

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Fit:
    """Whether an option can carry, start and reach the must-run loads.

    `table` is the checks made, `rows` the same with columns check, need, have, unit, ok, text.
    `available_kw` is the continuous power that reaches the loads from the strongest source; `battery_kw`
    and `generator_kw` are each one's alone after its power path, 0 where there is none. `carries_all` and
    `starts_all` ask it of EACH source, since each serves alone at some time; a `stop` finding is raised
    only where none can. `gap` is None for an option with no source.
    """

    table: tuple[row.Row, ...]
    available_kw: float
    battery_kw: float
    generator_kw: float
    starts_all: bool
    carries_all: bool
    gap: Gap | None
    findings: tuple[Finding, ...]

    @cached_property
    def rows(self) -> pd.DataFrame:
        import pandas as pd

        columns = [f.name for f in fields(row.Row)]
        return pd.DataFrame([[getattr(r, c) for c in columns] for r in self.table], columns=columns)

    @property
    def feasible(self) -> bool:
        """False when a finding stops the option."""
        return all(f.severity != "stop" for f in self.findings)


@dataclass(frozen=True)
class _SourceRows:
    """The rows of one source, by what they decide."""

    carries: tuple[row.Row, ...]
    starts: tuple[row.Row, ...]
    volts: row.Row
    together: row.Row
    path: row.Row

    @property
    def carries_ok(self) -> bool:
        return self.volts.ok and all(r.ok for r in self.carries)

    @property
    def starts_ok(self) -> bool:
        return all(r.ok for r in self.starts)

    def all(self) -> list[row.Row]:
        return [*self.carries, self.volts, *self.starts, self.together, self.path]


def _source_rows(source: SeenSource, peaks: Peaks, worst_start_kva: float | None) -> _SourceRows:
    surge = row.surge_row(source, peaks)
    start = row.start_row(source, peaks, worst_start_kva)
    return _SourceRows(
        carries=tuple(r for r in (row.running_row(source, peaks), row.leg_row(source, peaks)) if r),
        starts=tuple(r for r in (start, row.leg_start_row(source, peaks), surge) if r),
        volts=row.voltage_row(source, peaks),
        together=row.together_row(source, peaks),
        path=row.path_row(source, peaks),
    )


def fit(
    peaks: Peaks,
    *,
    option: str,
    battery: BatterySystem | None = None,
    generator: GeneratorSet | None = None,
    path: PowerPath | None = None,
    solar: SolarArray | None = None,
    unreached_must_run: Sequence[str] = (),
    tolerates_gap_s: float = math.inf,
    mean_must_run_kw: float | None = None,
    worst_start_kva: float | None = None,
    life_support: Sequence[str] = (),
    allowed: Allowed | None = None,
    site: Site | None = None,
) -> Fit:
    """Check one option against the must-run list's peaks.

    `peaks` holds watts: all must-run loads running, the house while the worst one starts,
    the largest 120 V load, and the slugs that need 240 V. `tolerates_gap_s` is the
    strictest must-run load's. `mean_must_run_kw` gives the least-load row; without it there
    is none. `worst_start_kva` is the start in kVA for a set rated so; without it watts are
    taken as volt-amperes. Solar is never counted on for power.
    """
    equipment = Equipment(option, battery, generator, solar, path)
    seen = seen_sources(battery, generator, path)
    sources = [_source_rows(source, peaks, worst_start_kva) for source in seen]
    gap = option_gap(battery, generator, path)
    table = row.allowed_rows(allowed or Everything(), battery, generator, solar, path)
    permits = tuple(table)
    for source in sources:
        table += source.all()
    reach = row.reach_row(unreached_must_run)
    if seen:
        table.append(reach)
    if gap is not None and math.isfinite(tolerates_gap_s):
        table.append(row.gap_row(gap, tolerates_gap_s))
    if generator is not None and mean_must_run_kw is not None:
        charge_kw = 0.0 if battery is None else battery.generator_charge_kw
        table.append(row.minimum_load_row(generator, mean_must_run_kw, charge_kw))
    if not seen:
        table.append(_nothing_row(peaks))
    found = [*_stops(equipment, permits, sources, reach if seen else None), *_warnings(equipment, table)]
    stopped = {f.text for f in found if f.severity == "stop"}
    found = [f for f in found if f.severity == "stop" or f.text not in stopped]
    return Fit(
        table=tuple(table),
        available_kw=max((s.running_kw for s in seen), default=0.0),
        battery_kw=0.0 if battery is None else seen_battery(battery, path).running_kw,
        generator_kw=0.0 if generator is None else seen_generator(generator, path, None).running_kw,
        starts_all=bool(sources) and all(s.starts_ok for s in sources),
        carries_all=bool(sources) and reach.ok and all(s.carries_ok for s in sources),
        gap=gap,
        findings=(*found, *cautions(equipment, site or Site(), life_support)),
    )


def _nothing_row(peaks: Peaks) -> row.Row:
    need = peaks.running_w / 1000.0
    text = "Nothing in this option gives power once the grid is down."
    return row.Row("running power, none", need, 0.0, "kW", need <= 0, text)


def _stops(
    e: Equipment, permits: Sequence[row.Row], sources: Sequence[_SourceRows], reach: row.Row | None
) -> list[Finding]:
    """What makes the option infeasible: not allowed, unreached, or no source carries or starts the loads."""
    found = [e.say("not_allowed", None, r.text, None, "stop") for r in permits if not r.ok]
    if reach is not None and not reach.ok:
        found.append(e.say("must_run_not_reached", None, reach.text, None, "stop"))
    if not sources:
        return found
    if not any(s.volts.ok for s in sources):
        found += [e.say("needs_240v", None, s.volts.text, None, "stop") for s in sources]
    if not any(all(r.ok for r in s.carries) for s in sources):
        found += [
            e.say("cannot_carry", None, r.text, None, "stop") for s in sources for r in s.carries if not r.ok
        ]
    if not any(s.starts_ok for s in sources):
        found += [
            e.say("cannot_start", None, r.text, None, "stop") for s in sources for r in s.starts if not r.ok
        ]
    return found


WARNING_CODES = {
    "running power": "source_cannot_carry",
    "one 120 V leg": "source_cannot_carry",
    "start on one 120 V leg": "source_cannot_start",
    "voltage": "source_120v_only",
    "hardest start": "source_cannot_start",
    "all starting at once": "starts_together",
    "surge time": "surge_time",
    "power path": "power_path",
    "time without power": "time_without_power",
    "least load of the generator": "light_load",
}


def _warnings(e: Equipment, table: Sequence[row.Row]) -> list[Finding]:
    """A warning for each failing row; light load on a set that is not diesel is a note."""
    found = []
    for r in table:
        code = WARNING_CODES.get(r.check.split(",")[0])
        if r.ok or code is None or r.check == "running power, none":
            continue
        diesel = e.generator is not None and e.generator.fuel == "diesel"
        mild = code == "starts_together" or (code == "light_load" and not diesel)
        source = "NFPA 110, 30 % of rating for diesel sets (from memory)" if code == "light_load" else None
        found.append(e.say(code, None, r.text, source, "note" if mild else "warning"))
    return found
