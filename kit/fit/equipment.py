"""The parts of one option, and how it words a finding."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from kit.fit.inputs import SolarArray
from kit.study.finding import Finding
from kit.systems.battery import BatterySystem
from kit.systems.generator import GeneratorSet
from kit.systems.transfer import PowerPath

DEFER = " This is no approval: local code and a licensed person decide."


@dataclass(frozen=True)
class Equipment:
    """The parts of one option."""

    option: str
    battery: BatterySystem | None
    generator: GeneratorSet | None
    solar: SolarArray | None
    path: PowerPath | None

    def say(
        self,
        code: str,
        part: str | None,
        text: str,
        source: str | None = None,
        severity: Literal["stop", "warning", "note"] = "warning",
    ) -> Finding:
        """A finding of this option; `part` is the block or value below the option it speaks of."""
        path = f"options.{self.option}.{part}" if part else f"options.{self.option}"
        return Finding(code, self.option, path, text, source, severity)
