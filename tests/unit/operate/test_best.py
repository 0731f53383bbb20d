"""The public function: small cases worked out by hand, limits, refusals, and prices that allow no proof."""

import statistics

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.operate.best import BestUse, NoScheduleError, best_use
from tests.twins.dispatch import lp_cost
from tests.unit.operate.cases import check_energy, cost_of, dispatch_cases, use_of


def two_prices(**change: object) -> BestUse:
    """A cheap hour and a dear hour, 1 kW of load, a 2 kWh store that ends as it began."""
    good: dict = {
        "net_load_kw": [1.0, 1.0],
        "import_usd_per_kwh": [0.1, 0.5],
        "export_usd_per_kwh": 0.0,
        "step_h": 1.0,
        "usable_kwh": 2.0,
        "start_kwh": 0.0,
        "charge_kw": 2.0,
        "discharge_kw": 2.0,
    }
    return best_use(**(good | change))


def test_buys_cheap_and_serves_dear() -> None:
    use = two_prices()
    assert use.energy_cost_usd == pytest.approx(0.2)  # 2 kWh * 0.1
    assert use.stored_kwh.tolist() == [0.0, 1.0, 0.0]
    assert use.import_kwh.tolist() == [2.0, 0.0]
    assert use.is_exact
    assert use.note == ""


def test_losses_are_on_the_right_side() -> None:
    use = two_prices(charge_efficiency_frac=0.8, discharge_efficiency_frac=0.5)
    assert use.discharge_kwh == pytest.approx(
        [0.0, 1.6 * 0.5]
    )  # charged at 2 kW * 0.8 = 1.6 kWh, all of it used
    assert use.charge_kwh == pytest.approx([2.0, 0.0])
    assert use.energy_cost_usd == pytest.approx(0.1 * 3.0 + 0.5 * 0.2)
    assert two_prices(charge_efficiency_frac=0.4, discharge_efficiency_frac=0.4).charge_kwh.max() == 0.0


def test_wear_steers_but_is_not_in_the_energy_cost() -> None:
    assert two_prices(wear_usd_per_kwh=0.39).energy_cost_usd == pytest.approx(0.2)
    assert two_prices(wear_usd_per_kwh=0.41).energy_cost_usd == pytest.approx(0.6)  # 0.1 + 0.5
    same = two_prices(wear_usd_per_kwh=0.39)
    assert same.steered_by_usd == pytest.approx(0.2 + 0.39)


def test_export_only_where_allowed() -> None:
    paid = {"export_usd_per_kwh": [0.05, 0.45]}
    assert two_prices(**paid).export_kwh.max() == 0.0
    use = two_prices(**paid, export_allowed=True)
    assert use.export_kwh == pytest.approx([0.0, 1.0])
    assert use.energy_cost_usd == pytest.approx(0.1 * 3 - 0.45 * 1)


def test_grid_charge_only_where_allowed() -> None:
    assert two_prices(grid_charge_allowed=False).charge_kwh.max() == 0.0
    sunny = two_prices(net_load_kw=[-0.7, 1.0], grid_charge_allowed=False)
    assert sunny.charge_kwh == pytest.approx([0.7, 0.0])


def test_reserve_is_held_and_may_change_with_time() -> None:
    held = two_prices(start_kwh=1.0, reserve_kwh=1.0)
    assert held.stored_kwh.min() == 1.0
    assert held.discharge_kwh == pytest.approx([0.0, 1.0])
    lifted = two_prices(reserve_kwh=[1.5, 0.0], net_load_kw=[1.0, 1.7])
    assert lifted.stored_kwh == pytest.approx([0.0, 1.7, 0.0])
    flat = two_prices(
        reserve_kwh=[1.5, 0.0], net_load_kw=[1.0, 1.7], import_usd_per_kwh=0.1, wear_usd_per_kwh=0.1
    )
    assert flat.stored_kwh == pytest.approx([0.0, 1.5, 0.0])


