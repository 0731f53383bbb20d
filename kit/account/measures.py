"""Measures of one option's cash against doing nothing.

Lifetime cost ranks alternatives. Savings-to-investment ratio and rates of return rank
projects, and only where an option brings money in; where one has no meaning it is None,
with its reason. Formulas: NIST Handbook 135 (1996); 10 CFR 436, Subpart A.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import numpy_financial as npf
import pandas as pd
from numpy.typing import ArrayLike

from kit.account.cash import INVESTMENT, LINES, RECURRING
from kit.account.time_value import (
    Floats,
    Timing,
    by_year,
    capital_recovery,
    check_rate,
    flow_years,
    present_value,
)

Cash: TypeAlias = pd.DataFrame | Mapping[str, Floats]  # a table, or arrays by line; years 0..N
Answer = tuple[float | None, str | None]  # a figure, or None and why
RATE_GRID = np.geomspace(1e-2, 1e2, 2001) - 1.0  # growth factors scanned when several rates may fit


@dataclass(frozen=True)
class Measures:
    """Money measures of one option [usd; years; ratios]. `reasons` says why a None is None."""

    lifetime_cost_usd: float
    lifetime_cost_with_lost_load_usd: float | None
    equivalent_annual_cost_usd: float
    net_saving_usd: float
    payback_years: float | None
    discounted_payback_years: float | None
    irr_frac: float | None
    modified_irr_frac: float | None
    saving_to_investment_ratio: float | None
    adjusted_irr_frac: float | None
    backup_usd_per_kwh: float | None
    usd_per_avoided_outage_h: float | None
    reasons: Mapping[str, str] = field(default_factory=dict)


def _by_line(cash: Cash) -> Mapping[str, Floats]:
    """The arrays (N+1,) of a cash table by line."""
    if isinstance(cash, pd.DataFrame):
        return {str(line): cash[line].to_numpy(dtype=float) for line in cash}
    return cash


def _less(cash: Mapping[str, Floats], other: Mapping[str, Floats]) -> dict[str, Floats]:
    """One option's cash less another's in the lines that are paid in money: all but lost load."""
    return {line: cash[line] - other[line] for line in LINES if line != "lost_load"}


def _total(lines: Mapping[str, Floats], years: int) -> Floats:
    """Lines (N+1,) added up; zeros where there are none."""
    return np.sum(list(lines.values()), axis=0) if lines else np.zeros(years + 1)


def _series(cash: Cash, timing: Timing) -> tuple[Floats, int]:
    """All lines added up, at even steps from year 0, and how many steps a year has.

    mid_year: on half-years 0..2N, recurring flows in the middle, dated ones at the year's end.
    """
    flow_years(1, timing)
    lines = _by_line(cash)
    count = len(next(iter(lines.values())))
    if timing == "end_of_year":
        return _total(lines, count - 1), 1
    flows = np.zeros(2 * count - 1)
    for line, by_year_usd in lines.items():
        if line in RECURRING:
            flows[1::2] += by_year_usd[1:]
        else:
            flows[0::2] += by_year_usd
    return flows, 2


def npv_usd(cash: Cash, discount_rate_frac: float, timing: Timing = "end_of_year") -> float:
    """Net present value of a cash table [usd] at year 0; year 0 itself is not discounted.

    cash: years 0..N, lines of kit.account.cash.LINES, all or some; a table or arrays by line.
    mid_year: recurring lines half a year earlier (built with the same timing).
    """
    check_rate(discount_rate_frac)
    flows, steps = _series(cash, timing)
    return float(npf.npv((1.0 + discount_rate_frac) ** (1.0 / steps) - 1.0, flows))


def lifetime_cost_usd(
    cash: Cash,
    discount_rate_frac: float,
    timing: Timing = "end_of_year",
    with_lost_load: bool = False,
) -> float:
    """Present value of all costs [usd], positive; lost load only where asked for."""
    lines = _by_line(cash)
    paid = lines if with_lost_load else {name: usd for name, usd in lines.items() if name != "lost_load"}
    return 0.0 - npv_usd(paid, discount_rate_frac, timing)


def equivalent_annual_cost_usd(
    lifetime_usd: float, discount_rate_frac: float, horizon_years: int, timing: Timing = "end_of_year"
) -> float:
    """The level yearly cost [usd] whose present value over the horizon is the lifetime cost."""
    return lifetime_usd * capital_recovery(discount_rate_frac, horizon_years, timing)


def payback_years(
    difference: Cash, discount_rate_frac: float = 0.0, timing: Timing = "end_of_year"
) -> Answer:
    """Years until the extra money is back and stays back; rate 0: simple, else discounted.

    difference: cash of the option less cash of doing nothing. Within a year recurring
    flows come in evenly, so the moment is interpolated; dated ones come at its end.
    """
    check_rate(discount_rate_frac)
    lines = _by_line(difference)
    years = len(next(iter(lines.values()))) - 1
    recurring = _total({line: usd for line, usd in lines.items() if line in RECURRING}, years)[1:]
    dated = _total(lines, years)
    dated[1:] -= recurring
    if dated[0] >= 0:
        return None, "nothing extra is spent up front"
    factor = (1.0 + discount_rate_frac) ** -flow_years(years, timing)
    at_end = (1.0 + discount_rate_frac) ** -flow_years(years)
    before_lump = dated[0] + np.cumsum(
        recurring * factor + np.concatenate(([0.0], (dated[1:] * at_end)[:-1]))
    )
    balance = np.concatenate(([dated[0]], before_lump + dated[1:] * at_end))
    tiny = 1e-9 * abs(dated[0])
    if balance[-1] < -tiny:
        return None, "not within the life"
    year = int(np.flatnonzero(balance < -tiny)[-1]) + 1
    earned = before_lump[year - 1] - balance[year - 1]
    if before_lump[year - 1] < -tiny:  # only what comes at the year's end pays it back
        return float(year), None
    return float(year - 1 + min(1.0, -balance[year - 1] / earned)), None


def irr_frac(difference: Cash, timing: Timing = "end_of_year") -> Answer:
    """Internal rate of return a year of the extra money, where exactly one rate fits.

    difference: cash of the option less cash of doing nothing.
    """
    flows, steps = _series(difference, timing)
    flows = np.where(np.abs(flows) > 1e-9 * np.abs(flows).max(initial=0.0), flows, 0.0)
    signs = np.sign(flows[flows != 0])
    if not (signs > 0).any():
        return None, "backup is not an investment with income: no year brings money in"
    if not (signs < 0).any():
        return None, "no year takes money out"
    changes = int(np.count_nonzero(np.diff(signs)))
    if changes == 1 and signs[0] > 0:
        return None, "less is spent first and more later: a rate of return does not apply"
    if changes == 1:
        return float((1.0 + npf.irr(flows)) ** steps - 1.0), None
    rates = rates_that_fit(flows)
    if len(rates) != 1:
        return None, "several rates fit" if rates else "no rate fits"
    return (1.0 + rates[0]) ** steps - 1.0, None


def modified_irr_frac(
    difference: Cash,
    finance_rate_frac: float,
    reinvest_rate_frac: float,
    timing: Timing = "end_of_year",
) -> Answer:
    """Modified internal rate of return a year: outlays at one rate, income put away at another.

    difference: cash of the option less cash of doing nothing. By numpy-financial's mirr.
    """
    flows, steps = _series(difference, timing)
    flows = np.where(np.abs(flows) > 1e-9 * np.abs(flows).max(initial=0.0), flows, 0.0)
    if not (flows > 0).any():
        return None, "backup is not an investment with income: no year brings money in"
    if not (flows < 0).any():
        return None, "no year takes money out"
    finance, reinvest = ((1.0 + r) ** (1.0 / steps) - 1.0 for r in (finance_rate_frac, reinvest_rate_frac))
    return float((1.0 + npf.mirr(flows, finance, reinvest)) ** steps - 1.0), None


def rates_that_fit(flows: ArrayLike) -> list[float]:
    """Every rate a step at which the flows have no present value, between -99 % and 9,900 %.

    flows: at even steps from the purchase. Growth factors are scanned 0.5 % apart: two rates
    closer than that, or one where the value only touches zero, can go unseen.
    """
    from scipy.optimize import brentq  # half a second to import: only where a rate is asked for

    values = np.asarray(flows, dtype=float)
    sign = np.sign(np.polyval(values[::-1], 1.0 / (1.0 + RATE_GRID)))
    found = [float(rate) for rate in RATE_GRID[sign == 0]]
    for k in np.flatnonzero(sign[:-1] * sign[1:] < 0):
        found.append(float(brentq(lambda r: npf.npv(r, values), RATE_GRID[k], RATE_GRID[k + 1], xtol=1e-12)))
    return sorted(found)


def saving_to_investment_ratio(
    difference: Cash, discount_rate_frac: float, timing: Timing = "end_of_year"
) -> Answer:
    """Present value of operating savings over that of the extra investment-related cost.

    Investment-related: purchase less incentive, replacement, disposal, less residual.
    """
    lines = _by_line(difference)
    invested = {line: usd for line, usd in lines.items() if line in INVESTMENT}
    earned = {line: usd for line, usd in lines.items() if line not in INVESTMENT}
    extra_usd = 0.0 - npv_usd(invested, discount_rate_frac, timing)
    if extra_usd <= 0:
        return None, "nothing extra is invested"
    return npv_usd(earned, discount_rate_frac, timing) / extra_usd, None


def adjusted_irr_frac(ratio: float | None, discount_rate_frac: float, horizon_years: int) -> Answer:
    """Adjusted internal rate of return (1+r) SIR^(1/n) - 1, savings reinvested at r. Handbook 135."""
    if ratio is None:
        return None, "nothing extra is invested"
    if ratio <= 0:
        return None, "it saves nothing in operation"
    return float((1.0 + discount_rate_frac) * ratio ** (1.0 / horizon_years) - 1.0), None


def usd_per_discounted(
    extra_usd: float, amount_by_year: ArrayLike, discount_rate_frac: float, horizon_years: int,
    timing: Timing = "end_of_year", none_reason: str = "there is nothing to divide by",
) -> Answer:  # fmt: skip
    """Money over a discounted yearly amount (kWh, hours): a levelized price."""
    amounts = by_year(amount_by_year, horizon_years, "amount_by_year")
    total = present_value(amounts, discount_rate_frac, timing)
    return (extra_usd / total, None) if total > 0 else (None, none_reason)


def measures(
    cash: Cash,
    doing_nothing: Cash,
    discount_rate_frac: float,
    *,
    timing: Timing = "end_of_year",
    reinvest_rate_frac: float | None = None,
    lost_load_priced: bool = False,
    missed_kwh_by_year: ArrayLike = 0.0,
    avoided_outage_h_by_year: ArrayLike = 0.0,
) -> Measures:
    """All measures of one option.

    cash, doing_nothing: every line of kit.account.cash.LINES over the same years, tables or arrays by line.
    missed_kwh_by_year: must-run energy that doing nothing would miss [kWh].
    avoided_outage_h_by_year: must-run hours without power under doing nothing, less those
    under the option [h]. Both one number or (N,).
    Payback, rates and ratios leave lost load out; payback leaves the residual out as
    well. Raises ValueError where years differ.
    """
    lines, nothing = _by_line(cash), _by_line(doing_nothing)
    count, other_count = len(lines["bill"]), len(nothing["bill"])
    if count != other_count:
        raise ValueError(f"the option has {count} years, doing nothing {other_count}")
    rate, n = discount_rate_frac, count - 1
    lifetime = lifetime_cost_usd(lines, rate, timing)
    extra_usd = lifetime - lifetime_cost_usd(nothing, rate, timing)
    difference = _less(lines, nothing)
    # paid back by what it earns, not by being sold
    kept = {line: usd for line, usd in difference.items() if line != "residual"}
    ratio = saving_to_investment_ratio(difference, rate, timing)
    answers: dict[str, Answer] = {
        "lifetime_cost_with_lost_load_usd": (
            (lifetime_cost_usd(lines, rate, timing, with_lost_load=True), None)
            if lost_load_priced
            else (None, "lost load is not priced")
        ),
        "payback_years": payback_years(kept),
        "discounted_payback_years": payback_years(kept, rate, timing),
        "irr_frac": irr_frac(difference, timing),
        "modified_irr_frac": modified_irr_frac(
            difference, rate, rate if reinvest_rate_frac is None else reinvest_rate_frac, timing
        ),
        "saving_to_investment_ratio": ratio,
        "adjusted_irr_frac": adjusted_irr_frac(ratio[0], rate, n),
        "backup_usd_per_kwh": usd_per_discounted(
            extra_usd, missed_kwh_by_year, rate, n, timing, "doing nothing misses no must-run energy"
        ),
        "usd_per_avoided_outage_h": usd_per_discounted(
            extra_usd, avoided_outage_h_by_year, rate, n, timing, "no outage hour is avoided"
        ),
    }
    return Measures(
        lifetime_cost_usd=lifetime,
        equivalent_annual_cost_usd=equivalent_annual_cost_usd(lifetime, rate, n, timing),
        net_saving_usd=-extra_usd,
        reasons={name: why for name, (_, why) in answers.items() if why is not None},
        **{name: value for name, (value, _) in answers.items()},
    )
