"""Appliances and motors against published tables: see appliance_cases.py for their sources."""

from __future__ import annotations

import itertools

import pytest

from kit.study.motor_models import LOCKED_ROTOR_KVA_PER_HP
from tests.published.appliance_checks import BLOCKS, printed_rows


def test_the_table_leaves_no_gap() -> None:
    ends = list(LOCKED_ROTOR_KVA_PER_HP.values())
    for (_, high), (low, _) in itertools.pairwise(ends):
        assert low == pytest.approx((high or 0) + 0.01)


def test_there_are_thirty_and_more() -> None:
    assert len(BLOCKS) >= 30


def test_the_table_has_the_letters_of_the_print() -> None:
    assert list(printed_rows()) == list(LOCKED_ROTOR_KVA_PER_HP)
    assert len(printed_rows()) == 19
