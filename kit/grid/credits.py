"""What becomes of export credit that a bill cannot use."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]


def carried(net_kwh: Floats, order: Ints) -> tuple[Floats, float]:
    """kWh billed where surplus waits for later bills, and what is left after the last.

    Args:
        net_kwh: import less export of each segment, shape (T,).
        order: segments in the order of time, the true-up last, shape (T,).
    """
    billed_kwh, bank_kwh = np.zeros(net_kwh.size), 0.0
    for k in order:
        after = net_kwh[k] - bank_kwh
        billed_kwh[k], bank_kwh = max(after, 0.0), max(-after, 0.0)
    return billed_kwh, float(bank_kwh)


def held_back(earned_usd: Floats, usable_usd: Floats, keeps: Flags, order: Ints) -> Floats:
    """Credit that a bill holds back (above zero) or takes from earlier bills (below), shape (..., T).

    Args:
        earned_usd, usable_usd: credit earned in each segment, and the most that it can use, shape (..., T).
        keeps: whether what is left is carried to later segments, else it is lost, shape (T,).
        order: segments in the order of time, the true-up last, shape (T,).
    """
    held, bank_usd = np.zeros(earned_usd.shape), np.zeros(earned_usd.shape[:-1])
    for k in order:
        at_hand = earned_usd[..., k] + bank_usd
        used = np.minimum(at_hand, usable_usd[..., k])
        held[..., k] = earned_usd[..., k] - used
        bank_usd = at_hand - used if keeps[k] else np.zeros(earned_usd.shape[:-1])
    return held


def true_up(import_kwh: Floats, export_kwh: Floats, share: Floats) -> float:
    """Net surplus of a year: export less import over the steps that count, 0 where import is more [kWh]."""
    net = float(((export_kwh - import_kwh) * share).sum())
    return max(net, 0.0)
