"""A grid-tied array is off with the grid, unless a battery's inverter forms one and takes it in."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.unit.stages.small_study import BATTERY, OPTIONS, PANEL, SOLAR, compared, study_text

TIED = SOLAR[:-1] + ", charges_battery_in_outage: false}"
OUTAGE = (
    "must_run_unserved_kwh_per_year",
    "must_run_unserved_h_per_year",
    "wanted_unserved_kwh_per_year",
    "ride_through_frac_168h",
    "fuel_l_per_year",
    "generator_run_h_per_year",
)


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    tied = {"name": "Battery, array grid-tied", "battery": BATTERY, "solar": TIED, "transfer": PANEL}
    same = {"name": "Battery, standing full", "battery": BATTERY.replace("clock", "hold"), "transfer": PANEL}
    same_tied = {**same, "solar": TIED}
    same_wired = {**same, "solar": SOLAR}
    text = study_text(
        ("solar_only", "standby", "standby_solar"),
        tied=tied,
        same=same,
        same_tied=same_tied,
        same_wired=same_wired,
    )
    return compared(tmp_path_factory.mktemp("solar"), text=text)


def columns(found, slug: str) -> list[float]:  # type: ignore[no-untyped-def]
    row = found.summary.set_index("option").loc[slug]
    return [float(row.get(name, np.nan)) for name in OUTAGE]


def test_an_array_alone_serves_nothing_while_the_grid_is_down(found) -> None:  # type: ignore[no-untyped-def]
    alone, nothing = columns(found, "solar_only"), columns(found, "do_nothing")
    assert np.allclose(alone, nothing, equal_nan=True)
    assert found.outcomes["solar_only"].hard_outage["solar_kw"].sum() == 0
    # By day it does work: it saves on the bill.
    bills = {slug: found.outcomes[slug].bill.total_usd for slug in ("do_nothing", "solar_only")}
    assert bills["solar_only"] < bills["do_nothing"]


def test_a_fuel_set_does_not_wake_the_array(found) -> None:  # type: ignore[no-untyped-def]
    assert np.allclose(columns(found, "standby"), columns(found, "standby_solar"), equal_nan=True)
    assert found.outcomes["standby_solar"].hard_outage["solar_kw"].sum() == 0


def test_a_battery_that_does_not_take_it_in_does_not_wake_it_either(found) -> None:  # type: ignore[no-untyped-def]
    assert np.allclose(columns(found, "same"), columns(found, "same_tied"), equal_nan=True)
    assert found.outcomes["same_tied"].hard_outage["solar_kw"].sum() == 0


def test_wired_to_the_battery_it_keeps_charging_it(found) -> None:  # type: ignore[no-untyped-def]
    wired, tied = columns(found, "same_wired"), columns(found, "same_tied")
    assert wired[0] < tied[0]  # less must-run energy is missed
    assert wired[3] > tied[3]  # more outages of a week are ridden through


def test_the_input_limit_of_the_battery_holds_in_an_outage(tmp_path: Path) -> None:
    missed = []
    for limit_kw in (0.0, 0.3, 5.0):
        limited = BATTERY.replace("everyday: clock", f"everyday: hold, solar_charge_kw: {limit_kw}")
        text = study_text((), limited={"battery": limited, "solar": SOLAR, "transfer": PANEL})
        result = compared(tmp_path, text=text)
        row = result.summary.set_index("option").loc["limited"]
        missed.append(float(row["must_run_unserved_kwh_per_year"]))
    assert missed[0] > missed[1] > missed[2]


def test_the_options_are_those_of_the_small_study() -> None:
    assert "solar" not in OPTIONS["standby"]
    assert "battery" not in OPTIONS["standby_solar"]
