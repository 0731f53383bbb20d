"""Every configuration that a study's catalogue makes: a battery, a generator or both, with each array."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from kit.stages.columns import Value
from kit.study import Problem, Study, StudyError
from kit.study.catalogue_models import BatteryChoice, GeneratorChoice, SolarChoice
from kit.study.equipment_models import Battery, Generator, Solar
from kit.study.models import Option
from kit.study.problems import shown
from kit.systems.battery import battery_system
from kit.units import conversion


@dataclass(frozen=True)
class Configuration:
    """One thing that could be bought, as an option of the study, and its sizes as table columns.

    Columns: configuration, name, kind (battery, generator or both), battery, unit_count,
    packs_per_unit, nominal_kwh,
    usable_kwh, solar_kw, generator, stored_fuel_l; None or 0 where there is none.
    """

    slug: str
    option: Option
    columns: dict[str, Value] = field(default_factory=dict)


@dataclass(frozen=True)
class _Sized:
    """A battery or a generator of one size: part of a slug, words for a name, columns, transfer equipment."""

    part: str
    words: str
    columns: dict[str, Value]


def configurations(study: Study) -> list[Configuration]:
    """All configurations in the order of the catalogue. Raises StudyError where it cannot be used."""
    catalogue = study.model.catalogue
    _usable(study)
    assert catalogue is not None
    made = []
    for key, choice in catalogue.batteries.items():
        for battery, sized in _batteries(key, choice):
            for solar, roof in _arrays(catalogue.solar):
                alone = Option(battery=battery, solar=solar, transfer=choice.transfer)
                made.append(_configuration(alone, (sized, roof)))
                if choice.transfer_with_generator is None:
                    continue
                for name, source in catalogue.generators.items():
                    for generator, fuelled in _generators(study, name, source):
                        both = Option(
                            battery=battery,
                            generator=generator,
                            solar=solar,
                            transfer=choice.transfer_with_generator,
                        )
                        made.append(_configuration(both, (sized, roof, fuelled)))
    for name, source in catalogue.generators.items():
        for generator, fuelled in _generators(study, name, source):
            for solar, roof in _arrays(catalogue.solar):
                option = Option(generator=generator, solar=solar, transfer=source.transfer)
                made.append(_configuration(option, (roof, fuelled)))
    return made


def _configuration(option: Option, sized: tuple[_Sized, ...]) -> Configuration:
    slug = "__".join(one.part for one in sized if one.part)
    name = " + ".join(one.words for one in sized if one.words)
    kind = "both" if option.battery and option.generator else "battery" if option.battery else "generator"
    columns: dict[str, Value] = {"configuration": slug, "name": name, "kind": kind}
    columns |= {"battery": None, "unit_count": 0, "packs_per_unit": 0}
    columns |= {"nominal_kwh": 0.0, "usable_kwh": 0.0}
    columns |= {"solar_kw": 0.0, "generator": None, "stored_fuel_l": None}
    for one in sized:
        columns |= one.columns
    return Configuration(slug, option.model_copy(update={"name": name}), columns)


def _batteries(key: str, choice: BatteryChoice) -> Iterator[tuple[Battery, _Sized]]:
    for units in choice.unit_count:
        for packs in choice.pack_count:
            block = choice.battery.model_copy(update={"unit_count": units, "packs_per_unit": packs})
            system = battery_system(block)
            sizes: dict[str, Value] = {"nominal_kwh": system.rated_kwh, "usable_kwh": system.usable_kwh}
            words = f"{units} x {choice.battery.name or key.replace('_', ' ')}"
            if packs:
                words += f" with {packs} pack{'s' if packs > 1 else ''} each"
            columns: dict[str, Value] = {"battery": key, "unit_count": units, "packs_per_unit": packs}
            yield block, _Sized(f"{key}_{units}x{packs}", words, columns | sizes)


def _generators(study: Study, key: str, choice: GeneratorChoice) -> Iterator[tuple[Generator, _Sized]]:
    """Each amount of fuel; what holds it is paid with the installation, once."""
    name = choice.generator.name or key.replace("_", " ")
    if choice.stored_fuel_l is None:
        fuel_l = choice.generator.tank_l and (choice.generator.fuel_on_site_l or choice.generator.tank_l)
        yield choice.generator, _Sized(key, name, {"generator": key, "stored_fuel_l": fuel_l})
        return
    for fuel_l in choice.stored_fuel_l:
        cost = choice.generator.cost
        paid_usd = cost.install_usd + choice.storage_usd_per_l * fuel_l
        block = choice.generator.model_copy(
            update={
                "fuel_on_site_l": fuel_l,
                "cost": cost.model_copy(update={"install_usd": paid_usd}),
            }
        )
        columns: dict[str, Value] = {"generator": key, "stored_fuel_l": fuel_l}
        words = f"{name}, {fuel_words(study, fuel_l)}"
        yield block, _Sized(f"{key}_{fuel_l:.4g}l", words, columns)


def fuel_words(study: Study, fuel_l: float) -> str:
    """An amount of fuel in the study's units: '15 gal', '57 L'."""
    gallons = conversion("fuel_l", "fuel_gal")
    assert gallons is not None
    return f"{gallons(fuel_l):.3g} gal" if study.model.units == "us" else f"{fuel_l:.3g} L"


def _arrays(choice: SolarChoice | None) -> Iterator[tuple[Solar | None, _Sized]]:
    """No array, or one of each size: inverter and prices in proportion, the permit as it is."""
    if choice is None:
        yield None, _Sized("", "", {})
        return
    for size_kw in choice.size_kw:
        if size_kw == 0:
            yield None, _Sized("", "", {"solar_kw": 0.0})
            continue
        block, share = choice.solar, size_kw / choice.solar.size_kw
        money = {
            name: share * value
            for name, value in block.cost
            if name.endswith(("_usd", "_usd_per_year")) and name != "permit_usd" and value is not None
        }
        sized = {"size_kw": size_kw, "inverter_kw": share * block.inverter_kw}
        array = block.model_copy(update={**sized, "cost": block.cost.model_copy(update=money)})
        yield array, _Sized(f"solar_{size_kw:g}", f"{size_kw:g} kW solar", {"solar_kw": size_kw})


def _usable(study: Study) -> None:
    """What only shows when the catalogue is seen with the rest of the study."""
    model, found = study.model, []

    def say(path: str, rule: str, hint: str) -> None:
        found.append(Problem(shown(study.path), 0, 0, path, rule, "", hint))

    catalogue = model.catalogue
    if catalogue is None:
        hint = "List what could be bought, as params/catalogues/farm_and_home.yaml does."
        say("catalogue", "is missing: there is nothing to size from", hint)
        raise StudyError(found)
    for name, source in catalogue.generators.items():
        fuel = source.generator.fuel
        if fuel not in model.fuels:
            hint = f"Add a block {fuel} with its price to `fuels`."
            say(f"catalogue.generators.{name}.generator.fuel", f"`fuels` has no price for {fuel}", hint)
    periods = list(model.rate_plan.energy)
    for name, choice in catalogue.batteries.items():
        for key in ("charge_periods", "discharge_periods"):
            for period in getattr(choice.battery, key) or ():
                if period not in periods:
                    path = f"catalogue.batteries.{name}.battery.{key}"
                    say(path, f"the rate plan has no period {period!r}", f"It has {', '.join(periods)}.")
    if catalogue.solar is not None and max(catalogue.solar.size_kw) > 0 and model.house.weather is None:
        say("catalogue.solar", "needs house.weather", "Name a tmy3 or epw file, or kind: clear_sky.")
    if found:
        raise StudyError(found)
