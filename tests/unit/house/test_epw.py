"""EPW weather: a small hand-made file, its sums worked out apart, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from kit.calendar import calendar_year
from kit.house import house_year
from kit.house.solar import solar_power_kw
from kit.house.weather import WeatherError, weather_year
from kit.study.equipment_models import Cost, Solar
from kit.study.house_models import Appliance, House, Weather

ZONE = "America/New_York"
HEAD = (
    "LOCATION,Example Hill,NC,USA,Hand-made,000000,36.10,-79.95,-5.0,273.0\n"
    "DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\n"
    "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,invented\nCOMMENTS 2,\n"
    "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n"
)
DAYS = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")


def row(day: np.datetime64, hour: int, year: int, ghi: float, temp: float) -> str:
    """One hour: date, hour 1 to 24, then the columns of the format, the last ones as missing."""
    month, of_month = str(day)[5:7], str(day)[8:10]
    light = f"0,0,300,{ghi},{0.5 * ghi},{0.6 * ghi},0,0,0,0"
    return (
        f"{year},{int(month)},{int(of_month)},{hour},0,?9?9,{temp},5.0,60,98000,{light},"
        "180,2.5,5,5,20,7700,9,999999999,150,0.1,0,88,0.2,0.0,0.0\n"
    )


def hand_made(folder: Path, rows: list[str] | None = None) -> Path:
    """8,760 h: the light of hour h is 100 (h - 6) from 7 to 12 and falls again; the day is in the degrees."""
    if rows is None:
        rows = [
            row(day, hour, 1991 + number % 3, max(0, 600 - 100 * abs(hour - 12)), round(number / 20 - 5, 1))
            for number, day in enumerate(DAYS)
            for hour in range(1, 25)
        ]
    path = folder / "place.epw"
    path.write_text(HEAD + "".join(rows))
    return path


def house_of(path: Path) -> House:
    return House(
        time_zone=ZONE,
        latitude_deg=36.1,
        longitude_deg=-79.95,
        altitude_m=273.0,
        weather=Weather(kind="epw", file=str(path)),
        appliances={"lamp": Appliance(running_w=10.0, tier="wanted")},
    )


def test_a_hand_made_year(tmp_path: Path) -> None:
    year = calendar_year(2025, ZONE, 60)
    weather = weather_year(house_of(hand_made(tmp_path)), year)
    assert weather is not None
    assert (weather.kind, weather.place, weather.from_years) == ("epw", "Example Hill", (1991, 1992, 1993))
    # 600 at noon's hour, 500 to 100 on either side: 3,600 Wh/m2 a day, all year.
    assert weather.ghi_w_per_m2.sum() == pytest.approx(365 * (600 + 2 * (500 + 400 + 300 + 200 + 100)))
    assert np.array_equal(weather.dni_w_per_m2, 0.5 * weather.ghi_w_per_m2)
    assert np.array_equal(weather.dhi_w_per_m2, 0.6 * weather.ghi_w_per_m2)
    assert np.all(weather.wind_m_per_s == 2.5)
    assert (weather.temperature_c.min(), weather.temperature_c.max()) == (-5.0, round(364 / 20 - 5, 1))


def test_an_hour_ends_at_its_number_on_the_standard_clock(tmp_path: Path) -> None:
    # Hour 12, from 11 to 12, has the most light: in July that is 12 to 13 of daylight time.
    year = calendar_year(2025, ZONE, 60)
    weather = weather_year(house_of(hand_made(tmp_path)), year)
    assert weather is not None
    for month, hour in ((1, 11), (7, 12)):
        brightest = year.hour[(year.month == month) & (weather.ghi_w_per_m2 == 600)]
        assert np.all(brightest == hour)


def test_an_epw_year_drives_the_array_and_the_house(tmp_path: Path) -> None:
    house, year = house_of(hand_made(tmp_path)), calendar_year(2025, ZONE, 60)
    weather = weather_year(house, year)
    assert weather is not None
    solar = Solar(size_kw=4.0, inverter_kw=4.0, cost=Cost(price_usd=1.0))
    assert 2000 < solar_power_kw(house, weather, year, solar).sum() < 6000
    assert house_year(house, 2025).findings == ()


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda lines: lines[:4000], "a year of weather has 8760 hours, this file 3992"),
        (lambda lines: [*lines[:8], lines[9], lines[8], *lines[10:]], "rows are not the hours 1 to 24"),
        (
            lambda lines: [*lines[:8], lines[8].replace(",-5.0,", ",99.9,"), *lines[9:]],
            "1 hours without temp",
        ),
        (
            lambda lines: [*lines[:20], lines[20].replace(",300,500,", ",300,9999,"), *lines[21:]],
            "1 hours without ghi",
        ),
        (lambda lines: ["nothing"], "not an EPW file"),
        (lambda lines: [lines[0].replace("36.10", "north"), *lines[1:]], "not an EPW file"),
    ],
)
def test_bad_files_say_why(spoil, says: str, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    path = hand_made(tmp_path)
    path.write_text("\n".join(spoil(path.read_text().splitlines())) + "\n")
    with pytest.raises(WeatherError, match=says) as caught:
        weather_year(house_of(path), calendar_year(2025, ZONE, 60))
    assert str(caught.value).startswith(f"{path}: ")


def test_a_kind_and_its_file_go_together(tmp_path: Path) -> None:
    for kind, file in (("epw", None), ("tmy3", None), ("clear_sky", "some.epw")):
        with pytest.raises(ValueError, match="kinds tmy3 and epw need `file`"):
            Weather(kind=kind, file=file)  # type: ignore[arg-type]
    tmy3 = House(
        **{
            **house_of(hand_made(tmp_path)).model_dump(),
            "weather": Weather(kind="tmy3", file=str(tmp_path / "place.epw")),
        }
    )
    with pytest.raises(WeatherError, match="not a TMY3 file"):
        weather_year(tmy3, calendar_year(2025, ZONE, 60))
