"""Every rate plan and outage record that comes with the kit is read by the loader and computed with."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from kit.calendar import calendar_year
from kit.grid.bill import bill
from kit.grid.outages import outage_hours_per_year, ride_weights
from kit.study import read_study
from kit.study.models import StudyModel
from tests.unit.grid.plans import year

PARAMS = Path(__file__).parents[3] / "params"
PLANS = sorted(p.name for p in (PARAMS / "rates").glob("*.yaml"))
RECORDS = sorted(p.name for p in (PARAMS / "outages").glob("*.yaml"))


def model_with(folder: Path, used: str, other: str) -> StudyModel:
    """The metered study with one of its parts exchanged."""
    shutil.copytree(PARAMS, folder / "params")
    study = folder / "params" / "studies" / "metered_house.yaml"
    text = study.read_text(encoding="utf-8")
    assert used in text
    study.write_text(text.replace(used, other), encoding="utf-8")
    return read_study(study).model


@pytest.mark.parametrize("name", PLANS)
def test_plan(name: str, tmp_path: Path) -> None:
    plan = model_with(tmp_path, "evening_peak.yaml", name).rate_plan
    y = calendar_year(2011, "America/Los_Angeles", 60)  # the year that the price series covers
    import_kwh, export_kwh = np.full(y.n, 1.2), np.where((y.hour > 9) & (y.hour < 15), 1.5, 0.0)
    made = bill(plan, y, import_kwh, export_kwh)
    assert made.lines.usd.sum() == pytest.approx(made.total_usd, abs=1e-9)
    assert 600.0 < made.total_usd < 2500.0  # 10,512 kWh drawn at 8 to 25 cents
    assert made.total_usd <= bill(plan, y, import_kwh).total_usd


def test_records_keep_the_published_hours(tmp_path: Path) -> None:
    """US 2023 366.6 min and Maine 2023 1,863 min a year (EIA Tables 11.1, 11.3), but for the cap."""
    suburb = model_with(tmp_path / "a", "mild_suburb.yaml", "mild_suburb.yaml").outages
    rural = model_with(tmp_path / "b", "mild_suburb.yaml", "ice_storm_rural.yaml").outages
    assert outage_hours_per_year(suburb) == pytest.approx(366.6 / 60, rel=0.005)
    assert outage_hours_per_year(rural) == pytest.approx(1863 / 60, rel=0.01)


@pytest.mark.parametrize("name", RECORDS)
def test_record(name: str, tmp_path: Path) -> None:
    record = model_with(tmp_path, "mild_suburb.yaml", name).outages
    winter_c = -10.0 * np.cos(2 * np.pi * year().day_of_year / 365)  # invented, cold in January
    assert ride_weights(record, year(), 24.0, winter_c).sum() == pytest.approx(1.0)
