"""A generator set as a source: derating, motor starting, fuel curve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.study.finding import Finding
from kit.systems.fuels import FuelUnit, fuel_facts, fuel_volume_per_h

if TYPE_CHECKING:
    from kit.study.equipment_models import Derating, Generator

ALTITUDE_STEP_M = 300.0
HEAT_STEP_C = 5.6
KW_SLACK = 1e-9  # a load is not called outside the curve for rounding


@dataclass(frozen=True)
class GeneratorSet:
    """One set at its place. Power is AC kW.

    `running_kw` is after derating, `rated_kw` before. `starting_kw` is what the engine
    gives for a moment, after derating. Where starting is rated by the alternator,
    `starting_kva` holds its kVA, which altitude and heat leave alone; else it is None.
    `output_kw` and `fuel_per_h` (k,) are the fuel curve in `unit` an hour (`l` or `m3`).
    `tank_l` and `fuel_on_site_l` are litres that can be drawn: a propane tank filled to
    80 % of its size holds 0.8 of it. Both are None for pipeline gas.
    """

    fuel: str
    unit: FuelUnit
    rated_kw: float
    running_kw: float
    starting_kw: float
    starting_kva: float | None
    derate_frac: float
    output_kw: NDArray[np.float64]
    fuel_per_h: NDArray[np.float64]
    no_load_known: bool
    tank_l: float | None
    fuel_on_site_l: float | None
    best_load_kw: float
    minimum_load_kw: float
    gives_120v: bool
    gives_240v: bool
    leg_kw: float
    automatic: bool
    start_time_s: float
    setup_min: float
    connected_to: str
    onsite_co_g_per_kwh: float
    noise_db_a_at_7m: float | None


def derate_frac(
    altitude_m: float,
    temperature_c: float,
    *,
    altitude_frac_per_300m: float = 0.03,
    altitude_above_m: float = 0.0,
    heat_frac_per_5p6c: float = 0.01,
    heat_above_c: float = 25.0,
    combine: Literal["multiply", "add"] = "multiply",
) -> float:
    """Share of engine power left at a place, 0 to 1.

    3 % per 300 m above sea level and 1 % per 5.6 C above 25 C by default (small
    spark-ignition sets, installation manual); losses multiply or add. A cold or low place
    gives 1, never more.
    """
    altitude_loss = altitude_frac_per_300m * max(0.0, altitude_m - altitude_above_m) / ALTITUDE_STEP_M
    heat_loss = heat_frac_per_5p6c * max(0.0, temperature_c - heat_above_c) / HEAT_STEP_C
    if combine == "add":
        return max(0.0, 1.0 - altitude_loss - heat_loss)
    return max(0.0, 1.0 - altitude_loss) * max(0.0, 1.0 - heat_loss)


def _factor(d: Derating, altitude_m: float, temperature_c: float) -> float:
    return derate_frac(
        altitude_m,
        temperature_c,
        altitude_frac_per_300m=d.altitude_frac_per_300m,
        altitude_above_m=d.altitude_above_m,
        heat_frac_per_5p6c=d.heat_frac_per_5p6c,
        heat_above_c=d.heat_above_c,
        combine=d.combine,
    )


def generator_set(g: Generator, altitude_m: float, temperature_c: float) -> GeneratorSet:
    """The set of a generator block at `altitude_m` and `temperature_c`.

    Altitude and heat act on engine kW. With `starting_basis: kva` the block's
    `starting_kw` is the alternator's kVA and stays whole; the engine's own moment is then
    its derated running kW. Raises ValueError when a fuel point is in a unit the fuel
    does not come in.
    """
    left = _factor(g.derating, altitude_m, temperature_c)
    running = g.running_kw * left
    points = [
        fuel_volume_per_h(g.fuel, l_per_h=p.fuel_l_per_h, m3_per_h=p.fuel_m3_per_h, heat_kw=p.heat_kw)
        for p in g.fuel_points
    ]
    by_kva = g.starting_basis == "kva"
    return GeneratorSet(
        fuel=g.fuel,
        unit=fuel_facts(g.fuel).unit,
        rated_kw=g.running_kw,
        running_kw=running,
        starting_kw=running if by_kva else g.starting_kw * left,
        starting_kva=g.starting_kw if by_kva else None,
        derate_frac=left,
        output_kw=np.array([p.output_kw for p in g.fuel_points], dtype=np.float64),
        fuel_per_h=np.array(points, dtype=np.float64),
        no_load_known=g.fuel_points[0].output_kw == 0.0,
        tank_l=g.tank_l,
        fuel_on_site_l=g.tank_l if g.fuel_on_site_l is None else g.fuel_on_site_l,
        best_load_kw=g.best_load_frac * running,
        minimum_load_kw=g.minimum_load_frac * g.running_kw,
        gives_120v=True,
        gives_240v=g.voltage_v == 240,
        leg_kw=running / 2.0 if g.voltage_v == 240 else running,
        automatic=g.start == "automatic",
        start_time_s=g.start_time_s,
        setup_min=g.setup_min,
        connected_to=g.connected_to,
        onsite_co_g_per_kwh=g.onsite_co_g_per_kwh,
        noise_db_a_at_7m=g.noise_db_a_at_7m,
    )


def fuel_per_h(gs: GeneratorSet, output_kw: ArrayLike) -> NDArray[np.float64]:
    """Fuel flow of a running set (same shape as `output_kw`), in `gs.unit` an hour.

    Straight lines between the points of its curve; held at the first and last point
    outside them, which `range_findings` reports.
    """
    return np.interp(np.asarray(output_kw, dtype=np.float64), gs.output_kw, gs.fuel_per_h)


def efficiency_frac(gs: GeneratorSet, output_kw: ArrayLike) -> NDArray[np.float64]:
    """Electricity out over fuel heat in (HHV), same shape as `output_kw`."""
    heat_kw = fuel_per_h(gs, output_kw) * fuel_facts(gs.fuel).hhv_kwh_per_unit
    return np.asarray(output_kw, dtype=np.float64) / heat_kw


def range_findings(gs: GeneratorSet, output_kw: ArrayLike, option: str | None = None) -> tuple[Finding, ...]:
    """Findings where a running set's load leaves its fuel curve; `output_kw` (n,) has running steps only."""
    loads = np.atleast_1d(np.asarray(output_kw, dtype=np.float64))
    if loads.size == 0:
        return ()
    path = f"options.{option}.generator.fuel_points" if option else None
    first, last = float(gs.output_kw[0]), float(gs.output_kw[-1])
    found: list[Finding] = []
    if float(loads.min()) < first - KW_SLACK:
        text = (
            f"The set runs down to {loads.min():.2f} kW but its fuel curve starts at {first:.2f} kW. "
            "Fuel there is held at the first point; the real figure is lower by an unknown amount."
        )
        found.append(Finding("fuel_curve_no_load_missing", option, path, text))
    if float(loads.max()) > last + KW_SLACK:
        text = (
            f"The set runs up to {loads.max():.2f} kW but its fuel curve ends at {last:.2f} kW. "
            "Fuel there is held at the last point; the real figure is higher."
        )
        found.append(Finding("fuel_curve_exceeded", option, path, text))
    return tuple(found)
