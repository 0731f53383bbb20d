"""Joint draws of a study: the linear case by hand, seeds, chances and regret, swings, variance shares."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.vary.draws import cash_bands, chances, convergence, draw, intervals, share_error
from kit.vary.shares import variance_shares
from kit.vary.swings import swings
from tests.unit.vary.doubt_study import ground_of, small_study

LINEAR = ("money.discount_rate_frac=0.03", "asked.chance_frac=0.5")


@pytest.fixture(scope="module")
def ground():
    return ground_of(small_study(*LINEAR))


@pytest.fixture(scope="module")
def made(ground):
    return draw(ground, 256, checked=2)


def test_regret_and_cash_bands_of_four_draws_by_hand(made):
    """b may not be chosen in the first draw, nobody in the last; regret is a mean over those that may."""
    judged = np.array([[900.0, 50.0, 100.0], [900.0, 130.0, 100.0], [900.0, 90.0, 150.0], [9.0, 1.0, 2.0]])
    stands = np.array([[0, 0, 1], [0, 1, 1], [0, 1, 1], [0, 0, 0]], dtype=bool)
    paid = np.zeros((4, 3, 2))
    paid[:, :, 1] = [[-10.0, -4.0, -7.0], [-10.0, -1.0, -7.0], [-10.0, -2.0, -7.0], [-10.0, -3.0, -7.0]]
    paid[:, 1, 0] = -100.0
    standing = replace(
        made.standing,
        slugs=("do_nothing", "b", "c"),
        judged_usd=judged,
        stands=stands,
        winner=np.array([2, 2, 1, -1]),
        paid_usd=paid,
    )
    few = replace(made, standing=standing, ranks=made.ranks[:4])
    told = chances(few).set_index("option")
    assert told.loc["b", "regret_usd"] == pytest.approx((30.0 + 0.0) / 2)
    assert told.loc["c", "regret_usd"] == pytest.approx((0.0 + 0.0 + 60.0) / 3)
    assert np.isnan(told.loc["do_nothing", "regret_usd"])
    assert (told.loc["b", "stands_frac"], told.loc["b", "wins_frac"]) == (0.5, 0.25)
    assert told.loc["nobody", "wins_frac"] == 0.25
    bands = cash_bands(few).set_index(["option", "year"])
    assert bands.loc[("b", 0), "p50"] == -100.0
    assert bands.loc[("b", 1), "p50"] == pytest.approx(-100.0 + 10.0 - 2.5)
    assert bands.loc[("c", 1), "p05"] == bands.loc[("c", 1), "p95"] == pytest.approx(3.0)


def test_the_same_seed_draws_the_same(ground, made):
    again = draw(ground, 256, checked=0)
    assert np.array_equal(again.ranks, made.ranks)
    assert np.array_equal(again.standing.lifetime_cost_usd, made.standing.lifetime_cost_usd)
    assert again.checks.empty


def test_another_seed_draws_others(made):
    other = draw(ground_of(small_study(*LINEAR, "seed=2")), 256, checked=0)
    assert not np.array_equal(other.ranks, made.ranks)


def test_up_front_is_linear_so_its_mean_is_that_of_the_means(ground, made):
    """Price and installation of battery and transfer: their PERT means (low + 4 likely + high) / 6."""
    k = made.standing.place("battery")
    found = intervals(made).set_index(["option", "figure"]).loc[("battery", "up_front_usd")]
    paths = [one for one in ground.ranges if one.key.startswith("options.") and one.moves == "money"]
    own = [
        one
        for one in paths
        if any(
            p.startswith("options.battery.") and p.endswith(("price_usd", "install_usd")) for p in one.paths
        )
    ]
    assert len(own) == 3
    shift = sum((one.low + 4.0 * one.likely + one.high) / 6.0 - one.likely for one in own)
    likely = float(ground.standing().up_front_usd[0, k])
    assert found["mean"] == pytest.approx(likely + shift, abs=3.0 * found["standard_error"] / 5.0)
    assert found["p05"] < found["p50"] < found["p95"]


def test_the_grid_is_measured_by_exact_joint_runs(made):
    checks = made.checks
    assert set(checks["draw"]) == {0, 1}
    assert (checks["grid_usd"] - checks["exact_usd"]).abs().max() < 25.0
    assert (checks["grid_frac"] - checks["exact_frac"]).abs().max() < 0.01


def test_chances_and_regret_by_hand(made):
    s = made.standing
    table = chances(made).set_index("option")
    best = [
        min((c for c, ok in zip(cost, stands, strict=True) if ok), default=None)
        for cost, stands in zip(s.judged_usd, s.stands, strict=True)
    ]
    assert table["wins_frac"].sum() == pytest.approx(1.0)
    for k, slug in enumerate(s.slugs):
        mine = [i for i in range(made.count) if s.stands[i, k]]
        assert table.loc[slug, "stands_frac"] == pytest.approx(len(mine) / made.count)
        if mine:
            regret = sum(s.judged_usd[i, k] - best[i] for i in mine) / len(mine)
            assert table.loc[slug, "regret_usd"] == pytest.approx(regret)
        wins = sum(1 for i in mine if s.judged_usd[i, k] == best[i])
        assert table.loc[slug, "wins_frac"] == pytest.approx(wins / made.count)


def test_standard_error_never_says_certain():
    assert share_error(0.5, 400) == pytest.approx(0.025, rel=1e-3)
    assert 0.0 < share_error(1.0, 512) < 0.002
    assert share_error(0.0, 512) == pytest.approx(share_error(1.0, 512))


def test_convergence_halves_the_draws_and_its_error_falls(made):
    table = convergence(made, "battery")
    assert list(table["draw_count"]) == [32, 64, 128, 256]
    assert table["standard_error_usd"].iloc[-1] < table["standard_error_usd"].iloc[0]


def test_cash_bands_hold_their_middle(made):
    bands = cash_bands(made)
    assert set(bands["option"]) == set(made.standing.slugs[1:])
    assert (bands["p05"] <= bands["p50"]).all()
    assert (bands["p50"] <= bands["p95"]).all()


def test_swings_are_one_setting_each_and_widest_first(ground):
    table = swings(ground)
    key = "10 kWh battery unit: price"
    rows = table[(table["unknown"] == key) & (table["option"] == "battery")].set_index("end")
    one = next(r for r in ground.ranges if r.name == key)
    base = ground.standing().judged_usd[0, ground.slugs.index("battery")]
    high = ground.standing({one.key: [one.high]}).judged_usd[0, ground.slugs.index("battery")]
    assert rows.loc["high", "change_usd"] == pytest.approx(high - base)
    assert rows.loc["low", "change_usd"] < 0 < rows.loc["high", "change_usd"]
    widest = table.groupby("unknown", sort=False)["change_usd"].apply(lambda c: c.abs().max())
    assert list(widest) == sorted(widest, reverse=True)
    assert set(table[table["unknown"] == "fuel prices"]["value"]) == {"all 2 low", "all 2 high"}
    assert set(table[table["unknown"] == "gasoline: price"]["group"]) == {"fuel prices"}


def test_shares_of_a_linear_difference_add_up(ground):
    table = variance_shares(ground, "battery", "portable", 128)
    assert table["first_frac"].sum() == pytest.approx(1.0, abs=0.15)
    assert list(table["total_frac"]) == sorted(table["total_frac"], reverse=True)
    assert "10 kWh battery unit: price" in set(table["unknown"].head(3)) | {"installation costs"}


def test_a_study_without_ranges_has_nothing_to_draw(ground):
    bare = ground_of(ground.study)
    bare.__dict__["ranges"] = ()
    with pytest.raises(ValueError, match="nothing to draw"):
        draw(bare)
