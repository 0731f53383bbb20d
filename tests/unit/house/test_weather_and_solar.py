"""Weather on the study year's clock, and what an array makes of it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from kit.calendar import calendar_year
from kit.house.solar import POWER_PER_C_FRAC, cell_temperature_c, plane_light, position_of, solar_kw
from kit.house.weather import WeatherError, WeatherYear, weather_year
from kit.study.equipment_models import Cost, Solar
from kit.study.house_models import Appliance, House, Weather

ROOT = Path(__file__).parents[3]
FILE = ROOT / "params/data/weather/tmy3_723170_greensboro_NC.csv"
ZONE = "America/New_York"
LAMP = {"lamp": Appliance(running_w=10.0, tier="wanted")}
COST = Cost(price_usd=1.0)


def house_of(weather: Weather | None, **place: float) -> House:
    where = {"latitude_deg": 36.1, "longitude_deg": -79.95, "altitude_m": 273.0, **place}
    return House(time_zone=ZONE, weather=weather, appliances=LAMP, **where)


TYPICAL = house_of(Weather(kind="tmy3", file=str(FILE)))


def laid(house: House, year: int, step_min: int = 60) -> WeatherYear:
    weather = weather_year(house, calendar_year(year, ZONE, step_min))
    assert weather is not None
    return weather


def rows() -> list[list[str]]:
    return [line.split(",") for line in FILE.read_text().splitlines()[2:]]


def test_a_row_is_the_hour_that_ends_at_its_time() -> None:
    # Column 4 is GHI of the hour before the row's time. 15 January is standard time.
    year = calendar_year(2025, ZONE, 60)
    step = np.flatnonzero((year.month == 1) & (year.index.day == 15) & (year.hour == 12))[0]
    row = next(r for r in rows() if r[0].startswith("01/15/") and r[1] == "13:00")
    assert laid(TYPICAL, 2025).ghi_w_per_m2[step] == float(row[4])


def test_summer_hours_move_with_the_clock() -> None:
    # 12:00 daylight time on 15 July is 11:00 standard time: the row that ends at 12:00.
    year = calendar_year(2025, ZONE, 60)
    step = np.flatnonzero((year.month == 7) & (year.index.day == 15) & (year.hour == 12))[0]
    row = next(r for r in rows() if r[0].startswith("07/15/") and r[1] == "12:00")
    assert laid(TYPICAL, 2025).ghi_w_per_m2[step] == float(row[4])


def test_the_29th_of_february_copies_the_28th() -> None:
    year = calendar_year(2024, ZONE, 60)
    ghi = laid(TYPICAL, 2024).ghi_w_per_m2
    days = [ghi[(year.month == 2) & (year.index.day == day)] for day in (28, 29)]
    assert np.array_equal(days[0], days[1])
    assert days[0].sum() > 0


def test_steps_under_an_hour_repeat_its_mean() -> None:
    hourly, quarters = laid(TYPICAL, 2025), laid(TYPICAL, 2025, 15)
    assert np.array_equal(np.repeat(hourly.ghi_w_per_m2, 4), quarters.ghi_w_per_m2)
    assert np.array_equal(np.repeat(hourly.temperature_c, 4), quarters.temperature_c)


def test_months_come_from_ten_years() -> None:
    weather = laid(TYPICAL, 2025)
    # Read from the file's dates: its months were taken from years between 1980 and 2003.
    years = {int(r[0][6:10]) for r in rows()}
    assert set(weather.from_years) == years
    assert len(years) > 5


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda lines: lines[:100], "8760 hours, this file 98"),
        (lambda lines: [*lines[:2], lines[3], lines[2], *lines[4:]], "rows are not the hours"),
        (lambda lines: ["nothing"], "not a TMY3 file"),
    ],
)
def test_bad_weather_files_say_why(spoil, says: str, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "weather.csv"
    path.write_text("\n".join(spoil(FILE.read_text().splitlines())) + "\n")
    with pytest.raises(WeatherError, match=says):
        laid(house_of(Weather(kind="tmy3", file=str(path))), 2025)


def test_missing_values_and_files(tmp_path: Path) -> None:
    lines = FILE.read_text().splitlines()
    cells = lines[20].split(",")
    cells[4] = "-9900"
    path = tmp_path / "weather.csv"
    path.write_text("\n".join([*lines[:20], ",".join(cells), *lines[21:]]) + "\n")
    with pytest.raises(WeatherError, match="1 hours without ghi_w_per_m2"):
        laid(house_of(Weather(kind="tmy3", file=str(path))), 2025)
    with pytest.raises(WeatherError, match="there is no such file"):
        laid(house_of(Weather(kind="tmy3", file=str(tmp_path / "absent.csv"))), 2025)


def test_no_weather_is_none() -> None:
    assert weather_year(house_of(None), calendar_year(2025, ZONE, 60)) is None


def test_a_clear_sky_gives_light_by_day_only_and_more_than_the_typical_year() -> None:
    house = house_of(Weather(kind="clear_sky", temperature_c=12.0))
    clear, typical = laid(house, 2025), laid(TYPICAL, 2025)
    zenith = position_of(house, calendar_year(2025, ZONE, 60))["apparent_zenith"].to_numpy()
    assert np.all(clear.ghi_w_per_m2[zenith > 90] == 0)
    assert np.all(clear.temperature_c == 12.0)
    assert clear.ghi_w_per_m2.sum() > 1.2 * typical.ghi_w_per_m2.sum()
    # At z = 30 degrees: Haurwitz (1945), 1098 cos z exp(-0.057 / cos z), a formula of its own
    # (from memory), agrees within a tenth.
    high = np.argmin(np.abs(zenith - 30))
    cos_z = np.cos(np.radians(zenith[high]))
    assert clear.ghi_w_per_m2[high] == pytest.approx(1098 * cos_z * np.exp(-0.057 / cos_z), rel=0.1)


def test_a_flat_array_sees_the_horizontal_light() -> None:
    year, weather = calendar_year(2025, ZONE, 60), laid(TYPICAL, 2025)
    flat = Solar(size_kw=1.0, inverter_kw=1.0, tilt_deg=0.0, cost=COST)
    light, passes = plane_light(TYPICAL, weather, year, flat)
    zenith = position_of(TYPICAL, year)["apparent_zenith"].to_numpy()
    # On the level, light is DNI cos z + DHI, whatever the model of the sky.
    level = weather.dni_w_per_m2 * np.clip(np.cos(np.radians(zenith)), 0, None) + weather.dhi_w_per_m2
    high = zenith < 80
    assert np.allclose(light[high], level[high], rtol=0.01, atol=1.0)
    assert np.all(passes <= light + 1e-9)


def test_power_of_one_step_worked_by_hand() -> None:
    year, weather = calendar_year(2025, ZONE, 60), laid(TYPICAL, 2025)
    solar = Solar(size_kw=5.0, inverter_kw=50.0, loss_frac=0.14, inverter_efficiency_frac=0.9, cost=COST)
    light, passes = plane_light(TYPICAL, weather, year, solar)
    cell_c = cell_temperature_c(light, weather.temperature_c, weather.wind_m_per_s)
    noon = int(np.argmax(light))
    # Faiman (2008): air + light / (25 + 6.84 wind)
    by_hand_c = weather.temperature_c[noon] + light[noon] / (25 + 6.84 * weather.wind_m_per_s[noon])
    assert cell_c[noon] == pytest.approx(by_hand_c)
    assert POWER_PER_C_FRAC == -0.0037
    by_hand_kw = 5.0 * passes[noon] / 1000 * (1 - 0.0037 * (by_hand_c - 25)) * (1 - 0.14) * 0.9
    assert solar_kw(TYPICAL, weather, year, solar)[noon] == pytest.approx(by_hand_kw)


def test_the_inverter_clips_and_the_night_gives_nothing() -> None:
    year, weather = calendar_year(2025, ZONE, 60), laid(TYPICAL, 2025)
    small = Solar(size_kw=8.0, inverter_kw=3.0, cost=COST)
    ac_kw = solar_kw(TYPICAL, weather, year, small)
    assert ac_kw.max() == 3.0
    assert np.count_nonzero(ac_kw == 3.0) > 100
    assert np.all(ac_kw[weather.ghi_w_per_m2 == 0] == 0)
    assert np.isfinite(ac_kw).all()


def test_south_beats_north_and_size_is_linear() -> None:
    year, weather = calendar_year(2025, ZONE, 60), laid(TYPICAL, 2025)
    south, north, twice = (
        solar_kw(TYPICAL, weather, year, Solar(size_kw=s, inverter_kw=99.0, azimuth_deg=a, cost=COST))
        for s, a in ((1.0, 180.0), (1.0, 0.0), (2.0, 180.0))
    )
    assert south.sum() > 1.2 * north.sum()
    assert np.allclose(2 * south, twice)


def test_hourly_and_quarter_hourly_years_agree() -> None:
    solar = Solar(size_kw=5.0, inverter_kw=5.0, cost=COST)
    sums = [
        solar_kw(TYPICAL, laid(TYPICAL, 2025, m), calendar_year(2025, ZONE, m), solar).sum() * m / 60
        for m in (60, 15)
    ]
    assert sums[0] == pytest.approx(sums[1], rel=0.005)
