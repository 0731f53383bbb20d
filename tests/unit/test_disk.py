"""Kept numbers: the same as made, made again where damaged or from anything else, optional."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from kit import disk as module
from kit.calendar import calendar_year
from kit.disk import kept
from kit.house.solar import solar_kw, solar_power_kw
from kit.house.weather import clear_sky_year, weather_year
from kit.study.equipment_models import Solar
from kit.study.house_models import Weather
from tests.contract.sources import ROOT
from tests.unit.house.test_weather_and_solar import COST, house_of

YEAR = calendar_year(2025, "America/New_York", 60)
SOLAR = Solar(size_kw=5.0, inverter_kw=4.0, tilt_deg=30.0, azimuth_deg=170.0, cost=COST)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("RIDETHROUGH_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache" / "house"


def numbers(calls: list[int], value: float = 1.5) -> dict[str, np.ndarray]:
    calls.append(1)
    return {"kw": np.array([0.1, value, -0.0]), "place": np.array("Here")}


def test_a_second_call_makes_nothing_and_gives_the_same_bits(folder: Path) -> None:
    calls: list[int] = []
    first, again = (kept("house", "x", ("a", np.arange(3)), lambda: numbers(calls)) for _ in range(2))
    assert calls == [1]
    assert first["kw"].tobytes() == again["kw"].tobytes() == np.array([0.1, 1.5, -0.0]).tobytes()
    assert str(again["place"]) == "Here"
    assert again["kw"].flags.writeable  # compiled loops take no other
    assert len(list(folder.iterdir())) == 1


@pytest.mark.parametrize(
    "key", [("b", np.arange(3)), ("a", np.arange(4)), ("a", np.arange(3.0)), ("a",), ("aa", np.arange(3))]
)
def test_any_other_key_is_made_anew(key: tuple[str | bytes | np.ndarray, ...]) -> None:
    calls: list[int] = []
    kept("house", "x", ("a", np.arange(3)), lambda: numbers(calls))
    assert kept("house", "x", key, lambda: numbers(calls, 9.0))["kw"][1] == 9.0
    assert calls == [1, 1]


def test_other_code_is_another_key(monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[int] = []
    kept("house", "x", ("a",), lambda: numbers(calls))
    monkeypatch.setattr(module, "_code", lambda part: b"edited")
    kept("house", "x", ("a",), lambda: numbers(calls))
    assert calls == [1, 1]


@pytest.mark.parametrize("damage", [b"", b"PK", b"no archive at all"])
def test_a_damaged_file_is_made_again(folder: Path, damage: bytes) -> None:
    calls: list[int] = []
    kept("house", "x", ("a",), lambda: numbers(calls))
    (file,) = folder.iterdir()
    file.write_bytes(damage)
    kept("house", "x", ("a",), lambda: numbers(calls))
    kept("house", "x", ("a",), lambda: numbers(calls))
    assert calls == [1, 1]


def test_a_flipped_bit_is_noticed(folder: Path) -> None:
    calls: list[int] = []
    kept("house", "x", ("a",), lambda: numbers(calls))
    (file,) = folder.iterdir()
    data = bytearray(file.read_bytes())
    at = bytes(data).index(np.array([1.5]).tobytes())
    data[at] ^= 1
    file.write_bytes(bytes(data))
    assert kept("house", "x", ("a",), lambda: numbers(calls))["kw"][1] == 1.5
    assert calls == [1, 1]


def test_nothing_is_kept_where_nothing_can_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("RIDETHROUGH_CACHE", str(tmp_path / "file"))
    calls: list[int] = []
    for _ in range(2):
        assert kept("house", "x", ("a",), lambda: numbers(calls))["kw"][1] == 1.5
    assert calls == [1, 1]


def test_old_files_make_room(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_FILES", 3)
    for k in range(6):
        kept("house", "x", (str(k),), lambda: numbers([]))
    assert len(list(folder.glob("*.npz"))) == 3


def test_solar_and_sky_are_those_worked_out() -> None:
    house = house_of(Weather(kind="clear_sky"))
    steeper = SOLAR.model_copy(update={"tilt_deg": 60.0})
    for _ in range(2):  # made, then kept
        weather = weather_year(house, YEAR)
        assert weather is not None
        sky = clear_sky_year(house, YEAR, float(weather.temperature_c[0]))
        assert weather.ghi_w_per_m2.tobytes() == sky.ghi_w_per_m2.tobytes()
        assert weather.wind_m_per_s.tobytes() == sky.wind_m_per_s.tobytes()
        got_kw = solar_kw(house, weather, YEAR, SOLAR)
        assert got_kw.max() > 3.0
        assert got_kw.tobytes() == solar_power_kw(house, weather, YEAR, SOLAR).tobytes()
        assert solar_kw(house, weather, YEAR, steeper).tobytes() != got_kw.tobytes()


def test_a_warm_start_does_not_load_the_sky() -> None:
    code = (
        "import sys; from kit.study import read_study; from kit.house import house_year; "
        "from kit.stages.sources import sources; s = read_study('params/studies/metered_house.yaml'); "
        "sources(s, house_year(s.model.house, s.model.year)); print('pvlib' in sys.modules)"
    )
    call = [sys.executable, "-c", code]
    said = [subprocess.check_output(call, cwd=ROOT, text=True) for _ in range(2)]
    assert said == ["True\n", "False\n"]
