"""What the exact everyday schedule is asked to solve: checked input, energies of a step."""

import math
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Required, TypedDict

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.operate.policy import offers
from kit.operate.thresholds import price_pairs

Floats = NDArray[np.float64]
ROUNDING_KWH: Final = 1e-7


class StoreTerms(TypedDict, total=False):
    """A battery and how it may be used; everything but the first four has a default.

    Keys:
        usable_kwh: kWh in the store when full; levels are counted from its lower stop.
        start_kwh: kWh in the store before the first step, 0 to usable_kwh.
        charge_kw, discharge_kw: scalar or (n,) AC kW limits; an (n,) discharge limit can hold the battery to
            the load behind it.
        charge_efficiency_frac: kWh stored per AC kWh charged, above 0 up to 1 (1).
        discharge_efficiency_frac: AC kWh delivered per kWh drawn from the store, above 0 up to 1 (1).
        reserve_kwh: scalar or (n,) least kWh in the store at the end of each step (0).
        idle_kw: AC kW that the system draws in every step (0).
        wear_usd_per_kwh: cost per AC kWh discharged that steers the schedule, 0 or more (0).
        grid_charge_allowed: whether it may charge from the grid, not only from surplus (True).
        export_allowed: whether the battery may discharge into the grid; surplus solar always may flow there
            (False).
        end_value_usd_per_kwh: what a stored kWh left is worth; None: the year ends at start_kwh (None).
    """

    usable_kwh: Required[float]
    start_kwh: Required[float]
    charge_kw: Required[ArrayLike]
    discharge_kw: Required[ArrayLike]
    charge_efficiency_frac: float
    discharge_efficiency_frac: float
    reserve_kwh: ArrayLike
    idle_kw: float
    wear_usd_per_kwh: float
    grid_charge_allowed: bool
    export_allowed: bool
    end_value_usd_per_kwh: float | None


_KEYS: Final = frozenset(StoreTerms.__annotations__)
_LEAST: Final = math.ulp(0.0)
_MOST: Final = sys.float_info.max


class NoScheduleError(ValueError):
    """No schedule keeps the floor and the end level within the limits of the equipment."""


@dataclass(frozen=True, eq=False)
class PricedYear:
    """The load and prices of a year, checked once; what many batteries have in common.

    Attributes:
        net_kw: (n,) AC kW of load less solar; buy, sell: (n,) price per AC kWh; step_h: length of a step.
    """

    net_kw: Floats
    buy: Floats
    sell: Floats
    step_h: float

    @cached_property
    def pairs(self) -> tuple[NDArray[np.uint8], list[tuple[float, float]]] | None:
        """Index of each step's pair of prices and the pairs; None where there are many."""
        found = price_pairs(self.buy, self.sell)
        if found is None or not math.isfinite(sum(map(sum, found[1]))):
            for row, name in ((self.buy, "import_usd_per_kwh"), (self.sell, "export_usd_per_kwh")):
                _finite(row, name)
        return found


def priced_year(
    net_load_kw: ArrayLike, import_usd_per_kwh: ArrayLike, export_usd_per_kwh: ArrayLike, step_h: float
) -> PricedYear:
    """Check a year's load and prices and sort the prices into their levels, once for any number of batteries.

    Args:
        net_load_kw: (n,) AC kW of load less solar, as the meter would see it without the battery.
        import_usd_per_kwh: (n,) or scalar price of an AC kWh imported.
        export_usd_per_kwh: (n,) or scalar credit of an AC kWh exported.
        step_h: length of a step in hours, above 0 and at most 24.

    Raises:
        ValueError: an array of the wrong shape or not finite, or a number out of its range.
    """
    net = _row(net_load_kw, "net_load_kw")
    _finite(net, "net_load_kw")
    if not 0.0 < step_h <= 24.0:
        raise ValueError(f"step_h is {step_h}; it must be above 0 and at most 24")
    buy = _row(import_usd_per_kwh, "import_usd_per_kwh", net.size)
    year = PricedYear(net, buy, _row(export_usd_per_kwh, "export_usd_per_kwh", net.size), float(step_h))
    year.pairs  # noqa: B018 - looks at every price
    return year


