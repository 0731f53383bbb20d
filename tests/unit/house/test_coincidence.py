"""The exact distribution of simultaneous watts against enumeration of every on and off."""

from __future__ import annotations

from itertools import product
from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.house.coincidence import FEW_VALUES, running_peaks, simultaneous, year_chances
from kit.study.appliance_models import Appliance, Cycle, Thermostat, Use
from tests.unit.house.list_houses import SWING_C, YEAR, house_of, lists_of


def enumerated(shares: list[np.ndarray], counts: list[int], watts: list[int]) -> dict[int, float]:
    """Chance of each sum of watts, mean over the steps, by trying every on and off of every single piece."""
    single = [(s, w) for s, c, w in zip(shares, counts, watts, strict=True) for _ in range(c)]
    found: dict[int, float] = {}
    n = shares[0].size
    for step in range(n):
        for on in product((0, 1), repeat=len(single)):
            chance = 1.0
            for state, (share, _) in zip(on, single, strict=True):
                chance *= share[step] if state else 1.0 - share[step]
            total = sum(w for state, (_, w) in zip(on, single, strict=True) if state)
            found[total] = found.get(total, 0.0) + chance / n
    return found


loads = st.lists(
    st.tuples(st.lists(st.floats(0, 1), min_size=3, max_size=3), st.integers(1, 2), st.integers(0, 300)),
    min_size=1,
    max_size=5,
)


@settings(max_examples=40)
@given(loads)
def test_convolution_is_enumeration(drawn: list[tuple[list[float], int, int]]) -> None:
    shares = [np.array(s) for s, _, _ in drawn]
    counts, watts = [c for _, c, _ in drawn], [w for _, _, w in drawn]
    chance = year_chances(shares, counts, watts)
    expected = enumerated(shares, counts, watts)
    assert chance.sum() == pytest.approx(1.0)
    for total in range(chance.size):
        assert chance[total] == pytest.approx(expected.get(total, 0.0), abs=1e-12)


def test_loads_that_follow_the_weather_are_exact_too() -> None:
    """Two loads with more than FEW_VALUES shares take the other way; both against the plain product."""
    n = FEW_VALUES + 50
    a, b = np.linspace(0.0, 1.0, n), np.linspace(0.9, 0.1, n) ** 2
    clock = np.where(np.arange(n) % 2, 0.3, 0.0)
    chance = year_chances([a, clock, b], [1, 1, 2], [100, 40, 7])
    expected: dict[int, float] = {}
    for first, second in product((0, 1), repeat=2):
        for third in range(3):
            p = (a if first else 1 - a) * (clock if second else 1 - clock)
            p = p * comb(2, third) * b**third * (1 - b) ** (2 - third)
            at = 100 * first + 40 * second + 7 * third
            expected[at] = expected.get(at, 0.0) + float(p.mean())
    for total, value in expected.items():
        assert chance[total] == pytest.approx(value, abs=1e-12)
    assert chance.sum() == pytest.approx(1.0)


def test_ten_equal_loads_are_a_binomial() -> None:
    """Ten pieces of 100 W, on a third of the time: binomial, n = 10, p = 1/3 (any handbook of statistics)."""
    house = house_of(pumps=Appliance(count=10, running_w=100.0, duty_frac=1 / 3, tier="must_run"))
    found = simultaneous(house, lists_of(house), ["pumps"])
    for k in range(11):
        assert found.chance_frac[100 * k] == pytest.approx(comb(10, k) * (1 / 3) ** k * (2 / 3) ** (10 - k))
    # P(at most 5) = 0.9234, P(at most 6) = 0.9803, P(at most 7) = 0.9966: by hand from the same terms.
    assert found.at_most_w(0.92) == 500.0
    assert found.at_most_w(0.95) == 600.0
    assert found.at_most_w(0.99) == 700.0
    assert found.at_most_w(1.0) == found.worst_w == 1000.0
    assert found.at_most_w(0.0) == 0.0


def test_the_mean_is_that_of_the_list() -> None:
    house = house_of(
        fan=Appliance(
            running_w=700.0, thermostat=Thermostat(idle_at_c=16.0, full_at_c=-10.0), tier="must_run"
        ),
        freezer=Appliance(
            count=2, running_w=150.0, cycle=Cycle(on_minutes=10, off_minutes=20), tier="must_run"
        ),
        kettle=Appliance(
            running_w=1500.0, duty_frac=0.2, use=Use(weekday="6.5-8", weekend="8-10"), tier="wanted"
        ),
    )
    lists = lists_of(house, SWING_C)
    found = simultaneous(house, lists, house.appliances)
    total_kw = sum(lists.outage_by_appliance_kw.values(), np.zeros(YEAR.n))
    assert found.mean_w == pytest.approx(1000.0 * float(total_kw.mean()))
    assert found.worst_w == 700 + 300 + 1500
    winter = YEAR.month == 1
    january = simultaneous(house, lists, house.appliances, steps=winter)
    assert january.mean_w == pytest.approx(1000.0 * float(total_kw[winter].mean()))


def test_loads_in_different_seasons_never_meet() -> None:
    house = house_of(
        heat=Appliance(running_w=1000.0, use=Use(months=[1, 2]), tier="must_run"),
        cool=Appliance(running_w=3000.0, use=Use(months=[7, 8]), tier="must_run"),
    )
    found = simultaneous(house, lists_of(house), house.appliances)
    assert found.worst_w == 3000.0
    assert found.chance_frac[4000] == 0.0
    days = 31 + 28
    assert found.chance_frac[1000] == pytest.approx(days * 24 / 8760, rel=1e-3)  # clock changes lie outside


def test_no_load_is_no_watts() -> None:
    house = house_of(lamp=Appliance(running_w=10.0, use=Use(weekday="", weekend="1-2"), tier="wanted"))
    nothing = simultaneous(house, lists_of(house), [])
    assert (nothing.mean_w, nothing.worst_w, nothing.at_most_w(0.99)) == (0.0, 0.0, 0.0)


def test_a_share_beyond_one_is_refused() -> None:
    house = house_of(lamp=Appliance(running_w=10.0, tier="wanted"))
    found = simultaneous(house, lists_of(house), ["lamp"])
    with pytest.raises(ValueError, match=r"must be 0 to 1, got 99"):
        found.at_most_w(99.0)


def test_the_table_rises_with_each_tier() -> None:
    house = house_of(
        a=Appliance(running_w=500.0, duty_frac=0.3, tier="must_run"),
        b=Appliance(running_w=800.0, duty_frac=0.1, tier="can_wait"),
    )
    table = running_peaks(house, lists_of(house))
    assert table["loads"].tolist() == ["must run", "must run + wanted + can wait"] * 2  # no wanted load here
    assert table["when"].tolist() == ["everyday", "everyday", "in an outage", "in an outage"]
    assert table["worst_kw"].tolist() == [0.5, 1.3, 0.5, 1.3]
    for row in table.to_dict("records"):
        assert row["mean_kw"] <= row["p95_kw"] <= row["p99_kw"] <= row["p999_kw"] <= row["worst_kw"]
