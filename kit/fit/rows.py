"""The rows of the power and start check: what is needed, what is there, and a plain sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kit.fit.inputs import Allowed, Peaks, SolarArray
from kit.fit.sources import START_S, SeenSource
from kit.systems.battery import BatterySystem
from kit.systems.generator import GeneratorSet
from kit.systems.transfer import Gap, PowerPath

SLACK = 1e-9


@dataclass(frozen=True)
class Row:
    """One check. `text` explains a failing row to a homeowner and is short for a passing one."""

    check: str
    need: float
    have: float
    unit: str
    ok: bool
    text: str


def plain(slugs: Sequence[str]) -> str:
    """Slugs as words: well_pump, sump -> 'well pump, sump'."""
    return ", ".join(slug.replace("_", " ") for slug in slugs)


def _enough(have: float, need: float) -> bool:
    return have >= need - SLACK


def running_row(source: SeenSource, peaks: Peaks) -> Row:
    """Running watts together against continuous power, not net of solar."""
    need = peaks.running_w / 1000.0
    ok = _enough(source.running_kw, need)
    text = (
        "Carries every must-run load at once."
        if ok
        else f"All must-run loads together draw {need:.2f} kW, but the {source.name} carries only "
        f"{source.running_kw:.2f} kW without a break. It would switch off, unless some loads stay off. "
        "Solar is not counted on: a cloud takes it away in seconds."
    )
    return Row(f"running power, {source.name}", need, source.running_kw, "kW", ok, text)


def start_row(source: SeenSource, peaks: Peaks, worst_start_kva: float | None) -> Row:
    """The hardest start against surge kW, or against the alternator's kVA."""
    need = peaks.worst_start_w / 1000.0
    note = ""
    if source.start_unit == "kVA":
        if worst_start_kva is None and peaks.worst_start_va is not None:
            worst_start_kva = peaks.worst_start_va / 1000.0
        note = "" if worst_start_kva is not None else " Starting watts are taken as volt-amperes."
        need = need if worst_start_kva is None else worst_start_kva
    ok = _enough(source.start, need)
    slug = peaks.worst_start_slug
    what = f"the {plain([slug])}" if slug else "the hardest load"
    text = (
        f"Starts {what} with the others running.{note}"
        if ok
        else f"When {what} starts while the other must-run loads run, it takes {need:.2f} "
        f"{source.start_unit} "
        f"for a moment; the {source.name} gives {source.start:.2f}. It would trip.{note}"
    )
    return Row(f"hardest start, {source.name}", need, source.start, source.start_unit, ok, text)


def surge_row(source: SeenSource, peaks: Peaks) -> Row | None:
    """How long the surge lasts against a start of one second; no row where no surge is needed."""
    if source.surge_s is None or peaks.worst_start_w / 1000.0 <= source.running_kw + SLACK:
        return None
    ok = _enough(source.surge_s, START_S)
    text = (
        "The surge lasts longer than a start."
        if ok
        else f"A start is taken to last {START_S:g} s; the surge of the {source.name} is stated for "
        f"{source.surge_s:g} s, so only its continuous power is counted on."
    )
    return Row(f"surge time, {source.name}", START_S, source.surge_s, "s", ok, text)


def voltage_row(source: SeenSource, peaks: Peaks) -> Row:
    """240 V loads need a 240 V source and path."""
    need = 240.0 if peaks.needs_240v else 120.0
    have = 240.0 if source.gives_240v else 120.0
    ok = have >= need
    text = (
        "Gives the voltage every must-run load needs."
        if ok
        else f"These need 240 V and the {source.name} gives only 120 V here: {plain(peaks.needs_240v)}."
    )
    return Row(f"voltage, {source.name}", need, have, "V", ok, text)


def leg_row(source: SeenSource, peaks: Peaks) -> Row | None:
    """The heavier leg of a split-phase supply; no row for a source of 120 V only, which has one."""
    if not source.gives_240v:
        return None
    need = peaks.leg_w / 1000.0
    ok = _enough(source.leg_kw, need)
    text = (
        "Each half of the supply carries its share."
        if ok
        else "A 240 V source gives 120 V loads only half of its power on each side. The heavier side draws "
        f"{need:.2f} kW; one side of the {source.name} carries {source.leg_kw:.2f} kW."
    )
    return Row(f"one 120 V leg, {source.name}", need, source.leg_kw, "kW", ok, text)