@dataclass(frozen=True, eq=False)
class Task:
    """A battery in a priced year, checked.

    Attributes:
        year: load and prices; wear: per AC kWh discharged; idle_kw: AC kW drawn in every step.
        free_kwh: (n,) stored kWh that surplus offers, or (below 0) that the load takes, within the limits.
        start_kwh, reserve_kwh, full_kwh: levels of the store; the reserve (1,) or (n,).
        most_in_kwh, most_out_kwh: limits of a step in stored kWh, (n,) only where they tell more than
            free_kwh, else (1,).
        into, out_of: stored per AC kWh charged; AC per stored kWh drawn.
        grid_charge, export: whether the battery may charge from the grid, discharge into it.
        end: least and most stored kWh after the last step, and the slope of the value of what is left.
    """

    year: PricedYear
    wear: float
    idle_kw: float
    free_kwh: Floats
    start_kwh: float
    reserve_kwh: Floats
    full_kwh: float
    most_in_kwh: Floats
    most_out_kwh: Floats
    into: float
    out_of: float
    grid_charge: bool
    export: bool
    end: tuple[float, float, float]

    @cached_property
    def net_kwh(self) -> Floats:
        """(n,) AC kWh of load and idle draw less solar."""
        return (self.year.net_kw + self.idle_kw) * self.year.step_h

    @property
    def buy(self) -> Floats:
        """(n,) price of an AC kWh imported."""
        return self.year.buy

    @property
    def sell(self) -> Floats:
        """(n,) credit of an AC kWh exported."""
        return self.year.sell

    def check_path(self, stored_kwh: Floats, corrected_kwh: float) -> None:
        """NoScheduleError where a path needed a correction or ends in the wrong place."""
        least, most, _ = self.end
        if corrected_kwh > ROUNDING_KWH or not (
            least - ROUNDING_KWH <= stored_kwh[-1] <= most + ROUNDING_KWH
        ):
            raise NoScheduleError(self._why_none(stored_kwh))

    def _why_none(self, stored: Floats) -> str:
        short = np.flatnonzero(
            stored[1:] <= np.broadcast_to(self.reserve_kwh, self.free_kwh.shape) + ROUNDING_KWH
        )
        where = f" near step {int(short[0])}" if short.size else ""
        return (
            "no schedule keeps the reserve and ends where it should within the charge and discharge limits"
            f"{where}: start {self.start_kwh:g} kWh, reserve up to {self.reserve_kwh.max():g} kWh, "
            f"end {self.end[0]:g} to {self.end[1]:g} kWh"
        )


def dispatch_task(year: PricedYear, store: StoreTerms) -> Task:
    """Check a battery's terms, turn kW into energies of a step; ValueError names what is wrong."""
    if not store.keys() <= _KEYS:
        odd = ", ".join(sorted(store.keys() - _KEYS))
        raise TypeError(f"a battery has no {odd}; it has {', '.join(sorted(_KEYS))}")
    n, step_h = year.net_kw.size, year.step_h
    usable, start = store["usable_kwh"], store["start_kwh"]
    reserve = _short(store.get("reserve_kwh", 0.0), "reserve_kwh", n)
    charge = _short(store["charge_kw"], "charge_kw", n)
    discharge = _short(store["discharge_kw"], "discharge_kw", n)
    into = float(store.get("charge_efficiency_frac", 1.0))
    out_of = float(store.get("discharge_efficiency_frac", 1.0))
    wear, idle = store.get("wear_usd_per_kwh", 0.0), store.get("idle_kw", 0.0)
    worth = store.get("end_value_usd_per_kwh")
    for name, value, low, high in (
        ("usable_kwh", usable, 0.0, _MOST),
        ("start_kwh", start, 0.0, usable),
        ("charge_efficiency_frac", into, _LEAST, 1.0),
        ("discharge_efficiency_frac", out_of, _LEAST, 1.0),
        ("wear_usd_per_kwh", wear, 0.0, _MOST),
        ("idle_kw", idle, 0.0, _MOST),
        ("charge_kw", charge, 0.0, _MOST),
        ("discharge_kw", discharge, 0.0, _MOST),
        ("reserve_kwh", reserve, 0.0, usable),
        ("end_value_usd_per_kwh", 0.0 if worth is None else worth, -_MOST, _MOST),
    ):
        if not (isinstance(value, float) and low <= value <= high):
            _check_range(name, value, low, high)
    grid_charge = bool(store.get("grid_charge_allowed", True))
    export = bool(store.get("export_allowed", False))
    per_in, per_out = step_h * into, step_h / out_of  # stored kWh of a step per AC kW
    most_in = charge * per_in if isinstance(charge, float) else math.inf
    most_out = discharge * per_out if isinstance(discharge, float) else math.inf
    free = offers(year.net_kw, idle, step_h, into, out_of, most_in, most_out)
    each_in = each_out = None
    if isinstance(charge, np.ndarray):
        each_in, most_in = charge * per_in, charge.max().item() * per_in
        np.minimum(free, each_in, out=free)
    if isinstance(discharge, np.ndarray):
        each_out, most_out = discharge * -per_out, discharge.max().item() * per_out
        np.maximum(free, each_out, out=free)
    keep = (float(start), float(start), 0.0)
    return Task(
        year=year,
        wear=float(wear),
        idle_kw=float(idle),
        free_kwh=free,
        start_kwh=float(start),
        reserve_kwh=_held(reserve),
        full_kwh=float(usable),
        most_in_kwh=np.array([most_in]) if each_in is None or not grid_charge else each_in,
        most_out_kwh=np.array([most_out]) if each_out is None or not export else -each_out,
        into=into,
        out_of=out_of,
        grid_charge=grid_charge,
        export=export,
        end=keep if worth is None else (_last(reserve), float(usable), -float(worth)),
    )


