"""The house through the study year: load, weather, list, and what was done to the data."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from kit.calendar import calendar_year
from kit.house.appliances import ListLoads, list_loads
from kit.house.list_account import list_findings
from kit.house.meter import MeterReport
from kit.house.meter_year import read_meter
from kit.house.weather import WeatherYear, weather_findings, weather_year
from kit.study.finding import Finding

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kit.calendar import Year
    from kit.study.house_models import House

Severity = Literal["stop", "warning", "note"]
STEADY_C = 20.0  # where no weather is given
REAL_HOUSE_PEAK_TO_MEAN = 4.0  # common practice, no source


@dataclass(frozen=True, eq=False)
class HouseYear:
    """The house in every step of the study year; arrays have shape (n,).

    Attributes:
        load_kw: what the house draws from the grid before any equipment is added.
        temperature_c: outdoor temperature; steady 20 C where no weather is given.
        lists: loads of the appliance list. weather: None where the house names none.
        meter: what the meter file held; None for a house known by its list alone.
        findings: what the reader must know about these data.
    """

    year: Year
    load_kw: NDArray[np.float64]
    temperature_c: NDArray[np.float64]
    lists: ListLoads
    weather: WeatherYear | None
    meter: MeterReport | None
    findings: tuple[Finding, ...]


def house_year(house: House, year: int) -> HouseYear:
    """Everything the house needs and gets in one calendar year.

    Raises:
        ValueError: an unknown time zone, hours that cannot be read; MeterError and WeatherError
            for files that cannot be used; StudyError for a list that draws nothing.
    """
    steps = calendar_year(year, house.time_zone, house.step_min)
    weather = weather_year(house, steps)
    temperature_c = np.full(steps.n, STEADY_C) if weather is None else weather.temperature_c
    lists = list_loads(house, steps, temperature_c)
    report = None
    findings = weather_findings(house, weather, year)
    if house.meter is not None:
        load_kw, report = read_meter(house.meter, steps)
        lists = replace(lists, house_kw=load_kw, metered=True)
        service_kw = house.service.rating_a * house.service.voltage_v / 1000
        findings = meter_findings(report, year, float(lists.everyday_kw.mean()), service_kw) + findings
    findings = findings + list_findings(lists, steps)
    return HouseYear(steps, lists.house_kw, temperature_c, lists, weather, report, tuple(findings))


def in_quarters(house: House, known: HouseYear, year: int) -> HouseYear:
    """The same house in steps of 15 minutes: metered power held within its step, all else worked out anew."""
    fine = house.model_copy(update={"step_min": 15, "meter": None})
    made = house_year(fine, year)
    if known.meter is None:
        return made
    load_kw = np.repeat(known.load_kw, made.year.n // known.year.n)
    lists = replace(made.lists, house_kw=load_kw, metered=True)
    return replace(made, load_kw=load_kw, lists=lists, meter=known.meter)


def meter_findings(
    report: MeterReport, year: int, list_mean_kw: float, service_kw: float = float("inf")
) -> list[Finding]:
    """What a reader must know about the metered load.

    Args:
        report: of the meter file laid on the year.
        year: the study year.
        list_mean_kw: mean everyday load of the appliance list in that year.
        service_kw: what the grid connection of the house carries.
    """
    found: list[Finding] = []

    def say(code: str, text: str, path: str = "house.meter.file", note: bool = False) -> None:
        found.append(Finding(code, None, path, text, severity="note" if note else "warning"))

    span = f"{report.first_start[:10]} to {report.last_end[:10]}"
    if report.multiply_by != 1.0:
        text = f"The metered load is a sample times {report.multiply_by:g}, not a reading of this house."
        say("meter_scaled", text, "house.meter.multiply_by")
    if report.other_clock:
        say(
            "meter_other_clock", "The meter keeps another time zone than the house; its local hours are kept."
        )
    if report.mapped:
        text = f"The meter read {span}: its days are laid on {year} by local month, weekday and hour."
        say("meter_mapped", text)
    if report.gap_count:
        text = (
            f"The meter file has {report.gap_count} gaps of {report.gap_h:g} h in all "
            f"({report.coverage_frac:.1%} covered)"
        )
        say("meter_gaps", f"{text}; {report.filled_h:g} h of {year} are filled from comparable days.")
    elif report.filled_h:
        text = f"{report.filled_h:g} h of {year} had no reading and are filled from comparable days."
        say("meter_filled", text, note=True)
    if report.zero_reading_count:
        text = (
            f"{report.zero_reading_count} readings are zero, in {report.zero_run_count} runs of up to "
            f"{report.longest_zero_run_h:g} h; they stay as read. An outage or a meter fault looks like this."
        )
        say("meter_zeros", text)
    if report.reverse_count:
        text = (
            f"The meter also read {report.export_kwh:,.0f} kWh sent to the grid, in {report.reverse_count} "
            "readings: the house has solar already. The load is what the grid gave, without what that "
            "solar gave to the house."
        )
        say("meter_reverse", text)
    found += _as_read(report, service_kw)
    if 0 < report.peak_to_mean < REAL_HOUSE_PEAK_TO_MEAN:
        text = (
            f"The metered peak is {report.peak_to_mean:.2f} times its mean; one real house is above "
            f"{REAL_HOUSE_PEAK_TO_MEAN:g}. It is too smooth for power, demand charge and inverter checks: "
            "those take their peaks from the appliance list."
        )
        found.append(Finding("meter_smooth", None, "house.meter.file", text, "common practice, no source"))
    if list_mean_kw > 1.1 * report.mean_kw:
        text = (
            f"The list uses {list_mean_kw:.2f} kW on average, more than the {report.mean_kw:.2f} kW metered: "
            "hours of use or duties are too high, or the meter is of another house."
        )
        say("list_above_meter", text, "house.appliances")
    return found


def _as_read(report: MeterReport, service_kw: float) -> list[Finding]:
    """What was understood, dropped or doubtful in the file itself."""
    path, found = "house.meter.file", []
    for note in report.notes:
        doubtful = "look like" in note
        severity: Severity = "warning" if doubtful else "note"
        code = "meter_clock_doubtful" if doubtful else "meter_understood"
        text = f"The meter file: {note}."
        found.append(Finding(code, None, path, text, severity=severity))
    if report.duplicate_count:
        text = (
            f"{report.duplicate_count} readings of the meter file stood there twice; one of each was dropped."
        )
        found.append(Finding("meter_duplicates", None, path, text, severity="note"))
    if report.peak_kw > service_kw:
        text = (
            f"The metered peak of {report.peak_kw:.1f} kW is above the {service_kw:.1f} kW that the service "
            "carries: power read as energy, a wrong unit or multiplier, or another house."
        )
        found.append(Finding("meter_above_service", None, path, text))
    return found
