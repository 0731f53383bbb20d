"""Discount, annuity and escalation factors, and the dates of flows.

Year 0 is the purchase, at today's prices. A flow of year k (1..N) that recurs
falls at the end of the year (date k), or on request in its middle (k - 1/2).
A price escalates up to the date of its flow: A0 today is A0 (1+e)^date then,
so the first end-of-year flow is A0 (1+e). Rates and escalations must all be
real or all nominal; nothing here converts one into the other.

Formulas: NIST Handbook 135 (1996), Life-Cycle Costing Manual: SPV, UPV, UPV*.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import numpy_financial as npf
from numpy.typing import ArrayLike, NDArray

Timing = Literal["end_of_year", "mid_year"]
Floats = NDArray[np.float64]


def by_year(value: ArrayLike, horizon_years: int, name: str) -> Floats:
    """One figure a year as an array.

    value: one number for every year, or one number a year.
    horizon_years: N, at least 1.
    Returns (N,). Raises ValueError for another length or a number that is not finite.
    """
    if horizon_years < 1:
        raise ValueError(f"horizon_years must be 1 or more, got {horizon_years}")
    array = np.asarray(value, dtype=float)
    if array.shape not in ((), (horizon_years,)):
        raise ValueError(f"{name} must be one number or {horizon_years}, one a year; got shape {array.shape}")
    if not (math.isfinite(array) if array.ndim == 0 else np.isfinite(array).all()):
        raise ValueError(f"{name} holds a number that is not finite")
    return np.full(horizon_years, array) if array.ndim == 0 else array.copy()


def flow_years(horizon_years: int, timing: Timing = "end_of_year") -> Floats:
    """Dates (N,) in years from the purchase of the recurring flows of years 1..N."""
    if timing not in ("end_of_year", "mid_year"):
        raise ValueError(f"timing must be end_of_year or mid_year, got {timing!r}")
    dates = np.arange(1, horizon_years + 1, dtype=float)
    return dates - 0.5 if timing == "mid_year" else dates


def check_rate(rate_frac: float, name: str = "discount_rate_frac") -> None:
    """Raises ValueError unless the rate is finite and above -1."""
    if not (math.isfinite(rate_frac) and rate_frac > -1):
        raise ValueError(f"{name} must be a number above -1, got {rate_frac}")


def spv(discount_rate_frac: float, years: float) -> float:
    """Single present value of 1 at a date [years]: (1+d)^-n. Handbook 135."""
    check_rate(discount_rate_frac)
    return float((1.0 + discount_rate_frac) ** -years)


def upv(discount_rate_frac: float, years: int, timing: Timing = "end_of_year") -> float:
    """Uniform present value of 1 a year for n years: (1-(1+d)^-n)/d, n where d = 0. Handbook 135."""
    return upv_star(discount_rate_frac, 0.0, years, timing)


def upv_star(
    discount_rate_frac: float, escalation_frac: float, years: int, timing: Timing = "end_of_year"
) -> float:
    """Modified uniform present value of 1 a year at today's price, escalating at e.

    End of year: (1+e)/(d-e) [1-((1+e)/(1+d))^n], n where d = e (Handbook 135).
    Mid year: that times sqrt((1+d)/(1+e)), the form behind the factors printed in
    MIL-HDBK-1003/13A, 3.7.3. Dimensionless; raises ValueError for a rate of -1 or less.
    """
    check_rate(discount_rate_frac)
    check_rate(escalation_frac, "escalation_frac")
    log_ratio = math.log1p(escalation_frac) - math.log1p(discount_rate_frac)
    total = float(years) if log_ratio == 0 else math.expm1(years * log_ratio) / -math.expm1(-log_ratio)
    return total * math.exp(-0.5 * log_ratio) if timing == "mid_year" else total


def capital_recovery(discount_rate_frac: float, years: int, timing: Timing = "end_of_year") -> float:
    """Yearly amount [1/year] over n years whose present value is 1 (A/P); the inverse of upv."""
    check_rate(discount_rate_frac)
    a_p = -float(npf.pmt(discount_rate_frac, years, 1.0))
    return a_p / math.sqrt(1.0 + discount_rate_frac) if timing == "mid_year" else a_p


def present_value(
    amount_by_year: ArrayLike, discount_rate_frac: float, timing: Timing = "end_of_year"
) -> float:
    """Present value of one amount a year (N,), years 1..N, in the unit of the amount.

    Also discounts things that are not money (kWh, hours) for a levelized price.
    """
    check_rate(discount_rate_frac)
    amounts = np.atleast_1d(np.asarray(amount_by_year, dtype=float))
    dates = flow_years(len(amounts), timing)
    return float(np.sum(amounts * (1.0 + discount_rate_frac) ** -dates))