def test_discharge_limit_of_each_step_holds_it_to_the_load_behind() -> None:
    use = two_prices(discharge_kw=[2.0, 0.4])
    assert use.discharge_kwh == pytest.approx([0.0, 0.4])


def test_idle_is_on_the_meter_once_an_hour() -> None:
    use = two_prices(usable_kwh=0.0, idle_kw=0.04)
    assert use.import_kwh == pytest.approx([1.04, 1.04])
    half = best_use(
        [1.0, 1.0], 0.1, 0.0, 0.5, usable_kwh=0, start_kwh=0, charge_kw=1, discharge_kw=1, idle_kw=0.04
    )
    assert half.import_kwh == pytest.approx([0.52, 0.52])


def test_what_is_left_can_be_worth_something() -> None:
    rich = two_prices(end_value_usd_per_kwh=0.7)
    assert rich.stored_kwh[-1] == pytest.approx(2.0)
    poor = two_prices(start_kwh=2.0, end_value_usd_per_kwh=0.0)
    assert poor.stored_kwh[-1] == 0.0


def test_a_floor_missed_by_rounding_only_is_a_schedule() -> None:
    missed = two_prices(reserve_kwh=[0.0, 5e-8], end_value_usd_per_kwh=0.0, charge_kw=0.0)
    assert missed.energy_cost_usd == pytest.approx(0.6)
    with pytest.raises(NoScheduleError):
        two_prices(reserve_kwh=[0.0, 5e-7], end_value_usd_per_kwh=0.0, charge_kw=0.0)


