"""One line of a load list: what it draws, when, how it starts, how much it matters."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from kit.calendar import parse_hours
from kit.study.motor_models import Motor
from kit.study.part import Count, Frac, NonNegative, Part, Positive


def _hours(text: str) -> str:
    parse_hours(text)
    return text


Hours = Annotated[str, AfterValidator(_hours)]
Months = list[Annotated[int, Field(ge=1, le=12)]]


class Thermostat(Part):
    """Duty driven by outdoor temperature: 0 at `idle_at_c` (the balance temperature), rising away from it.

    Either it reaches 1 at `full_at_c` (below idle_at_c for heating, above it for cooling), or the load
    grows by `load_kw_per_c` and stops at the rated draw. In an outage with other set-points,
    `outage_idle_at_c` moves the whole line.
    """

    idle_at_c: float
    full_at_c: float | None = None
    load_kw_per_c: Positive | None = None  # of all pieces together
    mode: Literal["heating", "cooling"] | None = None  # needed with load_kw_per_c
    outage_idle_at_c: float | None = None

    @model_validator(mode="after")
    def _slope(self) -> Thermostat:
        if (self.full_at_c is None) == (self.load_kw_per_c is None):
            raise ValueError("give full_at_c, or load_kw_per_c with a mode")
        if self.full_at_c == self.idle_at_c:
            raise ValueError("idle_at_c and full_at_c must differ")
        if self.load_kw_per_c is not None and self.mode is None:
            raise ValueError("load_kw_per_c needs `mode: heating` or `mode: cooling`")
        heats = self.full_at_c is None or self.full_at_c < self.idle_at_c
        if self.full_at_c is not None and self.mode is not None and heats != (self.mode == "heating"):
            raise ValueError(f"full_at_c {self.full_at_c:g} is on the wrong side for {self.mode}")
        return self

    def reach_c(self, rated_kw: float) -> float:
        """Degrees from no duty to full duty of `rated_kw`; negative for heating."""
        if self.full_at_c is not None:
            return self.full_at_c - self.idle_at_c
        assert self.load_kw_per_c is not None
        return (-1.0 if self.mode == "heating" else 1.0) * rated_kw / self.load_kw_per_c


class Season(Part):
    """Other hours, or another duty, in some months. What is not given stays as in the use itself."""

    months: Annotated[Months, Field(min_length=1)]
    weekday: Hours | None = None
    weekend: Hours | None = None
    duty_frac: Frac | None = None


class Use(Part):
    """Hours of use on the local clock, e.g. '6-9, 17-22.5'; empty text means never."""

    weekday: Hours = "0-24"
    weekend: Hours = "0-24"
    months: Months = list(range(1, 13))
    seasons: dict[str, Season] = {}

    @model_validator(mode="after")
    def _apart(self) -> Use:
        seen: dict[int, str] = {}
        for slug, season in self.seasons.items():
            for month in season.months:
                if month not in self.months:
                    raise ValueError(f"season {slug} holds month {month}, which is not among months")
                if month in seen:
                    raise ValueError(f"seasons {seen[month]} and {slug} both hold month {month}")
                seen[month] = slug
        return self


class Cycle(Part):
    """Minutes on and off of a compressor, pump or heater that holds a level by itself."""

    on_minutes: Positive
    off_minutes: NonNegative

    @property
    def duty_frac(self) -> float:
        """Share of the time it is on."""
        return self.on_minutes / (self.on_minutes + self.off_minutes)


class Appliance(Part):
    """One line of the load list. Watts are for one piece; `count` pieces are alike.

    Running: `running_w`, or `running_a` (x voltage x power factor), or `nameplate_va` (x power factor),
    or a motor with its efficiency. Starting: the TOTAL while it starts, or the EXTRA on top of
    running, or the motor's code letter; none for a load that starts as it runs.
    """

    name: str = ""
    room: str = ""
    count: Count = 1
    running_w: Positive | None = None
    running_a: Positive | None = None
    nameplate_va: Positive | None = None
    starting_total_w: Positive | None = None  # all of it while it starts, running watts included
    starting_extra_w: NonNegative | None = None  # on top of running
    starting_w: float | None = None  # refused: it does not say which of the two it is
    motor: Motor | None = None
    soft_start_frac: Annotated[float, Field(gt=0, le=1)] | None = None  # of the starting current is left
    voltage_v: Literal[120, 240] = 120
    leg: Literal[1, 2] | None = None  # of a split-phase panel, where it is known
    circuit: str = ""  # what stands on one circuit stands on one leg
    power_factor_frac: Annotated[float, Field(gt=0, le=1)] = 1.0
    duty_frac: Frac | None = 1.0  # share of the hours of use it really draws its running watts
    cycle: Cycle | None = None  # gives the duty instead
    thermostat: Thermostat | None = None
    use: Use = Use()
    outage_use: Use | None = None  # hours of use in an outage; `use` where absent
    outage_duty_frac: Frac | None = None
    catches_up: bool | None = None  # runs on after hours without power; default: with cycle or thermostat
    tier: Literal["must_run", "wanted", "can_wait"]
    life_support: bool = False
    tolerates_gap_s: NonNegative = 14400.0
    connection: Literal["cord", "wired"] = "wired"
    backed: bool = True  # on the backed panel, where there is one

    @model_validator(mode="after")
    def _whole(self) -> Appliance:
        for problem in (_running_problem(self), _starting_problem(self), _other_problem(self)):
            if problem:
                raise ValueError(problem)
        return self

    @property
    def draw_w(self) -> float:
        """Running watts of one piece, however they were given."""
        return running_draw_w(self) or 0.0

    @property
    def draw_va(self) -> float:
        """Volt-amperes of one piece while it runs."""
        return self.draw_w / self.power_factor_frac

    @property
    def start_total_w(self) -> float:
        """Watts of one piece while it starts, its running watts included, after its soft starter."""
        return max(self.draw_w, (self.soft_start_frac or 1.0) * self.start_plain_w)

    @property
    def start_plain_w(self) -> float:
        """Watts of one piece while it starts without a soft starter."""
        if self.starting_total_w is not None:
            return self.starting_total_w
        if self.motor is not None and self.starting_extra_w is None:
            return self.motor.start_w
        return self.draw_w + (self.starting_extra_w or 0.0)

    @property
    def start_total_va(self) -> float:
        """Volt-amperes of one piece while it starts: locked-rotor kVA of a motor, else its watts taken so."""
        by_letter = self.motor is not None and self.starting_total_w is None and self.starting_extra_w is None
        plain_va = self.motor.start_va if by_letter and self.motor is not None else self.start_plain_w
        return max(self.draw_va, (self.soft_start_frac or 1.0) * plain_va)

    @property
    def on_frac(self) -> float:
        """Duty in its hours of use, from the cycle where one is given."""
        if self.cycle is not None:
            return self.cycle.duty_frac
        return 1.0 if self.duty_frac is None else self.duty_frac

    @property
    def holds_a_level(self) -> bool:
        """Whether hours without power leave it work to catch up on: a compressor, a heater, a pump."""
        if self.catches_up is not None:
            return self.catches_up
        return self.cycle is not None or self.thermostat is not None


def running_draw_w(piece: Appliance) -> float | None:
    """Running watts by whichever way they are given; None where they are not."""
    if piece.running_w is not None:
        return piece.running_w
    if piece.running_a is not None:
        return piece.running_a * piece.voltage_v * piece.power_factor_frac
    if piece.nameplate_va is not None:
        return piece.nameplate_va * piece.power_factor_frac
    return None if piece.motor is None else piece.motor.running_w


LEAVE_OUT = "write one; `{}: ~` leaves out a value that comes from another file"


def _given(piece: Appliance, names: tuple[str, ...]) -> list[str]:
    return [name for name in names if getattr(piece, name) is not None]


def _running_problem(piece: Appliance) -> str:
    given = _given(piece, ("running_w", "running_a", "nameplate_va"))
    if len(given) > 1:
        return f"{' and '.join(given)} are both given: " + LEAVE_OUT.format(given[0])
    if running_draw_w(piece) is None:
        more = " or motor.efficiency_frac" if piece.motor is not None else ""
        return f"says nothing of its running power: give running_w, running_a, nameplate_va{more}"
    return ""


def _starting_problem(piece: Appliance) -> str:
    if piece.starting_w is not None:
        return (
            "starting_w does not say whether it is the total while starting or the extra on top of running: "
            "published tables mix them up; write starting_total_w or starting_extra_w"
        )
    given = _given(piece, ("starting_total_w", "starting_extra_w"))
    if len(given) > 1:
        return f"{' and '.join(given)} are both given: " + LEAVE_OUT.format(given[0])
    if given and piece.motor is not None:
        return f"{given[0]} and motor both give the start: " + LEAVE_OUT.format(given[0])
    if piece.starting_total_w is not None and piece.starting_total_w < piece.draw_w:
        return (
            f"starting_total_w {piece.starting_total_w:g} is below the running {piece.draw_w:g} W: "
            "it is all that is drawn while it starts; use starting_extra_w for the part on top"
        )
    if piece.motor is not None and piece.motor.start_va < piece.draw_w:
        return (
            f"the code letter {piece.motor.code_letter} gives {piece.motor.start_va:g} VA at standstill, "
            f"below the running {piece.draw_w:g} W: check horsepower and letter"
        )
    return ""


def _other_problem(piece: Appliance) -> str:
    given = piece.model_fields_set
    if piece.cycle is not None and "duty_frac" in given and piece.duty_frac is not None:
        return "duty_frac and cycle both give the duty: " + LEAVE_OUT.format("duty_frac")
    if piece.leg is not None and piece.voltage_v == 240:
        return "leg is for a 120 V load; one of 240 V stands on both"
    if piece.life_support and piece.tier != "must_run":
        return f"life_support belongs in the must_run tier, not in {piece.tier}"
    return ""
