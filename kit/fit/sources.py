"""Each source of an option as the loads see it: power, surge, voltage and leg after the power path."""

from __future__ import annotations

from dataclasses import dataclass

from kit.systems.battery import BatterySystem
from kit.systems.generator import GeneratorSet
from kit.systems.transfer import CONTINUOUS_FRAC, PowerPath, path_power

START_S = 1.0  # a motor start is taken to last a second (common practice, no source)


@dataclass(frozen=True)
class SeenSource:
    """One source after its power path. `start_unit` is kW, or kVA where the alternator is rated so.

    `surge_s` is None where the source has no surge beyond what it carries, or holds it long enough.
    """

    name: str
    running_kw: float
    start: float
    start_unit: str
    surge_s: float | None
    gives_240v: bool
    leg_kw: float
    source_kw: float
    source_start: float
    limited_by: str


def _behind(connected_to: str, path: PowerPath | None) -> PowerPath | None:
    """Cords bypass the transfer equipment."""
    return None if connected_to == "plug_in" else path


def _leg_kw(leg_kw: float, gives_240v: bool, path: PowerPath | None, inlet: bool) -> float:
    """One 120 V leg after the path: at 240 V each ampere limit passes half of its kW on a leg."""
    if path is None:
        return leg_kw
    share = 0.5 if gives_240v and path.voltage_v == 240 else 1.0
    limits = [leg_kw]
    if inlet and path.inlet_kw is not None:
        limits.append(share * CONTINUOUS_FRAC * path.inlet_kw)
    if path.rating_kw is not None:
        limits.append(share * path.rating_kw)
    return min(limits)


def seen_battery(battery: BatterySystem, path: PowerPath | None) -> SeenSource:
    """The battery alone. A surge that lasts under a second, or for an unknown time, is not counted."""
    path = _behind(battery.connected_to, path)
    has_surge = battery.surge_kw > battery.continuous_kw
    counted_kw = battery.surge_kw if battery.surge_s >= START_S else battery.continuous_kw
    power = path_power(battery.continuous_kw, counted_kw, path, inlet=False)
    return SeenSource(
        name="battery",
        running_kw=power.continuous_kw,
        start=power.peak_kw,
        start_unit="kW",
        surge_s=battery.surge_s if has_surge else None,
        gives_240v=battery.gives_240v and (path is None or path.voltage_v == 240),
        leg_kw=_leg_kw(battery.leg_kw, battery.gives_240v, path, inlet=False),
        source_kw=battery.continuous_kw,
        source_start=counted_kw,
        limited_by=power.limited_by,
    )


def seen_generator(
    generator: GeneratorSet, path: PowerPath | None, helper: BatterySystem | None
) -> SeenSource:
    """The set, with the inverter of `helper` beside it when the two run in parallel."""
    path = _behind(generator.connected_to, path)
    by_kva = generator.starting_kva is not None
    own_start = generator.starting_kva if generator.starting_kva is not None else generator.starting_kw
    running, start = generator.running_kw, own_start
    leg = _leg_kw(generator.leg_kw, generator.gives_240v, path, inlet=True)
    if helper is not None:
        running += helper.continuous_kw
        start += helper.surge_kw if helper.surge_s >= START_S else helper.continuous_kw
        leg = _leg_kw(leg + helper.leg_kw, generator.gives_240v, path, inlet=False)
    # The inlet carries the set alone; its partner joins behind it.
    own = path_power(generator.running_kw, own_start, path, inlet=True)
    if helper is None:
        power = own
    else:
        added_kw, added_start = running - generator.running_kw, start - own_start
        power = path_power(own.continuous_kw + added_kw, own.peak_kw + added_start, path, inlet=False)
    return SeenSource(
        name="generator" if helper is None else "generator with battery",
        running_kw=power.continuous_kw,
        start=power.peak_kw,
        start_unit="kVA" if by_kva else "kW",
        surge_s=None,
        gives_240v=generator.gives_240v and (path is None or path.voltage_v == 240),
        leg_kw=leg,
        source_kw=running,
        source_start=start,
        limited_by=power.limited_by,
    )


def seen_sources(
    battery: BatterySystem | None, generator: GeneratorSet | None, path: PowerPath | None
) -> list[SeenSource]:
    """Each source that must serve by itself at some time of an outage.

    A battery serves alone before the set runs. While the set runs the inverter adds
    nothing, unless the battery is stated to run in parallel with it.
    """
    sources = []
    if battery is not None:
        sources.append(seen_battery(battery, path))
    if generator is not None:
        helper = battery if battery is not None and battery.parallel_with_generator else None
        sources.append(seen_generator(generator, path, helper))
    return sources
