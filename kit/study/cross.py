"""Checks that need the whole study."""

from __future__ import annotations

from typing import get_args

from kit.study.appliance_models import Appliance
from kit.study.equipment_models import Generator
from kit.study.explain import spot_of
from kit.study.models import StudyModel
from kit.study.names import nearest
from kit.study.problems import Problem, problem
from kit.study.quantities import Reading

FUELS: tuple[str, ...] = get_args(Generator.model_fields["fuel"].annotation)
RESERVED = "do_nothing"


def cross_problems(model: StudyModel, reading: Reading) -> list[Problem]:
    """What only shows when the blocks are seen together."""
    return [
        *_option_names(model, reading),
        *_fuel_prices(model, reading),
        *_period_names(model, reading),
        *_event_losses(model, reading),
        *_load_list(model, reading),
        *_together(model, reading),
    ]


def _say(reading: Reading, at: str, rule: str, got: object = ..., hint: str = "") -> Problem:
    spot = spot_of(tuple(at.split(".")), reading)
    return problem(spot.place, spot.path, rule, got, hint)


def _option_names(model: StudyModel, reading: Reading) -> list[Problem]:
    if RESERVED not in model.options:
        return []
    rule = f"{RESERVED} is computed beside every study"
    return [_say(reading, f"options.{RESERVED}", rule, hint="Give this option another name.")]


def _fuel_prices(model: StudyModel, reading: Reading) -> list[Problem]:
    found = []
    for fuel, terms in model.fuels.items():
        if fuel not in FUELS:
            close = nearest(fuel, FUELS)
            hint = f"Did you mean {close}?" if close else f"Fuels are {', '.join(FUELS)}."
            found.append(_say(reading, f"fuels.{fuel}", "unknown fuel", fuel, hint))
        elif (terms.price_usd_per_m3 is not None) != (fuel == "natural_gas"):
            unit = (
                "price_usd_per_m3 (or _ft3, _ccf)" if fuel == "natural_gas" else "price_usd_per_l (or _gal)"
            )
            found.append(_say(reading, f"fuels.{fuel}", f"{fuel} is priced by {unit}"))
    for slug, option in model.options.items():
        if option.generator is not None and option.generator.fuel not in model.fuels:
            fuel = option.generator.fuel
            hint = f"Add a block {fuel} with its price to `fuels`."
            at = f"options.{slug}.generator.fuel"
            found.append(_say(reading, at, f"`fuels` has no price for {fuel}", hint=hint))
    return found


def _period_names(model: StudyModel, reading: Reading) -> list[Problem]:
    found = []
    for slug, option in model.options.items():
        if option.battery is None:
            continue
        plans = (option.rate_plan or model.rate_plan).versions()
        periods = list(dict.fromkeys(slug for plan in plans for slug in plan.energy))
        for key in ("charge_periods", "discharge_periods"):
            for i, period in enumerate(getattr(option.battery, key) or ()):
                if period not in periods:
                    rule = f"the rate plan has no period {period!r}"
                    at = f"options.{slug}.battery.{key}.{i}"
                    found.append(_say(reading, at, rule, hint=f"It has {', '.join(periods)}."))
    return found


def _load_list(model: StudyModel, reading: Reading) -> list[Problem]:
    """A tier that is asked for must hold something, and the list must draw something at some time."""
    pieces = model.house.appliances
    tiers = ("must_run",) if model.asked.loads == "must_run" else ("must_run", "wanted")
    found = []
    for tier in tiers:
        if not any(piece.tier == tier for piece in pieces.values()):
            rule = f"no appliance of the house is {tier}, so nothing of it can be kept on"
            hint = f"Give at least one appliance `tier: {tier}`, or ask for other loads."
            found.append(_say(reading, "asked.loads", rule, model.asked.loads, hint))
    if not any(_draws(piece) for piece in pieces.values()):
        rule = "the list draws nothing at any hour: every duty is 0 or every hour of use is empty"
        found.append(_say(reading, "house.appliances", rule, hint="Give duties above 0 and hours of use."))
    return found


def _draws(piece: Appliance) -> bool:
    duties = [piece.on_frac]
    if piece.outage_duty_frac is not None:
        duties.append(piece.outage_duty_frac)
    uses = [use for use in (piece.use, piece.outage_use) if use is not None]
    seasons = [season for use in uses for season in use.seasons.values()]
    hours = [text for use in uses for text in (use.weekday, use.weekend)]
    hours += [text for season in seasons for text in (season.weekday, season.weekend) if text]
    duties += [season.duty_frac for season in seasons if season.duty_frac is not None]
    return any(duties) and any(hours) and any(use.months for use in uses)


def _event_losses(model: StudyModel, reading: Reading) -> list[Problem]:
    """A loss hangs on a load that the outage walk follows: must-run, or wanted where that is asked for."""
    served = {"must_run", "wanted"} if model.asked.loads == "wanted" else {"must_run"}
    found = []
    for i, loss in enumerate(model.money.event_losses):
        at = f"money.event_losses.{i}.needs_load"
        appliance = model.house.appliances.get(loss.needs_load)
        if appliance is None:
            close = nearest(loss.needs_load, tuple(model.house.appliances))
            hint = f"Did you mean {close}?" if close else f"It has {', '.join(model.house.appliances)}."
            found.append(_say(reading, at, "the house has no such appliance", loss.needs_load, hint))
        elif appliance.tier not in served:
            hint = (
                f"Losses hang on loads of tier {' or '.join(sorted(served))}: change its tier, or the load."
            )
            found.append(_say(reading, at, f"{loss.needs_load} is {appliance.tier}", hint=hint))
    return found


def _together(model: StudyModel, reading: Reading) -> list[Problem]:
    """What is said to rise and fall together must have a range."""
    found = []
    for slug, paths in model.together.items():
        for i, path in enumerate(paths):
            origin = reading.provenance.get(path)
            if origin is None or (origin.low is None and origin.high is None):
                hint = "Give it low and high where it stands, and write its path in the kit's own unit."
                found.append(_say(reading, f"together.{slug}.{i}", "has no low and high value", path, hint))
    return found
