"""Tables as utilities write them: heads, clocks, units, sections, a row a day. All invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from kit.house.meter import MeterReport, describe_meter, read_readings
from kit.house.readings import MeterError
from kit.study.house_models import Meter
from tests.unit.house.meter_files import epoch

ZONE = "America/New_York"


def told(folder: Path, text: str | bytes, **left_open: object) -> MeterReport:
    return describe_meter(meter_of(folder, text, **left_open), ZONE)


def meter_of(folder: Path, text: str | bytes, **left_open: object) -> Meter:
    path = folder / "table.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return Meter(file=str(path), **left_open)


def refusal(folder: Path, text: str, **left_open: object) -> str:
    with pytest.raises(MeterError) as caught:
        told(folder, text, **left_open)
    assert "\n" not in str(caught.value)
    return str(caught.value).partition("table.csv: ")[2]


def test_a_preamble_inclusive_ends_and_costs(tmp_path: Path) -> None:
    text = (
        "Name,A HOUSEHOLD\nAddress,1 EXAMPLE ST\nAccount number,0000\nService,Service 1\n\n"
        "TYPE,DATE,START TIME,END TIME,USAGE (kWh),COST,NOTES\n"
        "Electric usage,2025-01-06,00:00,00:14,0.25,$0.05,\n"
        "Electric usage,2025-01-06,00:15,00:29,0.50,$0.10,\n"
        "Electric usage,2025-01-06,00:30,00:44,0.75,$0.15,\n"
    )
    report = told(tmp_path, text)
    assert (report.reading_count, report.interval_min, report.gap_count) == (3, 15, 0)
    assert (report.energy_kwh, report.peak_kw) == (1.5, 3.0)
    assert report.cost_usd == pytest.approx(0.30)
    assert (report.first_start, report.last_end) == ("2025-01-06T00:00", "2025-01-06T00:45")


def test_a_byte_order_mark_non_breaking_spaces_and_ranges(tmp_path: Path) -> None:
    text = (
        '"Energy Delivered time period","Usage(Real energy in kilowatt-hours)","Reading quality"\n'
        '"2025-01-06 00:00:00\u00a0to\u00a02025-01-06 01:00:00","0.32\u00a0",""\n'
        '"2025-01-06 01:00:00\u00a0to\u00a02025-01-06 02:00:00","0.40",""\n'
    )
    for encoding in ("utf-8-sig", "utf-16", "cp1252"):
        report = told(tmp_path, text.encode(encoding))
        assert (report.reading_count, report.energy_kwh) == (2, pytest.approx(0.72))


def test_sections_of_energy_delivered_and_received(tmp_path: Path) -> None:
    text = (
        "Meter data of A HOUSEHOLD\n\n"
        "Energy delivered time period,Usage (kWh)\n"
        "2025-07-01 00:00 to 2025-07-01 01:00,0.6\n2025-07-01 01:00 to 2025-07-01 02:00,0.5\n\n"
        "Energy received time period,Usage (kWh)\n"
        "2025-07-01 00:00 to 2025-07-01 01:00,0\n2025-07-01 01:00 to 2025-07-01 02:00,0.2\n"
    )
    report = told(tmp_path, text)
    assert (report.energy_kwh, report.export_kwh) == (pytest.approx(1.1), pytest.approx(0.2))
    assert (report.reading_count, report.reverse_count, report.duplicate_count) == (2, 2, 0)
    plain = text.replace("Energy delivered time", "Time").replace("Energy received time", "Received\nTime")
    assert told(tmp_path, plain).export_kwh == pytest.approx(0.2)


def test_columns_of_energy_delivered_and_received(tmp_path: Path) -> None:
    text = (
        "Interval start,Delivered kWh,Received kWh,Generation kWh\n"
        "2025-07-01T12:00,0.1,1.5,2.0\n2025-07-01T13:00,0.2,1.0,1.9\n"
    )
    report = told(tmp_path, text)
    assert (report.energy_kwh, report.export_kwh) == (pytest.approx(0.3), 2.5)


def test_a_net_column_is_split(tmp_path: Path) -> None:
    report = told(tmp_path, "start,net kWh\n2025-07-01T12:00,-1.5\n2025-07-01T13:00,0.5\n")
    assert (report.energy_kwh, report.export_kwh) == (0.5, 1.5)
    assert "1 negative readings" in refusal(
        tmp_path, "start,kWh\n2025-07-01T12:00,-1.5\n2025-07-01T13:00,1\n"
    )


def test_twelve_hour_clocks_noon_and_midnight(tmp_path: Path) -> None:
    hours = pd.date_range("2025-01-31", periods=48, freq="h")
    rows = "".join(f"{t:%m/%d/%Y},{t:%I:%M %p},1\n" for t in hours)
    readings = read_readings(meter_of(tmp_path, "Date,Time,kWh\n" + rows), ZONE)
    assert readings.start_s[0] == epoch("2025-01-31T05:00")
    assert np.all(np.diff(readings.start_s) == 3600)


@pytest.mark.parametrize(
    "form",
    [
        "%Y-%m-%d %H:%M",
        "%m/%d/%y %I:%M%p",
        "%d.%m.%Y %H:%M:%S",
        "%d-%b-%Y %H:%M",
        "%b %d, %Y %H:%M",
        "%a %m/%d/%Y %H:%M",
        "%Y%m%d %H%M",
    ],
)
def test_forms_of_dates(form: str, tmp_path: Path) -> None:
    hours = pd.date_range("2025-01-12", periods=72, freq="h")
    rows = "".join(f'"{t.strftime(form)}",1\n' for t in hours)
    readings = read_readings(meter_of(tmp_path, "Date/Time,kWh\n" + rows), ZONE)
    assert (readings.start_s[0], readings.start_s[-1]) == (
        epoch("2025-01-12T05:00"),
        epoch("2025-01-15T04:00"),
    )


def test_day_and_month_are_not_guessed(tmp_path: Path) -> None:
    rows = "".join(f"03/04/2025 {h}:00,1\n" for h in range(24))
    says = refusal(tmp_path, "Date,kWh\n" + rows)
    assert "day and month cannot be told apart, as in 3/4; say date_order" in says
    report = told(tmp_path, "Date,kWh\n" + rows, date_order="day_first")
    assert report.first_start == "2025-04-03T00:00"
    # One date with a day above 12 tells for the whole file.
    more = rows + "".join(f"13/04/2025 {h}:00,1\n" for h in range(24))
    assert told(tmp_path, "Date,kWh\n" + more).first_start == "2025-04-03T00:00"
    assert "there is no such date" in refusal(tmp_path, "Date,kWh\n" + more + "04/15/2025 0:00,1\n")


def year_of(labels: str) -> str:
    """8,760 hours of 2025 in New York with the local clock's labels and no offset."""
    clock = pd.date_range("2025-01-01", "2026-01-01", freq="h", tz=ZONE, inclusive="left")
    return "start,kwh\n" + "".join(f"{t.strftime(labels)},{1 + k % 5}\n" for k, t in enumerate(clock))


