"""Safety and code findings of an option. They never approve anything.

Distances and limits come from the sources named in each finding; those marked 'from
memory' were not opened again. Every one ends by deferring to local code and a licensed
person.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from kit.fit.battery_cautions import storage, together
from kit.fit.equipment import DEFER, Equipment
from kit.fit.hazards import busbar_room_a, inverter_breaker_a, noise_db_a
from kit.fit.inputs import Site
from kit.fit.rows import plain
from kit.fit.set_cautions import backfeed, carbon_monoxide, fuel
from kit.study.finding import Finding

NOISE_EXAMPLE_M = 15.0


def cautions(e: Equipment, site: Site, life_support: Sequence[str] = ()) -> tuple[Finding, ...]:
    """All safety and code findings of an option, life support first."""
    found = [*_life_support(e, life_support), *carbon_monoxide(e), *backfeed(e), *_neutral(e)]
    found += [*fuel(e, site), *storage(e), *together(e), *_busbar(e, site), *_noise(e, site)]
    return tuple(found)


def _life_support(e: Equipment, slugs: Sequence[str]) -> Iterator[Finding]:
    if slugs:
        text = (
            f"Life depends on {plain(slugs)}. No figure here says this option is adequate for that: any "
            "gap counts. Keep a plan that needs no electricity, tell the supplier of the device and the "
            "utility, and ask the clinic."
        )
        yield e.say("life_support", None, text + DEFER)


def _neutral(e: Equipment) -> Iterator[Finding]:
    for part, source in (("battery", e.battery), ("generator", e.generator)):
        if source is None or source.connected_to == "plug_in":
            continue
        if not source.gives_240v:
            text = (
                f"The {part} gives 120 V only and feeds wiring made for 240 V split phase. Where two "
                "circuits share a neutral (multi-wire branch circuits) their currents add on it and can "
                "overheat it; the two legs are never simply tied together."
            )
            yield e.say("shared_neutral", f"{part}.voltage_v", text + DEFER, "NEC 210.4 (from memory)")
    g = e.generator
    if g is None or g.connected_to == "plug_in" or e.path is None or e.path.kind == "none":
        return
    if e.path.switches_neutral is None:
        text = (
            "Whether the transfer equipment switches the neutral is not stated. It decides whether the "
            "neutral is bonded at the set or not."
        )
    elif e.path.switches_neutral:
        text = (
            "The transfer equipment switches the neutral: the set is separately derived and bonded at "
            "the set."
        )
    else:
        text = (
            "The transfer equipment does not switch the neutral: a set with its neutral bonded to its "
            "frame would put neutral current on the grounding wires. The bond at the set must be absent."
        )
    severity: Literal["warning", "note"] = "note" if e.path.switches_neutral else "warning"
    yield e.say(
        "neutral_bond",
        "transfer.switches_neutral",
        text + DEFER,
        "NEC 250 and 702.11 (from memory)",
        severity,
    )


def _busbar(e: Equipment, site: Site) -> Iterator[Finding]:
    inverter_kw = e.solar.inverter_kw if e.solar is not None else 0.0
    if e.battery is not None and e.battery.connected_to != "plug_in":
        inverter_kw += e.battery.continuous_kw
    if not inverter_kw:
        return
    busbar_a = site.busbar_a or site.service_rating_a
    room = busbar_room_a(busbar_a, site.service_rating_a)
    need = inverter_breaker_a(inverter_kw)
    if need <= room + 1e-9:
        return
    text = (
        f"A busbar of {busbar_a:g} A behind a main breaker of {site.service_rating_a:g} A has room for "
        f"{room:.0f} A of inverters; these count {need:.0f} A. Panel work or another point of connection "
        "may be due, and its cost."
    )
    yield e.say("busbar", None, text + DEFER, "NEC 705.12 (from memory)")


def _noise(e: Equipment, site: Site) -> Iterator[Finding]:
    at_m = NOISE_EXAMPLE_M if site.boundary_m is None else site.boundary_m
    for part, source in (("battery", e.battery), ("generator", e.generator)):
        if source is None or source.noise_db_a_at_7m is None:
            continue
        level = noise_db_a(source.noise_db_a_at_7m, at_m)
        text = (
            f"The {part} is heard at {level:.1f} dB(A) at {at_m:g} m in the open; walls that reflect "
            "add to it."
        )
        over = site.night_limit_db_a is not None and level > site.night_limit_db_a
        if over:
            text += f" The night limit of this study is {site.night_limit_db_a:g} dB(A)."
        else:
            text += " Compare with the local limit for the night."
        source_text = "L2 = L1 - 20 log10(d2/d1), free field"
        severity: Literal["warning", "note"] = "warning" if over else "note"
        yield e.say("noise", f"{part}.noise_db_a_at_7m", text + DEFER, source_text, severity)
