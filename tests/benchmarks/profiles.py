"""Invented years with fixed seeds, and the clock both sides of a ratio are measured by."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np


def hours(step_h: float) -> np.ndarray:
    return np.arange(int(8760 / step_h)) * step_h


def load_kw(step_h: float, seed: int = 1, mean_kw: float = 1.2) -> np.ndarray:
    """A household: night base, morning and evening bumps, winter and summer more, lumpy noise."""
    rng = np.random.default_rng(seed)
    h = hours(step_h)
    day, clock = h // 24, h % 24
    shape = 0.5 + 0.6 * np.exp(-((clock - 7.5) ** 2) / 3) + 1.4 * np.exp(-((clock - 19) ** 2) / 6)
    season = 1 + 0.3 * np.cos(4 * np.pi * (day - 15) / 365)
    lumps = rng.gamma(1.6 if step_h < 1 else 3.0, 1.0, h.size)
    load = shape * season * (0.5 + lumps / lumps.mean())
    return load * mean_kw / load.mean()


def solar_kw(step_h: float, peak_kw: float, seed: int = 2) -> np.ndarray:
    """Day length and height by season, a cloud factor a day and a jitter a step."""
    rng = np.random.default_rng(seed)
    h = hours(step_h)
    day, clock = h // 24, h % 24 + step_h / 2
    half = 6 + 2.4 * np.cos(2 * np.pi * (day - 172) / 365)
    arc = np.where(np.abs(clock - 12.5) < half, np.cos((clock - 12.5) / half * np.pi / 2), 0.0)
    height = 0.62 + 0.3 * np.cos(2 * np.pi * (day - 172) / 365)
    cloud = rng.beta(2.2, 1.0, 366)[day.astype(int)]
    return peak_kw * arc * height * cloud * (0.8 + 0.2 * rng.random(h.size))


def three_level_price(step_h: float) -> np.ndarray:
    """Off-peak, shoulder and peak price, two seasons, weekends off-peak."""
    h = hours(step_h)
    day, clock = h // 24, h % 24
    price = np.where((clock >= 7) & (clock < 23), 0.22, 0.12)
    peak = (clock >= 16) & (clock < 21) & (day % 7 < 5)
    return np.where(peak, 0.46, price)


def moving_price(step_h: float, seed: int = 3) -> np.ndarray:
    """A market price, new in every step."""
    rng = np.random.default_rng(seed)
    clock = hours(step_h) % 24
    base = 0.10 + 0.05 * np.sin((clock - 9) * np.pi / 12) ** 2 + 0.08 * np.exp(-((clock - 18.5) ** 2) / 4)
    return base * np.exp(rng.normal(0, 0.35, clock.size))


def best_ms(call: Callable[[], object], rounds: int, inner: int = 1) -> float:
    """Median over rounds of the mean of `inner` calls, in ms of this process's own time.

    Both sides use one thread, so the processor's time for this process is what either needs; what other
    programs on a busy machine take is left out on both sides alike.
    """
    spent = []
    for _ in range(rounds):
        begin = time.process_time()
        for _ in range(inner):
            call()
        spent.append((time.process_time() - begin) / inner * 1e3)
    return float(np.median(spent))


def in_turn_ms(calls: Sequence[Callable[[], object]], rounds: int) -> list[float]:
    """`best_ms` of calls made in turn, so that a while in which the machine is slow slows all alike."""
    spent = [[best_ms(call, 1) for call in calls] for _ in range(rounds)]
    return [float(each) for each in np.median(spent, axis=0)]


@dataclass(frozen=True)
class Row:
    """One line of the table: two times of one process and the ratio the project asks for."""

    item: str
    case: str
    slow_ms: float
    fast_ms: float
    agrees: str

    @property
    def ratio(self) -> float:
        return self.slow_ms / self.fast_ms