def test_both_clock_change_days_of_a_year(tmp_path: Path) -> None:
    report = told(tmp_path, year_of("%Y-%m-%d %H:%M"))
    assert (report.reading_count, report.gap_count, report.duplicate_count) == (8760, 0, 0)
    lines = year_of("%Y-%m-%d %H:%M").splitlines()
    backwards = "\n".join([lines[0], *reversed(lines[1:])])
    same = read_readings(meter_of(tmp_path, backwards), ZONE)
    assert np.array_equal(same.energy_wh, 1000.0 * (1 + np.arange(8760) % 5))


def test_the_name_of_the_zone_tells_the_hour_that_comes_twice(tmp_path: Path) -> None:
    # In a file sorted by its labels, both 1:00 stand together, the later one first here.
    labels = {"00:00 EDT": 1, "01:00 EST": 3, "01:00 EDT": 2, "02:00 EST": 4}
    text = "start,kwh\n" + "".join(f"11/02/2025 {label},{kwh}\n" for label, kwh in labels.items())
    readings = read_readings(meter_of(tmp_path, text, date_order="month_first"), ZONE)
    assert readings.energy_wh.tolist() == [1000, 2000, 3000, 4000]
    assert np.all(np.diff(readings.start_s) == 3600)


def test_zeros_in_the_hour_that_never_comes_are_dropped_and_values_refused(tmp_path: Path) -> None:
    spring = [f"2025-03-09 {h:02}:00,{0 if h == 2 else 1}\n" for h in range(24)]
    report = told(tmp_path, "start,kwh\n" + "".join(spring))
    assert (report.reading_count, report.gap_count, report.energy_kwh) == (23, 0, 23.0)
    spring[2] = "2025-03-09 02:00,5\n"
    says = refusal(tmp_path, "start,kwh\n" + "".join(spring))
    assert "line 4: 2025-03-09 02:00:00 does not exist on the clock of America/New_York" in says
    assert "say times: standard_time" in says
    report = told(tmp_path, "start,kwh\n" + "".join(spring), times="standard_time")
    assert (report.reading_count, report.gap_count, report.energy_kwh) == (24, 0, 28.0)


