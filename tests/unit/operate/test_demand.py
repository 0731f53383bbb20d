"""Best use under a monthly demand charge: against a linear program, by arithmetic, and by its own laws."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.operate.best import NoScheduleError, best_use
from kit.operate.demand import DemandLine, DemandUse, best_use_with_demand
from tests.twins.demand import lp_cost
from tests.unit.operate.cases import check_energy

STEP_H = 0.5


@st.composite
def demand_cases(draw: st.DrawFn, least_steps: int = 24) -> dict:
    """One to three months in stretches, few price levels, ties and zeros, varying reserve, all limits."""
    n = draw(st.integers(least_steps, 96))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    net = rng.normal(draw(st.sampled_from([0.5, 1.0, 3.0])), 1.5, n)
    if draw(st.booleans()):
        net = np.round(net * 2) / 2
    prices = draw(st.lists(st.sampled_from([0.0, 0.1, 0.2, 0.35, 0.5]), min_size=1, max_size=3))
    buy = rng.choice(prices, n)
    months = sorted(draw(st.lists(st.integers(1, 12), min_size=1, max_size=3)))
    full = draw(st.sampled_from([0.0, 1.0, 2.5, 6.0]))
    most = st.sampled_from([0.0, 0.5, 1.5])  # the same in every step, or another in each
    start = full * draw(st.sampled_from([0.0, 0.4, 1.0]))
    floor = full * draw(st.sampled_from([0.0, 0.2]))
    return {
        "net_kwh": net,
        "buy": buy,
        "sell": draw(st.sampled_from([0.0, 0.5, 1.0])) * (buy if draw(st.booleans()) else min(prices))
        + 0 * buy,
        "month": np.array(months)[np.arange(n) * len(months) // n],
        "demand": rng.choice(draw(st.sampled_from([(0.0, 5.0), (0.5,), (2.0, 20.0)])), 12),
        "full": full,
        "floor": rng.choice([0.0, 1.0], n) * floor if draw(st.booleans()) else np.full(n, floor),
        "start": max(start, floor),
        "charge": draw(most) * (rng.choice([0.0, 0.4, 1.0], n) if draw(st.booleans()) else 1.0),
        "discharge": draw(most) * (rng.choice([0.0, 0.4, 1.0], n) if draw(st.booleans()) else 1.0),
        "into": draw(st.sampled_from([1.0, 0.9])),
        "out_of": draw(st.sampled_from([1.0, 0.95])),
        "wear": draw(st.sampled_from([0.0, 0.03])),
        "grid": draw(st.booleans()),
        "export": draw(st.booleans()),
        "worth": draw(st.sampled_from([None, 0.0, 0.15])),
    }


def lines_of(case: dict, times: float = 1.0) -> list[DemandLine]:
    """The demand line of all hours, and that of a window where the case has one."""
    lines = [DemandLine(times * case["demand"])]
    if case.get("window") is not None:
        lines.append(DemandLine(times * case["window_demand"], case["window"], case["window_free"]))
    return lines


def use_of(case: dict, lines: list[DemandLine] | None = None) -> DemandUse:
    return best_use_with_demand(
        case["net_kwh"] / STEP_H,
        case["buy"],
        case["sell"],
        case["month"] - 1,
        lines_of(case) if lines is None else lines,
        STEP_H,
        **battery(case),
    )


def battery(case: dict) -> dict:
    return {
        "usable_kwh": case["full"],
        "start_kwh": case["start"],
        "charge_kw": case["charge"] / STEP_H,
        "discharge_kw": case["discharge"] / STEP_H,
        "charge_efficiency_frac": case["into"],
        "discharge_efficiency_frac": case["out_of"],
        "reserve_kwh": case["floor"],
        "wear_usd_per_kwh": case["wear"],
        "grid_charge_allowed": case["grid"],
        "export_allowed": case["export"],
        "end_value_usd_per_kwh": case["worth"],
    }


def cost_of(done: DemandUse, case: dict) -> float:
    return done.steered_by_usd - (case["worth"] or 0.0) * done.use.stored_kwh[-1]


def check_against_lp(case: dict) -> None:
    expected = lp_cost(case, STEP_H)
    if np.isnan(expected):
        with pytest.raises(NoScheduleError):
            use_of(case)
        return
    done = use_of(case)
    found = cost_of(done, case)
    assert abs(found - expected) <= 1e-8 * (1.0 + abs(expected))
    assert done.use.is_exact
    assert 0.0 <= done.gap_frac <= 1e-9
    assert done.least_usd <= expected + 1e-8 * (1.0 + abs(expected))
    check_energy(case, done.use)
    everywhere = np.ones(case["month"].size, dtype=bool)
    demand_usd = 0.0
    for number, line in enumerate(lines_of(case)):
        counts = everywhere if line.counts is None else line.counts
        for m in range(1, 13):
            means_kw = done.use.import_kwh[(case["month"] == m) & counts] / STEP_H
            assert done.peak_kw[number, m - 1] == pytest.approx(means_kw.max(initial=0.0))
            demand_usd += line.usd_per_kw[m - 1] * max(0.0, means_kw.max(initial=0.0) - line.free_kw)
    assert done.demand_usd == pytest.approx(demand_usd)


@settings(max_examples=60, deadline=None)
@given(demand_cases())
def test_equal_to_the_linear_program(case: dict) -> None:
    check_against_lp(case)


@st.composite
def windowed_cases(draw: st.DrawFn, least_steps: int = 24) -> dict:
    """The same with a second demand line in some hours of the day, or in some steps here and there."""
    case = draw(demand_cases(least_steps))
    n = case["net_kwh"].size
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    daily = (np.arange(n) % 24 >= 16) & (np.arange(n) % 24 < 21)
    case["window"] = daily if draw(st.booleans()) else rng.random(n) < draw(st.sampled_from([0.0, 0.3, 1.0]))
    case["window_demand"] = rng.choice(draw(st.sampled_from([(0.0, 8.0), (0.7,), (3.0, 15.0)])), 12)
    case["window_free"] = draw(st.sampled_from([0.0, 0.0, 1.5, 50.0]))
    if draw(st.booleans()):
        case["demand"] = np.zeros(12)  # the window alone
    return case


@settings(max_examples=60, deadline=None)
@given(windowed_cases())
def test_several_lines_equal_the_linear_program(case: dict) -> None:
    check_against_lp(case)


@pytest.mark.deep
@settings(max_examples=1500, deadline=None)
@given(windowed_cases(least_steps=1))
def test_several_lines_equal_the_linear_program_deep(case: dict) -> None:
    check_against_lp(case)


@pytest.mark.deep
@settings(max_examples=1500, deadline=None)
@given(demand_cases(least_steps=1))
def test_equal_to_the_linear_program_deep(case: dict) -> None:
    check_against_lp(case)


@settings(max_examples=40, deadline=None)
@given(demand_cases())
def test_no_demand_charge_is_the_plain_optimum(case: dict) -> None:
    args = (case["net_kwh"] / STEP_H, case["buy"], case["sell"], STEP_H)
    try:
        plain = best_use(*args, **battery(case))
    except NoScheduleError:
        with pytest.raises(NoScheduleError):
            use_of(case, [DemandLine(np.zeros(12))])
        return
    done = use_of(case, [DemandLine(np.zeros(12))])
    assert done.demand_usd == 0.0
    expected = plain.steered_by_usd - (case["worth"] or 0.0) * plain.stored_kwh[-1]
    assert cost_of(done, case) == pytest.approx(expected, abs=1e-9)
    assert done.gap_frac <= 1e-9


@settings(max_examples=25, deadline=None)
@given(demand_cases())
def test_a_dearer_kilowatt_never_lowers_the_cost_nor_raises_the_weighted_peak(case: dict) -> None:
    case["start"] = case["full"]
    case["worth"] = 0.0
    ladder = [use_of(case, lines_of(case, times)) for times in (0.0, 0.5, 1.0, 4.0)]
    costs = [cost_of(done, case) for done in ladder]
    weighted = [float(case["demand"] @ done.peak_kw[0]) for done in ladder]
    for k in range(3):
        assert costs[k + 1] >= costs[k] - 1e-7 * (1 + abs(costs[k]))
        if k:  # at no price at all the peak is anything
            assert weighted[k + 1] <= weighted[k] + 1e-6 * (1 + weighted[k])


def idle_house(load_kw: list[float], month: list[int], price: float = 1.0, **change: float) -> DemandUse:
    """No energy price, so that the demand line stands alone."""
    good: dict = {"usable_kwh": 0.0, "start_kwh": 0.0, "charge_kw": 0.0, "discharge_kw": 0.0}
    line = DemandLine(np.full(12, price))
    return best_use_with_demand(load_kw, 0.0, 0.0, np.array(month) - 1, line, 1.0, **(good | change))


def test_the_demand_line_of_a_published_example() -> None:
    """Los Alamos County (New Mexico), residential demand example: 1.00 a kW on the month's highest hour.

    Appliances of 2.0, 3.0 and 4.0 kW in one hour make 9.00; one after the other they make 4.00.
    """
    assert idle_house([0.0, 2.0 + 3.0 + 4.0, 0.0], [6, 6, 6]).demand_usd == pytest.approx(9.00)
    assert idle_house([2.0, 3.0, 4.0], [6, 6, 6]).demand_usd == pytest.approx(4.00)


def test_each_month_has_its_own_peak_also_where_it_comes_back() -> None:
    done = idle_house([3.0, 1.0, 2.0, 5.0], [1, 2, 2, 1], 2.0)
    assert done.peak_kw.tolist() == [[5.0, 2.0] + [0.0] * 10]
    assert done.demand_usd == pytest.approx(14.0)
    assert done.total_usd == pytest.approx(14.0)


def test_a_battery_flattens_one_peak() -> None:
    """6 kW for an hour after an hour of nothing, at 10 a kW."""
    done = idle_house([0.0, 6.0], [4, 4], 10.0, usable_kwh=2.0, charge_kw=5.0, discharge_kw=5.0)
    assert done.peak_kw[0, 3] == pytest.approx(4.0)  # 6 kW less 2 kWh in 1 h
    big = idle_house([0.0, 6.0], [4, 4], 10.0, usable_kwh=9.0, charge_kw=5.0, discharge_kw=5.0)
    assert big.peak_kw[0, 3] == pytest.approx(3.0)  # both hours alike
    assert big.demand_usd == pytest.approx(30.0)
    assert big.use.is_exact
    assert big.gap_frac == pytest.approx(0.0, abs=1e-9)


def test_energy_carried_over_the_border_of_two_months() -> None:
    """Charged in the last hour of one month, used in the first of the next: peaks of both move."""
    change = {"usable_kwh": 4.0, "charge_kw": 5.0, "discharge_kw": 5.0}
    done = idle_house([1.0, 5.0], [1, 2], 1.0, **change)
    assert done.demand_usd == pytest.approx(6.0)  # 1 kW more here, 1 kW less there
    dear = best_use_with_demand(
        [1.0, 5.0], 0.0, 0.0, [0, 1], DemandLine([1.0, 3.0]), 1.0, start_kwh=0.0, **change
    )
    assert dear.peak_kw[0] == pytest.approx([5.0, 1.0])  # 1 * 5 + 3 * 1, not 1 * 1 + 3 * 5
    assert dear.demand_usd == pytest.approx(8.0)


def test_market_prices_are_solved_too() -> None:
    rng = np.random.default_rng(21)
    n = 60
    case = {
        "net_kwh": rng.normal(1.0, 1.5, n),
        "buy": rng.uniform(0.05, 0.6, n),
        "sell": np.full(n, 0.02),
        "month": np.repeat([3, 4], n // 2),
        "demand": np.full(12, 3.0),
        "full": 4.0,
        "floor": np.full(n, 0.4),
        "start": 2.0,
        "charge": 1.0,
        "discharge": 1.0,
        "into": 0.95,
        "out_of": 0.95,
        "wear": 0.01,
        "grid": True,
        "export": False,
        "worth": None,
    }
    check_against_lp(case)


def test_few_passes_are_reported_not_hidden() -> None:
    rng = np.random.default_rng(22)
    net, bill = rng.normal(1.0, 1.5, 96), np.repeat([0, 1], 48)
    change = {"usable_kwh": 5.0, "start_kwh": 2.0, "charge_kw": 2.0, "discharge_kw": 2.0}
    args = (net, np.where(np.arange(96) % 24 > 15, 0.4, 0.1), 0.0, bill, DemandLine([8.0, 8.0]), 1.0)
    hasty = best_use_with_demand(*args, most_passes=1, **change)
    best = best_use_with_demand(*args, **change)
    assert hasty.pass_count == 1
    assert hasty.gap_frac > 1e-9
    assert not hasty.use.is_exact
    assert "after 1 passes" in hasty.use.note
    assert hasty.least_usd <= best.steered_by_usd <= hasty.steered_by_usd
    assert best.use.is_exact


def test_prices_that_allow_no_proof_certify_nothing() -> None:
    done = best_use_with_demand(
        [1.0, 1.0],
        [0.1, 0.5],
        [0.3, 0.0],
        [0, 0],
        DemandLine([1.0]),
        1.0,
        usable_kwh=2.0,
        start_kwh=0.0,
        charge_kw=2.0,
        discharge_kw=2.0,
    )
    assert not done.use.is_exact
    assert done.gap_frac == np.inf
    assert done.least_usd == -np.inf
    assert "Not certified" in done.use.note


@pytest.mark.parametrize(
    ("bill", "lines", "words"),
    [
        ([0], DemandLine([1.0]), r"bill_of_step has shape \(1,\); it must be \(2,\)"),
        ([-1, 1], DemandLine([1.0]), "bill_of_step has -1 to 1"),
        ([0, 0.5], DemandLine([1.0]), "whole numbers from 0 to 399"),
        ([0, 1], DemandLine([1.0]), "a price for all of 2 bills"),
        ([0, 0], [DemandLine([1.0]), DemandLine([1.0, 1.0])], "a price for all of 1 bills"),
        ([0, 0], DemandLine([-1.0]), "usd_per_kw is"),
        ([0, 0], DemandLine([np.nan]), "usd_per_kw is"),
        ([0, 0], DemandLine([1.0], [True]), r"counts has shape \(1,\) of bool"),
        ([0, 0], DemandLine([1.0], [1, 1]), "of int64; it must be"),
        ([0, 0], DemandLine([1.0], None, -1.0), "free_kw is -1.0"),
        ([0, 0], [], "there are 0 demand lines"),
        ([0, 0], [DemandLine([1.0])] * 25, "there are 25 demand lines"),
    ],
)
def test_bad_input_is_named(bill: list, lines: list, words: str) -> None:
    args: dict = {"usable_kwh": 1.0, "start_kwh": 0.0, "charge_kw": 1.0, "discharge_kw": 1.0}
    with pytest.raises(ValueError, match=words):
        best_use_with_demand([1.0, 1.0], 0.1, 0.0, bill, lines, 1.0, **args)
    with pytest.raises(ValueError, match="most_passes is 0"):
        best_use_with_demand([1.0], 0.1, 0.0, [0], DemandLine([1.0]), 1.0, most_passes=0, **args)
