"""The same study in other money and other steps."""

from __future__ import annotations

import numpy as np
import pytest

from kit.house import house_year, in_quarters
from kit.vary import otherwise
from kit.vary.otherwise import other_basis, other_ways
from tests.unit.vary.doubt_study import ground_of, small_study

LOAN = ("money.inflation_frac=0.03", "money.loan={rate_frac: 0.06, term_years: 4}")
PAIR = ("battery", "battery_small_set")


@pytest.mark.parametrize("settings", [(), LOAN], ids=["paid", "lent"])
def test_real_and_nominal_money_cost_the_same(settings, monkeypatch):
    monkeypatch.setattr(otherwise, "_own_steps", lambda _: True)  # money alone
    study = small_study("lifetime_count=100", *settings)
    table = other_ways(ground_of(study), PAIR).set_index(["way", "option"])
    for slug in PAIR:
        studied, nominal, timing = (
            float(table.loc[(way, slug), "lifetime_cost_usd"]) for way in ("studied", "basis", "timing")
        )
        assert nominal == pytest.approx(studied, rel=1e-12)
        assert timing != pytest.approx(studied, rel=1e-4)  # the bill comes half a year earlier
    assert set(table["winner"]) == {table["winner"].iloc[0]}


def test_there_and_back_gives_the_same_rates():
    money = small_study(*LOAN).model.money
    terms, rates = other_basis(money)
    assert terms == {"money_basis": "nominal", "inflation_frac": 0.03}
    assert rates["discount_rate_frac"] == pytest.approx(1.03 * (1 + money.discount_rate_frac) - 1)
    back, real = other_basis(money.model_copy(update=terms | rates))
    assert back["money_basis"] == "real"
    assert real == pytest.approx({name: getattr(money, name) for name in rates}, abs=1e-15)


def test_quarters_hold_the_record_and_work_out_the_rest():
    study = small_study()
    house = house_year(study.model.house, study.model.year)
    fine = in_quarters(study.model.house, house, study.model.year)
    assert fine.year.n == 4 * house.year.n
    assert np.array_equal(fine.load_kw.reshape(-1, 4), np.repeat(house.load_kw[:, None], 4, axis=1))
    assert fine.year.index[0] == house.year.index[0]
    assert fine.meter is house.meter
    listed = study.model.house.model_copy(update={"meter": None})
    alone = in_quarters(listed, house_year(listed, study.model.year), study.model.year)
    direct = house_year(listed.model_copy(update={"step_min": 15}), study.model.year)
    assert np.array_equal(alone.load_kw, direct.load_kw)


def test_quarters_change_little_and_not_the_answer():
    table = other_ways(ground_of(small_study("lifetime_count=100")), PAIR).set_index(["way", "option"])
    for slug in PAIR:
        hourly, fine = (table.loc[(way, slug)] for way in ("studied", "quarters"))
        assert fine["lifetime_cost_usd"] == pytest.approx(hourly["lifetime_cost_usd"], rel=0.02)
        assert fine["lifetime_cost_usd"] != hourly["lifetime_cost_usd"]
        assert fine["ride_through_frac_asked"] == pytest.approx(hourly["ride_through_frac_asked"], abs=0.02)
    assert table.loc[("quarters", "battery"), "winner"] == "battery"
