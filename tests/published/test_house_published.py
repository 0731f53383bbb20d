"""The house against published values: see house_cases.py for their sources."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from kit.calendar import calendar_year
from kit.house.appliances import list_loads
from kit.house.green_button import read_green_button
from kit.house.meter import describe_meter
from kit.house.meter_year import read_meter
from kit.house.readings import MeterError
from kit.house.solar import solar_kw, solar_position
from kit.house.weather import weather_year
from kit.study.equipment_models import Cost, Solar
from kit.study.house_models import Appliance, House, Meter, Use, Weather
from tests.published.house_cases import (
    GOLDEN,
    GREENSBORO,
    METER_CASES,
    REFRIGERATOR_THIRD,
    WINDOW_FAN,
    MeterCase,
)

ROOT = Path(__file__).parents[2]


def unpacked(file: str, folder: Path) -> Path:
    """The path of a data file, unpacked where it is kept compressed."""
    path = ROOT / file
    if path.suffix != ".gz":
        return path
    plain = folder / path.stem
    plain.write_bytes(gzip.decompress(path.read_bytes()))
    return plain


def greensboro_house(step_min: int = 60) -> House:
    return House(
        time_zone="America/New_York",
        latitude_deg=36.1,
        longitude_deg=-79.95,
        altitude_m=273.0,
        step_min=step_min,
        weather=Weather(kind="tmy3", file=str(ROOT / GREENSBORO.file)),
        appliances={"lamp": Appliance(running_w=10.0, tier="wanted")},
    )


@pytest.mark.parametrize("case", METER_CASES.values(), ids=list(METER_CASES))
def test_a_meter_file_holds_what_is_known_of_it(case: MeterCase, tmp_path: Path) -> None:
    report = describe_meter(unpacked(case.file, tmp_path), case.time_zone)
    assert report.reading_count == case.reading_count
    assert report.energy_kwh * 1000 == pytest.approx(case.sum_wh, abs=1e-6)
    assert case.lowest_wh in (None, report.lowest_reading_wh)
    assert case.highest_wh in (None, report.highest_reading_wh)
    assert (report.first_start, report.last_end) == (case.first_start, case.last_end)
    assert (report.gap_count, report.gap_h) == (case.gap_count, case.gap_h)
    assert report.zero_reading_count == case.zero_count


def test_the_metered_year_keeps_every_watt_hour_in_its_own_year() -> None:
    case = METER_CASES["a year in monthly blocks"]
    year = calendar_year(2011, case.time_zone, 60)
    load_kw, report = read_meter(Meter(file=str(ROOT / case.file)), year)
    assert not report.mapped
    assert load_kw.sum() * 1000 == pytest.approx(case.sum_wh, abs=1e-6)
    assert load_kw.min() * 1000 == pytest.approx(170)
    assert load_kw.max() * 1000 == pytest.approx(944)
    # Days of 23 and 25 h where the US clocks changed in 2011: 13 March and 6 November.
    hours = np.bincount(year.day_number)
    assert [int(d) for d in np.flatnonzero(hours != 24)] == [31 + 28 + 12, 304 + 5]
    # TRADE figure recomputed from the file: peak over mean 1.87.
    assert report.peak_to_mean == pytest.approx(1.87, abs=0.005)


def test_local_days_of_23_and_25_hours_in_the_daily_file() -> None:
    # The sample set: 441 readings of 86,400 s, two of 82,800, one of 90,000; 9,917,817 Wh.
    readings = read_green_button(ROOT / "tests/data/meter/std_daily_15months_dst_23h_25h.xml")
    lengths, counts = np.unique(readings.length_s, return_counts=True)
    assert dict(zip(lengths.tolist(), counts.tolist(), strict=True)) == {82_800: 2, 86_400: 441, 90_000: 1}
    assert readings.energy_wh.sum() == 9_917_817
    assert readings.clock is not None
    local_s = readings.clock.local_s(readings.start_s)
    # By the file's own rules of daylight saving every reading starts at local midnight.
    assert np.all(local_s % 86_400 == 0)


def test_daily_values_are_refused() -> None:
    with pytest.raises(MeterError, match="values are daily: too coarse"):
        describe_meter(ROOT / "tests/data/meter/std_daily_15months_dst_23h_25h.xml", "America/New_York")


def test_the_gas_export_is_refused_with_its_duplicates() -> None:
    # 36 blocks with one start time, no unit: 35 duplicates.
    with pytest.raises(MeterError) as caught:
        describe_meter(ROOT / "tests/data/meter/gas_utility_36mo_same_start.xml", "America/New_York")
    text = str(caught.value)
    assert "\n" not in text
    assert "35 duplicates" in text
    assert "no unit" in text
    assert "gas" in text


def test_position_in_the_sky() -> None:
    times = pd.DatetimeIndex([pd.Timestamp(GOLDEN.local_time)])
    found = solar_position(
        times,
        GOLDEN.latitude_deg,
        GOLDEN.longitude_deg,
        GOLDEN.altitude_m,
        GOLDEN.temperature_c,
        GOLDEN.pressure_pa,
        GOLDEN.delta_t_s,
    ).iloc[0]
    assert found["apparent_zenith"] == pytest.approx(GOLDEN.zenith_deg, abs=GOLDEN.tolerance_deg)
    assert found["azimuth"] == pytest.approx(GOLDEN.azimuth_deg, abs=GOLDEN.tolerance_deg)


@pytest.mark.parametrize("step_min", [60, 30, 15])
def test_the_typical_year_keeps_its_sums_at_every_step(step_min: int) -> None:
    year = calendar_year(2025, "America/New_York", step_min)
    weather = weather_year(greensboro_house(step_min), year)
    assert weather is not None
    ghi_kwh_per_m2 = weather.ghi_w_per_m2.sum() * year.step_h / 1000
    assert ghi_kwh_per_m2 == pytest.approx(GREENSBORO.ghi_kwh_per_m2, abs=0.05)
    assert weather.temperature_c.min() == GREENSBORO.lowest_c
    assert weather.temperature_c.max() == GREENSBORO.highest_c


def test_a_fixed_array_yields_what_is_usual_there() -> None:
    house, year = greensboro_house(), calendar_year(2025, "America/New_York", 60)
    weather = weather_year(house, year)
    assert weather is not None
    # Tilt 25 degrees south, losses 14.08 % (NREL/TP-6A20-62641 table, from memory): the default.
    solar = Solar(size_kw=4.0, inverter_kw=4.0, cost=Cost(price_usd=1.0))
    low, high = GREENSBORO.yield_kwh_per_kw
    assert low < solar_kw(house, weather, year, solar).sum() / 4.0 < high


def test_the_window_fan_of_the_department_of_energy() -> None:
    # 120 days: June (30), July (31), August (31) and the 28 days of February 2025.
    assert sum(pd.Period(f"2025-{m:02}").days_in_month for m in (2, 6, 7, 8)) == WINDOW_FAN["days"]
    fan = Appliance(
        running_w=float(WINDOW_FAN["running_w"]),
        use=Use(weekday="18-22", weekend="18-22", months=[2, 6, 7, 8]),
        tier="wanted",
    )
    house = greensboro_house().model_copy(update={"appliances": {"fan": fan}})
    year = calendar_year(2025, "America/New_York", 60)
    lists = list_loads(house, year, np.full(year.n, 20.0))
    assert lists.everyday_kw.sum() == pytest.approx(float(WINDOW_FAN["kwh"]))


def test_a_refrigerator_runs_a_third_of_its_hours() -> None:
    refrigerator = Appliance(
        running_w=500.0, duty_frac=float(REFRIGERATOR_THIRD["duty_frac"]), tier="must_run"
    )
    house = greensboro_house().model_copy(update={"appliances": {"refrigerator": refrigerator}})
    year = calendar_year(2025, "America/New_York", 60)
    lists = list_loads(house, year, np.full(year.n, 20.0))
    # 500 W x 8,760 h / 3 = 1,460 kWh
    assert lists.everyday_kw.sum() == pytest.approx(1460.0)
