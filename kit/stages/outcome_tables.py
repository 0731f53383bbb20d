"""Tables of an outcome, each made when it is first asked for: most comparisons are read without them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kit.operate import walk as w
from kit.stages.losses import SEAMLESS_S
from kit.stages.outage import OutageSide
from kit.stages.sources import Sources

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class HardOutage:
    """The hard outage step by step: trace (steps, TRACES) of kit.operate.walk.

    dark_kwh: at or below this the battery is empty; below 0 without one.
    """

    trace: np.ndarray
    step_h: float
    dark_kwh: float

    def table(self) -> pd.DataFrame:
        """One row a step: kW means, kWh stored and fuel at its end, what happened in words."""
        import pandas as pd

        trace = self.trace
        return pd.DataFrame(
            {
                "hour": np.arange(trace.shape[0]) * self.step_h,
                "must_run_kw": trace[:, w.T_MUST],
                "wanted_kw": trace[:, w.T_WANTED],
                "solar_kw": trace[:, w.T_SOLAR],
                "battery_kw": trace[:, w.T_BATTERY],
                "generator_kw": trace[:, w.T_SET],
                "unserved_kw": trace[:, w.T_UNSERVED],
                "stored_kwh": trace[:, w.T_STORED],
                "fuel_l": trace[:, w.T_FUEL],
                "event_text": self._happenings(),
            }
        )

    def _happenings(self) -> list[str]:
        """What happened in each step, in words; empty where nothing changed."""
        trace = self.trace
        runs = trace[:, w.T_SET] > 1e-6
        asked_kw = np.maximum(trace[:, w.T_MUST], 1e-9)
        lost_s = 3600.0 * self.step_h * trace[:, w.T_UNSERVED] / asked_kw
        out = lost_s > 2.0 * SEAMLESS_S
        texts = []
        for k in range(trace.shape[0]):
            ran, was_out = (runs[k - 1], out[k - 1]) if k else (False, False)
            words = []
            if trace[k, w.T_REFUELS] > 0:
                words.append("refuelled")
            if runs[k] and not ran:
                words.append("generator starts")
            if ran and not runs[k]:
                words.append("generator stops")
            lasts = k + 1 == out.size or out[k + 1]
            if out[k] and not was_out and not lasts:
                words.append(f"must-run loads without power for {_span_text(lost_s[k])}")
            elif out[k] and not was_out:
                empty = trace[k, w.T_STORED] <= self.dark_kwh
                words.append(("battery empty; " if empty else "") + "must-run loads lose power")
            if was_out and not out[k] and k > 1 and out[k - 2]:
                words.append("must-run loads are on again")
            texts.append("; ".join(words))
        return texts


def _span_text(seconds: float) -> str:
    return f"{seconds:.2g} s" if seconds < 99.5 else f"{seconds / 60.0:.0f} min"


@dataclass(frozen=True, eq=False)
class FuelNeed:
    """Fuel that outages of some lengths take, and what is on hand (None: no generator, or piped gas)."""

    hours: tuple[float, ...]
    fuel: np.ndarray
    on_hand: float | None

    def table(self) -> pd.DataFrame:
        """One row a length: hours, fuel_l and on_hand_l (L, or m3 of pipeline gas)."""
        import pandas as pd

        return pd.DataFrame({"hours": self.hours, "fuel_l": self.fuel, "on_hand_l": self.on_hand})


def hard_outage(outage: OutageSide) -> HardOutage:
    """The hard outage of one option."""
    b = outage.backup
    return HardOutage(outage.hard, b.step_h, b.battery.floor_kwh + 1e-3 if b.battery else -1.0)


def fuel_need(option: Sources, outage: OutageSide) -> FuelNeed:
    """The fuel that one option takes."""
    on_hand = option.generator.fuel_on_site_l if option.generator else None
    return FuelNeed(outage.fuel_hours, outage.fuel_need, on_hand)
