"""Sorted segments for any prices: against the plain lists, the linear program and the threshold walks."""

import numpy as np
import pytest
from hypothesis import given, settings

from tests.twins.dispatch import lp_cost, plain_cost
from tests.unit.operate.cases import check_cost, dispatch_cases, use_of


@settings(max_examples=200)
@given(dispatch_cases(levels=None))
def test_equal_to_plain_lists(case: dict) -> None:
    check_cost(case, use_of(case, "segments"), plain_cost(case))


@settings(max_examples=100)
@given(dispatch_cases(levels=None))
def test_equal_to_the_linear_program(case: dict) -> None:
    check_cost(case, use_of(case, "segments"), lp_cost(case))


@pytest.mark.deep
@settings(max_examples=4000)
@given(dispatch_cases(levels=None))
def test_equal_to_both_deep(case: dict) -> None:
    use = use_of(case, "segments")
    check_cost(case, use, lp_cost(case))
    check_cost(case, use, plain_cost(case))


@settings(max_examples=200)
@given(dispatch_cases(levels=3))
def test_same_path_as_the_threshold_walks(case: dict) -> None:
    one, other = use_of(case, "thresholds"), use_of(case, "segments")
    if one is None or other is None:
        assert one is None
        assert other is None
        return
    assert np.abs(one.stored_kwh - other.stored_kwh).max() <= 1e-9


def test_a_year_of_moving_prices_equals_the_linear_program() -> None:
    rng = np.random.default_rng(12)
    n = 24 * 60
    buy = 0.15 * np.exp(rng.normal(0, 0.4, n))
    case = {
        "net_kwh": rng.normal(0.6, 1.2, n),
        "buy": buy,
        "sell": 0.4 * buy,
        "floor": np.full(n, 2.0),
        "full": 13.5,
        "start": 7.0,
        "charge": [5.0] * n,
        "discharge": [5.0] * n,
        "into": 0.95,
        "out_of": 0.95,
        "wear": 0.02,
        "grid": True,
        "export": True,
        "worth": None,
    }
    use = use_of(case)
    assert use is not None
    assert use.method == "segments"
    check_cost(case, use, lp_cost(case))
