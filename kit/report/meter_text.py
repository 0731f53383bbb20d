"""What a meter file was understood to hold, as text at the prompt, and its tidy copy."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

from kit.house.meter import MeterReport, all_readings, report_of
from kit.house.readings import MeterError, study_problems
from kit.house.tidy import tidy_bytes, tidy_table
from kit.house.year import REAL_HOUSE_PEAK_TO_MEAN
from kit.save import write_bytes

if TYPE_CHECKING:
    from kit.study.house_models import Meter

SHOWN_GAPS = 3


def understood_meter(
    meter: Meter, time_zone: str | None, folder: Path | None, form: Literal["csv", "parquet"] = "csv"
) -> tuple[str, tuple[str, ...]]:
    """(text, problems) of a meter file; its readings are written to `folder` if a study can use them.

    Args:
        time_zone: of the house; None takes the meter's own clock, else UTC.
        folder: None writes nothing.

    Raises:
        MeterError: nothing of it can be read. SaveError: the tidy file cannot be written.
        ParquetMissingError: see `tidy_bytes`.
    """
    readings = all_readings(meter, time_zone)
    if not readings.start_s.size or not readings.unit_known:
        raise MeterError(meter.file, study_problems(readings))
    report = report_of(readings, meter, time_zone)
    text = meter_text(report)
    if report.problems or folder is None:
        return text, report.problems
    path = folder / f"{Path(meter.file).stem}_tidy.{form}"
    write_bytes(path, tidy_bytes(tidy_table(readings, time_zone), form))
    return f"{text}\n{_line('written', str(path))}", ()


def meter_text(report: MeterReport) -> str:
    """A short account of a meter file, one fact a line."""
    lines = [
        report.file,
        _line("span", f"{_moment(report.first_start)} to {_moment(report.last_end)} ({report.clock})"),
        _line(
            "readings",
            f"{report.reading_count:,} of {report.interval_min:g} min, {report.coverage_frac:.2%} covered",
        ),
        _line("energy", f"{report.energy_kwh:,.3f} kWh from the grid, {report.mean_kw:.3f} kW on average"),
        _line(
            "peak",
            f"{report.peak_kw:.3f} kW over {report.interval_min:g} min, {_moment(report.peak_start)}, "
            f"{report.peak_to_mean:.2f} times the mean",
        ),
        _line("gaps", _gaps(report)),
        _line("export", _export(report)),
        _line("cost", _cost(report)),
        _line(
            "duplicates", f"{report.duplicate_count} equal ones dropped" if report.duplicate_count else "none"
        ),
    ]
    if report.zero_reading_count:
        runs = f"{report.zero_reading_count} readings, the longest run {report.longest_zero_run_h:g} h"
        lines.append(_line("zeros", runs))
    if report.left_out_count:
        lines.append(_line("no value", f"{report.left_out_count} readings"))
    if report.other_count:
        lines.append(_line("left out", f"{report.other_count} readings of other things"))
    return "\n".join(lines + [_line("note", note) for note in (*report.notes, *_smooth(report))])


def _line(name: str, text: str) -> str:
    return f"  {name:<11}{text}"


def _moment(iso: str) -> str:
    return iso.replace("T", " ")


def _gaps(report: MeterReport) -> str:
    if not report.gap_count:
        return "none"
    shown = [f"{hours:g} h from {_moment(start)}" for start, hours in report.gaps[:SHOWN_GAPS]]
    more = f" and {report.gap_count - SHOWN_GAPS} more" if report.gap_count > SHOWN_GAPS else ""
    return f"{report.gap_count}, {report.gap_h:g} h in all: {', '.join(shown)}{more}"


def _export(report: MeterReport) -> str:
    if not report.reverse_count:
        return "none"
    return f"{report.export_kwh:,.3f} kWh sent to the grid, in {report.reverse_count:,} readings"


def _cost(report: MeterReport) -> str:
    if report.cost_usd is None:
        return "not given"
    return f"{report.cost_usd:,.5f} {report.currency or '(currency not said)'}"


def _smooth(report: MeterReport) -> list[str]:
    """One real house peaks higher above its mean; a sample of many homes does not."""
    if report.reading_count < 1000 or not 0 < report.peak_to_mean < REAL_HOUSE_PEAK_TO_MEAN:
        return []
    return [
        f"warning: the peak is {report.peak_to_mean:.2f} times the mean; one real house is above "
        f"{REAL_HOUSE_PEAK_TO_MEAN:g} (common practice, no source). Too smooth for power, demand charge "
        "and inverter checks: take peaks from an appliance list"
    ]