def test_hour_ending_labels(tmp_path: Path) -> None:
    for head, hours in (("Date,Hour Ending,kWh", range(1, 25)), ("Date,Hour,kWh", range(1, 25))):
        text = head + "\n" + "".join(f"2025-01-06,{h},{h}\n" for h in hours)
        report = told(tmp_path, text)
        assert (report.first_start, report.last_end) == ("2025-01-06T00:00", "2025-01-07T00:00")
        assert "times name the end of each interval" in report.notes
    text = "End time,kWh\n2025-01-06 01:00,1\n2025-01-06 02:00,1\n2025-01-07 00:00,1\n"
    assert told(tmp_path, text).first_start == "2025-01-06T00:00"
    text = "Date,Hour,kWh\n" + "".join(f"2025-01-06,{h},1\n" for h in range(24))
    assert told(tmp_path, text).first_start == "2025-01-06T00:00"
    assert told(tmp_path, text, label="end").first_start == "2025-01-05T23:00"


def test_the_last_hour_may_be_called_midnight_of_its_own_date(tmp_path: Path) -> None:
    labels = [f"{h:02}:00" for h in range(1, 24)] + ["00:00"]
    text = "Date,End Time,kWh\n" + "".join(f"2025-01-0{d},{t},1\n" for d in (6, 7) for t in labels)
    report = told(tmp_path, text)
    assert (report.first_start, report.last_end, report.gap_count) == (
        "2025-01-06T00:00",
        "2025-01-08T00:00",
        0,
    )


@pytest.mark.parametrize(
    "labels",
    [["01:00", "02:00", "02:00", "03:00"], ["1:00", "2:00", "2:00", "3:00"]],
)
def test_hour_ending_labels_of_the_day_of_25_hours(labels: list[str], tmp_path: Path) -> None:
    text = "Date,Hour Ending,kWh\n" + "".join(f"2025-11-02,{t},1\n" for t in labels)
    report = told(tmp_path, text)
    assert (report.reading_count, report.gap_count, report.duplicate_count) == (4, 0, 0)


def test_ends_on_the_clock_itself_on_the_day_of_23_hours(tmp_path: Path) -> None:
    # The hour from 1:00 ends at 3:00 of daylight time.
    text = "End time,kWh\n" + "".join(f"2025-03-09 {t}:00,1\n" for t in ("01", "03", "04", "05"))
    report = told(tmp_path, text)
    assert (report.reading_count, report.gap_count, report.first_start) == (4, 0, "2025-03-09T00:00")


def test_a_row_a_day_of_half_hours(tmp_path: Path) -> None:
    head = "Date," + ",".join(f"{m // 60:02}:{m % 60:02}" for m in range(0, 1440, 30)) + "\n"
    text = (
        "Values in kWh\n" + head + "".join(f"2025-01-0{d}," + ",".join(["0.5"] * 48) + "\n" for d in (6, 7))
    )
    report = told(tmp_path, text)
    assert (report.reading_count, report.interval_min, report.energy_kwh) == (96, 30, 48.0)
    assert (report.first_start, report.last_end) == ("2025-01-06T00:00", "2025-01-08T00:00")
    assert told(tmp_path, text.replace("kWh", "kW")).energy_kwh == 24.0
    assert "no unit" in refusal(tmp_path, text.replace("Values in kWh\n", ""))
    assert told(tmp_path, text.replace("Values in kWh\n", ""), values_in="wh").energy_kwh == 0.048


def test_a_row_a_day_on_both_clock_change_days(tmp_path: Path) -> None:
    numbers = "Date,Unit," + ",".join(f"{k}" for k in range(1, 51)) + "\n"
    spring = "2025-03-09,kWh," + ",".join(["1"] * 46 + [""] * 4) + "\n"
    autumn = "2025-11-02,kWh," + ",".join(["1"] * 50) + "\n"
    for day, count in ((spring, 46), (autumn, 50)):
        report = told(tmp_path, numbers + day)
        assert (report.reading_count, report.gap_count, report.left_out_count) == (count, 0, 0)
        assert report.last_end.endswith("T00:00")
    # By the clock: the hour that never comes stands empty, or as zeros.
    head = "Date,Unit," + ",".join(f"HE{h}" for h in range(1, 25)) + "\n"
    for filler in ("", "0"):
        values = ["1", "1", filler, *["1"] * 21]
        report = told(tmp_path, head + "2025-03-09,kWh," + ",".join(values) + "\n")
        assert (report.reading_count, report.gap_count, report.energy_kwh) == (23, 0, 23.0)
    values[2] = "7"
    says = refusal(tmp_path, head + "2025-03-09,kWh," + ",".join(values) + "\n")
    assert "a value at 2 h, which that day does not have" in says


