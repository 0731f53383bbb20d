"""A year's emissions: fuel burnt on site, grid electricity, and the change against doing nothing.

Carbon dioxide equivalent covers the fuel burnt and the grid energy bought, charging
and idle draw included since they are part of the import. Energy sold earns no credit unless the
study asks for it. What making the equipment emitted counts for all equipment or for none. Nitrogen oxides
and carbon monoxide are on site only. Emission limits of engines are ceilings, so what
is computed from a limit is a range; the limit is a weighted mean over test loads, and
an engine near no load can emit more per kWh than that (common practice, no source).
Carbon monoxide kills: run an engine outdoors only, away from openings; local code and
a licensed person decide.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from kit.account.cash import Piece
from kit.units import LB_KG


@dataclass(frozen=True)
class Range:
    """A figure known only between two values, in the unit of the name that holds it."""

    low: float
    high: float


@dataclass(frozen=True)
class YearEmissions:
    """One option's emissions in a year."""

    fuel_co2e_kg: float
    grid_co2e_kg: float
    onsite_nox_g: Range
    onsite_co_g: Range

    @property
    def co2e_kg(self) -> float:
        """Fuel and grid together [kg]."""
        return self.fuel_co2e_kg + self.grid_co2e_kg


def _amount(value: float, name: str) -> float:
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"{name} must be a number of 0 or more, got {value}")
    return float(value)


def kg_per_kwh_from_lb_per_mwh(factor_lb_per_mwh: float) -> float:
    """Grid factor as published in the US [lb/MWh] -> [kg/kWh]."""
    return _amount(factor_lb_per_mwh, "factor_lb_per_mwh") * LB_KG / 1000.0


def delivered_factor_kg_per_kwh(generated_kg_per_kwh: float, loss_frac: float) -> float:
    """Grid factor per kWh delivered, from the factor per kWh generated [kg/kWh].

    loss_frac: the grid's gross loss as a share of what is generated; of 1 kWh
    generated 1 - L arrives, so the factor is divided by 1 - L (US EPA, eGRID).
    Raises ValueError unless 0 <= loss_frac < 1.
    """
    if not 0 <= loss_frac < 1:
        raise ValueError(f"loss_frac must be 0 or more and below 1, got {loss_frac}")
    return _amount(generated_kg_per_kwh, "generated_kg_per_kwh") / (1.0 - loss_frac)


def fuel_co2e_kg(fuel: float, co2e_kg_per_unit: float) -> float:
    """CO2e [kg] of fuel burnt: litres x kg/L, or m3 of pipeline gas x kg/m3."""
    return _amount(fuel, "fuel") * _amount(co2e_kg_per_unit, "co2e_kg_per_unit")


def grid_co2e_kg(import_kwh: float | ArrayLike, co2e_kg_per_kwh: float | ArrayLike) -> float:
    """CO2e [kg] of energy bought from the grid.

    import_kwh: (n,) of the steps of the year, or the year's total [kWh].
    co2e_kg_per_kwh: one factor, or one a step (n,) [kg/kWh delivered].
    Raises ValueError for a negative or non-finite number or lengths that differ.
    """
    if isinstance(import_kwh, int | float) and isinstance(co2e_kg_per_kwh, int | float):
        return _amount(import_kwh, "import_kwh") * _amount(co2e_kg_per_kwh, "co2e_kg_per_kwh")
    energy_kwh, factor = np.asarray(import_kwh, dtype=float), np.asarray(co2e_kg_per_kwh, dtype=float)
    if factor.ndim and factor.shape != energy_kwh.shape:
        raise ValueError(f"co2e_kg_per_kwh has shape {factor.shape}, import_kwh {energy_kwh.shape}")
    for name, array in (("import_kwh", energy_kwh), ("co2e_kg_per_kwh", factor)):
        if not (np.isfinite(array).all() and (array >= 0).all()):
            raise ValueError(f"{name} must hold numbers of 0 or more")
    return float(np.sum(energy_kwh * factor))


def embodied_co2e_kg(pieces: Sequence[Piece]) -> float | None:
    """CO2e [kg] of making all equipment, replacements included; None unless it is given for each piece.

    Half of it would favour whatever is left out, so it is all equipment or none. Work on the house
    (a piece without a price of its own) counts as nothing.
    """
    made = [p for p in pieces if p.cost.price_usd > 0 or p.cost.embodied_co2e_kg is not None]
    each = [p.cost.embodied_co2e_kg for p in made]
    if any(kg is None for kg in each):
        return None
    return math.fsum((kg or 0.0) * (1 + len(p.replaced_years)) for kg, p in zip(each, made, strict=True))


def onsite_g(generated_kwh: float, limit_g_per_kwh: float, low_g_per_kwh: float = 0.0) -> Range:
    """What a generator emits on site in a year [g], as a range.

    generated_kwh: exercise runs included. limit_g_per_kwh: the limit its engine class must
    meet, e.g. 610 g/kWh of CO (40 CFR 1054.105, Table 1). low_g_per_kwh: a measured figure,
    or 0, since a limit says only 'at most'. Where the figure is measured, pass it twice.
    """
    low, high = _amount(low_g_per_kwh, "low_g_per_kwh"), _amount(limit_g_per_kwh, "limit_g_per_kwh")
    if low > high:
        raise ValueError(f"low_g_per_kwh {low:g} is above limit_g_per_kwh {high:g}")
    energy_kwh = _amount(generated_kwh, "generated_kwh")
    return Range(energy_kwh * low, energy_kwh * high)


def change_co2e_kg(option: YearEmissions, doing_nothing: YearEmissions) -> float:
    """CO2e of the option less that of doing nothing [kg]; negative when the option emits less."""
    return option.co2e_kg - doing_nothing.co2e_kg


def co2e_kg_per_kwh_generated(fuel: float, co2e_kg_per_unit: float, generated_kwh: float) -> float:
    """CO2e intensity of a generator [kg/kWh], to set beside a grid factor.

    Raises ValueError where nothing was generated.
    """
    if not generated_kwh > 0:
        raise ValueError(f"generated_kwh must be above 0, got {generated_kwh}")
    return fuel_co2e_kg(fuel, co2e_kg_per_unit) / generated_kwh
