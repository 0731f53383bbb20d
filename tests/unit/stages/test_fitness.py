"""What may be built and what reaches the loads: never a crash, always a finding, never a false yes."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.compare import Comparison
from tests.unit.stages.small_study import BATTERY, OPTIONS, PANEL, compared, study_text


def codes(c: Comparison, slug: str) -> set[str]:
    return {f.code for f in c.findings if f.option == slug and f.severity == "stop"}


def ride(c: Comparison, slug: str, hours: str = "8h") -> float:
    value = c.outcomes[slug].columns[f"ride_through_frac_{hours}"]
    assert isinstance(value, float)
    return value


def test_a_must_run_load_on_no_circuit(tmp_path: Path) -> None:
    """The pump is off the backed panel: panel options never meet the target; a whole-house one does."""
    c = compared(
        tmp_path,
        ("well_pump: {", "well_pump: {backed: false, "),
        text=study_text(("battery", "portable", "standby")),
    )
    nothing = c.outcomes["do_nothing"].columns
    for slug in ("battery", "portable"):
        row = c.outcomes[slug].columns
        assert "must_run_not_reached" in codes(c, slug)
        assert row["meets_target"] is False
        assert row["feasible"] is False
        assert ride(c, slug) == ride(c, slug, "4h") == ride(c, slug, "asked") == 0.0
        assert (c.outcomes[slug].hours_kept_on["share_frac"] == 0.0).all()
        assert row["must_run_unserved_h_per_year"] == pytest.approx(nothing["must_run_unserved_h_per_year"])
        assert row["failed_outage_count_per_10y"] == pytest.approx(nothing["failed_outage_count_per_10y"])
        assert row["longest_unserved_h"] == nothing["longest_unserved_h"]
        energy = row["must_run_unserved_kwh_per_year"]
        assert isinstance(energy, float)
        assert 0.0 < energy < float(nothing["must_run_unserved_kwh_per_year"] or 0)  # the rest is served
    assert c.verdict.winner == "standby"


def test_wanted_loads_asked_for_must_be_reached_too(tmp_path: Path) -> None:
    """Asked for the television as well, which is not on the panel: the battery no longer meets it."""
    text = study_text(("battery", "standby"))
    off = ("television: {", "television: {backed: false, ")
    asked = ("keep_on_h: 8,", "keep_on_h: 8, loads: wanted,")
    assert set(compared(tmp_path, off, text=text).verdict.meets) == {"battery", "standby"}
    assert set(compared(tmp_path, asked, text=text).verdict.meets) == {"battery", "standby"}
    c = compared(tmp_path, off, asked, text=text)
    assert c.verdict.meets == ("standby",)
    assert ride(c, "battery") == 0.0
    assert "must_run_not_reached" in codes(c, "battery")
    assert "must-run and wanted loads" in c.verdict.sentences[0]


def test_wanted_loads_asked_for_must_be_carried(tmp_path: Path) -> None:
    """A 6 kW range is asked for too: 5 kW of battery carry the must-run loads only."""
    text = study_text(("battery",)).replace(
        "    heater:", "    range: {running_w: 6000, voltage_v: 240, tier: wanted}\n    heater:"
    )
    assert compared(tmp_path, text=text).verdict.meets == ("battery",)
    c = compared(tmp_path, ("keep_on_h: 8,", "keep_on_h: 8, loads: wanted,"), text=text)
    assert c.verdict.meets == ()
    assert "cannot_carry" in codes(c, "battery")


def test_a_240_v_load_on_a_120_v_system_is_a_finding(tmp_path: Path) -> None:
    c = compared(
        tmp_path, text=study_text(("battery",)), set_values=["options.battery.battery.voltage_v=120"]
    )
    assert "needs_240v" in codes(c, "battery")
    row = c.outcomes["battery"].columns
    assert row["feasible"] is False
    assert row["meets_target"] is False
    assert ride(c, "battery") == 0.0
    assert row["fuel_l_per_year"] == 0.0


def test_too_weak_serves_nothing(tmp_path: Path) -> None:
    settings = [f"options.battery.battery.{name}=0.9" for name in ("continuous_kw", "surge_kw")]
    c = compared(tmp_path, text=study_text(("battery",)), set_values=settings)
    nothing, row = c.outcomes["do_nothing"].columns, c.outcomes["battery"].columns
    assert "cannot_carry" in codes(c, "battery")
    for name in ("must_run_unserved_h_per_year", "must_run_unserved_kwh_per_year"):
        assert row[name] == pytest.approx(nothing[name], rel=1e-9)


@pytest.mark.parametrize(
    ("forbidden", "slugs"),
    [
        ("roof", {"solar_only", "standby_solar", "battery_solar"}),
        ("outdoor_set", {"portable", "standby", "standby_solar", "gas_set"}),
        ("gas", {"gas_set"}),
    ],
)
def test_what_may_not_be_built_stays_in_the_table(tmp_path: Path, forbidden: str, slugs: set[str]) -> None:
    c = compared(tmp_path, set_values=[f"allowed.{forbidden}=false"])
    assert list(c.summary["option"]) == ["do_nothing", *OPTIONS]
    stopped = {slug for slug in OPTIONS if "not_allowed" in codes(c, slug)}
    assert stopped >= slugs
    for slug in stopped:
        row = c.outcomes[slug].columns
        assert row["feasible"] is False
        assert row["meets_target"] is False
        assert isinstance(row["lifetime_cost_usd"], float)
    assert c.verdict.winner not in stopped


def test_solar_alone_serves_nothing_in_an_outage(tmp_path: Path) -> None:
    c = compared(tmp_path, text=study_text(("solar_only",)))
    nothing, row = c.outcomes["do_nothing"].columns, c.outcomes["solar_only"].columns
    for name in row:
        if "unserved" in name or "ride_through" in name or "outage" in name or "interruption" in name:
            assert row[name] == nothing[name], name


def test_a_plug_in_battery_reaches_cords_only(tmp_path: Path) -> None:
    plug = BATTERY.replace("everyday: clock", "everyday: hold, connected_to: plug_in")
    c = compared(tmp_path, text=study_text((), plug={"battery": plug, "transfer": PANEL}))
    (finding,) = [f for f in c.findings if f.code == "must_run_not_reached"]
    for name in ("lights", "well pump"):
        assert name in finding.text
    assert "refrigerator" not in finding.text