def test_a_row_a_day_and_direction(tmp_path: Path) -> None:
    head = "Date,Direction,Unit," + ",".join(f"{h}:00" for h in range(24)) + "\n"
    text = head + "2025-07-01,Delivered,kWh" + ",1" * 24 + "\n2025-07-01,Received,kWh" + ",0.5" * 24 + "\n"
    text += "2025-07-01,Delivered,kVArh" + ",9" * 24 + "\n"
    report = told(tmp_path, text)
    assert (report.energy_kwh, report.export_kwh, report.other_count) == (24.0, 12.0, 1)


def test_half_hour_power_summed_as_energy_is_caught(tmp_path: Path) -> None:
    half_hours = [f"2025-01-06 {m // 60:02}:{m % 60:02}" for m in range(0, 1440, 30)]
    # 48 means of 2 kW are 48 kWh; called kWh they would be 96.
    text = "start,kWh\n" + "".join(f"{t},2\n" for t in half_hours)
    assert told(tmp_path, text).energy_kwh == 96.0
    says = refusal(tmp_path, text, billed_kwh=48.0)
    assert "96.0 kWh are 2 times the 48.0 kWh of the bill: the values are power in kW, not energy" in says
    assert told(tmp_path, text.replace("kWh", "kW"), billed_kwh=48.0).energy_kwh == 48.0
    # Without a bill: the file's own total, a column of power beside it, or totals of the day.
    assert "the file's own total: the values are power" in refusal(tmp_path, text + "Total usage: 48.0 kWh\n")
    beside = "start,kWh,kW\n" + "".join(f"{t},2,2\n" for t in half_hours)
    assert "its kWh are 2.00 times what the column of kW" in refusal(tmp_path, beside)
    right = "start,kWh,kW\n" + "".join(f"{t},1,2\n" for t in half_hours)
    assert told(tmp_path, right).energy_kwh == 48.0
    head = "Date,Total kWh," + ",".join(f"{m // 60}:{m % 60:02}" for m in range(0, 1440, 30)) + "\n"
    wide = head + "2025-01-06,48" + ",2" * 48 + "\n"
    assert "0.50 times the sum of a day's values read as kwh: they are power in kW" in refusal(tmp_path, wide)
    assert told(tmp_path, wide, values_in="kw").energy_kwh == 48.0


def test_a_bill_that_disagrees_is_said(tmp_path: Path) -> None:
    text = "start,kWh\n" + "".join(f"2025-01-06 {h:02}:00,1\n" for h in range(24))
    assert told(tmp_path, text, billed_kwh=25.0).energy_kwh == 24.0
    assert "another span, or another meter" in refusal(tmp_path, text, billed_kwh=40.0)
    assert "the values are Wh" in refusal(tmp_path, text, billed_kwh=0.024)


def test_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    text = "Datum;start;kWh\n;01.02.2025 00:00;0,25\n;01.02.2025 00:15;1.000,5\n"
    text = text.replace("Datum;", "Nr;")
    assert "'0,25' may mean two numbers; say decimal_comma: true" in refusal(tmp_path, text)
    report = told(tmp_path, text, decimal_comma=True)
    assert (report.energy_kwh, report.first_start) == (1000.75, "2025-02-01T00:00")
    american = 'start,Wh\n2025-01-06 00:00,"1,234.5"\n2025-01-06 01:00,"12,345,678"\n'
    assert told(tmp_path, american).highest_reading_wh == 12_345_678
    assert "may mean two numbers" in refusal(tmp_path, 'start,Wh\n2025-01-06 00:00,"1,234"\n')


def test_several_columns_are_not_guessed(tmp_path: Path) -> None:
    text = "start,House kWh,Garage kWh\n2025-01-06 00:00,1,5\n2025-01-06 01:00,2,5\n"
    assert "'House kWh', 'Garage kWh' may each be it; say column" in refusal(tmp_path, text)
    assert told(tmp_path, text, column="house kwh").energy_kwh == 3.0
    assert "no column 'Barn'; it has 'House kWh', 'Garage kWh'" in refusal(tmp_path, text, column="Barn")


