"""How a battery ages in a study: by the published form along its own path, replaced, under warranty."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from kit.compare import Comparison
from kit.house import house_year
from kit.stages.ageing import Wear, charge_frac, wear_of
from kit.stages.daily import use_of
from kit.stages.sources import sources
from kit.study import StudyError
from kit.systems.ageing import held_full, year_stress
from kit.systems.battery import place_temperature_c
from tests.unit.stages.small_study import compared, study_at, study_text

AT = "options.battery.battery"
TEXT = study_text(("battery",))


def worn(folder: Path, *settings: str) -> Wear:
    study = study_at(folder, text=TEXT, set_values=[f"{AT}.{s}" for s in settings])
    house = house_year(study.model.house, study.model.year)
    option = sources(study, house)["battery"]
    wear = wear_of(house, option, use_of(house, option, 0))
    assert wear is not None
    return wear


def cash_of(c: Comparison) -> np.ndarray:
    return c.outcomes["battery"].cash["replacement"].to_numpy()


def test_the_form_walks_the_charge_of_this_house(tmp_path: Path) -> None:
    study = study_at(tmp_path, text=TEXT, set_values=[f"{AT}.ageing={{scale_frac: 0.8}}"])
    house = house_year(study.model.house, study.model.year)
    option = sources(study, house)["battery"]
    use = use_of(house, option, 0)
    wear = wear_of(house, option, use)
    assert wear is not None
    warm = place_temperature_c("garage", house.temperature_c)
    # 11 kWh nominal, 10 usable: empty of usable energy is a charge of 1/11
    charge = 1.0 - (10.0 - use.stored_kwh) / 11.0
    assert charge_frac(option.battery, use) == pytest.approx(charge)
    assert charge.min() >= 1 / 11 - 1e-9
    by_hand = year_stress(charge, warm, house.year.step_h)
    assert wear.left_frac(7) == pytest.approx(1 - by_hand.loss_frac(7, 0.8), rel=1e-12)
    assert wear.rested is not None
    assert wear.rested.loss_frac(1) == pytest.approx(held_full(warm).loss_frac(1))


def test_a_held_battery_ages_as_one_at_rest(tmp_path: Path) -> None:
    wear = worn(tmp_path, "ageing={form: schimpe}", "everyday=hold")
    assert wear.stress is not None
    assert wear.stress.cycle_squared == 0.0
    assert wear.rested is not None
    assert wear.stress.calendar_squared == pytest.approx(wear.rested.calendar_squared)


def test_it_is_replaced_at_the_capacity_stated_or_at_its_life(tmp_path: Path) -> None:
    long = worn(tmp_path, "ageing={replace_at_frac: 0.05}", "life_years=11")
    assert (long.life_years, long.ends_by) == (11, "its life in years")
    short = worn(tmp_path, "ageing={replace_at_frac: 0.9}", "life_years=11")
    assert short.stress is not None
    assert short.life_years == pytest.approx(short.stress.age_at_loss_years(0.1))
    assert short.life_years < 11
    assert short.ends_by == "capacity down to 90%"
    assert short.left_frac(short.life_years - 1e-9) == pytest.approx(0.9, abs=1e-6)
    assert short.left_frac(short.life_years) == pytest.approx(1.0)


def test_a_warranty_pays_the_first_replacement_and_no_floor_after_it(tmp_path: Path) -> None:
    """Twice the cell's loss, floor at 80 %: both batteries of a stay of 10 years fail early; one is paid."""
    base = [f"{AT}.ageing={{scale_frac: 2.5, replace_at_frac: 0.8}}", f"{AT}.life_years=30"]
    plain = compared(tmp_path, text=TEXT, set_values=base)
    covered = compared(
        tmp_path, text=TEXT, set_values=[*base, f"{AT}.warranty={{years: 10, floor_frac: 0.8}}"]
    )
    paid, free = cash_of(plain), cash_of(covered)
    assert np.count_nonzero(paid) >= 2
    first = int(np.flatnonzero(paid)[0])
    assert free[first] == 0.0
    assert np.array_equal(np.delete(free, first), np.delete(paid, first))


def test_a_warranty_ends_with_its_throughput(tmp_path: Path) -> None:
    base = ["ageing={scale_frac: 2.5, replace_at_frac: 0.8}", "life_years=30"]
    wide = worn(tmp_path, *base, "warranty={years: 10, floor_frac: 0.8, throughput_kwh: 1000000}")
    tight = worn(tmp_path, *base, "warranty={years: 10, floor_frac: 0.8, throughput_kwh: 10}")
    assert wide.free_count == 1
    assert "warranty" in wide.ends_by
    assert tight.free_count == 0


def test_hours_kept_on_shrink_with_age(tmp_path: Path) -> None:
    c = compared(tmp_path, text=TEXT, set_values=[f"{AT}.ageing={{scale_frac: 1.5}}", "asked.keep_on_h=24"])
    columns = c.outcomes["battery"].columns
    assert columns["ride_through_frac_asked_aged"] < columns["ride_through_frac_24h"]


def test_two_losses_at_once_are_refused(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match="not both"):
        study_at(
            tmp_path,
            text=TEXT,
            set_values=[f"{AT}.ageing={{form: naumann}}", f"{AT}.fade_frac_per_year=0.02"],
        )
