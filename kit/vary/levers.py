"""Numbers to search over: outage hours a year, lengths, prices, price spread, years of stay, or any path."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kit.grid.rates import prices
from kit.stages.daily import everyday_use
from kit.study import Study
from kit.study.models import StudyModel
from kit.units import split_name
from kit.vary.axes import Axis
from kit.vary.durations import LONGEST, rows_of_lengths, scaled_kinds
from kit.vary.ground import STAY, Ground, Standing
from kit.vary.kept import moves_money_only
from kit.vary.lever_runs import mean_price, spread_rows
from kit.vary.parts import Known, rows_kept
from kit.vary.ranges import Range, name_of, source_of

Floats = NDArray[np.float64]
LONGEST_STAY = 40
LENGTH_FACTORS = (0.5, 1.0, LONGEST)
SPREAD_FACTORS = (0.0, 0.5, 1.0, 2.0)


@dataclass(frozen=True, eq=False)
class Lever:
    """One number that is moved by itself over [low, high], all else likely.

    setting: values (n,) -> keyword arguments of Ground.standing. `whole`: takes whole numbers only.
    """

    slug: str
    name: str
    unit: str
    low: float
    likely: float
    high: float
    ground: Ground = field(repr=False)
    setting: Callable[[Floats], dict[str, Any]] = field(repr=False)
    whole: bool = False

    def standing(self, values: Floats, only: Sequence[str] | None = None) -> Standing:
        """Every option at each of the values (n,)."""
        return self.ground.standing(**self.setting(values), only=only)


def together(one: Lever, other: Lever, x: Floats, y: Floats) -> Standing:
    """Every option at pairs of values (n,) of two levers. ValueError where both need rows of their own."""
    a, b = one.setting(x), other.setting(y)
    if ("rows" in a and "rows" in b) or one.ground is not other.ground:
        raise ValueError(f"{one.name} and {other.name} cannot be moved together")
    both = a | b
    both["values"] = a.get("values", {}) | b.get("values", {})
    both["rate_factor"] = a.get("rate_factor", 1.0) * b.get("rate_factor", 1.0)
    return one.ground.standing(**both)


def outage_hours(ground: Ground) -> Lever:
    """Outage hours a year, all rates scaled alike."""
    likely = float(sum(kind.events_per_year * kind.mean_h for kind in ground.stages.kinds))

    def setting(values: Floats) -> dict[str, Any]:
        return {"rate_factor": values / likely if likely > 0.0 else np.ones(values.size)}

    return Lever(
        "outage_hours",
        "outage hours a year",
        "h",
        0.05 * likely,
        likely,
        max(6.0 * likely, 1e-9),
        ground,
        setting,
    )


def outage_length(ground: Ground) -> Lever:
    """Mean hours of an outage, the lengths of all classes scaled alike; exact runs at LENGTH_FACTORS."""
    kinds = ground.stages.kinds
    count = sum(kind.events_per_year for kind in kinds)
    likely = sum(kind.events_per_year * kind.mean_h for kind in kinds) / count if count > 0.0 else 1.0
    made: dict[str, Axis] = {}

    def axis() -> Axis:
        if "axis" not in made:
            runs = [dict(ground.rows) if f == 1.0 else _of_length(ground.known, f) for f in LENGTH_FACTORS]
            rows = {slug: np.array([run[slug] for run in runs]) for slug in ground.slugs}
            made["axis"] = Axis(np.log2(LENGTH_FACTORS), rows)
        return made["axis"]

    low, high = likely * LENGTH_FACTORS[0], likely * LENGTH_FACTORS[-1]
    return Lever(
        "outage_length", "mean hours of an outage", "h", low, likely, high, ground,
        lambda values: {"rows": _along(ground, axis(), np.log2(values / likely))},
    )  # fmt: skip


def _of_length(known: Known, factor: float) -> dict[str, Floats]:
    make = partial(rows_of_lengths, known)
    told = {slug: {"factor": factor} for slug in known.rows}
    return rows_kept(known, "lengths", told, lambda missing: make(*scaled_kinds(known, factor), missing))


def _along(ground: Ground, axis: Axis, places: Floats) -> dict[str, Floats]:
    return {slug: ground.rows[slug] + axis.change(slug, places) for slug in ground.slugs}


def path_lever(ground: Ground, path: str, low: float | None = None, high: float | None = None) -> Lever:
    """Any number of the study by its path: over its range, or over the search range given.

    All places that take it from the same piece of equipment move with it. Raises PathError for an unknown
    path, ValueError without a range and without low and high, or where it is no number.
    """
    study = ground.study
    known = next((one for one in ground.ranges if path in one.paths), None)
    likely = study.value(path)
    if isinstance(likely, bool) or not isinstance(likely, int | float):
        raise ValueError(f"{path} is {likely!r}, no number that could be moved")
    ends = (
        (low, high)
        if known is None
        else (known.low if low is None else low, known.high if high is None else high)
    )
    if ends[0] is None or ends[1] is None:
        raise ValueError(f"{path} has no range: give low and high")
    paths = known.paths if known is not None else _same_source(study, path)
    name = known.name if known is not None else name_of(study, paths)
    moves = known.moves if known is not None else ("money" if moves_money_only(path) else "physics")
    wide = Range(name, paths, min(ends[0], likely), float(likely), max(ends[1], likely), None, moves)
    ground.searched[wide.key] = wide
    if known is None or (known.low, known.high) != (wide.low, wide.high):
        ground.axes.pop(wide.key, None)
    unit = split_name(path.rsplit(".", 1)[-1])[1]
    return Lever(
        path, name, unit, float(ends[0]), float(likely), float(ends[1]), ground,
        lambda values: {"values": {wide.key: values}},
    )  # fmt: skip


def _same_source(study: Study, path: str) -> tuple[str, ...]:
    origin = study.provenance.get(path)
    if origin is None:
        return (path,)
    place, last = source_of(study, path, origin), path.rsplit(".", 1)[-1]
    alike = {p: o for p, o in study.provenance.items() if p.endswith(last)}
    return tuple(p for p, o in alike.items() if p == path or source_of(study, p, o) == place)


def price_levers(ground: Ground, part: str) -> list[Lever]:
    """One lever a price number of the batteries or generators of all options, from 0 to 3 times the price."""
    made: dict[tuple[str, ...], Lever] = {}
    for slug, option in ground.study.model.options.items():
        block = getattr(option, part)
        if block is None or block.cost.price_usd == 0.0:
            continue
        path = f"options.{slug}.{part}.cost.price_usd"
        paths = _same_source(ground.study, path)
        if paths not in made:
            made[paths] = path_lever(ground, path, 0.0, 3.0 * block.cost.price_usd)
    return list(made.values())


def fuel_levers(ground: Ground) -> list[Lever]:
    """One lever a fuel that an option burns, from a quarter to five times its price."""
    burnt = {o.generator.fuel for o in ground.study.model.options.values() if o.generator is not None}
    made = []
    for fuel, terms in ground.study.model.fuels.items():
        per = "m3" if terms.price_usd_per_l is None else "l"
        price = terms.price_usd_per_m3 if per == "m3" else terms.price_usd_per_l
        if fuel in burnt and price:
            made.append(path_lever(ground, f"fuels.{fuel}.price_usd_per_{per}", 0.25 * price, 5.0 * price))
    return made


def _spread(ground: Ground, mean: float, factor: float) -> dict[str, Floats]:
    told = {slug: {"mean": mean, "factor": factor} for slug in ground.slugs}
    return rows_kept(ground.known, "spread", told, lambda missing: spread_rows(ground, mean, factor, missing))


def price_spread(ground: Ground) -> Lever | None:
    """Dearest less cheapest price of the plan; what doing nothing pays in all stays. None if flat."""
    stages = ground.stages
    rates = prices(ground.study.model.rate_plan, stages.house.year).import_usd_per_kwh
    likely = float(rates.max() - rates.min())
    if likely < 1e-9 or ground.study.model.rate_plan.series is not None:
        return None
    mean = mean_price(ground)
    made: dict[str, Axis] = {}

    def axis() -> Axis:
        if "axis" not in made:
            runs = [ground.rows if f == 1.0 else _spread(ground, mean, f) for f in SPREAD_FACTORS]
            rows = {slug: np.array([run[slug] for run in runs]) for slug in ground.slugs}
            made["axis"] = Axis(np.array(SPREAD_FACTORS) - 1.0, rows)
        return made["axis"]

    return Lever(
        "price_spread", "dearest less cheapest price of the plan", "usd_per_kwh", 0.0, likely,
        SPREAD_FACTORS[-1] * likely, ground,
        lambda values: {"rows": _along(ground, axis(), values / likely - 1.0)},
    )  # fmt: skip


def stay_years(ground: Ground) -> Lever:
    """Years of the stay, 1 to LONGEST_STAY (or the study's, if longer): bills of all these years are made."""
    study, stages = ground.study, ground.stages
    likely = study.model.asked.stay_years
    longest = max(LONGEST_STAY, likely)
    made: dict[str, Ground] = {}
    if longest > likely:
        asked = study.model.asked.model_copy(update={"stay_years": longest})
        model: StudyModel = study.model.model_copy(update={"asked": asked})
        long = replace(study, model=model)
        made["long"] = Ground(
            long, replace(stages, daily=everyday_use(long, stages.house, stages.options)), ground.grid_count
        )
    return Lever(
        "stay_years", "years in the house", "years", 1.0, float(likely), float(longest),
        made.get("long", ground), lambda values: {"values": {STAY: values}}, whole=True,
    )  # fmt: skip


def usual_levers(ground: Ground) -> list[Lever]:
    """What is always asked: outage hours, lengths, prices of batteries, sets and fuels, spread, stay."""
    spread_lever = price_spread(ground)
    return [
        outage_hours(ground),
        outage_length(ground),
        *price_levers(ground, "battery"),
        *price_levers(ground, "generator"),
        *fuel_levers(ground),
        *([] if spread_lever is None else [spread_lever]),
        stay_years(ground),
    ]
