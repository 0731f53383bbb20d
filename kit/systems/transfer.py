"""What stands between a source and the house: how much power passes, and how long it takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from kit.systems.battery import BatterySystem
from kit.systems.generator import GeneratorSet

if TYPE_CHECKING:
    from kit.study.equipment_models import Transfer

CONTINUOUS_FRAC = 0.8  # of an inlet's amperes, for a load of three hours or more (common practice)


@dataclass(frozen=True)
class PowerPath:
    """Limits of the transfer equipment, kW. None: no such limit on this path."""

    kind: Literal["automatic", "manual", "none"]
    inlet_kw: float | None
    rating_kw: float | None
    panel_kw: float | None
    voltage_v: int
    transfer_time_s: float
    switches_neutral: bool | None


@dataclass(frozen=True)
class PathPower:
    """What reaches the loads, kW, and which part of the path sets the limit."""

    continuous_kw: float
    peak_kw: float
    limited_by: str


@dataclass(frozen=True)
class Gap:
    """Seconds without power when the grid fails, once the equipment works.

    `needs_person`: someone must be there, so waiting for an attended hour comes on top.
    """

    gap_s: float
    needs_person: bool
    text: str


def power_path(t: Transfer | None) -> PowerPath | None:
    """The limits of a transfer block; None where there is none. Amperes x volts / 1000."""
    if t is None:
        return None
    return PowerPath(
        kind=t.kind,
        inlet_kw=None if t.inlet_a is None else t.inlet_a * t.voltage_v / 1000.0,
        rating_kw=None if t.rating_a is None else t.rating_a * t.voltage_v / 1000.0,
        panel_kw=t.panel_kw,
        voltage_v=t.voltage_v,
        transfer_time_s=t.transfer_time_s,
        switches_neutral=t.switches_neutral,
    )


def stands_fixed(connected_to: str, path: PowerPath | None) -> bool:
    """Whether a set stands in its place for good: wired by an automatic switch without an inlet."""
    wired = path is not None and path.kind == "automatic" and path.inlet_kw is None
    return connected_to != "plug_in" and wired


def path_power(source_kw: float, source_peak_kw: float, path: PowerPath | None, inlet: bool) -> PathPower:
    """The smallest of source, inlet (0.8 for continuous load), transfer rating and backed panel.

    `inlet`: whether this source comes in by the inlet (a generator does, a wired battery does not).
    30 A at 240 V passes 7.2 kW for a moment and 5.76 kW continuously.
    """
    limits: list[tuple[str, float, float]] = [("the source itself", source_kw, source_peak_kw)]
    if path is not None:
        if inlet and path.inlet_kw is not None:
            limits.append(("the inlet", path.inlet_kw * CONTINUOUS_FRAC, path.inlet_kw))
        if path.rating_kw is not None:
            limits.append(("the transfer switch", path.rating_kw, path.rating_kw))
        if path.panel_kw is not None:
            limits.append(("the backed panel", path.panel_kw, path.panel_kw))
    name, continuous, _ = min(limits, key=lambda limit: limit[1])
    return PathPower(continuous, min(peak for _, _, peak in limits), name)


def starts_alone(generator: GeneratorSet, path: PowerPath | None) -> bool:
    """True when the set starts and takes the load with nobody there."""
    return generator.automatic and path is not None and path.kind == "automatic"


def battery_gap(battery: BatterySystem) -> Gap:
    """Gap of a battery. A plug-in one waits for a person, unless the load always runs through it."""
    if battery.connected_to == "plug_in" and not battery.in_line:
        gap_s = battery.setup_min * 60.0 + battery.transfer_time_s
        return Gap(gap_s, True, f"someone fetches and connects the battery, {battery.setup_min:g} min")
    return Gap(battery.transfer_time_s, False, f"the battery takes over in {battery.transfer_time_s:g} s")


def generator_gap(generator: GeneratorSet, path: PowerPath | None) -> Gap:
    """Gap of a generator: start + transfer when automatic, set-up + start when by hand."""
    if starts_alone(generator, path):
        assert path is not None
        gap_s = generator.start_time_s + path.transfer_time_s
        return Gap(gap_s, False, f"the set starts and takes over in {gap_s:g} s")
    gap_s = generator.setup_min * 60.0 + generator.start_time_s
    return Gap(gap_s, True, f"someone sets up and starts the generator, {gap_s / 60.0:g} min")


def option_gap(
    battery: BatterySystem | None, generator: GeneratorSet | None, path: PowerPath | None
) -> Gap | None:
    """Gap of an option: its battery's where there is one, else its generator's; None with neither.

    With a battery to be plugged in beside a set that starts alone, the shorter one counts.
    """
    gaps = []
    if battery is not None:
        gaps.append(battery_gap(battery))
    if generator is not None:
        gaps.append(generator_gap(generator, path))
    return min(gaps, key=lambda gap: (gap.needs_person, gap.gap_s), default=None)


def option_gap_s(
    battery: BatterySystem | None, generator: GeneratorSet | None, path: PowerPath | None
) -> float | None:
    """Seconds without power when the grid fails (see `option_gap`); None with no source."""
    gap = option_gap(battery, generator, path)
    return None if gap is None else gap.gap_s
