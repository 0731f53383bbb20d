"""The power and start check, row by row."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import pytest

from kit.fit import Fit, Site, fit
from kit.fit.inputs import Everything
from kit.systems.battery import battery_system
from kit.systems.generator import generator_set
from kit.systems.transfer import power_path
from tests.unit.systems.blocks import a_battery, a_generator, a_transfer


@dataclass(frozen=True)
class ListPeaks:
    """A refrigerator, a furnace fan and a 1/2 hp well pump at 240 V."""

    running_w: float = 2500.0
    worst_start_w: float = 4600.0
    worst_start_slug: str = "well_pump"
    all_start_w: float = 6400.0
    needs_240v: tuple[str, ...] = ("well_pump",)
    largest_120v_w: float = 1500.0
    leg_w: float = 1700.0
    worst_start_va: float | None = None
    leg_start_w: float | None = None


@dataclass(frozen=True)
class Array:
    """A solar array as fit sees it."""

    inverter_kw: float = 5.0
    charges_battery_in_outage: bool = True
    allowed_with_generator: bool = False


PEAKS = ListPeaks()


def check(**parts: Any) -> Fit:
    peaks = parts.pop("peaks", PEAKS)
    return fit(peaks, option="o", **parts)


def the_battery(**changes: Any) -> Any:
    return battery_system(a_battery(**changes))


def the_set(**changes: Any) -> Any:
    return generator_set(a_generator(**changes), 0.0, 20.0)


def row(got: Fit, name: str) -> Any:
    (found,) = got.rows[got.rows["check"] == name].to_dict("records")
    return found


def codes(got: Fit, severity: str) -> set[str]:
    return {f.code for f in got.findings if f.severity == severity}


def test_columns_and_a_fitting_battery() -> None:
    got = check(battery=the_battery(), tolerates_gap_s=30.0)
    assert list(got.rows.columns) == ["check", "need", "have", "unit", "ok", "text"]
    assert got.carries_all
    assert got.starts_all
    assert got.feasible
    assert got.available_kw == 5.0
    assert got.rows[~got.rows["ok"]]["check"].tolist() == ["all starting at once, battery"]


def test_running_watts_at_the_edge() -> None:
    assert row(check(battery=the_battery(continuous_kw=2.5)), "running power, battery")["ok"]
    got = check(battery=the_battery(continuous_kw=2.49))
    failing = row(got, "running power, battery")
    assert not failing["ok"]
    assert (failing["need"], failing["have"], failing["unit"]) == (2.5, 2.49, "kW")
    assert "All must-run loads together draw 2.50 kW, but the battery carries only 2.49 kW" in failing["text"]
    assert not got.carries_all
    assert "cannot_carry" in codes(got, "stop")
    assert not got.feasible


def test_solar_never_helps_to_carry() -> None:
    got = check(battery=the_battery(continuous_kw=2.0), solar=Array())
    assert not got.carries_all


def test_a_start_needs_surge_watts_for_a_second() -> None:
    """4.6 kW start on 4 kW continuous: a 6 kW surge of 10 s does it, of 0.5 s or unknown does not."""
    good = check(battery=the_battery(continuous_kw=4.0, surge_kw=6.0, surge_s=10.0))
    assert good.starts_all
    assert row(good, "surge time, battery")["ok"]
    for surge_s in (0.5, 0.0):
        got = check(battery=the_battery(continuous_kw=4.0, surge_kw=6.0, surge_s=surge_s))
        assert not got.starts_all
        assert row(got, "hardest start, battery")["have"] == 4.0
        assert "cannot_start" in codes(got, "stop")
    assert "When the well pump starts" in row(got, "hardest start, battery")["text"]


def test_no_surge_row_where_continuous_power_starts_it() -> None:
    got = check(battery=the_battery(continuous_kw=5.0, surge_kw=6.0, surge_s=0.0))
    assert "surge time, battery" not in set(got.rows["check"])
    assert got.starts_all


def test_a_set_rated_in_kva() -> None:
    gs = the_set(starting_basis="kva", starting_kw=9.0)
    got = check(generator=gs, path=power_path(a_transfer()), worst_start_kva=9.5)
    failing = row(got, "hardest start, generator")
    assert (failing["need"], failing["have"], failing["unit"], failing["ok"]) == (9.5, 9.0, "kVA", False)
    got = check(generator=gs, path=power_path(a_transfer()))
    assert "Starting watts are taken as volt-amperes." in row(got, "hardest start, generator")["text"]
    assert got.starts_all


def test_240_v_loads_on_a_120_v_source() -> None:
    got = check(battery=the_battery(voltage_v=120))
    failing = row(got, "voltage, battery")
    assert (failing["need"], failing["have"], failing["ok"]) == (240.0, 120.0, False)
    assert failing["text"].endswith("only 120 V here: well pump.")
    assert "needs_240v" in codes(got, "stop")
    assert check(battery=the_battery(voltage_v=120), peaks=ListPeaks(needs_240v=())).feasible


def test_a_120_v_inlet_makes_a_120_v_source() -> None:
    path = power_path(a_transfer(kind="manual", inlet_a=30.0, voltage_v=120))
    assert "needs_240v" in codes(check(generator=the_set(), path=path), "stop")


def test_legs() -> None:
    """5 kW at 240 V carries 2.5 kW a leg."""
    got = check(battery=the_battery(), peaks=ListPeaks(leg_w=2600.0))
    failing = row(got, "one 120 V leg, battery")
    assert (failing["need"], failing["have"], failing["ok"]) == (2.6, 2.5, False)
    assert not got.carries_all
    got = check(battery=the_battery(), peaks=ListPeaks(largest_120v_w=2600.0))
    assert not row(got, "start on one 120 V leg, battery")["ok"]
    assert not got.starts_all


def test_the_path_limits_a_leg_too() -> None:
    """20 A at 240 V: 3.84 kW continuous, 1.92 on a leg; an inverter in parallel adds its 2.5 behind."""
    path = power_path(a_transfer(kind="manual", inlet_a=20.0))
    got = check(generator=the_set(), path=path)
    assert row(got, "one 120 V leg, generator")["have"] == pytest.approx(1.92)
    beside = the_battery(parallel_with_generator=True)
    got = check(battery=beside, generator=the_set(), path=path)
    assert row(got, "one 120 V leg, generator with battery")["have"] == pytest.approx(4.42)


def test_a_120_v_source_has_one_leg() -> None:
    got = check(battery=the_battery(voltage_v=120), peaks=ListPeaks(needs_240v=(), leg_w=4000.0))
    assert not any("leg" in name for name in got.rows["check"])


def test_the_power_path_limits_and_is_named() -> None:
    """20 A at 240 V: 4.8 kW peak, 3.84 kW continuous."""
    path = power_path(a_transfer(kind="manual", inlet_a=20.0))
    got = check(generator=the_set(), path=path, peaks=ListPeaks(running_w=4000.0))
    failing = row(got, "power path, generator")
    assert failing["have"] == pytest.approx(3.84)
    assert not failing["ok"]
    assert "the inlet lets 3.84 kW through" in failing["text"]
    assert row(got, "hardest start, generator")["have"] == pytest.approx(4.8)
    assert got.available_kw == pytest.approx(3.84)


def test_a_weak_source_is_not_the_path_s_fault() -> None:
    got = check(battery=the_battery(continuous_kw=1.0))
    assert row(got, "power path, battery")["ok"]


def test_cords_bypass_the_transfer_equipment() -> None:
    path = power_path(a_transfer(rating_a=5.0))
    got = check(battery=the_battery(connected_to="plug_in"), path=path)
    assert got.available_kw == 5.0


def test_unreached_loads_stop() -> None:
    got = check(battery=the_battery(), unreached_must_run=("sump_pump", "furnace"))
    failing = row(got, "must-run loads not reached")
    assert failing["have"] == 2.0
    assert "sump pump, furnace" in failing["text"]
    assert "must_run_not_reached" in codes(got, "stop")
    assert not got.carries_all


def test_time_without_power_warns_but_never_stops() -> None:
    got = check(generator=the_set(), path=power_path(a_transfer(kind="manual")), tolerates_gap_s=60.0)
    failing = row(got, "time without power")
    assert (failing["need"], failing["have"], failing["ok"]) == (60.0, 1215.0, False)
    assert "Someone must be there" in failing["text"]
    assert "time_without_power" in codes(got, "warning")
    assert got.feasible
    assert got.gap is not None
    assert got.gap.needs_person


def test_no_gap_row_without_a_tolerance() -> None:
    got = check(battery=the_battery(), tolerates_gap_s=math.inf)
    assert "time without power" not in set(got.rows["check"])


@pytest.mark.parametrize(("fuel", "severity"), [("diesel", "warning"), ("gasoline", "note")])
def test_light_load(fuel: str, severity: str) -> None:
    got = check(generator=the_set(fuel=fuel), path=power_path(a_transfer()), mean_must_run_kw=0.5)
    failing = row(got, "least load of the generator")
    assert (failing["need"], failing["have"], failing["ok"]) == (pytest.approx(2.4), 0.5, False)
    assert ("wet stacking" in failing["text"]) == (fuel == "diesel")
    assert "light_load" in codes(got, severity)


def test_charging_a_battery_loads_the_set() -> None:
    got = check(
        generator=the_set(fuel="diesel"),
        battery=the_battery(generator_charge_kw=2.0),
        path=power_path(a_transfer()),
        mean_must_run_kw=0.5,
    )
    assert row(got, "least load of the generator")["have"] == 2.5


def test_a_weak_battery_beside_a_strong_set_warns() -> None:
    """Each serves alone at some time: the option is feasible, yet does not start everything."""
    got = check(battery=the_battery(continuous_kw=2.0), generator=the_set(), path=power_path(a_transfer()))
    assert got.feasible
    assert not got.carries_all
    assert not got.starts_all
    assert {"source_cannot_carry", "source_cannot_start"} <= codes(got, "warning")
    assert got.available_kw == 8.0


def test_in_parallel_they_add_up() -> None:
    weak = the_battery(continuous_kw=2.0, parallel_with_generator=True)
    got = check(battery=weak, generator=the_set(), path=power_path(a_transfer()))
    assert (got.available_kw, got.battery_kw, got.generator_kw) == (10.0, 2.0, 8.0)
    path = power_path(a_transfer(inlet_a=20.0))  # 3.84 kW of the set, then 2 kW of the inverter
    assert check(battery=weak, generator=the_set(), path=path).available_kw == pytest.approx(5.84)
    got = check(generator=the_set(), path=path)
    assert got.battery_kw == 0.0
    assert got.generator_kw == pytest.approx(3.84)


@pytest.mark.parametrize(
    ("forbidden", "parts", "what"),
    [
        ({"outdoor_set": False}, {"generator": "set"}, "a generator outdoors"),
        ({"gas": False}, {"generator": "gas"}, "a piped gas supply"),
        ({"roof": False}, {"solar": Array()}, "solar on the roof"),
        ({"wiring": False}, {"battery": "wired"}, "changes to the wiring"),
    ],
)
def test_what_may_not_be_built(forbidden: dict[str, bool], parts: dict[str, Any], what: str) -> None:
    made = {"set": the_set(), "gas": the_set(fuel="natural_gas"), "wired": the_battery()}
    built = {key: made.get(value, value) if isinstance(value, str) else value for key, value in parts.items()}
    got = check(**built, allowed=Everything(**forbidden))
    assert [f.text for f in got.findings if f.code == "not_allowed"] == [
        f"This option needs {what}, which may not be built at this address."
    ]
    assert not got.feasible


def test_a_plug_in_battery_needs_no_wiring() -> None:
    got = check(battery=the_battery(connected_to="plug_in"), allowed=Everything(wiring=False))
    assert "not_allowed" not in codes(got, "stop")


def test_solar_alone_serves_nothing_yet_may_be_bought() -> None:
    got = check(solar=Array())
    assert got.available_kw == 0.0
    assert not got.carries_all
    assert not got.starts_all
    assert got.gap is None
    assert got.feasible
    assert not row(got, "running power, none")["ok"]
    assert "solar_off_in_outage" in codes(got, "warning")


def test_every_failing_row_explains_itself() -> None:
    got = check(
        battery=the_battery(voltage_v=120, continuous_kw=1.0, connected_to="plug_in"),
        generator=the_set(),
        path=power_path(a_transfer(kind="manual", inlet_a=10.0, voltage_v=120)),
        unreached_must_run=("sump_pump",),
        tolerates_gap_s=10.0,
        mean_must_run_kw=0.3,
        allowed=Everything(outdoor_set=False),
        site=Site(),
    )
    failing = got.rows[~got.rows["ok"]]
    assert len(failing) >= 8
    assert failing["text"].str.len().min() > 40
    assert failing["text"].str.endswith(".").all()
    assert not got.rows[["need", "have"]].isna().any().any()
