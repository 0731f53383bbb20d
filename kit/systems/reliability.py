"""How likely a generator set is to start and keep running, and how far the data reaches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.study.finding import Finding

Care = Literal["well", "poor"]

SOURCE = (
    "Marqusee and Jenket, Applied Energy 268 (2020) 114918, commercial emergency diesel sets; "
    "availability and mean times to failure from memory"
)
PORTABLE_ASSUMPTION = (
    "assumption, no source: a seldom-run portable fails to start 2 % of the time if well kept, "
    "20 % if neglected"
)
# The availability of poorly kept sets was not seen in the source; 1 leaves it all to starting.
PUBLISHED: dict[Care, tuple[float, float, float]] = {
    "well": (0.9998, 0.0013, 1662.0),
    "poor": (1.0, 0.0165, 61.0),
}
PORTABLE_FAILS_TO_START: dict[Care, float] = {"well": 0.02, "poor": 0.20}
SMALL_SET_MTTF_H: dict[Care, float] = {"well": 500.0, "poor": 61.0}
SMALL_SET_ASSUMPTION = (
    "assumption: a well-kept set below 40 kW runs 500 h to a failure, between the published "
    "61 and 1,662 h; no source"
)
IN_SCOPE_FROM_KW = 40.0  # assumption: about the smallest commercial diesel set


@dataclass(frozen=True)
class Reliability:
    """Availability at the start of an outage, chance of a failed start, mean run hours to failure.

    `in_scope` is false where the figures stand outside the source's scope or are the study's own.
    """

    availability_frac: float
    fails_to_start_frac: float
    mttf_h: float
    source: str
    in_scope: bool


def reliability(
    care: Care,
    availability_frac: float | None = None,
    fails_to_start_frac: float | None = None,
    mttf_h: float | None = None,
    *,
    fuel: str | None = None,
    rated_kw: float | None = None,
    automatic: bool = True,
) -> Reliability:
    """Failure figures by `care`; a figure given by the study replaces the default.

    A set started by hand takes the portable's fail-to-start assumption, a set below 40 kW the
    small set's run hours to a failure. In scope are diesel
    sets of 40 kW and more that start by themselves, with published figures only.
    Raises ValueError for another `care`.
    """
    if care not in PUBLISHED:
        raise ValueError(f"care must be well or poor, got {care!r}")
    available, fails, mttf = PUBLISHED[care]
    source = SOURCE
    if not automatic:
        fails = PORTABLE_FAILS_TO_START[care]
        source = f"{SOURCE}; {PORTABLE_ASSUMPTION}"
    if rated_kw is not None and rated_kw < IN_SCOPE_FROM_KW:
        mttf = SMALL_SET_MTTF_H[care]
        source = f"{source}; {SMALL_SET_ASSUMPTION}"
    given = [
        name
        for name, value in (
            ("availability_frac", availability_frac),
            ("fails_to_start_frac", fails_to_start_frac),
            ("mttf_h", mttf_h),
        )
        if value is not None
    ]
    if given:
        rest = "" if len(given) == 3 else f"; the rest: {source}"
        source = f"the study gives {', '.join(given)}{rest}"
    big_diesel = fuel == "diesel" and rated_kw is not None and rated_kw >= IN_SCOPE_FROM_KW
    return Reliability(
        availability_frac=available if availability_frac is None else availability_frac,
        fails_to_start_frac=fails if fails_to_start_frac is None else fails_to_start_frac,
        mttf_h=mttf if mttf_h is None else mttf_h,
        source=source,
        in_scope=automatic and big_diesel and not given,
    )


def serves_frac(r: Reliability, run_h: ArrayLike) -> NDArray[np.float64]:
    """P(serve through t) = A (1 - FTS) exp(-t / MTTF) of ONE continuous run, same shape as `run_h`.

    Formula: Marqusee and Jenket 2020. Many short runs need a draw each.
    """
    hours = np.asarray(run_h, dtype=np.float64)
    return r.availability_frac * (1.0 - r.fails_to_start_frac) * np.exp(-hours / r.mttf_h)


def reliability_findings(r: Reliability, option: str | None = None) -> tuple[Finding, ...]:
    """A warning where the failure figures stand outside the source's scope; none in scope."""
    if r.in_scope:
        return ()
    text = (
        "The failure figures stand outside the source's scope: published data covers commercial diesel sets, "
        f"not this one. Used here: {r.fails_to_start_frac:.2%} failed starts, "
        f"{r.mttf_h:,.0f} run hours to failure."
    )
    path = f"options.{option}.generator.care" if option else None
    return (Finding("reliability_out_of_scope", option, path, text, r.source),)