def test_a_unit_is_never_guessed(tmp_path: Path) -> None:
    text = "start,Usage\n2025-01-06 00:00,1\n2025-01-06 01:00,2\n"
    assert "no unit: column 'Usage' may be kWh or kW; say values_in" in refusal(tmp_path, text)
    assert told(tmp_path, text, values_in="kwh").energy_kwh == 3.0
    units = "start,Usage,Units\n2025-01-06 00:00,1,kWh\n2025-01-06 01:00,2,kWh\n"
    assert told(tmp_path, units).energy_kwh == 3.0
    assert "line 3: its unit is wh, that of the lines before kwh" in refusal(
        tmp_path, units.replace("2,kWh", "2,Wh")
    )


def test_a_section_of_gas_beside_electricity_is_left_out(tmp_path: Path) -> None:
    text = (
        "TYPE,DATE,START TIME,END TIME,USAGE (kWh)\nElectric usage,2025-01-06,00:00,00:59,0.5\n"
        "Electric usage,2025-01-06,01:00,01:59,0.7\n\n"
        "TYPE,DATE,START TIME,END TIME,USAGE (therms)\nNatural gas usage,2025-01-06,00:00,00:59,9\n"
    )
    report = told(tmp_path, text)
    assert (report.energy_kwh, report.reading_count, report.other_count) == (pytest.approx(1.2), 2, 1)
    only_gas = "\n".join(text.splitlines()[4:])
    assert "it holds gas, not electricity" in refusal(tmp_path, only_gas)


def test_ranges_of_time_are_no_offsets_from_utc(tmp_path: Path) -> None:
    for ranges in (["00:00-00:30", "00:30-01:00"], ["12:00 AM-12:30 AM", "12:30 AM-1:00 AM"]):
        text = "Date,Time,kWh\n" + "".join(f"2025-01-06,{r},1\n" for r in ranges)
        report = told(tmp_path, text)
        assert (report.first_start, report.interval_min) == ("2025-01-06T00:00", 30)
    hours = "".join(f"2025-01-06 {h:02}:00-{h + 1:02}:00,1\n" for h in range(10))
    assert "are they ranges?" in refusal(tmp_path, "Date,kWh\n" + hours)


def test_columns_about_time_that_tell_no_time(tmp_path: Path) -> None:
    text = "Time Zone,Interval length (min),Start,Type,kWh\nEastern,60,2025-01-06 00:00,a,1\n"
    report = told(tmp_path, text + "Eastern,60,2025-01-06 01:00,a,2\n")
    assert (report.first_start, report.energy_kwh) == ("2025-01-06T00:00", 3.0)


def test_gas_is_refused(tmp_path: Path) -> None:
    assert "gas" in refusal(tmp_path, "start,therms\n2025-01-06 00:00,1\n")
    assert "gas, not electricity" in refusal(tmp_path, "start,Usage,Units\n2025-01-06 00:00,1,therms\n")


def test_a_total_and_words_at_the_end_are_no_readings(tmp_path: Path) -> None:
    text = "start,kWh\n2025-01-06 00:00,1\n2025-01-06 01:00,2\n\nTotal,3.0 kWh\nFor information only.\n"
    assert told(tmp_path, text).energy_kwh == 3.0
    assert "line 4: 'soon' is no time" in refusal(
        tmp_path, "start,kWh\n2025-01-06 00:00,1\n2025-01-06 01:00,2\nsoon,3\n"
    )


def test_equal_duplicates_of_overlapping_exports_are_dropped(tmp_path: Path) -> None:
    rows = [f"2025-11-02 {h},{v}\n" for v, h in enumerate(["00:00", "01:00", "01:00", "02:00", "03:00"], 1)]
    report = told(tmp_path, "start,kWh\n" + "".join(rows + rows))
    assert (report.reading_count, report.duplicate_count, report.energy_kwh) == (5, 5, 15.0)


def test_a_change_of_step_is_said(tmp_path: Path) -> None:
    hours = pd.date_range("2025-01-06", periods=48, freq="h")
    quarters = pd.date_range("2025-01-08", periods=96, freq="15min")
    text = "start,kWh\n" + "".join(f"{t:%Y-%m-%d %H:%M},1\n" for t in [*hours, *quarters])
    assert "labels are 15 min apart in one part and 60 min in another" in refusal(tmp_path, text)


def test_times_without_a_zone_need_one(tmp_path: Path) -> None:
    text = "start,kWh\n2025-01-06 00:00,1\n2025-01-06 01:00,2\n"
    with pytest.raises(MeterError, match="no offset from UTC: say the time zone"):
        describe_meter(meter_of(tmp_path, text), None)
    report = describe_meter(meter_of(tmp_path, text.replace("00,", "00-05:00,")), None)
    assert report.first_start == "2025-01-06T05:00"
