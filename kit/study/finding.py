"""A finding: one sentence that reaches the memo."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Finding:
    """What a stage noticed. `stop` makes the option infeasible, `warning` is shown, `note` informs.

    `path` is the parameter it speaks of; `source` names a publication where there is one.
    """

    code: str
    option: str | None
    path: str | None
    text: str
    source: str | None = None
    severity: Literal["stop", "warning", "note"] = "warning"
