"""What can be moved in a study, and a set of moves as settings."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kit.grid.outage_log import OutageDataError
from kit.grid.price_series import PriceSeriesError, check_series
from kit.report.formats import figure
from kit.stages.outage import event_side
from kit.study import Study, StudyError
from kit.units import FT3_M3, GAL_L
from kit.vary.kept import Kept, kept_house

MOST_UNITS, MOST_PACKS = 6, 6
OWN = ""  # the study's own outage record or rate plan


@dataclass(frozen=True)
class Price:
    """A fuel's price as a study of these units quotes it; `path` is what a setting changes."""

    fuel: str
    path: str
    unit: str
    value: float
    per_unit: float = 1.0  # quoted price x this = the value of `path`


@dataclass(frozen=True)
class Choices:
    """What one study lets move. Files: label -> reference from the study's folder; OWN first."""

    study: Study
    outages: dict[str, str]
    rate_plans: dict[str, str]

    @classmethod
    def of(cls, study: Study) -> Choices:
        """The study's own record and plan, and those beside it that fit its year and place."""
        return cls(
            study,
            _fitting(study, "outages", study.model.outages.name or "The study's own record"),
            _fitting(study, "rate_plan", study.model.rate_plan.name or "The study's own plan"),
        )

    def price(self, slug: str) -> Price | None:
        """The price of the fuel an option burns; None without a generator."""
        generator = self.study.model.options[slug].generator
        if generator is None:
            return None
        fuel = generator.fuel
        terms, us = self.study.model.fuels[fuel], self.study.model.units == "us"
        if terms.price_usd_per_m3 is not None:
            per = 1.0 / (1000.0 * FT3_M3) if us else 1.0
            unit = "1,000 ft³" if us else "m³"
            return Price(fuel, f"fuels.{fuel}.price_usd_per_m3", unit, terms.price_usd_per_m3 / per, per)
        litre = terms.price_usd_per_l or 0.0
        if us:
            return Price(fuel, f"fuels.{fuel}.price_usd_per_gal", "gallon", litre * GAL_L)
        return Price(fuel, f"fuels.{fuel}.price_usd_per_l", "litre", litre)


def _fitting(study: Study, block: str, own: str) -> dict[str, str]:
    """Files of the folder beside the study that can be used with it, by name."""
    folder = study.root / ("outages" if block == "outages" else "rates")
    found, kept = {own: OWN}, Kept()
    for file in sorted(folder.glob("*.yaml")):
        reference = _reference(file, study.path.resolve().parent)
        if reference is None:
            continue
        try:
            changed = study.changed([f"{block}={json.dumps(reference)}"])
            check_series(changed.model)
            if block == "outages":
                event_side(changed, kept_house(changed, kept))
        except (StudyError, OutageDataError, PriceSeriesError):
            continue
        part = getattr(changed.model, block)
        if part != getattr(study.model, block) and part.name:
            found.setdefault(part.name, reference)
    return found


def _reference(file: Path, folder: Path) -> str | None:
    """The file as a study in `folder` writes it: inside the folder or one above."""
    for base, up in ((folder, ""), (folder.parent, "../")):
        if file.resolve().is_relative_to(base):
            return f"{up or './'}{file.resolve().relative_to(base).as_posix()}"
    return None


@dataclass(frozen=True)
class Moves:
    """Where the controls stand; None: the option has no such thing. `fuel_price` as quoted."""

    option: str
    keep_on_h: float
    unit_count: int | None = None
    packs_per_unit: int | None = None
    solar_kw: float | None = None
    reserve_frac: float | None = None
    fuel_price: float | None = None
    outages: str = OWN
    rate_plan: str = OWN


def moves_of(choices: Choices, slug: str) -> Moves:
    """The controls as the study itself has them."""
    model = choices.study.model
    option = model.options[slug]
    battery, price = option.battery, choices.price(slug)
    return Moves(
        option=slug,
        keep_on_h=model.asked.keep_on_h,
        unit_count=battery.unit_count if battery else None,
        packs_per_unit=battery.packs_per_unit if battery and battery.pack_usable_kwh else None,
        solar_kw=option.solar.size_kw if option.solar else None,
        reserve_frac=battery.reserve_frac if battery and battery.everyday != "hold" else None,
        fuel_price=price.value if price else None,
    )


def moved_words(own: Moves, moves: Moves) -> str:
    """What was moved on the option itself, e.g. `3 units, reserve 55%`."""
    said = {
        "unit_count": f"{moves.unit_count} units" if moves.unit_count != 1 else "1 unit",
        "packs_per_unit": f"{moves.packs_per_unit} packs per unit",
        "solar_kw": f"{figure(moves.solar_kw, 'kw')} of solar",
        "reserve_frac": f"reserve {figure(moves.reserve_frac, 'frac')}",
    }
    return ", ".join(words for name, words in said.items() if getattr(moves, name) != getattr(own, name))


def changes(choices: Choices, moves: Moves) -> dict[str, Any]:
    """PATH -> value of all that differs from the study."""
    own = moves_of(choices, moves.option)
    path = f"options.{moves.option}"
    found: dict[str, Any] = {}
    if moves.keep_on_h != own.keep_on_h:
        found["asked.keep_on_h"] = moves.keep_on_h
    for name in ("unit_count", "packs_per_unit", "reserve_frac"):
        if getattr(moves, name) != getattr(own, name):
            found[f"{path}.battery.{name}"] = getattr(moves, name)
    if moves.solar_kw is not None and moves.solar_kw != own.solar_kw:
        found |= {f"{path}.solar.{key}": value for key, value in _array(choices, moves).items()}
    price = choices.price(moves.option)
    if price is not None and moves.fuel_price is not None and abs(moves.fuel_price - price.value) > 5e-7:
        found[price.path] = moves.fuel_price * price.per_unit
    for block in ("outages", "rate_plan"):
        if getattr(moves, block) != OWN:
            found[block] = getattr(moves, block)
    return found


def _array(choices: Choices, moves: Moves) -> dict[str, float]:
    """An array of another size: inverter, planes and prices in proportion, the permit as it is."""
    solar = choices.study.model.options[moves.option].solar
    assert solar is not None
    assert moves.solar_kw is not None
    times = moves.solar_kw / solar.size_kw
    found = {"size_kw": moves.solar_kw, "inverter_kw": solar.inverter_kw * times}
    for name in ("price_usd", "install_usd", "incentive_usd", "replacement_usd"):
        if getattr(solar.cost, name):
            found[f"cost.{name}"] = getattr(solar.cost, name) * times
    for slug, plane in (solar.planes or {}).items():
        found[f"planes.{slug}.size_kw"] = plane.size_kw * times
    return found


def settings(changed: Mapping[str, Any]) -> list[str]:
    """PATH=VALUE texts."""
    return [f"{path}={json.dumps(value)}" for path, value in changed.items()]
