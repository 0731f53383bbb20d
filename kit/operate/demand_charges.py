"""The demand charges of a year, checked and laid over its steps: which caps a step has, what peaks cost."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.operate.demand_walk import peaks
from kit.operate.task import Floats, Task

Whole = NDArray[np.int64]
_MOST_LINES = 24


@dataclass(frozen=True, eq=False)
class DemandLine:
    """One demand charge.

    Attributes:
        usd_per_kw: (bills,) price of a kW of each bill's largest mean import of a step, 0 or more.
        counts: (n,) whether a step counts, for a charge on certain hours; None: every step.
        free_kw: the first kW of each bill, which cost nothing.
    """

    usd_per_kw: ArrayLike
    counts: ArrayLike | None = None
    free_kw: float = 0.0


class Charges:
    """Demand lines over the steps of a task.

    Steps that count in the same lines are of one kind; a kind in a bill is a cell, whose steps share the
    lowest of its caps.  A stretch is a run of steps of one bill.

    Attributes:
        usd_per_kwh, free_kwh, most_kwh: (lines, bills), AC kWh a step: price, what is free, most of a cap.
        kind: (n,); kinds: how many; cell: (n,) bill * kinds + kind.
        begins: (stretches + 1,) first step of each stretch, and n; stretch_bill: (stretches,).
        stretch_caps: (lines, stretches) number of the cap of each line, counted line by line.
    """

    def __init__(self, lines: Sequence[DemandLine], bill_of_step: ArrayLike, task: Task) -> None:
        """Check the lines; ValueError names what is wrong."""
        n, self.step_h = task.free_kwh.size, task.year.step_h
        bill = _bills(bill_of_step, n)
        if not 1 <= len(lines) <= _MOST_LINES:
            raise ValueError(f"there are {len(lines)} demand lines; there must be 1 to {_MOST_LINES}")
        counts = [_counts(line.counts, n) for line in lines]
        mask = np.zeros(n, dtype=np.int64)
        for number, of in enumerate(counts):
            mask |= 1 << number if of is None else of.astype(np.int64) << number
        sorts, kind = (
            (mask[:1], np.zeros(n))
            if all(c is None for c in counts)
            else np.unique(mask, return_inverse=True)
        )
        self.kind, self.kinds = kind.astype(np.uint8), sorts.size
        self.member = (sorts >> np.arange(len(lines))[:, None]) & 1 > 0  # (lines, kinds)
        price = _prices([line.usd_per_kw for line in lines], int(bill.max()) + 1)
        self.bill_count = price.shape[1]
        self.cell = (bill * self.kinds + self.kind).astype(np.uint16)
        self.begins = np.concatenate([[0], np.flatnonzero(np.diff(bill)) + 1, [n]]).astype(np.int64)
        self.stretch_bill = bill[self.begins[:-1]]
        self.stretch_caps = np.arange(len(lines))[:, None] * self.bill_count + self.stretch_bill
        highest = np.maximum(task.net_kwh, 0.0) + task.most_in_kwh / task.into
        self.highest_kwh = float(highest.max())
        free = np.array([_free(line.free_kw) for line in lines])[:, None] * self.step_h
        none = np.zeros(n + 1)
        self.usd_per_kwh = np.where(self.peaks(none, np.ones(n)) > 0.0, price, 0.0) / self.step_h
        self.free_kwh = np.broadcast_to(free, price.shape)
        self.most_kwh = np.maximum(self.peaks(none, highest), self.free_kwh)

    def peaks(self, stored_kwh: Floats, net_kwh: Floats, per_in: float = 1.0, out_of: float = 1.0) -> Floats:
        """(lines, bills) largest import of a step that counts, in AC kWh; 0 where none does."""
        of_cell = peaks(stored_kwh, net_kwh, self.cell, self.bill_count * self.kinds, per_in, out_of)
        of_bill = of_cell.reshape(self.bill_count, self.kinds)
        return (of_bill * self.member[:, None, :]).max(axis=2)

    def usd(self, peak_kwh: Floats) -> float:
        """The demand charges of peaks (lines, bills)."""
        return float((self.usd_per_kwh * np.maximum(peak_kwh - self.free_kwh, 0.0)).sum())

    @property
    def free_usd(self) -> float:
        """What the first kW, which cost nothing, would cost at the price of the others."""
        return float((self.usd_per_kwh * self.free_kwh).sum())

    def lowest(self, cap_kwh: Floats) -> tuple[Floats, Whole]:
        """(cells,) cap of each cell in AC kWh, and its line; a cell without has one that no step reaches."""
        of_kind = np.where(self.member[:, :, None], cap_kwh[:, None, :], math.inf)
        line = of_kind.argmin(axis=0)
        lowest = np.minimum(of_kind.min(axis=0), 2.0 * self.highest_kwh + 1.0)
        return lowest.T.ravel().copy(), line

    def cuts(self, found: Floats, cap_kwh: Floats, line_of_cell: Whole) -> Floats:
        """Cuts of the stretches for the master, from ``kit.operate.demand_proof.bounds`` at given caps."""
        slopes = np.zeros((len(cap_kwh), self.stretch_bill.size))
        for kind in range(self.kinds):
            line = line_of_cell[kind, self.stretch_bill]
            slopes[line, np.arange(line.size)] += found[3 + kind]
        constant = found[0] - (slopes * cap_kwh[:, self.stretch_bill]).sum(axis=0)
        return np.concatenate([constant[None], found[1:3], slopes])


def _bills(given: ArrayLike, n: int) -> Whole:
    row = np.asarray(given)
    if row.shape != (n,):
        raise ValueError(f"bill_of_step has shape {row.shape}; it must be ({n},)")
    bills = row.astype(np.int64)
    if (bills != row).any() or bills.min() < 0 or bills.max() >= 400:
        raise ValueError(
            f"bill_of_step has {row.min()} to {row.max()}; it must be whole numbers from 0 to 399"
        )
    return bills


def _counts(given: ArrayLike | None, n: int) -> NDArray[np.bool_] | None:
    if given is None:
        return None
    row = np.asarray(given)
    if row.shape != (n,) or row.dtype != np.bool_:
        raise ValueError(f"counts has shape {row.shape} of {row.dtype}; it must be ({n},) of bool")
    return row


def _prices(given: Sequence[ArrayLike], least: int) -> Floats:
    rows = [np.asarray(row, dtype=np.float64) for row in given]
    for row in rows:
        if row.ndim != 1 or row.size < least or row.size != rows[0].size:
            raise ValueError(
                f"usd_per_kw has shape {row.shape}; every line needs a price for all of {least} bills"
            )
        if not (np.isfinite(row) & (row >= 0.0)).all():
            raise ValueError(f"usd_per_kw is {row.tolist()}; it must be 0 or more and finite")
    return np.stack(rows)


def _free(given: float) -> float:
    if not 0.0 <= given < math.inf:
        raise ValueError(f"free_kw is {given}; it must be 0 or more and finite")
    return float(given)
