"""Results kept while a batch lasts: by the content of what went in, and only while it lasts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest

from kit.recall import recall, recalled, recalling


@dataclass
class Told:
    """A function that counts its calls and makes a new object each time."""

    calls: int = 0

    def made(self) -> Callable[..., list[float]]:
        def total(values: np.ndarray, *, times: float = 1.0) -> list[float]:
            self.calls += 1
            if times < 0:
                raise ValueError(f"times is {times:g}")
            return [float(np.sum(values)) * times]

        return recalled(total)


@pytest.fixture
def told() -> Told:
    return Told()


def test_off_outside_a_batch(told: Told) -> None:
    total = told.made()
    first, second = total(np.ones(3)), total(np.ones(3))
    assert first == second == [3.0]
    assert first is not second
    assert told.calls == 2


def test_the_same_content_gives_the_same_object(told: Told) -> None:
    total, values = told.made(), np.ones(3)
    with recalling():
        first = total(values)
        assert total(values) is first
        assert total(np.ones(3)) is first, "another array of the same content"
        assert total(values, times=2.0) == [6.0]
    assert told.calls == 2


def test_content_changed_in_place_is_computed_again(told: Told) -> None:
    """The key is what the array holds at the call, not which array it is."""
    total, values = told.made(), np.ones(3)
    with recalling():
        assert total(values) == [3.0]
        values[1] = 5.0
        assert total(values) == [7.0]
        values[1] = 1.0
        assert total(values) == [3.0]
    assert told.calls == 2


@pytest.mark.parametrize(
    "other",
    [
        np.ones(3, dtype=np.float32),
        np.ones((1, 3)),
        np.array([1.0, 1.0, 1.0 + 2e-16]),
        pd.Series(np.ones(3)),
        pd.Series(np.ones(3), index=[1, 2, 3]),
    ],
    ids=["type", "shape", "last digit", "series", "index"],
)
def test_alike_is_not_the_same(told: Told, other: object) -> None:
    total = told.made()
    with recalling():
        total(np.ones(3))
        total(other)
    assert told.calls == 2


def test_two_functions_do_not_share(told: Told) -> None:
    @recalled
    def count(values: np.ndarray) -> int:
        return len(values)

    @recalled
    def largest(values: np.ndarray) -> float:
        return float(values.max())

    with recalling():
        assert count(np.ones(3)) == 3
        assert largest(np.ones(3)) == 1.0


def test_what_stops_is_not_kept(told: Told) -> None:
    total = told.made()
    with recalling():
        for _ in range(2):
            with pytest.raises(ValueError, match="times is -1"):
                total(np.ones(3), times=-1.0)
    assert told.calls == 2


def test_a_batch_forgets_at_its_end_even_when_it_stops(told: Told) -> None:
    total = told.made()

    def stops() -> None:
        with recalling():
            total(np.ones(3))
            raise RuntimeError("stopped")

    with pytest.raises(RuntimeError, match="stopped"):
        stops()
    total(np.ones(3))
    assert told.calls == 2, "kept after the batch"
    with recalling():
        total(np.ones(3))
    assert told.calls == 3, "an earlier batch's result came back"


def test_a_batch_inside_another_starts_empty_and_leaves_the_outer_one(told: Told) -> None:
    total = told.made()
    with recalling():
        first = total(np.ones(3))
        with recalling():
            assert total(np.ones(3)) is not first
        assert total(np.ones(3)) is first
    assert told.calls == 2


def test_a_function_keeps_its_name_and_words() -> None:
    from kit.house.coincidence import running_peaks

    assert running_peaks.__name__ == "running_peaks"
    assert "Columns: loads" in (running_peaks.__doc__ or "")


def test_a_result_under_a_name_and_a_key_is_made_once_while_it_lasts() -> None:
    made: list[str] = []

    def make(text: str) -> str:
        made.append(text)
        return text.upper()

    with recalling():
        told = [recall(name, key, lambda k=key: make(k)) for name in ("a", "b") for key in ("x", "y", "x")]
    assert told == ["X", "Y", "X"] * 2
    assert made == ["x", "y"] * 2
    assert recall("a", "x", lambda: make("x")) == "X"
    assert made[-1] == "x"
    assert len(made) == 5
