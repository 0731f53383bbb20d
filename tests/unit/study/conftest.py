"""A small invented study on disk, to be spoilt one line at a time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from kit.study import Problem, Study, StudyError, read_study

STUDY = """\
kit_file: 1
name: Invented house
invented: true
year: 2025
asked: {keep_on_h: 24}
grid_co2e_kg_per_kwh: 0.4
house: ../houses/small.yaml
rate_plan:
  source: invented tariff sheet
  as_of: 2026-05-01
  fixed_usd_per_month: 20
  energy:
    day: {hours: 6-22, price_usd_per_kwh: 0.2}
    night: {hours: 22-6, price_usd_per_kwh: 0.1}
outages:
  classes:
    routine: {events_per_year: 1.2, duration: {kind: exponential, mean_h: 2}}
fuels:
  propane: {price_usd_per_gal: 3.0}
money: {price_year: 2025, discount_rate_frac: 0.03}
options:
  small_set:
    generator: ../systems/set.yaml
  pack:
    battery: ../systems/pack.yaml
"""
HOUSE = """\
kit_file: 1
time_zone: America/New_York
latitude_deg: 42
longitude_deg: -73
altitude_ft: 1000
appliances:
  refrigerator: {running_w: 150, starting_total_w: 1200, tier: must_run}
"""
SET = """\
kit_file: 1
source: invented data sheet
fuel: propane
running_kw: 9
starting_kw: 10
fuel_points:
  - {output_kw: 0, fuel_gal_per_h: 0.6}
  - {output_kw: 9, fuel_gal_per_h: 1.7}
tank_gal: 100
onsite_nox_g_per_kwh: 5
onsite_co_g_per_kwh: 300
cost:
  price_usd: {likely: 3500, low: 3000, high: 4500, source: three invented quotes, as_of: 2026-04}
  install_usd: 2000
"""
PACK = """\
kit_file: 1
nominal_kwh: 10
usable_kwh: 9
continuous_kw: 5
charge_kw: 3
charge_efficiency_frac: 0.95
discharge_efficiency_frac: 0.95
cost: {price_usd: 8000, source: invented}
"""

Spoil = Callable[..., tuple[Problem, ...]]


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """The path of a study that holds together; its parts stand beside it."""
    files = {
        "studies/base.yaml": STUDY,
        "houses/small.yaml": HOUSE,
        "systems/set.yaml": SET,
        "systems/pack.yaml": PACK,
    }
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path / "studies" / "base.yaml"


@pytest.fixture
def swap(study: Path) -> Callable[[str, str, str], None]:
    """Replace a text in one of the files by another; the text must be there."""

    def change(name: str, old: str, new: str) -> None:
        file = study.parents[1] / name
        text = file.read_text()
        assert old in text
        file.write_text(text.replace(old, new))

    return change


@pytest.fixture
def spoil(study: Path, swap: Callable[[str, str, str], None]) -> Spoil:
    """Replace texts (file, old, new), read the study, give back the problems found."""

    def read(*changes: tuple[str, str, str], set_values: tuple[str, ...] = ()) -> tuple[Problem, ...]:
        for change in changes:
            swap(*change)
        with pytest.raises(StudyError) as caught:
            read_study(study, set_values)
        return caught.value.problems

    return read


@pytest.fixture
def good(study: Path) -> Study:
    return read_study(study)
