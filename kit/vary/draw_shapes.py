"""Uniform numbers to values between low, likely and high: PERT or triangular, by the inverse of their CDF.

PERT is the beta distribution on [low, high] with mode `likely` and mean (low + 4 likely + high) / 6
(Malcolm, Roseboom, Clark and Fazar, Operations Research 7, 1959); its shape parameters are
1 + 4 (likely - low) / (high - low) and 1 + 4 (high - likely) / (high - low).
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Shape = Literal["pert", "triangular"]


def values_at(rank: ArrayLike, low: float, likely: float, high: float, shape: Shape = "pert") -> Floats:
    """The values below which the shares `rank` (0 to 1, any shape) of the distribution lie.

    Raises ValueError unless low <= likely <= high and low < high, and for another shape.
    """
    if not (low <= likely <= high and low < high):
        raise ValueError(f"low <= likely <= high does not hold: {low:g}, {likely:g}, {high:g}")
    if shape not in ("pert", "triangular"):
        raise ValueError(f"draw_shape is pert or triangular, got {shape!r}")
    u = np.asarray(rank, dtype=np.float64)
    width = high - low
    if shape == "triangular":
        peak = (likely - low) / width
        rising = low + np.sqrt(u * width * (likely - low))
        return np.where(u < peak, rising, high - np.sqrt((1.0 - u) * width * (high - likely)))
    from scipy.special import betaincinv

    a, b = 1.0 + 4.0 * (likely - low) / width, 1.0 + 4.0 * (high - likely) / width
    return np.asarray(low + width * betaincinv(a, b, u))