def leg_start_row(source: SeenSource, peaks: Peaks) -> Row | None:
    """The hardest start on one leg against half of the surge; no row for a source of 120 V only.

    Where the legs are known, on top of what else runs on that leg; else the largest 120 V piece alone.
    """
    if not source.gives_240v:
        return None
    have = source.start / 2.0
    if peaks.leg_start_w is not None:
        need = peaks.leg_start_w / 1000.0
        ok = _enough(have, need)
        text = (
            "Each leg starts its loads on top of what runs on it."
            if ok
            else f"The fuller leg takes {need:.2f} {source.start_unit} while a load starts on top of what "
            f"runs there; one side of the {source.name} gives {have:.2f} for a moment."
        )
        return Row(f"start on one 120 V leg, {source.name}", need, have, source.start_unit, ok, text)
    need = peaks.largest_120v_w / 1000.0
    ok = _enough(have, need)
    text = (
        "The largest 120 V load starts on one half of the supply."
        if ok
        else f"The largest 120 V load takes {need:.2f} {source.start_unit} while it starts, all on one side; "
        f"one side of the {source.name} gives {have:.2f} for a moment."
    )
    return Row(f"start on one 120 V leg, {source.name}", need, have, source.start_unit, ok, text)


def together_row(source: SeenSource, peaks: Peaks) -> Row:
    """Everything starting at once, as when power comes back. It decides nothing: people switch on in turn."""
    need = peaks.all_start_w / 1000.0
    ok = _enough(source.start, need)
    text = (
        "Everything may start at once."
        if ok
        else f"When power comes back everything may start at once: {need:.2f} {source.start_unit} against "
        f"{source.start:.2f} of the {source.name}. Switch loads on one after another, or by delay relays."
    )
    return Row(f"all starting at once, {source.name}", need, source.start, source.start_unit, ok, text)


def path_row(source: SeenSource, peaks: Peaks) -> Row:
    """Inlet, transfer rating and panel against the running peak."""
    need = peaks.running_w / 1000.0
    limited = source.running_kw < source.source_kw - SLACK
    ok = _enough(source.running_kw, min(need, source.source_kw))
    text = (
        f"Of {source.source_kw:.2f} kW, {source.limited_by} lets {source.running_kw:.2f} kW through."
        if limited
        else "Nothing between the source and the loads limits it."
    )
    if not ok:
        text += f" The must-run loads need {need:.2f} kW, so a larger one is needed there."
    return Row(f"power path, {source.name}", need, source.running_kw, "kW", ok, text)


def reach_row(unreached: Sequence[str]) -> Row:
    """Every must-run load is on a circuit the option feeds."""
    count = len(unreached)
    text = (
        "Every must-run load is on a circuit that is fed."
        if not count
        else f"Not on any circuit this option feeds: {plain(unreached)}. They stay dark in an outage."
    )
    return Row("must-run loads not reached", 0.0, float(count), "loads", not count, text)


def gap_row(gap: Gap, tolerates_gap_s: float) -> Row:
    """Time without power against the strictest must-run tolerance."""
    ok = gap.gap_s <= tolerates_gap_s + SLACK
    who = " Someone must be there: waiting for them comes on top." if gap.needs_person else ""
    text = (
        f"{gap.text[0].upper()}{gap.text[1:]}.{who}"
        if ok
        else f"The most delicate must-run load stands {tolerates_gap_s:g} s without power; "
        f"{gap.text}.{who} "
        "It will stop or reset."
    )
    return Row("time without power", tolerates_gap_s, gap.gap_s, "s", ok, text)


def minimum_load_row(generator: GeneratorSet, mean_must_run_kw: float, charge_kw: float) -> Row:
    """The set's usual load against the least it should run at; charging a battery adds to it."""
    have = min(generator.running_kw, mean_must_run_kw + charge_kw)
    need = generator.minimum_load_kw
    ok = _enough(have, need)
    share = have / generator.rated_kw
    text = "Well enough loaded." if ok else f"The set would mostly run at {share:.0%} of its rating. "
    if not ok and generator.fuel == "diesel":
        text += "A diesel run so lightly fouls with unburnt fuel (wet stacking) and wears early."
    elif not ok:
        text += "It burns nearly as much fuel as when idling, so each kWh costs a lot of fuel."
    return Row("least load of the generator", need, have, "kW", ok, text)


def allowed_rows(
    allowed: Allowed,
    battery: BatterySystem | None,
    generator: GeneratorSet | None,
    solar: SolarArray | None,
    path: PowerPath | None,
) -> list[Row]:
    """What the option needs permission for, against what may be built here."""
    wired = any(s is not None and s.connected_to != "plug_in" for s in (battery, generator))
    wired = wired or (path is not None and path.kind != "none")
    asks = [
        ("a generator outdoors", generator is not None, allowed.outdoor_set),
        ("a piped gas supply", generator is not None and generator.fuel == "natural_gas", allowed.gas),
        ("solar on the roof", solar is not None, allowed.roof),
        ("changes to the wiring", wired, allowed.wiring),
    ]
    return [
        Row(
            f"allowed here: {what}",
            1.0,
            float(ok),
            "yes/no",
            bool(ok),
            "Allowed." if ok else f"This option needs {what}, which may not be built at this address.",
        )
        for what, needed, ok in asks
        if needed
    ]
