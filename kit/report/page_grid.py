"""The grid behind a household's page: every option's points, computed by the engine beforehand.

Axes: battery units, reserve (where everyday use goes down to one), how often outages come, hours
wanted. Money at other prices is a sum of present values, each linear in its price, so the page adds
it up exactly: `fuel_usd` grows with the price of the fuel, `bill_usd` with that of electricity,
`bought_usd` with that of the equipment, `rest_usd` with none of them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from kit.account.cash import RECURRING
from kit.account.time_value import Floats, flow_years
from kit.stages.columns import Value, ride_through_frac
from kit.stages.money import flows_of
from kit.stages.sources import DO_NOTHING
from kit.stages.year_figures import YearFigures, year_figures
from kit.study import Study
from kit.study.models import Money, Option, StudyModel
from kit.vary.cases import Case, each_case
from kit.vary.kept import Kept, Stages, physics

HOURS = (1, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 30, 36, 48, 60, 72, 96, 120, 144, 168)
OFTEN = (0.5, 1.0, 2.0, 3.0)  # times the record's outages a year
UNITS = (1, 2, 3, 4)
RESERVES_FRAC = (0.0, 0.25, 0.5, 0.75, 1.0)
MOST_POINTS = 100  # over all options with a battery; axes are thinned to stay below
BOUGHT = ("purchase", "replacement", "residual")


class GridError(Exception):
    """A point of the grid could not be computed; the text says which and why."""


@dataclass(frozen=True)
class Axes:
    """The values one option is computed at; `own` are the study's places on them."""

    unit_count: tuple[int, ...]
    reserve_frac: tuple[float, ...]
    own: tuple[int, int]


def hours_of(study: Study) -> tuple[float, ...]:
    """The hours of the page, those asked for among them."""
    return tuple(sorted({*map(float, HOURS), study.model.asked.keep_on_h}))


