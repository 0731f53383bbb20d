"""What the exact everyday schedule is asked to solve: checked input, energies of a step."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Task:
    """Checked input.

    Attributes:
        net_kwh: (n,) AC kWh of load and idle draw less solar; buy, sell: (n,) prices per kWh; wear: per kWh.
        start_kwh, reserve_kwh, full_kwh: levels of the store; the reserve (1,) or (n,).
        limits: most AC kWh charged in a step, (1,) or (n,); the same discharged; charge efficiency; discharge
            efficiency; 1.0 or 0.0 for grid charging allowed; 1.0 or 0.0 for export from the battery allowed.
        end: least and most stored kWh after the last step, and the slope of the value of what is left.
    """

    net_kwh: Floats
    buy: Floats
    sell: Floats
    wear: float
    start_kwh: float
    reserve_kwh: Floats
    full_kwh: float
    limits: tuple[Floats, Floats, float, float, float, float]
    end: tuple[float, float, float]


def dispatch_task(
    net_load_kw: ArrayLike,
    import_usd_per_kwh: ArrayLike,
    export_usd_per_kwh: ArrayLike,
    step_h: float,
    *,
    usable_kwh: float,
    start_kwh: float,
    end_value_usd_per_kwh: float | None,
    grid_charge_allowed: bool,
    export_allowed: bool,
    **given: Any,
) -> Task:
    """Check the arguments of ``best_use``, turn kW into AC kWh of a step; ValueError names what is wrong."""
    net = _row(net_load_kw, "net_load_kw")
    n = net.size
    reserve = _short(given["reserve_kwh"], "reserve_kwh", n)
    charge = _short(given["charge_kw"], "charge_kw", n)
    discharge = _short(given["discharge_kw"], "discharge_kw", n)
    into, out_of = given["charge_efficiency_frac"], given["discharge_efficiency_frac"]
    wear, idle, worth = given["wear_usd_per_kwh"], given["idle_kw"], end_value_usd_per_kwh
    (least_in, _), (least_out, _), (lowest, highest) = _ends(charge), _ends(discharge), _ends(reserve)
    for name, value, allowed, words in (
        ("step_h", step_h, 0.0 < step_h <= 24.0, "above 0 and at most 24"),
        ("usable_kwh", usable_kwh, 0.0 <= usable_kwh < math.inf, "0 or more and finite"),
        ("start_kwh", start_kwh, 0.0 <= start_kwh <= usable_kwh, f"0 to usable_kwh = {usable_kwh}"),
        ("charge_efficiency_frac", into, 0.0 < into <= 1.0, "above 0 and at most 1"),
        ("discharge_efficiency_frac", out_of, 0.0 < out_of <= 1.0, "above 0 and at most 1"),
        ("wear_usd_per_kwh", wear, 0.0 <= wear < math.inf, "0 or more and finite"),
        ("idle_kw", idle, 0.0 <= idle < math.inf, "0 or more and finite"),
        ("charge_kw", least_in, least_in >= 0.0, "0 or more"),
        ("discharge_kw", least_out, least_out >= 0.0, "0 or more"),
        ("reserve_kwh", lowest, lowest >= 0.0, "0 or more"),
        ("reserve_kwh", highest, highest <= usable_kwh, f"at most usable_kwh = {usable_kwh}"),
        ("end_value_usd_per_kwh", worth, worth is None or math.isfinite(worth), "finite"),
    ):
        if not allowed:
            raise ValueError(f"{name} is {value}; it must be {words}")
    keep = (float(start_kwh), float(start_kwh), 0.0)
    return Task(
        net_kwh=(net + idle if idle else net) * step_h,
        buy=_row(import_usd_per_kwh, "import_usd_per_kwh", n),
        sell=_row(export_usd_per_kwh, "export_usd_per_kwh", n),
        wear=float(wear),
        start_kwh=float(start_kwh),
        reserve_kwh=reserve,
        full_kwh=float(usable_kwh),
        limits=(
            charge * step_h,
            discharge * step_h,
            float(into),
            float(out_of),
            float(grid_charge_allowed),
            float(export_allowed),
        ),
        end=keep if worth is None else (float(reserve[-1]), float(usable_kwh), -float(worth)),
    )


def _row(values: ArrayLike, name: str, n: int | None = None) -> Floats:
    row = np.asarray(values, dtype=np.float64)
    if n is not None and row.ndim == 0:
        row = np.full(n, row)
    if row.ndim != 1 or row.size == 0 or (n is not None and row.size != n):
        raise ValueError(f"{name} has shape {row.shape}; it must be ({n or 'n'},)")
    if not math.isfinite(row.sum()):
        raise ValueError(f"{name} is not finite at step {int(np.argmin(np.isfinite(row)))}")
    return np.ascontiguousarray(row)


def _short(values: ArrayLike, name: str, n: int) -> Floats:
    """One value for all steps stays one value."""
    if np.ndim(values) > 0:
        return _row(values, name, n)
    row = np.array([values], dtype=np.float64)
    if not math.isfinite(row[0]):
        raise ValueError(f"{name} is {row[0]}; it must be finite")
    return row


def _ends(row: Floats) -> tuple[float, float]:
    return (row.item(), row.item()) if row.size == 1 else (float(row.min()), float(row.max()))
