"""Rows of the code worksheet, by hand."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from kit.fit.worksheet import ServiceFacts, beyond, gas_work_due, panel_work_due, worksheet
from kit.study.dwelling_models import GasService, PropaneTank
from kit.systems.battery import battery_system
from kit.systems.generator import generator_set
from kit.systems.transfer import power_path
from tests.unit.systems.blocks import a_battery, a_generator, a_transfer


def rows(
    service: ServiceFacts,
    battery: dict[str, Any] | None = None,
    generator: dict[str, Any] | None = None,
    transfer: dict[str, Any] | None = None,
    **more: Any,
) -> pd.DataFrame:
    table = worksheet(
        service,
        battery=None if battery is None else battery_system(a_battery(**battery)),
        generator=None if generator is None else generator_set(a_generator(**generator), 0.0, 20.0),
        path=None if transfer is None else power_path(a_transfer(**transfer)),
        **{"solar_inverter_kw": 0.0, "running_kw": 3.0, **more},
    )
    return table.set_index("rule")


def test_automatic_transfer_of_the_whole_panel_asks_for_the_calculated_load() -> None:
    block = {"connected_to": "whole_house", "running_kw": 10.0, "starting_kw": 12.0}
    name = "capacity of the generator, automatic transfer"
    for calculated_kw, outcome in ((9.9, "within"), (18.6, "beyond"), (None, "open")):
        row = rows(
            ServiceFacts(200.0, 200.0, calculated_kw=calculated_kw),
            generator=block,
            transfer={"kind": "automatic"},
        ).loc[name]
        assert row["outcome"] == outcome
        assert row["have"] == pytest.approx(10.0)
        assert "load management" in row["text"]


def test_manual_transfer_asks_for_what_runs_together() -> None:
    row = rows(ServiceFacts(200.0, 200.0), generator={}, transfer={"kind": "manual"}, running_kw=99.0).loc[
        "capacity, manual transfer"
    ]
    assert row["need"] == 99.0
    assert row["outcome"] == "beyond"


def test_existing_load_rule() -> None:
    # 125 % of 12.5 kW is 15.625 kW, the printed worked figure of the rule; 4 kW of charging on top
    name = "existing load with battery charging"
    fine = ServiceFacts(100.0, 100.0, metered_peak_kw=12.5, metered_step_min=15.0)
    row = rows(fine, battery={"charge_kw": 4.0, "unit_count": 1}).loc[name]
    assert row["need"] == pytest.approx(15.625 + 4.0)
    assert row["have"] == pytest.approx(24.0)
    assert row["outcome"] == "within"
    hourly = ServiceFacts(100.0, 100.0, metered_peak_kw=12.5, metered_step_min=60.0)
    row = rows(hourly, battery={"charge_kw": 4.0}).loc[name]
    assert row["outcome"] == "open"
    assert "15 min" in row["text"]
    assert rows(ServiceFacts(60.0, 60.0, metered_peak_kw=12.5), battery={"charge_kw": 4.0}).loc[
        name, "outcome"
    ] == ("beyond")
    assert rows(ServiceFacts(60.0, 60.0), battery={"charge_kw": 4.0}).loc[name, "outcome"] == "open"


def test_busbar_room() -> None:
    # 200 x 1.2 - 200 = 40 A; 7.68 kW at 240 V is 32 A, times 1.25 = 40 A
    table = rows(ServiceFacts(200.0, 200.0), solar_inverter_kw=7.68)
    assert list(table.loc["room on the busbar", ["need", "have"]]) == pytest.approx([40.0, 40.0])
    assert not panel_work_due(ServiceFacts(200.0, 200.0), 7.68)
    assert panel_work_due(ServiceFacts(200.0, 200.0), 7.70)
    assert not panel_work_due(ServiceFacts(200.0, 225.0), 7.70)  # 225 x 1.2 - 200 = 70 A
    assert not panel_work_due(ServiceFacts(200.0, 100.0), 0.0)


def test_battery_energy_by_place() -> None:
    table = rows(ServiceFacts(200.0, 200.0), battery={"unit_count": 5, "place": "indoors"})
    rated = battery_system(a_battery(unit_count=5)).rated_kwh
    assert list(table.loc["energy in one place", ["need", "have"]]) == pytest.approx([rated, 40.0])
    assert ("energy in one place" in beyond(table.reset_index())) == (rated > 40.0)


def test_distance_of_a_portable_and_of_a_standby_set() -> None:
    service = ServiceFacts(200.0, 200.0, opening_m=3.0)
    portable = rows(service, generator={"connected_to": "plug_in"}).loc["distance of the generator"]
    standby = rows(service, generator={}, transfer={"kind": "automatic"}).loc["distance of the generator"]
    assert portable["need"] == pytest.approx(6.096)
    assert portable["outcome"] == "beyond"
    assert standby["need"] == pytest.approx(1.524)
    assert standby["outcome"] == "within"


def test_gas() -> None:
    service = ServiceFacts(200.0, 200.0, gas=GasService(meter_rating_kw=60.0, other_appliances_kw=25.0))
    gas_set = generator_set(a_generator(fuel="natural_gas"), 0.0, 20.0)
    row = rows(service, generator={"fuel": "natural_gas"}).loc["gas through the meter"]
    assert row["need"] == pytest.approx(136_486 / 3412.14 + 25.0, rel=1e-3)
    assert gas_work_due(service, gas_set) == (row["outcome"] == "beyond")
    assert not gas_work_due(ServiceFacts(200.0, 200.0), gas_set)
    tank = PropaneTank(diameter_m=0.95, length_m=3.0)
    cold = ServiceFacts(200.0, 200.0, coldest_c=-35.0)
    propane = {"fuel": "propane", "fuel_on_site_l": 1500.0}
    assert rows(cold, generator=propane, propane_tank=tank).loc[
        "propane boiled off in the cold", "outcome"
    ] == ("beyond")
    assert rows(cold, generator=propane).loc["propane boiled off in the cold", "outcome"] == "open"


def test_every_row_has_a_source_and_words() -> None:
    table = rows(
        ServiceFacts(200.0, 200.0), battery={}, generator={"fuel": "propane"}, transfer={"kind": "automatic"}
    )
    assert len(table) >= 7
    assert (table["source"].str.len() > 5).all()
    assert (table["text"].str.len() > 10).all()