def axes_of(study: Study) -> dict[str, Axes]:
    """Each option's axes. Without a battery, or a reserve that matters, an axis is the study's own value."""
    count = sum(option.battery is not None for option in study.model.options.values())
    most = max(3, MOST_POINTS // max(count, 1))
    return {slug: _axes(option, most) for slug, option in study.model.options.items()}


def _axes(option: Option, most: int) -> Axes:
    b = option.battery
    if b is None:
        return Axes((0,), (0.0,), (0, 0))
    units = sorted({*UNITS, b.unit_count})
    reserves = [b.reserve_frac]
    if b.everyday != "hold":
        reserves = sorted({*(r for r in RESERVES_FRAC if r >= b.outage_floor_frac), b.reserve_frac})
    while len(units) * len(reserves) > most:
        if len(reserves) > 3 or len(units) <= 2:
            _thin(reserves, b.reserve_frac)
        else:
            _thin(units, b.unit_count)
    return Axes(tuple(units), tuple(reserves), (units.index(b.unit_count), reserves.index(b.reserve_frac)))


def _thin(values: list[Any], own: Any) -> None:
    """Take out the inner value nearest the study's own, else an end."""
    inner = [v for v in values[1:-1] if v != own] or [v for v in values if v != own]
    values.remove(min(inner, key=lambda v: abs(v - own)))


def points(study: Study, workers: int = 2) -> dict[str, list[dict[str, Any]]]:
    """slug -> its points, reserve varying fastest; doing nothing has one.

    Raises GridError where a point has no figures.
    """
    cases = [Case(DO_NOTHING, options={})]
    for slug, axes in axes_of(study).items():
        cases += [
            Case(f"{slug}-{i}", options={slug: block}) for i, block in enumerate(_blocks(study, slug, axes))
        ]
    found: dict[str, list[dict[str, Any]]] = {}
    for done in each_case(study, cases, point_rows, workers=workers, progress="grid"):
        if done.failed is not None:
            raise GridError(f"{done.case.slug}: {done.failed}")
        for row in done.rows:
            found.setdefault(str(row["option"]), []).append(json.loads(str(row["point"])))
    return found


def _blocks(study: Study, slug: str, axes: Axes) -> Iterable[Option]:
    option = study.model.options[slug]
    if option.battery is None:
        return [option]
    sizes = [(units, reserve) for units in axes.unit_count for reserve in axes.reserve_frac]
    return [
        option.model_copy(update={"battery": option.battery.model_copy(update=update)})
        for update in ({"unit_count": units, "reserve_frac": reserve} for units, reserve in sizes)
    ]


def point_rows(study: Study, kept: Kept) -> Sequence[dict[str, Value]]:
    """The point of the one option a case has (of doing nothing, where it has none), as JSON text."""
    s = physics(study, kept)
    slug = next(iter(study.model.options), DO_NOTHING)
    side, fitted = s.outages[slug], s.fits[slug]
    point = {
        "chance_frac": [ride_through_frac(s.options[slug], side, h) for h in hours_of(study)],
        "may_meet": slug != DO_NOTHING and fitted.feasible and not s.options[slug].loads.life_support,
        "feasible": slug == DO_NOTHING or fitted.feasible,
        "often": [_money(study, s, slug, often) for often in OFTEN],
    }
    return [{"option": slug, "point": json.dumps(point)}]


def _money(study: Study, s: Stages, slug: str, often: float) -> dict[str, float]:
    """What one option costs when outages come `often` times as often: present values by what they follow."""
    option, model = s.options[slug], study.model
    missed = s.outages[DO_NOTHING].year
    figures = _as_often(year_figures(option, s.daily[slug], s.outages[slug], missed), often)
    flows = flows_of(model, option, figures)
    present = present_usd(flows.lines, model.money)
    fuel_usd = 0.0
    if option.option is not None and option.option.generator is not None:
        dear = flows_of(_dearer_fuel(model, option.option.generator.fuel), option, figures)
        fuel_usd = present_usd(dear.lines, model.money)["fuel"] - present["fuel"]
    bought_usd = sum(present[line] for line in BOUGHT) - option.site_work_usd
    return {
        "up_front_usd": flows.up_front_usd,
        "bill_usd_per_year": s.daily[slug].bill.total_usd + flows.recharge_usd,
        "dark_h_per_year": figures.unserved_h,
        "bill_usd": present["bill"],
        "fuel_usd": fuel_usd,
        "bought_usd": bought_usd,
        "bought_now_usd": present["purchase"] - option.site_work_usd,
        "rest_usd": sum(present.values()) - present["bill"] - fuel_usd - bought_usd,
    }


def present_usd(lines: Mapping[str, Floats], money: Money) -> dict[str, float]:
    """Present value of each line that is paid in money, positive where it costs [usd]."""
    years = np.arange(lines["bill"].size, dtype=float)
    in_year = np.concatenate([[0.0], flow_years(years.size - 1, money.timing)])
    growth = 1.0 + money.discount_rate_frac
    return {
        line: -float(usd @ growth ** -(in_year if line in RECURRING else years))
        for line, usd in lines.items()
        if line != "lost_load"
    }


def _dearer_fuel(model: StudyModel, fuel: str) -> StudyModel:
    """The study with twice the price of one fuel: the fuel line is linear in it."""
    terms = model.fuels[fuel]
    name = "price_usd_per_l" if terms.price_usd_per_l is not None else "price_usd_per_m3"
    dear = terms.model_copy(update={name: 2.0 * getattr(terms, name)})
    return model.model_copy(update={"fuels": {**model.fuels, fuel: dear}})


def _as_often(figures: YearFigures, often: float) -> YearFigures:
    """The same outages `often` times as often: what a year of them takes, in proportion."""
    losses_usd = figures.losses_usd
    return replace(
        figures,
        run_h=figures.run_h * often,
        fuel=figures.fuel * often,
        drawn_kwh=figures.drawn_kwh * often,
        unserved_h=figures.unserved_h * often,
        forewarned_usd=figures.forewarned_usd * often,
        losses_usd=None if losses_usd is None else losses_usd * often,
    )
