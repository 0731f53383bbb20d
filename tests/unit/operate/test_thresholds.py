"""Threshold walks for prices of few levels: against the plain lists and the linear program."""

import numpy as np
import pytest
from hypothesis import given, settings

from kit.operate.thresholds import MOST_PAIRS, price_pairs
from tests.twins.dispatch import lp_cost, plain_cost
from tests.unit.operate.cases import check_cost, dispatch_cases, use_of


@settings(max_examples=300)
@given(dispatch_cases(levels=3))
def test_equal_to_plain_lists(case: dict) -> None:
    use = use_of(case, "thresholds")
    check_cost(case, use, plain_cost(case))


@settings(max_examples=150)
@given(dispatch_cases(levels=3))
def test_equal_to_the_linear_program(case: dict) -> None:
    use = use_of(case, "thresholds")
    check_cost(case, use, lp_cost(case))


@pytest.mark.deep
@settings(max_examples=4000)
@given(dispatch_cases(levels=3))
def test_equal_to_both_deep(case: dict) -> None:
    use = use_of(case, "thresholds")
    check_cost(case, use, lp_cost(case))
    check_cost(case, use, plain_cost(case))


def test_price_pairs_are_found_or_given_up() -> None:
    buy = np.array([0.1, 0.3, 0.1, 0.1])
    sell = np.array([0.0, 0.0, 0.05, 0.0])
    pair, pairs = price_pairs(buy, sell) or (None, None)
    assert pair is not None
    assert pair.tolist() == [0, 1, 2, 0]
    assert pairs == [(0.1, 0.0), (0.3, 0.0), (0.1, 0.05)]
    many = np.arange(MOST_PAIRS + 1.0)
    assert price_pairs(many, many) is None
    assert price_pairs(many[:-1], many[:-1]) is not None


def test_thresholds_rise_from_grid_to_export() -> None:
    rng = np.random.default_rng(11)
    n = 24 * 30
    case = {
        "net_kwh": rng.normal(0.5, 1.5, n),
        "buy": np.where(np.arange(n) % 24 >= 16, 0.4, 0.1),
        "sell": np.full(n, 0.05),
        "floor": np.full(n, 1.0),
        "full": 10.0,
        "start": 5.0,
        "charge": [3.0] * n,
        "discharge": [3.0] * n,
        "into": 0.95,
        "out_of": 0.95,
        "wear": 0.01,
        "grid": True,
        "export": True,
        "worth": None,
    }
    use = use_of(case)
    assert use is not None
    assert use.method == "thresholds"
    assert (use.grid_fill_to_kwh <= use.hold_at_kwh).all()
    assert (use.hold_at_kwh <= use.export_down_to_kwh).all()
    assert use.grid_fill_to_kwh.min() >= 1.0
    assert use.export_down_to_kwh.max() <= 10.0


def test_ties_keep_energy_stored() -> None:
    """One price, no loss, no wear: all schedules cost the same; it is kept as full as it can be."""
    case = {
        "net_kwh": [1.0] * 6,
        "buy": [0.2] * 6,
        "sell": [0.0] * 6,
        "floor": [0.0] * 6,
        "full": 4.0,
        "start": 2.0,
        "charge": [1.0] * 6,
        "discharge": [1.0] * 6,
        "into": 1.0,
        "out_of": 1.0,
        "wear": 0.0,
        "grid": True,
        "export": False,
        "worth": None,
    }
    use = use_of(case)
    assert use is not None
    assert use.stored_kwh.tolist() == [2.0, 3.0, 4.0, 4.0, 4.0, 3.0, 2.0]
