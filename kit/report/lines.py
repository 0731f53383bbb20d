"""Cost lines over the horizon: the cash of an option, discounted line by line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from kit.account.measures import npv_usd


@dataclass(frozen=True)
class CostLine:
    """One line of the lifetime cost, its names and its fill. `ink` is the text colour on it."""

    key: str
    label: str
    short: str
    colour: str
    ink: str


_DARK, _LIGHT = "#1d2529", "#ffffff"
COST_LINES: tuple[CostLine, ...] = (
    CostLine("purchase", "Purchase", "purchase", "#0f3a5f", _LIGHT),
    CostLine("loan", "Loan payments", "loan", "#33628a", _LIGHT),
    CostLine("replacement", "Replacement", "replaced", "#9db9cf", _DARK),
    CostLine("bill", "Electricity bill", "bill", "#dfe4e7", _DARK),
    CostLine("fuel", "Fuel", "fuel", "#b4541a", _LIGHT),
    CostLine("trips", "Fetching fuel", "trips", "#d98a4e", _DARK),
    CostLine("carbon", "Carbon price", "carbon", "#8c8577", _DARK),
    CostLine("upkeep", "Upkeep", "upkeep", "#efc58f", _DARK),
    CostLine("disposal", "Disposal", "disposal", "#5d4a3f", _LIGHT),
    CostLine("incentive", "Incentive (credit)", "incentive", "#2b7a5d", _LIGHT),
    CostLine("programme", "Programme income (credit)", "programme", "#6da98f", _DARK),
    CostLine("residual", "Residual value (credit)", "residual", "#a9d3bf", _DARK),
)


def lifetime_lines(comparison: Any) -> pd.DataFrame:
    """Present value of each line, POSITIVE for a cost: one row an option, columns as the cash has.

    Discounted as the lifetime cost is (kit.account.measures), so the lines add up to it.
    Lost load is left out. ValueError for a line that has no name here.
    """
    money = comparison.study.model.money
    rows: dict[str, dict[str, float]] = {}
    horizon_years = 0
    for slug, outcome in comparison.outcomes.items():
        cash = outcome.cash.drop(columns="lost_load", errors="ignore")
        horizon_years = len(cash) - 1
        flows = {line: cash[line].to_numpy(dtype=float) for line in cash.columns}
        rows[slug] = {
            line: 0.0 - npv_usd({line: usd}, money.discount_rate_frac, money.timing) if usd.any() else 0.0
            for line, usd in flows.items()
        }
    frame = pd.DataFrame(rows).T.fillna(0.0)
    unknown = [c for c in frame.columns if c not in {line.key for line in COST_LINES}]
    if unknown:
        raise ValueError(f"cash lines without a name in the report: {', '.join(unknown)}")
    frame.attrs["horizon_years"] = horizon_years
    return frame
