"""Published checks: what a source prints beside what the kit computes, and what is not checked at all.

The cases live in tests/published of a clone and travel in no wheel. This module knows their shape,
runs them, and shows them in notebooks/published_checks.ipynb; the tests run the same list.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any, Literal

from kit.shipped import shipped

Provenance = Literal["seen", "data", "worked", "memory", "practice"]
Value = float | str | tuple[float, float]

MEANING: dict[Provenance, str] = {
    "seen": "as printed, read in a stored copy of the page",
    "data": "counted in an open data file, apart from the kit",
    "worked": "worked by hand, or by a general library, from printed figures or a printed formula",
    "memory": "from memory, the source not opened again",
    "practice": "common practice, no source",
}
REGISTRY = "tests.published.registry"
NO_CLONE = (
    "The published cases stand in tests/published of a clone and are not part of an installed kit: "
    "open this notebook in a clone to see them."
)


@dataclass(frozen=True)
class Check:
    """One published value and how the kit gets at it.

    expected: a number, a text, or a range (lowest, highest) that ours must lie in; where ours is a
    range, the expected number must lie in it. within: greatest difference, in `unit`, or a share of
    expected where `relative`; `why` says why just so much. case_list: MODULE.NAME of the data.
    """

    subject: str
    name: str
    unit: str
    source: str
    provenance: Provenance
    expected: Value
    within: float
    why: str
    compute: Callable[[], Value]
    case_list: str
    relative: bool = False

    def __post_init__(self) -> None:
        texts = (self.subject, self.name, self.source, self.why, self.case_list)
        if not all(texts) or self.provenance not in MEANING or not self.within >= 0:
            raise ValueError(f"a check needs subject, name, source, provenance, within and why: {self}")

    def allowed(self) -> float:
        """The greatest difference that still agrees, in the unit of the value."""
        if isinstance(self.expected, str) or not self.relative:
            return self.within
        return self.within * max(abs(v) for v in _ends(self.expected))


@dataclass(frozen=True)
class Checked:
    """A check as run. `ours` is None where the computation stopped, `stopped` then says why."""

    check: Check
    ours: Value | None
    difference: float
    stopped: str = ""

    @property
    def agrees(self) -> bool:
        """Whether the difference is within what the check allows; never where it is not a number."""
        return self.ours is not None and abs(self.difference) <= self.check.allowed()


@dataclass(frozen=True)
class Published:
    """All checks as run, and what is written down as not checked; `missing` says why there are none."""

    checked: tuple[Checked, ...]
    unchecked: tuple[str, ...] = ()
    missing: str = ""


def run_check(check: Check) -> Checked:
    """Compute and compare. An error of the computation is a check that does not agree."""
    try:
        ours = check.compute()
        far = difference(ours, check.expected)
    except Exception as error:  # whatever goes wrong is a row that does not agree, and is told in it
        return Checked(check, None, math.nan, f"{type(error).__name__}: {error}")
    return Checked(check, ours, far)


def difference(ours: Value, expected: Value) -> float:
    """Ours less expected; from the nearer end of a range, 0 inside it. Texts: 0 if equal, else infinite.

    ValueError for two ranges: they would agree by touching.
    """
    if isinstance(ours, str) or isinstance(expected, str):
        return 0.0 if ours == expected else math.inf
    if isinstance(ours, tuple) and isinstance(expected, tuple):
        raise ValueError("one side of a check may be a range, not both")
    (low, high), (least, most) = _ends(ours), _ends(expected)
    if math.isnan(low + high + least + most):
        return math.nan
    return low - most if low > most else min(high - least, 0.0)


def _ends(value: float | tuple[float, float]) -> tuple[float, float]:
    return value if isinstance(value, tuple) else (value, value)


def published_checks(subject: str = "", clone: str | Path | None = None) -> Published:
    """Run the published cases of the clone, all or those of one subject.

    clone: its folder; default: where the kit's notebooks stand, else a folder above the current one.
    Outside a clone there is nothing to run, and the result says so. ValueError for an unknown subject.
    """
    registry = _registry(clone)
    if registry is None:
        return Published((), (), NO_CLONE)
    checks: Sequence[Check] = registry.CHECKS
    subjects = list(dict.fromkeys(check.subject for check in checks))
    if subject and subject not in subjects:
        raise ValueError(f"no subject {subject!r}; there are {', '.join(subjects)}")
    chosen = [check for check in checks if subject in ("", check.subject)]
    return Published(tuple(map(run_check, chosen)), tuple(registry.NOT_CHECKED))


def _registry(clone: str | Path | None) -> Any:
    """The registry of a clone, imported from there; None where no clone is at hand."""
    here = Path.cwd()
    likely = [Path(clone)] if clone is not None else [shipped(), here, *here.parents]
    relative = Path(*REGISTRY.split(".")).with_suffix(".py")
    home = next((folder.resolve() for folder in likely if (folder / relative).is_file()), None)
    if home is None:
        return None
    sys.path.insert(0, str(home))
    try:
        found = import_module(REGISTRY)
    finally:
        sys.path.remove(str(home))
    if found.__file__ is None or Path(found.__file__).resolve() != home / relative:
        raise ImportError(f"another package named tests hides that of {home}")
    return found
