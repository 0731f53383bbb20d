"""A single-phase motor by its nameplate: what it draws with its rotor at rest.

Locked-rotor kVA per horsepower by code letter: NEC Table 430.7(B), the same as NEMA MG 1.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from kit.study.part import Part, Positive
from kit.units import HP_KW

# letter -> lowest and highest kVA per hp; the last letter has no highest.
LOCKED_ROTOR_KVA_PER_HP: dict[str, tuple[float, float | None]] = {
    "A": (0.0, 3.14),
    "B": (3.15, 3.54),
    "C": (3.55, 3.99),
    "D": (4.0, 4.49),
    "E": (4.5, 4.99),
    "F": (5.0, 5.59),
    "G": (5.6, 6.29),
    "H": (6.3, 7.09),
    "J": (7.1, 7.99),
    "K": (8.0, 8.99),
    "L": (9.0, 9.99),
    "M": (10.0, 11.19),
    "N": (11.2, 12.49),
    "P": (12.5, 13.99),
    "R": (14.0, 15.99),
    "S": (16.0, 17.99),
    "T": (18.0, 19.99),
    "U": (20.0, 22.39),
    "V": (22.4, None),
}
CodeLetter = Literal[
    "A", "B", "C", "D", "E", "F", "G", "H", "J", "K", "L", "M", "N", "P", "R", "S", "T", "U", "V"
]


def locked_rotor_kva(code_letter: str, shaft_hp: float) -> tuple[float, float | None]:
    """Lowest and highest kVA of a motor at standstill; the highest is None for letter V.

    Raises KeyError for a letter that is not in the table (I, O and Q are not used).
    """
    low, high = LOCKED_ROTOR_KVA_PER_HP[code_letter]
    return low * shaft_hp, None if high is None else high * shaft_hp


def locked_rotor_a(code_letter: str, shaft_hp: float, voltage_v: float) -> tuple[float, float | None]:
    """Lowest and highest single-phase amperes at standstill: 1000 x kVA / V."""
    low, high = locked_rotor_kva(code_letter, shaft_hp)
    return 1000.0 * low / voltage_v, None if high is None else 1000.0 * high / voltage_v


class Motor(Part):
    """Shaft power and code letter of the nameplate.

    The start is the top of the letter's range unless `takes` says low. kVA count as kW unless a power
    factor at standstill is given: inverters and breakers feel the current.
    """

    shaft_hp: Positive
    code_letter: CodeLetter
    takes: Literal["low", "high"] = "high"
    start_power_factor_frac: Annotated[float, Field(gt=0, le=1)] = 1.0
    efficiency_frac: Annotated[float, Field(gt=0, le=1)] | None = None  # gives the running watts

    @model_validator(mode="after")
    def _bounded(self) -> Motor:
        if self.takes == "high" and LOCKED_ROTOR_KVA_PER_HP[self.code_letter][1] is None:
            raise ValueError(
                f"code letter {self.code_letter} has no upper limit: take its locked-rotor amperes from the "
                "nameplate and write starting_total_w, or say `takes: low`"
            )
        return self

    @property
    def start_va(self) -> float:
        """Volt-amperes at standstill."""
        low, high = locked_rotor_kva(self.code_letter, self.shaft_hp)
        kva = low if self.takes == "low" or high is None else high
        return 1000.0 * kva

    @property
    def start_w(self) -> float:
        """Watts at standstill."""
        return self.start_va * self.start_power_factor_frac

    @property
    def running_w(self) -> float | None:
        """Shaft power over efficiency; None where the efficiency is not given."""
        return None if self.efficiency_frac is None else 1000.0 * HP_KW * self.shaft_hp / self.efficiency_frac
