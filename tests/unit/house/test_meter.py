"""A meter laid on the study year: steps, gaps, other years, other clocks, tables."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pytest

from kit.calendar import calendar_year
from kit.house.meter import describe_meter
from kit.house.meter_year import read_meter
from kit.house.readings import MeterError
from kit.study.house_models import Meter
from tests.unit.house.meter_files import table

ZONE = "America/New_York"
ROOT = Path(__file__).parents[3]
COASTAL = ROOT / "params/data/meter/coastal_mf_year_monthly_blocks.xml"


def written(folder: Path, text: str) -> Meter:
    path = folder / "meter.csv"
    path.write_text(text, encoding="utf-8")
    return Meter(file=str(path))


def test_a_finer_meter_is_summed_to_the_step(tmp_path: Path) -> None:
    year = calendar_year(2025, ZONE, 60)
    quarters_kw = np.tile([0.0, 1.0, 2.0, 5.0], year.n)
    meter = written(tmp_path, table("2025-01-01", "2026-01-01", ZONE, quarters_kw, 15))
    load_kw, report = read_meter(meter, year)
    assert np.allclose(load_kw, (0.0 + 1.0 + 2.0 + 5.0) / 4)
    assert not report.mapped
    assert report.filled_h == 0


def test_a_coarser_meter_is_refused() -> None:
    with pytest.raises(MeterError, match="60 min, coarser than the study's step of 15 min"):
        read_meter(Meter(file=str(COASTAL)), calendar_year(2011, "America/Los_Angeles", 15))


def test_readings_that_start_off_the_step_are_refused(tmp_path: Path) -> None:
    meter = written(tmp_path, table("2025-01-01 00:07", "2026-01-02 00:07", ZONE, 1.0))
    with pytest.raises(MeterError, match="start 7 min past a whole interval"):
        read_meter(meter, calendar_year(2025, ZONE, 60))


def test_a_gap_is_filled_from_the_same_hour_of_comparable_days(tmp_path: Path) -> None:
    year = calendar_year(2025, ZONE, 60)
    kw = np.where(year.is_weekend, 10.0, 1.0) + year.hour / 100 + year.month
    lines = table("2025-01-01", "2026-01-01", ZONE, kw).splitlines(keepends=True)
    gap = slice(500, 512)  # all within January
    meter = written(tmp_path, "".join(lines[:501] + lines[513:]))
    load_kw, report = read_meter(meter, year)
    assert np.allclose(load_kw, kw)
    assert (report.gap_count, report.gap_h, report.filled_h) == (1, 12.0, 12.0)
    assert report.coverage_frac == pytest.approx(1 - 12 / 8760)
    assert not np.isnan(load_kw[gap]).any()


def test_zeros_are_kept_and_reported(tmp_path: Path) -> None:
    year = calendar_year(2025, ZONE, 60)
    kw = np.ones(year.n)
    kw[100:105] = 0.0
    kw[300] = 0.0
    load_kw, report = read_meter(written(tmp_path, table("2025-01-01", "2026-01-01", ZONE, kw)), year)
    assert np.count_nonzero(load_kw == 0) == 6
    assert (report.zero_reading_count, report.zero_run_count, report.longest_zero_run_h) == (6, 2, 5.0)


def test_another_year_is_mapped_by_month_weekday_and_hour(tmp_path: Path) -> None:
    was, year = calendar_year(2023, ZONE, 60), calendar_year(2024, ZONE, 60)
    code = was.month * 1000 + was.weekday * 100 + was.hour
    load_kw, report = read_meter(written(tmp_path, table("2023-01-01", "2024-01-01", ZONE, code)), year)
    assert report.mapped
    assert not report.other_clock
    assert np.allclose(load_kw, year.month * 1000 + year.weekday * 100 + year.hour)


def test_a_mapped_day_stays_whole(tmp_path: Path) -> None:
    was, year = calendar_year(2023, ZONE, 60), calendar_year(2025, ZONE, 60)
    day_kw = was.day_number + 1.0  # every metered day has a load of its own
    load_kw, _ = read_meter(written(tmp_path, table("2023-01-01", "2024-01-01", ZONE, day_kw)), year)
    for day in range(365):
        assert np.unique(load_kw[year.day_number == day]).size == 1


def test_the_utility_year_with_gaps_fits_any_year(tmp_path: Path) -> None:
    packed = ROOT / "tests/data/meter/early2012_year_hourly_gaps_zeros.xml.gz"
    path = tmp_path / "early.xml"
    path.write_bytes(gzip.decompress(packed.read_bytes()))
    load_kw, report = read_meter(Meter(file=str(path)), calendar_year(2024, "America/Los_Angeles", 60))
    assert report.mapped
    assert np.isfinite(load_kw).all()
    # 5,089.595 kWh in 8,727 h is 0.583 kW; its Februaries and weekdays differ a little.
    assert report.mean_kw == pytest.approx(5089.595 / 8727, rel=0.02)
    assert 0 < report.filled_h <= 9


def test_a_meter_from_another_zone_keeps_its_own_hours() -> None:
    there = calendar_year(2011, "America/Los_Angeles", 60)
    at_home_kw, _ = read_meter(Meter(file=str(COASTAL)), there)
    year = calendar_year(2011, ZONE, 60)
    moved_kw, report = read_meter(Meter(file=str(COASTAL)), year)
    assert report.other_clock
    assert report.mapped
    # The hour that came twice, on 6 November, takes the mean of both; all else is as metered.
    differ = ~np.isclose(moved_kw, at_home_kw)
    assert set(zip(year.day_number[differ].tolist(), year.hour[differ].tolist(), strict=True)) == {(309, 1.0)}
    assert moved_kw.sum() == pytest.approx(at_home_kw.sum())


def test_nine_days_are_no_year() -> None:
    meter = Meter(file=str(ROOT / "tests/data/meter/std_hourly_9days_with_cost.xml"))
    with pytest.raises(MeterError, match="no well-read day in month 2"):
        read_meter(meter, calendar_year(2014, ZONE, 60))


def test_multiply_by_scales_and_is_reported() -> None:
    year = calendar_year(2011, "America/Los_Angeles", 60)
    load_kw, report = read_meter(Meter(file=str(COASTAL), multiply_by=2.0), year)
    assert load_kw.sum() == pytest.approx(2 * 4425.305)
    assert report.energy_kwh == pytest.approx(2 * 4425.305)
    assert report.year_kwh == pytest.approx(2 * 4425.305)
    assert report.multiply_by == 2.0


def test_a_table_of_power_and_one_of_energy_agree(tmp_path: Path) -> None:
    text = "START, kW \n2025-01-01T00:00,4\n2025-01-01T00:15,8\n2025-01-01T00:30,0\n"
    report = describe_meter(written(tmp_path, text).file, ZONE)
    assert report.energy_kwh == pytest.approx(4 * 0.25 + 8 * 0.25)
    assert report.peak_kw == pytest.approx(8.0)
    assert report.interval_min == 15


def test_local_times_without_an_offset_tell_the_double_hour_by_its_place(tmp_path: Path) -> None:
    hours = ["00:00", "01:00", "01:00", "02:00"]
    text = "start,kwh\n" + "".join(f"2025-11-02T{h},1\n" for h in hours)
    report = describe_meter(written(tmp_path, text).file, ZONE)
    assert (report.reading_count, report.gap_count) == (4, 0)


def test_a_table_that_leaves_out_the_second_of_the_double_hour_has_a_gap(tmp_path: Path) -> None:
    text = "start,kwh\n" + "".join(f"2025-11-02T{h}:00,1\n" for h in ("00", "01", "02", "03"))
    report = describe_meter(written(tmp_path, text).file, ZONE)
    assert (report.reading_count, report.gap_count, report.gap_h) == (4, 1, 1.0)


def test_an_empty_cell_of_the_table_is_a_gap(tmp_path: Path) -> None:
    text = "start,kwh\n2025-11-02T00:00,1\n2025-11-02T01:00,\n2025-11-02T01:00,3\n"
    report = describe_meter(written(tmp_path, text).file, ZONE)
    assert (report.reading_count, report.left_out_count, report.gap_h) == (2, 1, 1.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no line of it is a head with a time and an energy"),
        ("when,kwh\n", "no line of it is a head with a time and an energy"),
        ("start,kwh\nyesterday,1\n", "line 2: 'yesterday' is no time such as 2025-01-31 17:00"),
        ("start,kwh\n2025-01-01T00:00,a\n", "line 2: 'a' is not a number"),
        ("start,kwh\n2025-01-01T00:00,nan\n", "line 2: 'nan' is not a number"),
        ("start,kwh\n2025-03-09T02:30,1\n", "line 2: 2025-03-09 02:30:00 does not exist on the clock"),
        ("start,kwh\n2025-01-01T00:00,1\n2025-01-01T01:00-05:00,1\n", "some times have an offset"),
        ("start,kwh\n2025-01-01T00:00,1\n2025-01-01T00:00,2\n2025-01-01T01:00,1\n", "1 duplicates"),
        ("start,kwh\n2025-01-01,1\n2025-01-02,1\n2025-01-03,1\n", "values are daily"),
        ("start,kwh\n2025-01-01T00:00,\n", "no interval readings of electricity"),
        ("start,kwh\n\n", "no interval readings below its head"),
    ],
)
def test_bad_tables_say_what_is_wrong(text: str, says: str, tmp_path: Path) -> None:
    meter = written(tmp_path, text)
    with pytest.raises(MeterError) as caught:
        describe_meter(meter.file, ZONE)
    assert says in str(caught.value)
    assert str(caught.value).startswith(f"{meter.file}: ")
