"""Laws that hold for any house."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.calendar import calendar_year
from kit.house import read_meter
from kit.house.appliances import list_loads, outage_loads
from kit.house.coincidence import simultaneous
from kit.house.peaks import peaks, worst_starts
from kit.study.house_models import Appliance, Cycle, House, Meter, Motor, Season, Thermostat, Use

ZONE = "America/New_York"
YEAR = calendar_year(2024, ZONE, 60)
TEMPERATURE_C = 15 + 15 * np.sin(2 * np.pi * np.arange(YEAR.n) / YEAR.n)
COASTAL = Path(__file__).parents[3] / "params/data/meter/coastal_mf_year_monthly_blocks.xml"

hours = st.sampled_from(["", "0-24", "6-9, 17-22.5", "22-6", "12.25-12.5"])
seasons = st.sampled_from(
    [{}, {"wet": Season(months=[4, 5], duty_frac=0.9)}, {"dry": Season(months=[8], weekday="1-2")}]
)
uses = st.one_of(
    st.builds(
        Use, weekday=hours, weekend=hours, months=st.lists(st.integers(1, 12), min_size=1, max_size=12)
    ),
    st.builds(Use, weekday=hours, weekend=hours, seasons=seasons),
)
motors = st.sampled_from([None, Motor(shaft_hp=8.0, code_letter="G"), Motor(shaft_hp=8.0, code_letter="L")])
appliances = st.builds(
    Appliance,
    count=st.integers(1, 5),
    running_w=st.floats(1, 5000),
    power_factor_frac=st.floats(0.5, 1),
    starting_extra_w=st.one_of(st.none(), st.floats(0, 9000)),
    soft_start_frac=st.one_of(st.none(), st.floats(0.3, 1)),
    voltage_v=st.sampled_from([120, 240]),
    duty_frac=st.floats(0, 1),
    thermostat=st.sampled_from(
        [
            None,
            Thermostat(idle_at_c=18.0, full_at_c=-5.0),
            Thermostat(idle_at_c=22.0, full_at_c=35.0),
            Thermostat(idle_at_c=16.0, load_kw_per_c=0.08, mode="heating", outage_idle_at_c=12.0),
        ]
    ),
    use=uses,
    outage_use=st.one_of(st.none(), uses),
    outage_duty_frac=st.one_of(st.none(), st.floats(0, 1)),
    tier=st.sampled_from(["must_run", "wanted", "can_wait"]),
    connection=st.sampled_from(["cord", "wired"]),
    backed=st.booleans(),
)
by_motor = st.builds(
    Appliance,
    running_w=st.floats(1, 5000),
    motor=motors,
    leg=st.sampled_from([None, 1, 2]),
    cycle=st.sampled_from([None, Cycle(on_minutes=5, off_minutes=25)]),
    use=uses,
    tier=st.sampled_from(["must_run", "wanted", "can_wait"]),
)
houses = st.dictionaries(st.sampled_from("abcdef"), st.one_of(appliances, by_motor), min_size=1).map(
    lambda pieces: House(
        time_zone=ZONE,
        latitude_deg=36.0,
        longitude_deg=-80.0,
        outage_people_home=len(pieces) % 2 == 0,
        appliances=pieces,
    )
)
connections = st.sampled_from(["whole_house", "backed_panel", "plug_in", None])


@settings(max_examples=30)
@given(house=houses, connected_to=connections)
def test_the_tiers_add_up_to_what_is_reached(house: House, connected_to: str | None) -> None:
    lists = list_loads(house, YEAR, TEMPERATURE_C)
    loads = outage_loads(house, lists, connected_to)
    reached = {
        "whole_house": lambda _piece: True,
        "backed_panel": lambda piece: piece.backed,
        "plug_in": lambda piece: piece.connection == "cord",
        None: lambda _piece: False,
    }[connected_to]
    expected = np.zeros(YEAR.n)
    for slug, piece in house.appliances.items():
        if reached(piece):
            expected += lists.outage_by_appliance_kw[slug]
    assert np.allclose(loads.must_run_kw + loads.wanted_kw + loads.can_wait_kw, expected)
    assert np.all(loads.behind_kw <= lists.house_kw + 1e-9)


@settings(max_examples=30)
@given(house=houses)
def test_peaks_are_never_below_the_means(house: House) -> None:
    lists = list_loads(house, YEAR, TEMPERATURE_C)
    found = peaks(house, lists, house.appliances)
    mean_w = 1000 * sum(lists.outage_by_appliance_kw.values(), np.zeros(YEAR.n)).max()
    assert found.running_w >= mean_w - 1e-6
    assert found.worst_start_w >= found.running_w - 1e-6 or found.running_w == 0
    assert found.all_start_w >= found.worst_start_w - 1e-6
    assert found.running_w / 2 - 1e-6 <= found.leg_w <= found.running_w + 1e-6


@settings(max_examples=6, deadline=None)
@given(house=houses)
def test_no_watts_are_more_common_than_the_list_says(house: House) -> None:
    """The distribution has the list's mean to half a watt a piece, and ends at the worst coincidence."""
    lists = list_loads(house, YEAR, TEMPERATURE_C)
    found = simultaneous(house, lists, house.appliances)
    mean_w = 1000 * sum(lists.outage_by_appliance_kw.values(), np.zeros(YEAR.n)).mean()
    half_watts = 0.5 * sum(piece.count for piece in house.appliances.values())
    assert found.chance_frac.sum() == pytest.approx(1.0)
    assert found.mean_w == pytest.approx(mean_w, abs=half_watts)
    assert found.worst_w == pytest.approx(peaks(house, lists, house.appliances).running_w, abs=half_watts)
    assert found.at_most_w(1.0) <= found.worst_w + 1e-6


@settings(max_examples=12)
@given(house=houses)
def test_the_hardest_start_leads_the_table(house: House) -> None:
    lists = list_loads(house, YEAR, TEMPERATURE_C)
    found = peaks(house, lists, house.appliances)
    table = worst_starts(house, lists, house.appliances)
    assert (table["total_w"].max() if len(table) else 0.0) == pytest.approx(found.worst_start_w)
    if found.worst_start_va is not None:
        assert found.worst_start_va >= found.worst_start_w - 1e-6
        assert table["total_va"].max() == pytest.approx(found.worst_start_va)
    if found.leg_start_w is not None and len(table):
        assert max(table["leg_1_w"].max(), table["leg_2_w"].max()) == pytest.approx(found.leg_start_w)


@settings(max_examples=15)
@given(
    factor=st.floats(0.01, 100),
    year=st.integers(2000, 2040),
    zone=st.sampled_from([ZONE, "America/Los_Angeles"]),
)
def test_scaling_a_meter_scales_its_energy(factor: float, year: int, zone: str) -> None:
    steps = calendar_year(year, zone, 60)
    once_kw, _ = read_meter(Meter(file=str(COASTAL)), steps)
    times_kw, report = read_meter(Meter(file=str(COASTAL), multiply_by=factor), steps)
    assert np.allclose(times_kw, factor * once_kw)
    assert report.year_kwh == pytest.approx(factor * once_kw.sum() * steps.step_h)
    assert once_kw.size == steps.n
    # Within a few weekdays' difference the mapped year has the metered energy, 4,425.305 kWh in 8,760 h.
    assert once_kw.mean() == pytest.approx(4425.305 / 8760, rel=0.01)
