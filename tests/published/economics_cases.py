"""Published values of engineering economy, as data. Every expected value is typed in, none computed.

`seen`: the page was opened in a stored copy. `memory`: from memory, unverified. `formula`:
worked by hand or with a general library from the published formula.
"""

from __future__ import annotations

from typing import NamedTuple


class Case(NamedTuple):
    """One published value: what is called with what, what it must give, how near and why."""

    source: str
    place: str
    provenance: str
    call: str
    inputs: dict[str, object]
    expected: float
    tolerance: float
    why: str


TABLE = "Engineering-economy factor tables (any textbook, 5 places)"
HALF_PLACE = "half a unit of the last printed place"

# rate, years: P/F, P/A, A/P, A/F. The row 3 %, 20 was seen for A/P (0.0672).
_FACTORS = {
    (0.03, 10): (0.74409, 8.53020, 0.117231, 0.087231),
    (0.03, 20): (0.55368, 14.87747, 0.067216, 0.037216),
    (0.05, 10): (0.61391, 7.72173, 0.129505, 0.079505),
    (0.05, 20): (0.37689, 12.46221, 0.080243, 0.030243),
    (0.07, 10): (0.50835, 7.02358, 0.142378, 0.072378),
    (0.07, 15): (0.36245, 9.10791, 0.109795, 0.039795),
    (0.07, 20): (0.25842, 10.59401, 0.094393, 0.024393),
    (0.10, 5): (0.62092, 3.79079, 0.263797, 0.163797),
    (0.10, 10): (0.38554, 6.14457, 0.162745, 0.062745),
    (0.10, 25): (0.09230, 9.07704, 0.110168, 0.010168),
}
_COLUMNS = (("spv", 0.5e-5), ("upv", 0.5e-5), ("capital_recovery", 0.5e-6), ("sinking_fund", 0.5e-6))
FACTORS = [
    Case(
        TABLE,
        f"{rate:.0%}, n = {n}",
        "formula",
        call,
        {"discount_rate_frac": rate, "years": n},
        value,
        tol,
        HALF_PLACE,
    )
    for (rate, n), row in _FACTORS.items()
    for (call, tol), value in zip(_COLUMNS, row, strict=True)
]

MIL = "MIL-HDBK-1003/13A, in UFC 3-440-04"
_MIL_MID = {0.07: 18.049, 0.08: 20.050, 0.10: 25.000}
_END = {0.07: 17.800, 0.08: 19.867, 0.10: 25.000}
ESCALATING = [
    Case(
        MIL,
        f"3.7.3, 25 years, d = 10 %, e = {e:.0%}",
        "seen",
        "upv_star",
        {"discount_rate_frac": 0.10, "escalation_frac": e, "years": 25, "timing": "mid_year"},
        value,
        1.2e-3,
        "the print gives 18.049 where the formula gives 18.0484: one unit of its last place",
    )
    for e, value in _MIL_MID.items()
] + [
    Case(
        "NIST Handbook 135 (1996)",
        f"UPV*, 25 years, d = 10 %, e = {e:.0%}, end of year",
        "formula",
        "upv_star",
        {"discount_rate_frac": 0.10, "escalation_frac": e, "years": 25},
        value,
        0.5e-3,
        HALF_PLACE,
    )
    for e, value in _END.items()
]

GITMAN = "Gitman, Principles of Managerial Finance, Brief, 3rd ed. 2003, through the NumPy documentation"
HELP = "Spreadsheet help, worked example"
RETURNS = [
    Case(
        GITMAN,
        "p. 348",
        "seen (inputs)",
        "irr",
        {"flows": (-100.0, 39.0, 59.0, 55.0, 20.0)},
        0.28095,
        0.5e-5,
        HALF_PLACE,
    ),
    Case(
        "numpy-financial documentation",
        "irr",
        "seen",
        "irr",
        {"flows": (-250_000.0, 100_000.0, 150_000.0, 200_000.0, 250_000.0, 300_000.0)},
        0.5672303344,
        0.5e-10,
        HALF_PLACE,
    ),
    Case(
        "w3resource, NumPy exercise on mirr()",
        "MIRR, finance 34 %, reinvest 21 %",
        "seen",
        "mirr",
        {
            "flows": (-1000.0, 100.0, 50.0, 10.0, 15.0),
            "finance_rate_frac": 0.34,
            "reinvest_rate_frac": 0.21,
        },
        -0.27423,
        0.5e-5,
        HALF_PLACE,
    ),
    Case(
        HELP,
        "IRR after four years",
        "memory",
        "irr",
        {"flows": (-70_000.0, 12_000.0, 15_000.0, 18_000.0, 21_000.0)},
        -0.02124,
        0.5e-5,
        HALF_PLACE,
    ),
    Case(
        HELP,
        "IRR after five years",
        "memory",
        "irr",
        {"flows": (-70_000.0, 12_000.0, 15_000.0, 18_000.0, 21_000.0, 26_000.0)},
        0.08663,
        0.5e-5,
        HALF_PLACE,
    ),
    Case(
        GITMAN,
        "p. 346, NPV at 8 %",
        "seen (through the library's documentation)",
        "npv",
        {"flows": (-40_000.0, 5_000.0, 8_000.0, 12_000.0, 30_000.0), "rate": 0.08},
        3_065.22267,
        0.5e-5,
        HALF_PLACE,
    ),
    Case(
        HELP,
        "NPV at 10 %, the first flow in year 1",
        "memory",
        "npv",
        {"flows": (0.0, -10_000.0, 3_000.0, 4_200.0, 6_800.0), "rate": 0.10},
        1_188.44,
        0.005,
        HALF_PLACE,
    ),
]

HANDBOOK = "NIST Handbook 135 style case, life-cycle cost of two systems, d = 3 %, 20 years"
# Inputs of the case from memory: base system, alternative [usd, usd a year].
HANDBOOK_INPUTS = {
    "discount_rate_frac": 0.03,
    "years": 20,
    "electricity_upv_star": 15.13,
    "fan_year": 12,
    "base": {"price": 103_000.0, "fan": 12_000.0, "residual": 3_500.0, "power": 20_000.0, "upkeep": 7_000.0},
    "other": {"price": 110_000.0, "fan": 12_500.0, "residual": 3_700.0, "power": 13_000.0, "upkeep": 8_000.0},
}
DOLLAR = "printed to the dollar"
HANDBOOK_RESULTS = {  # name: expected, tolerance, why
    "base_lifetime_cost_usd": (516_221.0, 0.5, DOLLAR),
    "other_lifetime_cost_usd": (432_428.0, 0.5, DOLLAR),
    "net_saving_usd": (83_793.0, 0.5, DOLLAR),
    "saving_to_investment_ratio": (12.57, 0.005, "printed to two places"),
    "adjusted_irr_frac": (0.169, 0.0005, "printed to 0.1 %"),
    "payback_years": (1.17, 0.005, "printed to two places"),
}
AIRR = Case(
    "NIST Handbook 135 (1996), AIRR",
    "r = 3 %, SIR = 2, n = 10",
    "formula",
    "adjusted_irr",
    {"ratio": 2.0, "discount_rate_frac": 0.03, "horizon_years": 10},
    0.1039,
    0.5e-4,
    HALF_PLACE,
)
