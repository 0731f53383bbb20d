"""The cash of one option: one line a kind of flow, one row a year.

Money that leaves is negative. Year 0 is the purchase at today's prices; year k's
recurring flow is today's yearly cost times (1+e)^date, date k at the end of the
year or k - 1/2 in its middle, so the lines discount to the factors of
kit.account.time_value. What happens on a date (replacement, residual, disposal)
is booked at the end of the year it falls in, under either timing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy_financial as npf
import pandas as pd
from numpy.typing import ArrayLike

from kit.account.time_value import Floats, Timing, by_year, check_rate, flow_years
from kit.account.upkeep import year_of
from kit.study.equipment_models import Cost

Numbers = float | Floats  # one number, or one a setting (n,)
RECURRING = ("bill", "programme", "fuel", "trips", "upkeep", "carbon", "lost_load")
INVESTMENT = ("purchase", "incentive", "loan", "replacement", "residual", "disposal")
LINES = (
    "purchase",
    "incentive",
    "loan",
    "bill",
    "programme",
    "fuel",
    "trips",
    "upkeep",
    "carbon",
    "replacement",
    "residual",
    "disposal",
    "lost_load",
)


@dataclass(frozen=True)
class Piece:
    """One piece of equipment as money sees it.

    replaced_years: dates at which it is bought again (kit.account.upkeep.replacement_years).
    unused_life_frac: share of the last piece's life left at the horizon, 0 to 1.
    free_count: the first so many replacements cost nothing (a warranty pays).
    """

    cost: Cost
    replaced_years: tuple[float, ...] = ()
    unused_life_frac: float = 0.0
    free_count: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.unused_life_frac <= 1:
            raise ValueError(f"unused_life_frac must be 0 to 1, got {self.unused_life_frac}")


@dataclass(frozen=True)
class Escalation:
    """Yearly price growth of each line; real or nominal as the discount rate is."""

    electricity_frac: float = 0.0
    fuel_frac: float = 0.0
    upkeep_frac: float = 0.0
    replacement_frac: float = 0.0
    lost_load_frac: float = 0.0

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            check_rate(value, name)


def system_cost(
    cost: Cost, unit_count: int = 1, packs_per_unit: int = 0, pack_price_usd: float = 0.0
) -> Cost:
    """Cost of a system of like units, from the cost block of one unit.

    price_usd, replacement_usd, disposal_usd and embodied_co2e_kg are for one unit (replacement_usd, where
    given, with its packs); install, permit, incentive and yearly upkeep are for the whole job.
    """
    unit_price_usd = cost.price_usd + packs_per_unit * pack_price_usd
    again_usd = None if cost.replacement_usd is None else unit_count * cost.replacement_usd
    embodied_kg = cost.embodied_co2e_kg
    return cost.model_copy(
        update={
            "price_usd": unit_count * unit_price_usd,
            "replacement_usd": again_usd,
            "disposal_usd": unit_count * cost.disposal_usd,
            "embodied_co2e_kg": None if embodied_kg is None else unit_count * embodied_kg,
        }
    )


def paid_usd(pieces: Sequence[Piece]) -> float:
    """Price, installation and permits of all pieces before any incentive [usd], positive."""
    return math.fsum(p.cost.price_usd + p.cost.install_usd + p.cost.permit_usd for p in pieces)


def up_front_usd(pieces: Sequence[Piece]) -> float:
    """Price, installation and permits, less incentives, of all pieces [usd], positive."""
    costs = [piece.cost for piece in pieces]
    return math.fsum(c.price_usd + c.install_usd + c.permit_usd - c.incentive_usd for c in costs)


def residual_usd(piece: Piece) -> float:
    """What the last piece is still worth at the horizon, at today's prices [usd].

    `residual_frac` x price where the study gives it, else the unused share of the last
    piece's life x what that piece cost: never both. Between 0 and that price.
    """
    cost = piece.cost
    if "residual_frac" in cost.model_fields_set:
        return cost.price_usd * cost.residual_frac
    last_usd = _again_usd(cost) if piece.replaced_years else cost.price_usd
    return last_usd * piece.unused_life_frac


@dataclass(frozen=True)
class Loan:
    """A loan for `share_frac` of the purchase: level yearly payments at a nominal rate.

    inflation_frac deflates them into the money of year 0; 0 in a nominal study.
    """

    share_frac: float
    rate_frac: float
    term_years: int
    inflation_frac: float = 0.0


def loan_flows(loan: Loan, purchase_usd: Numbers, horizon_years: int) -> tuple[Floats, Floats]:
    """What is lent in year 0 (...,) and what is paid in years 1..N (..., N) [usd], both positive.

    The purchase and the loan's share and rates may be arrays (...,); its term is one number.
    Payments by numpy-financial; what is still owed at the horizon is repaid with its last payment.
    """
    lent_usd = np.asarray(loan.share_frac * purchase_usd, dtype=float)
    level_usd = np.asarray(-npf.pmt(loan.rate_frac, loan.term_years, lent_usd))
    paid = level_usd[..., None] * (np.arange(horizon_years) < loan.term_years)
    if loan.term_years > horizon_years:
        paid[..., -1] += -npf.fv(loan.rate_frac, horizon_years, -level_usd, lent_usd)
    inflation = 1.0 + np.asarray(loan.inflation_frac, dtype=float)[..., None]
    return lent_usd, np.asarray(paid * inflation ** -np.arange(1.0, horizon_years + 1.0))


def stale_usd(
    on_site: float,
    burnt: Numbers,
    keeps_months: Numbers | None,
    price_usd_per_unit: Numbers,
    worth_frac: Numbers = 0.0,
) -> Floats:
    """Yearly loss on fuel that grows too old on site and is replaced [usd], the shape of what is burnt.

    The stock turns over every `keeps_months`; what was burnt in the year need not be thrown away.
    `worth_frac` of the price is kept, for fuel poured into a car in time.
    """
    if keeps_months is None or on_site <= 0:
        return np.zeros(np.shape(burnt))
    replaced = np.maximum(0.0, on_site * 12.0 / keeps_months - burnt)
    return np.asarray(replaced * price_usd_per_unit * (1.0 - worth_frac))


def trips_usd(
    fuel: Numbers, l_per_trip: Numbers | None, trip_usd: Numbers, trip_h: Numbers, person_usd_per_h: Numbers
) -> Floats:
    """Yearly cost of fetching fuel [usd], the shape of `fuel`: trips x (drive + hours x their worth).

    A fraction of a trip is a mean.
    """
    if l_per_trip is None:
        return np.zeros(np.shape(fuel))
    return np.asarray(fuel / l_per_trip * (trip_usd + trip_h * person_usd_per_h))


def fuel_usd(
    fuel: ArrayLike, price_usd_per_unit: Numbers, fixed_usd_per_year: Numbers = 0.0,
    delivery_usd: Numbers = 0.0, fuel_per_delivery: float | None = None,
) -> Floats:  # fmt: skip
    """Fuel bill of a year at today's prices [usd], positive, shape of `fuel`.

    fuel: burnt in the year, exercise included [L or m3]; price per the same unit.
    fixed_usd_per_year: tank rent or a gas account kept for the set, due without any use.
    delivery_usd: per delivery of `fuel_per_delivery`; the expected number may be a fraction.
    """
    burnt = np.asarray(fuel, dtype=float)
    if not (np.isfinite(burnt).all() and (burnt >= 0).all()):
        raise ValueError("fuel must hold numbers of 0 or more")
    total = burnt * price_usd_per_unit + fixed_usd_per_year
    if np.any(delivery_usd):
        if fuel_per_delivery is None or not fuel_per_delivery > 0:
            raise ValueError(f"delivery_usd needs fuel_per_delivery above 0, got {fuel_per_delivery}")
        total = total + delivery_usd * burnt / fuel_per_delivery
    return np.asarray(total)


def cash_lines(horizon_years: int, pieces: Sequence[Piece], **terms: Any) -> pd.DataFrame:
    """The arrays of `cash_arrays` as a table: index year 0..N, columns LINES; same arguments and errors."""
    return cash_table(cash_arrays(horizon_years, pieces, **terms))


def cash_table(lines: Mapping[str, Floats]) -> pd.DataFrame:
    """Arrays by line (N+1,) as a table, index year 0..N."""
    count = len(next(iter(lines.values())))
    return pd.DataFrame(dict(lines), index=pd.RangeIndex(count, name="year"))


def cash_arrays(
    horizon_years: int,
    pieces: Sequence[Piece],
    *,
    bill_usd_by_year: ArrayLike,
    fuel_usd_by_year: ArrayLike = 0.0,
    service_usd_by_year: ArrayLike = 0.0,
    lost_load_usd_by_year: ArrayLike = 0.0,
    trips_usd_by_year: ArrayLike = 0.0,
    carbon_usd_by_year: ArrayLike = 0.0,
    programme_usd_by_year: ArrayLike = 0.0,
    loan: Loan | None = None,
    escalation: Escalation = Escalation(),
    timing: Timing = "end_of_year",
) -> dict[str, Floats]:
    """Cash of one option [usd], an array (N+1,) for years 0..N a line of LINES, negative when money leaves.

    Yearly figures are COSTS at today's prices, one number or one a year (N,): a bill below
    0 is a credit. service_usd_by_year: of the generator; every piece's upkeep_usd_per_year
    is added here. programme_usd_by_year: INCOME, as the contract says it, never escalated.
    Raises ValueError for wrong lengths and numbers that are not finite.
    """
    costs = [piece.cost for piece in pieces]
    dates = flow_years(horizon_years, timing)
    upkeep_usd = by_year(service_usd_by_year, horizon_years, "service_usd_by_year")
    upkeep_usd += math.fsum(c.upkeep_usd_per_year for c in costs)
    yearly = {
        "bill": (bill_usd_by_year, escalation.electricity_frac),
        "fuel": (fuel_usd_by_year, escalation.fuel_frac),
        "trips": (trips_usd_by_year, escalation.upkeep_frac),
        "carbon": (carbon_usd_by_year, 0.0),
        "upkeep": (upkeep_usd, escalation.upkeep_frac),
        "lost_load": (lost_load_usd_by_year, escalation.lost_load_frac),
        "programme": (-np.asarray(programme_usd_by_year, dtype=float), 0.0),
    }
    lines = {line: np.zeros(horizon_years + 1) for line in LINES}
    for line, (today_usd, growth) in yearly.items():
        lines[line][1:] -= by_year(today_usd, horizon_years, f"{line}_usd_by_year") * (1.0 + growth) ** dates
    lines["purchase"][0] -= math.fsum(c.price_usd + c.install_usd + c.permit_usd for c in costs)
    lines["incentive"][0] += math.fsum(c.incentive_usd for c in costs)
    if loan is not None:
        lent_usd, paid_usd = loan_flows(loan, -lines["purchase"][0], horizon_years)
        lines["purchase"][0] += lent_usd
        lines["loan"][1:] -= paid_usd
    for piece in pieces:
        _book_life(lines, piece, horizon_years, escalation.replacement_frac)
    return lines


def _book_life(lines: dict[str, Floats], piece: Piece, horizon_years: int, growth: float) -> None:
    """Add one piece's replacements, disposals and residual to the lines.

    Every piece worn out is disposed of, and the last one at the horizon.
    """
    for number, date_year in enumerate(piece.replaced_years):
        if not 0 < date_year < horizon_years:
            raise ValueError(f"a replacement at year {date_year:g} lies outside 0..{horizon_years}")
        year = year_of(date_year)
        if number >= piece.free_count:
            lines["replacement"][year] -= _again_usd(piece.cost) * (1.0 + growth) ** year
        lines["disposal"][year] -= piece.cost.disposal_usd * (1.0 + growth) ** year
    last = (1.0 + growth) ** horizon_years
    lines["residual"][horizon_years] += residual_usd(piece) * last
    lines["disposal"][horizon_years] -= piece.cost.disposal_usd * last


def _again_usd(cost: Cost) -> float:
    return cost.price_usd if cost.replacement_usd is None else cost.replacement_usd
