"""The whole house year and what it tells the reader."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from kit.house import house_year, outage_loads
from kit.study.house_models import Appliance, House, Meter, Thermostat, Weather
from tests.unit.house.meter_files import block, entry, feed, reading_type, table

ROOT = Path(__file__).parents[3]
COASTAL = str(ROOT / "params/data/meter/coastal_mf_year_monthly_blocks.xml")
TYPICAL = Weather(kind="tmy3", file=str(ROOT / "params/data/weather/tmy3_723170_greensboro_NC.csv"))
EASTERN, PACIFIC = "America/New_York", "America/Los_Angeles"
REFRIGERATOR = Appliance(running_w=600.0, duty_frac=0.25, tier="must_run")
HEAT = Appliance(running_w=2000.0, thermostat=Thermostat(idle_at_c=15.0, full_at_c=-10.0), tier="must_run")


def house_of(
    time_zone: str = EASTERN,
    meter: Meter | None = None,
    weather: Weather | None = None,
    **appliances: Appliance,
) -> House:
    return House(
        time_zone=time_zone,
        latitude_deg=36.1,
        longitude_deg=-79.95,
        meter=meter,
        weather=weather,
        appliances=appliances or {"refrigerator": REFRIGERATOR},
    )


def codes(house: House, year: int) -> dict[str, str]:
    return {finding.code: finding.text for finding in house_year(house, year).findings}


def test_a_list_makes_the_load_of_a_house_without_a_meter() -> None:
    found = house_year(house_of(), 2025)
    assert np.allclose(found.load_kw, 0.15)
    assert (found.meter, found.weather, found.findings) == (None, None, ())
    assert np.all(found.temperature_c == 20.0)
    assert not found.lists.metered


def test_a_meter_makes_the_load_and_the_list_the_outage() -> None:
    found = house_year(house_of(PACIFIC, Meter(file=COASTAL)), 2011)
    assert found.load_kw.sum() == pytest.approx(4425.305)
    assert found.lists.metered
    whole = outage_loads(house_of(PACIFIC, Meter(file=COASTAL)), found.lists, "whole_house")
    assert np.allclose(whole.behind_kw, found.load_kw)
    assert np.allclose(whole.must_run_kw, 0.15)
    panel = outage_loads(house_of(PACIFIC, Meter(file=COASTAL)), found.lists, "backed_panel")
    # The list asks 0.15 kW there and the meter never reads less than 0.17 kW.
    assert np.allclose(panel.behind_kw, 0.15)


def test_what_was_done_to_the_meter_is_said() -> None:
    said = codes(house_of(EASTERN, Meter(file=COASTAL, multiply_by=2.5)), 2024)
    assert "a sample times 2.5" in said["meter_scaled"]
    assert "2011-01-01 to 2012-01-01" in said["meter_mapped"]
    assert "laid on 2024 by local month, weekday and hour" in said["meter_mapped"]
    assert "another time zone" in said["meter_other_clock"]
    assert "1.87 times its mean" in said["meter_smooth"]


def test_a_meter_of_the_study_year_is_not_said_to_be_mapped() -> None:
    assert set(codes(house_of(PACIFIC, Meter(file=COASTAL)), 2011)) == {"meter_smooth"}


def test_a_peaky_meter_is_not_smooth(tmp_path: Path) -> None:
    path = tmp_path / "meter.csv"
    kw = np.where(np.arange(8760) % 24 == 18, 6.0, 0.5)
    path.write_text(table("2025-01-01", "2026-01-01", EASTERN, kw))
    assert "meter_smooth" not in codes(house_of(EASTERN, Meter(file=str(path))), 2025)


def test_gaps_and_zeros_are_said(tmp_path: Path) -> None:
    kw = np.ones(8760)
    kw[50:53] = 0.0
    lines = table("2025-01-01", "2026-01-01", EASTERN, kw).splitlines(keepends=True)
    path = tmp_path / "meter.csv"
    path.write_text("".join(lines[:201] + lines[205:]))
    said = codes(house_of(EASTERN, Meter(file=str(path))), 2025)
    assert "1 gaps of 4 h" in said["meter_gaps"]
    assert "4 h of 2025 are filled" in said["meter_gaps"]
    assert "3 readings are zero, in 1 runs of up to 3 h" in said["meter_zeros"]


def test_what_was_doubtful_in_the_file_is_said(tmp_path: Path) -> None:
    path = tmp_path / "meter.csv"
    kw = np.where(np.arange(8760) % 24 == 18, 60.0, 0.5)
    lines = table("2025-01-01", "2026-01-01", EASTERN, kw).splitlines()
    rows = [f"{line},0.25" for line in lines[1:]]
    path.write_text("\n".join(["Start,kWh,Export kWh", *rows, *rows[:3]]))
    said = codes(house_of(EASTERN, Meter(file=str(path))), 2025)
    # 200 A at 240 V carry 48 kW.
    assert "peak of 60.0 kW is above the 48.0 kW that the service carries" in said["meter_above_service"]
    assert "6 readings of the meter file stood there twice" in said["meter_duplicates"]
    assert "2,190 kWh sent to the grid, in 8760 readings" in said["meter_reverse"]


def test_a_doubtful_clock_reaches_the_findings(tmp_path: Path) -> None:
    clock = pd.date_range("2025-01-01", "2026-01-01", freq="h", tz=EASTERN, inclusive="left")
    seconds = clock.tz_localize(None).as_unit("s").asi8
    path = tmp_path / "meter.xml"
    readings = "".join(block([500], int(s)) for s in seconds)  # all equal: the doubled hour goes unnoticed
    path.write_text(feed(entry(reading_type()), entry(readings)))
    said = codes(house_of(EASTERN, Meter(file=str(path))), 2025)
    assert "look like a local clock's written as UTC" in said["meter_clock_doubtful"]
    said = codes(house_of(EASTERN, Meter(file=str(path), times="local_clock")), 2025)
    assert not {"meter_clock_doubtful", "meter_gaps", "meter_mapped", "meter_duplicates"} & set(said)


def test_a_list_above_the_meter_is_said() -> None:
    heater = Appliance(running_w=5000.0, tier="wanted")
    said = codes(house_of(PACIFIC, Meter(file=COASTAL), heater=heater), 2011)
    assert "5.00 kW on average, more than the 0.51 kW metered" in said["list_above_meter"]


def test_weather_findings() -> None:
    lamp = Appliance(running_w=10.0, tier="wanted")
    assert "steady 20 C" in codes(house_of(heat=HEAT, lamp=lamp), 2025)["weather_none"]
    clear = Weather(kind="clear_sky", temperature_c=5.0)
    assert "upper limit" in codes(house_of(weather=clear), 2025)["weather_clear_sky"]
    assert codes(house_of(weather=TYPICAL), 2025) == {}
    both = codes(house_of(PACIFIC, Meter(file=COASTAL), TYPICAL), 2011)
    assert "Load and weather are not of the same year" in both["weather_not_of_load_year"]
    far = house_of(weather=TYPICAL).model_copy(update={"latitude_deg": 40.0})
    # 3.9 degrees of latitude are 434 km.
    assert "about 434 km" in codes(far, 2025)["weather_far"]


def test_a_thermostat_follows_the_weather_file() -> None:
    found = house_year(house_of(weather=TYPICAL, heat=HEAT), 2025)
    load_kw = found.lists.everyday_by_appliance_kw["heat"]
    assert np.all(load_kw[found.temperature_c >= 15] == 0)
    assert load_kw[np.argmin(found.temperature_c)] == 2.0


def test_importing_the_house_loads_nothing_heavy() -> None:
    script = "import sys, kit.house; print([m for m in ('pandas', 'pvlib', 'scipy') if m in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True
    )
    assert done.stdout.strip() == "[]"
