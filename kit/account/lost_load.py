"""Published damage of outages to residential customers, with its limits.

Sullivan, Schellenberg & Blundell, Updated Value of Service Reliability Estimates for Electric
Utility Customers in the United States, LBNL-6941E (2015), Table ES-1, residential, 2013 USD per
event (from memory; one mean load of 1.53 kW turns it into the table's other two columns). The
values are of an average customer: never per kWh of a small must-run load, never beyond 24 h.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

HOURS = (0.0, 0.5, 1.0, 4.0, 8.0, 16.0)  # 0: momentary
EVENT_USD_2013 = (3.9, 4.5, 5.1, 9.5, 17.2, 32.4)
MEAN_LOAD_KW = 1.53
PRINTED_TO_H = 16.0
REFUSED_BEYOND_H = 24.0
SOURCE = "LBNL-6941E (2015), Table ES-1, residential, 2013 USD"


def damage_nodes(deflator: float) -> tuple[Floats, Floats]:
    """Hours (7,) and damage per event [usd] between which it is linear; 24 h on the last printed slope."""
    slope = (EVENT_USD_2013[-1] - EVENT_USD_2013[-2]) / (HOURS[-1] - HOURS[-2])
    last = EVENT_USD_2013[-1] + slope * (REFUSED_BEYOND_H - PRINTED_TO_H)
    return np.array([*HOURS, REFUSED_BEYOND_H]), deflator * np.array([*EVENT_USD_2013, last])


def damage_usd(hours: ArrayLike, deflator: float) -> Floats:
    """Damage of outages of the given hours to an average residential customer, same shape [usd].

    Linear between the printed hours; from 16 to 24 h on the last slope. 0 h is a momentary one.

    Raises:
        ValueError: hours below 0 or beyond 24, a deflator not above 0.
    """
    lasted = np.asarray(hours, dtype=np.float64)
    if not deflator > 0.0:
        raise ValueError(f"deflator must be above 0, got {deflator:g}")
    if not ((lasted >= 0.0) & (lasted <= REFUSED_BEYOND_H)).all():
        raise ValueError(
            f"damage values are printed up to {PRINTED_TO_H:g} h and refused beyond {REFUSED_BEYOND_H:g} h: "
            "name losses instead"
        )
    at, usd = damage_nodes(deflator)
    return np.interp(lasted, at, usd)
