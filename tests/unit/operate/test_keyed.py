"""Keyed draws: a function of what they are drawn for and of nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from kit.operate.keyed import PURPOSES, exponential_h, uniform

STARTS = np.arange(20_000)
STANDARD_ERROR = 1.0 / np.sqrt(STARTS.size)


def test_the_same_key_gives_the_same_draw() -> None:
    assert np.array_equal(uniform(7, "gas", 2, STARTS), uniform(7, "gas", 2, STARTS))


def test_order_and_company_change_no_draw() -> None:
    whole = uniform(1, "starts", 0, STARTS)
    mixed = np.array([9_999, 3, 17])
    assert np.array_equal(uniform(1, "starts", 0, mixed), whole[mixed])
    assert float(uniform(1, "starts", 0, 17)) == whole[17]


def test_a_table_of_keys_is_drawn_place_by_place() -> None:
    table = uniform(1, "set_life", 3, STARTS[:5, None], np.arange(4)[None, :])
    assert table.shape == (5, 4)
    assert table[2, 3] == float(uniform(1, "set_life", 3, 2, 3))


@pytest.mark.parametrize("purpose", PURPOSES)
def test_draws_are_uniform(purpose: str) -> None:
    drawn = uniform(1, purpose, 0, STARTS)
    assert drawn.min() >= 0.0
    assert drawn.max() < 1.0
    # standard deviation of a uniform draw is 1 / sqrt(12)
    assert drawn.mean() == pytest.approx(0.5, abs=4 * STANDARD_ERROR / np.sqrt(12))
    tenths = np.bincount((drawn * 10).astype(int), minlength=10)
    # chi-square with 9 degrees of freedom exceeds 33.7 once in 10,000 times
    assert ((tenths - 2000.0) ** 2 / 2000.0).sum() < 33.7


@pytest.mark.parametrize("place", range(1, len(PURPOSES)))
def test_purposes_are_independent(place: int) -> None:
    one, other = uniform(1, PURPOSES[0], 0, STARTS), uniform(1, PURPOSES[place], 0, STARTS)
    assert abs(np.corrcoef(one, other)[0, 1]) < 4 * STANDARD_ERROR


def test_seeds_kinds_and_attempts_are_independent() -> None:
    drawn = uniform(1, "starts", 0, STARTS)
    for other in (
        uniform(2, "starts", 0, STARTS),
        uniform(1, "starts", 1, STARTS),
        uniform(1, "starts", 0, STARTS, 0),
        uniform(1, "starts", 0, STARTS + 1),
    ):
        assert abs(np.corrcoef(drawn, other)[0, 1]) < 4 * STANDARD_ERROR


def test_keys_do_not_commute() -> None:
    """Kind 1 at start 2 is not kind 2 at start 1."""
    assert float(uniform(1, "gas", 1, 2)) != float(uniform(1, "gas", 2, 1))


def test_an_unknown_purpose_is_refused() -> None:
    with pytest.raises(ValueError):
        uniform(1, "weather", STARTS)


def test_exponential_hours_invert_the_distribution() -> None:
    # the median of an exponential of mean 61 h is 61 ln 2
    assert float(exponential_h(61.0, np.array(0.5))) == pytest.approx(61.0 * np.log(2.0))
    assert float(exponential_h(61.0, np.array(0.0))) == 0.0
    hours = exponential_h(61.0, uniform(1, "set_life", 0, STARTS))
    assert hours.mean() == pytest.approx(61.0, abs=4 * 61.0 * STANDARD_ERROR)