def test_no_schedule_says_why() -> None:
    with pytest.raises(NoScheduleError, match="reserve up to 2 kWh"):
        two_prices(start_kwh=0.5, reserve_kwh=[0.0, 2.0])
    with pytest.raises(NoScheduleError, match="start 0 kWh, reserve up to 1 kWh"):
        two_prices(reserve_kwh=[1.0, 0.0], charge_kw=0.5)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"net_load_kw": []}, r"net_load_kw has shape \(0,\)"),
        ({"net_load_kw": [1.0, float("nan")]}, "net_load_kw is not finite at step 1"),
        ({"import_usd_per_kwh": [0.1]}, r"import_usd_per_kwh has shape \(1,\); it must be \(2,\)"),
        ({"start_kwh": 3.0}, "start_kwh is 3.0; it must be 0 to usable_kwh = 2.0"),
        ({"reserve_kwh": 3.0}, "reserve_kwh is 3.0"),
        ({"charge_kw": -1.0}, "charge_kw is -1.0"),
        ({"charge_efficiency_frac": 0.0}, "charge_efficiency_frac is 0.0"),
        ({"discharge_efficiency_frac": 1.1}, "discharge_efficiency_frac is 1.1"),
        ({"wear_usd_per_kwh": -0.1}, "wear_usd_per_kwh is -0.1"),
        ({"step_h": 0.0}, "step_h is 0.0"),
        ({"end_value_usd_per_kwh": float("inf")}, "end_value_usd_per_kwh is inf"),
    ],
)
def test_bad_input_is_named(change: dict, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        two_prices(**change)


def test_export_price_above_import_price_is_not_certified() -> None:
    use = two_prices(export_usd_per_kwh=[0.3, 0.0])
    assert not use.is_exact
    assert "in 1 steps the export price is above" in use.note
    without = two_prices(export_usd_per_kwh=[0.3, 0.0], grid_charge_allowed=False)
    assert without.is_exact  # nothing to gain from both at once


@pytest.mark.parametrize("method", ["thresholds", "segments"])
def test_the_note_counts_steps_and_not_prices(method: str) -> None:
    """Four of seven steps pay more for export than import costs: 0.3 over 0.1 three times, 0.4 over 0.2 once.

    They have two of the four pairs of prices; the other three steps are in order.
    """
    use = best_use(
        np.ones(7),
        [0.1, 0.1, 0.1, 0.2, 0.1, 0.5, 0.5],
        [0.3, 0.3, 0.3, 0.4, 0.0, 0.0, 0.0],
        1.0,
        method=method,
        usable_kwh=2.0,
        start_kwh=0.0,
        charge_kw=2.0,
        discharge_kw=2.0,
    )
    assert use.method == method
    assert not use.is_exact
    assert use.note.startswith("Not certified as the least cost: in 4 steps the export price is above")


def test_prices_below_zero_that_pay_for_waste_are_not_certified() -> None:
    lossy = {"charge_efficiency_frac": 0.9, "discharge_efficiency_frac": 0.9}
    assert not two_prices(import_usd_per_kwh=[-0.1, 0.5], export_usd_per_kwh=-0.2, **lossy).is_exact
    # w >= -price * (1 / 0.81 - 1) = 0.0235
    assert two_prices(
        import_usd_per_kwh=[-0.1, 0.5], export_usd_per_kwh=-0.2, wear_usd_per_kwh=0.024, **lossy
    ).is_exact
    assert two_prices(import_usd_per_kwh=[-0.1, 0.5], export_usd_per_kwh=-0.2).is_exact  # lossless: no waste


@settings(max_examples=100)
@given(dispatch_cases(levels=3), st.lists(st.sampled_from([-0.3, -0.05, 0.2, 0.6]), min_size=14, max_size=14))
def test_without_proof_the_schedule_is_still_possible_and_never_below_the_bound(
    case: dict, odd: list
) -> None:
    """The linear program may charge and discharge at once, so it is a lower bound where it is bounded."""
    case["sell"] = odd[: len(case["buy"])]
    use = use_of(case)
    if use is None:
        return
    check_energy(case, use)
    bound = lp_cost(case)
    if np.isfinite(bound):
        assert cost_of(use, case) >= bound - 1e-8
        if use.is_exact:
            assert cost_of(use, case) <= bound + 1e-8


def test_more_battery_never_costs_more() -> None:
    rng = np.random.default_rng(13)
    net = rng.normal(0.8, 1.0, 24 * 20)
    price = np.where(np.arange(net.size) % 24 >= 17, 0.4, 0.12)
    costs = [
        best_use(
            net, price, 0.03, 1.0, usable_kwh=kwh, start_kwh=0, charge_kw=3, discharge_kw=3
        ).energy_cost_usd
        for kwh in (0, 2, 5, 10, 20)
    ]
    assert costs == sorted(costs, reverse=True)
    assert costs[0] > costs[-1]
    assert costs[0] == pytest.approx(price @ np.maximum(net, 0) - 0.03 * np.maximum(-net, 0).sum())


def test_thresholds_by_price_reads_as_a_table() -> None:
    rng = np.random.default_rng(14)
    net = rng.normal(0.8, 1.0, 24 * 20)
    price = np.where(np.arange(net.size) % 24 >= 17, 0.4, 0.12)
    use = best_use(net, price, 0.03, 1.0, usable_kwh=6.0, start_kwh=3.0, charge_kw=3, discharge_kw=3)
    cheap, dear = use.thresholds_by_price()
    assert (cheap["price_from_usd_per_kwh"], dear["price_to_usd_per_kwh"]) == (0.12, 0.4)
    assert cheap["step_count"] + dear["step_count"] == net.size
    assert cheap["hold_at_kwh"] > dear["hold_at_kwh"]
    assert cheap["grid_fill_to_kwh"] == statistics.median(use.grid_fill_to_kwh[price == 0.12].tolist())


def test_many_levels_are_solved_by_segments() -> None:
    price = np.linspace(0.1, 0.5, 40)
    args = {"usable_kwh": 3.0, "start_kwh": 1.0, "charge_kw": 1, "discharge_kw": 1}
    use = best_use(np.ones(40), price, 0.0, 1.0, **args)
    assert use.method == "segments"
    with pytest.raises(ValueError, match="more than 12 levels"):
        best_use(np.ones(40), price, 0.0, 1.0, method="thresholds", **args)
