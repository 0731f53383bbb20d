"""Is a column what it is called? Totals, bills and a column of power beside the energy can tell."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.house.table_rows import Rows

TOTAL = re.compile(r"\btotal\b|\bsum\b", re.IGNORECASE)
_TOTAL_KWH = re.compile(r"([\d,]*\.?\d+)\s*kwh", re.IGNORECASE)
CLOSE_FRAC = 0.03


class Totals:
    """Totals that a file prints before or after its readings."""

    def __init__(self) -> None:
        self.kwh: list[float] = []

    def note(self, text: str) -> None:
        """Remember the total of a line, if it is in kWh."""
        if match := _TOTAL_KWH.search(text):
            self.kwh.append(float(match[1].replace(",", "")))

    def told(self, rows: Rows) -> None:
        """Hand a single total to the rows, to be compared with their sum."""
        if len(self.kwh) == 1 and rows.section_count == 1:
            rows.total_wh = self.kwh[0] * 1000


def unlike_the_bill(
    sum_kwh: float, interval_h: float, billed_kwh: float | None, what: str = "the bill"
) -> list[str]:
    """A problem where the sum is off from what was billed by a telling factor, or by a quarter.

    Args:
        sum_kwh: energy from the grid as read.
        interval_h: length of a reading.
        billed_kwh: energy of the same span by the bill; None where nobody knows it.
    """
    if not billed_kwh or not sum_kwh or not interval_h:
        return []
    ratio = sum_kwh / billed_kwh
    for factor, why in (
        (1 / interval_h, "the values are power in kW, not energy: values_in: kw"),
        (interval_h, "the values are energy, not power: values_in: kwh"),
        (1000.0, "the values are Wh: values_in: wh"),
        (0.001, "the values are thousands of what they are called"),
    ):
        if factor != 1 and abs(ratio / factor - 1) < CLOSE_FRAC:
            return [
                f"its {sum_kwh:,.1f} kWh are {ratio:.3g} times the {billed_kwh:,.1f} kWh of {what}: {why}"
            ]
    if abs(ratio - 1) > 0.25:
        return [
            f"its {sum_kwh:,.1f} kWh are {ratio:.3g} times the {billed_kwh:,.1f} kWh of {what}: "
            "another span, or another meter"
        ]
    return []


def power_beside(value: NDArray[np.float64], power_kw: NDArray[np.float64], interval_h: float) -> list[str]:
    """A problem where energy beside a column of power is more than that power can give."""
    both = np.isfinite(value) & np.isfinite(power_kw) & (power_kw > 0)
    if np.count_nonzero(both) < 3:
        return []
    ratio = float(value[both].sum() / power_kw[both].sum() / interval_h)
    if ratio <= 1 + CLOSE_FRAC:
        return []
    return [
        f"its kWh are {ratio:.2f} times what the column of kW beside them gives in {interval_h * 60:g} min: "
        "the kWh hold power, or the kW energy"
    ]
