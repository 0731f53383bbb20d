"""Emissions of making the equipment and the credit for energy sent out, by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.account.cash import Piece, system_cost
from kit.account.emissions import embodied_co2e_kg
from kit.study.equipment_models import Cost
from tests.unit.stages.small_study import compared, study_text


def test_replacements_are_made_too() -> None:
    """A battery of 1,200 kg made twice, a set of 300 kg once: 2,700 kg."""
    battery = Piece(Cost(price_usd=1.0, embodied_co2e_kg=1200.0), replaced_years=(12.0,))
    engine = Piece(Cost(price_usd=1.0, embodied_co2e_kg=300.0))
    assert embodied_co2e_kg([battery, engine]) == pytest.approx(2 * 1200 + 300)


def test_all_or_none() -> None:
    known, unknown = Cost(price_usd=1.0, embodied_co2e_kg=300.0), Cost(price_usd=1.0)
    assert embodied_co2e_kg([Piece(known), Piece(unknown)]) is None
    assert embodied_co2e_kg([Piece(known), Piece(Cost(price_usd=0.0, install_usd=900.0))]) == 300.0
    assert embodied_co2e_kg([]) == 0.0


def test_units_count() -> None:
    assert system_cost(Cost(price_usd=1.0, embodied_co2e_kg=1200.0), unit_count=3).embodied_co2e_kg == 3600.0
    assert system_cost(Cost(price_usd=1.0), unit_count=3).embodied_co2e_kg is None


def test_the_stay_adds_up(tmp_path: Path) -> None:
    """Ten years of the yearly figure and 900 kg of making; sold energy credited at half the grid's factor."""
    sets = [
        "options.battery_solar.battery.cost.embodied_co2e_kg=600",
        "options.battery_solar.solar.cost.embodied_co2e_kg=250",
        "options.battery_solar.transfer.cost.embodied_co2e_kg=50",
    ]
    text = study_text(("battery_solar",))
    plain = compared(tmp_path, text=text, set_values=sets).outcomes["battery_solar"]
    credited = compared(tmp_path, text=text, set_values=[*sets, "export_credit_frac=0.5"]).outcomes[
        "battery_solar"
    ]
    assert plain.columns["embodied_co2e_kg"] == pytest.approx(900.0)
    assert plain.columns["co2e_kg_of_stay"] == pytest.approx(10 * plain.columns["co2e_kg_per_year"] + 900.0)
    sent_kwh = float(plain.everyday.export_kwh.sum())
    assert sent_kwh > 100
    assert plain.columns["co2e_kg_per_year"] - credited.columns["co2e_kg_per_year"] == pytest.approx(
        0.5 * 0.35 * sent_kwh
    )
