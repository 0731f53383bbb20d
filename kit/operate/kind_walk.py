"""What the walks of one kind of event from all its starts come to."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from kit.operate.events import EventKind


@dataclass(frozen=True)
class KindWalk:
    """One kind of event from its starts: weights and moments (S,), longest gaps (S,), sums per event.

    In a cluster the followers are a walk of their own, with the rate that falls to them; so are
    events that were forecast.
    """

    kind: EventKind
    starts: np.ndarray
    weight: np.ndarray
    ends_h: np.ndarray
    longest_h: np.ndarray
    totals: np.ndarray
    survives: tuple[float, float] | None  # (A (1 - p), MTTF h) of a single run; None: in ends_h
    stored_kwh: np.ndarray | None = None  # charge at each start; None: no source, dark at once
    unserved_error_h: float = 0.0  # standard error of the must-run hours lost per event, from the draws
    by_step: np.ndarray | None = None  # (K, 2 x TOTALS) of kit.operate.walk, where asked for

    @cached_property
    def _order(self) -> np.ndarray:
        return np.argsort(self.ends_h)

    @cached_property
    def kept_from(self) -> tuple[np.ndarray, np.ndarray]:
        """Moments in order (S,), and the weight of the starts from each of them on (S + 1,), the last 0."""
        order = self._order
        reached = np.cumsum(self.weight[order][::-1], dtype=np.longdouble)[::-1]  # right to the last bit
        return self.ends_h[order], np.append(reached, 0.0).astype(np.float64)

    @cached_property
    def distinct_ends_h(self) -> tuple[np.ndarray, np.ndarray]:
        """The moments that differ, in order (D,), and the place of each start's among them (S,).

        A fifth or fewer, as a rule: a tank or a full battery lasts from many starts alike.
        """
        ends_h = self.ends_h[self._order]
        differs = np.ones(ends_h.size, dtype=bool)
        differs[1:] = ends_h[1:] != ends_h[:-1]
        place = np.empty(ends_h.size, dtype=np.int64)
        place[self._order] = np.cumsum(differs) - 1
        return ends_h[differs], place