def is_convex(pairs: Iterable[tuple[float, float]], task: Task) -> bool:
    """Whether the segments of all pairs of prices ascend by slope, see ``convex_prices``."""
    if not task.grid_charge and not task.export:
        return True
    least, export = _least_price(task), task.export
    return all(sell <= buy >= least and (sell >= least or not export) for buy, sell in pairs)


def convex_prices(buy: Floats, sell: Floats, task: Task) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """The nearest prices whose segments ascend by slope, and where they differ from those given.

    grid <= serve and surplus <= export:  price >= -wear / (1 / (both efficiencies) - 1)
    grid <= surplus and serve <= export:  sell <= buy
    """
    if not task.grid_charge and not task.export:
        return buy, sell, np.zeros(buy.size, dtype=np.bool_)
    least = _least_price(task)
    fair_buy = np.maximum(buy, least)
    fair_sell = np.minimum(np.maximum(sell, least) if task.export else sell, fair_buy)
    return fair_buy, fair_sell, (fair_buy != buy) | (fair_sell != sell)


def _least_price(task: Task) -> float:
    lossy = 1.0 / (task.into * task.out_of) - 1.0
    return -task.wear / lossy if lossy > 0.0 else -math.inf


def not_certified(count: int) -> str:
    """What the reader is told where `count` steps have prices that allow no proof; empty where none has."""
    if count == 0:
        return ""
    return (
        f"Not certified as the least cost: in {count} steps the export price is above the import price, or a "
        "price is so far below zero that wasting energy would pay; the schedule is the best one for prices "
        "without these, billed at the true prices."
    )


def _row(values: ArrayLike, name: str, n: int | None = None) -> Floats:
    row = np.asarray(values, dtype=np.float64)
    if n is not None and row.ndim == 0:
        row = np.full(n, row)
    if row.ndim != 1 or row.size == 0 or (n is not None and row.size != n):
        raise ValueError(f"{name} has shape {row.shape}; it must be ({n or 'n'},)")
    ready = row.flags.c_contiguous and row.flags.writeable  # what a compiled loop takes
    return row if ready else row.copy()


def _finite(row: Floats, name: str) -> None:
    if not math.isfinite(row.sum()) and not np.isfinite(row).all():
        raise ValueError(f"{name} is not finite at step {int(np.argmin(np.isfinite(row)))}")


def _short(values: ArrayLike | float, name: str, n: int) -> Floats | float:
    """One value for all steps stays one value."""
    if isinstance(values, float):
        return values
    given = np.asarray(values, dtype=np.float64)
    if given.ndim == 0:
        return given.item()
    return _row(given, name, n)


def _check_range(name: str, value: Floats | float, low: float, high: float) -> None:
    if isinstance(value, np.ndarray):
        least, most = float(value.min()), float(value.max())
        if not math.isfinite(least + most):
            _finite(value, name)
        _check_range(name, least, low, high)
        value = most
    if low <= value <= high:
        return
    if low == _LEAST:
        words = "above 0 and at most 1"
    elif low < 0.0:
        words = "finite"
    else:
        words = "0 or more and finite" if high == _MOST else f"0 to usable_kwh = {high}"
    raise ValueError(f"{name} is {value}; it must be {words}")


def _held(value: Floats | float) -> Floats:
    return value if isinstance(value, np.ndarray) else np.array([value])


def _last(value: Floats | float) -> float:
    return float(value[-1]) if isinstance(value, np.ndarray) else value
