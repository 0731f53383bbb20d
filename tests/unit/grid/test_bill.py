"""Bills: small ones by hand, a time-of-use year against a plain loop."""

from __future__ import annotations

import time

import numpy as np
import pytest

from kit.calendar import calendar_year
from kit.grid.bill import bill, bill_findings, bill_from, bill_usd
from kit.grid.rates import prepare, prices
from tests.unit.grid.plain_bill import month_energy_usd
from tests.unit.grid.plans import SEASONS, ZONE, evening_peak, flat, in_month, plan, year

TIERS = [
    {"up_to_kwh_per_month": 300.0, "price_usd_per_kwh": 0.1},
    {"up_to_kwh_per_month": 700.0, "price_usd_per_kwh": 0.2},
    {"price_usd_per_kwh": 0.3},
]


@pytest.mark.parametrize("step_min", [60, 30, 15])
def test_a_time_of_use_year_equals_a_plain_loop(step_min: int) -> None:
    y = year(step_min)
    import_kwh = np.random.default_rng(7).gamma(2.0, 0.4, y.n) * y.step_h
    made = bill(evening_peak(), y, import_kwh)
    assert made.month_usd == pytest.approx(month_energy_usd(import_kwh.tolist(), step_min, ZONE), rel=1e-12)


def test_hourly_and_quarter_hourly_bills_agree() -> None:
    hourly, quarter = year(60), year(15)
    import_kwh = np.random.default_rng(3).gamma(2.0, 0.4, hourly.n)
    keys = {"fixed_usd_per_month": 11.0, "taxes": {"state": {"frac": 0.03}}}
    whole = bill(evening_peak(**keys), hourly, import_kwh)
    parts = bill(evening_peak(**keys), quarter, np.repeat(import_kwh / 4, 4))
    assert parts.month_usd == pytest.approx(whole.month_usd, abs=0.005)
    assert parts.total_usd == pytest.approx(whole.total_usd, abs=1e-9)


def test_an_hour_cut_by_a_period_is_split_by_share() -> None:
    y = year(60)
    import_kwh = np.zeros(y.n)
    import_kwh[20] = 8.0
    import_kwh[24 + 20] = 8.0
    made = bill(evening_peak(), y, import_kwh)  # 1 January is a holiday, 2 January a Thursday
    assert made.total_usd == pytest.approx(8.0 * 0.12 + 4.0 * 0.25 + 4.0 * 0.12)


def test_tiers_over_all_kwh_fill_in_the_months_order() -> None:
    y = year()
    p = plan(tiers=TIERS, energy={"all_hours": {}})
    made = bill(p, y, in_month(y, 250.0, 900.0))
    assert made.month_usd[0] == pytest.approx(250 * 0.1)
    assert made.month_usd[1] == pytest.approx(300 * 0.1 + 400 * 0.2 + 200 * 0.3)


def test_tiers_inside_a_period_count_that_period_alone() -> None:
    y = year()
    p = plan(
        energy={
            "noon": {"hours": "12-13", "tiers": TIERS},
            "other": {"hours": "rest", "price_usd_per_kwh": 0.05},
        }
    )
    import_kwh = in_month(y, 800.0)
    import_kwh[0] = 1000.0
    made = bill(p, y, import_kwh)
    assert made.total_usd == pytest.approx(300 * 0.1 + 400 * 0.2 + 100 * 0.3 + 1000 * 0.05)


def test_adders_come_on_top_of_tiers_over_all_kwh() -> None:
    y = year()
    energy = {"noon": {"hours": "12-13", "price_usd_per_kwh": 0.08}, "other": {"hours": "rest"}}
    p = plan(tiers=TIERS, energy=energy)
    import_kwh = in_month(y, 200.0)
    import_kwh[0] = 300.0
    made = bill(p, y, import_kwh)
    assert made.total_usd == pytest.approx(300 * 0.1 + 200 * 0.2 + 200 * 0.08)


def test_limits_per_day_grow_with_the_month_and_change_with_the_season() -> None:
    y = year()
    warm = [{"up_to_kwh_per_day": 10.0, "price_usd_per_kwh": 0.1}, {"price_usd_per_kwh": 0.2}]
    cold = [{"up_to_kwh_per_day": 20.0, "price_usd_per_kwh": 0.1}, {"price_usd_per_kwh": 0.2}]
    p = plan(seasons=SEASONS, season_tiers={"summer": warm, "winter": cold}, energy={"all_hours": {}})
    made = bill(p, y, in_month(y, 0, 700.0, 0, 0, 0, 700.0))
    assert made.month_usd[1] == pytest.approx(560 * 0.1 + 140 * 0.2)  # 28 days of February
    assert made.month_usd[5] == pytest.approx(300 * 0.1 + 400 * 0.2)  # 30 days of June


def test_fixed_minimum_riders_and_taxes() -> None:
    y = year()
    p = flat(
        0.1,
        fixed_usd_per_month=5.0,
        fixed_usd_per_day=0.1,
        minimum_usd_per_month=20.0,
        riders={"fuel": {"price_usd_per_kwh": 0.01}},
        taxes={"city": {"frac": 0.02}, "energy": {"frac": 0.05, "of": "energy"}},
    )
    made = bill(p, y, in_month(y, 40.0, 500.0))
    assert made.month_usd[0] == pytest.approx(20.0 * 1.02 + 4.0 * 0.05)  # 5 + 3.1 + 4.4 is below 20
    assert made.month_usd[1] == pytest.approx((5.0 + 2.8 + 50.0 + 5.0) * 1.02 + 50.0 * 0.05)
    january = made.lines[made.lines.month == 1].set_index("line")
    assert january.loc["minimum bill top-up", "usd"] == pytest.approx(20.0 - 12.5)
    assert january.loc["fixed daily charge", "quantity"] == 31


def test_net_metering_carries_dollars_and_never_goes_below_the_minimum() -> None:
    y = year()
    p = flat(0.1, fixed_usd_per_month=10.0, minimum_usd_per_month=4.0, export={"kind": "net_metering"})
    made = bill(p, y, in_month(y, 100.0, 200.0), in_month(y, 300.0, 0.0))
    # January earns 20.00, may use 10 - 4 = 6, carries 14; February 10 + 20 - 14
    assert made.month_usd[:3] == pytest.approx([4.0, 16.0, 10.0])
    assert made.unused_credit_usd == 0.0


def test_net_metering_carries_kwh_and_pays_what_december_leaves() -> None:
    y = year()
    export = {"kind": "net_metering", "leftover": "carried_kwh", "year_end_usd_per_kwh": 0.03}
    made = bill(flat(0.1, export=export), y, in_month(y, 100.0, 50.0, 0.0), in_month(y, 300.0, 0.0, 20.0))
    assert made.month_usd[:3] == pytest.approx([0.0, 0.0, 0.0])
    assert made.unused_credit_kwh == pytest.approx(200 - 50 + 20)
    assert made.month_usd[11] == pytest.approx(-170 * 0.03)


def test_carried_kwh_take_their_adder_along() -> None:
    y = year()
    export = {"kind": "net_metering", "leftover": "carried_kwh"}
    p = plan(tiers=TIERS, energy={"all_hours": {"price_usd_per_kwh": 0.05}}, export=export)
    made = bill(p, y, in_month(y, 0.0, 350.0, 10.0), in_month(y, 100.0, 0.0, 30.0))
    assert made.month_usd[:3] == pytest.approx([0.0, 250 * 0.15, 0.0])
    assert made.unused_credit_kwh == pytest.approx(20.0)


def test_surplus_earns_first_tier_adder_and_one_rider() -> None:
    y = year()
    energy = {"noon": {"hours": "12-13", "price_usd_per_kwh": 0.08}, "other": {"hours": "rest"}}
    export = {"kind": "net_metering", "leftover": "paid_usd"}
    p = plan(tiers=TIERS, energy=energy, export=export, riders={"fuel": {"price_usd_per_kwh": 0.01}})
    made = bill(p, y, np.zeros(y.n), in_month(y, 100.0))
    assert made.total_usd == pytest.approx(-100 * (0.1 + 0.08 + 0.01))


def test_steps_across_midnight_lose_nothing() -> None:
    """Lord Howe Island shifts its clocks by half an hour: for half a year hourly steps cross midnight."""
    y = calendar_year(2025, "Australia/Lord_Howe", 60)
    days = {
        "work": {"days": "weekday", "price_usd_per_kwh": 0.2},
        "free": {"days": "weekend", "price_usd_per_kwh": 0.1},
    }
    table = prepare(plan(energy=days), y)
    by_period = table.versions[0].by_column(np.ones(y.n)).sum(axis=0)
    assert (y.hour % 1 == 0.5).any()
    assert by_period == pytest.approx([261 * 24, 104 * 24])


def test_a_step_counts_for_demand_if_half_of_it_is_inside() -> None:
    y = year()
    import_kwh = np.zeros(y.n)
    import_kwh[16], import_kwh[18] = 9.0, 4.0
    for hours, peak_kw in (("16.75-19", 4.0), ("16.5-19", 9.0), ("17-18.25", 0.0)):
        demand = {"peak": {"hours": hours, "price_usd_per_kw": 1.0}}
        assert bill(flat(0.0, demand=demand), y, import_kwh).total_usd == pytest.approx(peak_kw)


def test_credit_lost_and_credit_paid() -> None:
    y = year()
    sizes = in_month(y, 100.0, 100.0), in_month(y, 400.0, 0.0)
    lost = bill(flat(0.1, export={"kind": "net_metering", "leftover": "lost"}), y, *sizes)
    paid = bill(flat(0.1, export={"kind": "net_metering", "leftover": "paid_usd"}), y, *sizes)
    assert lost.month_usd[:2] == pytest.approx([0.0, 10.0])
    assert lost.unused_credit_usd == pytest.approx(30.0)
    assert paid.month_usd[:2] == pytest.approx([-30.0, 10.0])
    texts = [f.text for f in bill_findings(flat(0.1), y, lost)]
    assert texts == ["export credit of 30.00 is not used within the year"]


def test_credit_that_reaches_energy_only() -> None:
    y = year()
    export = {"kind": "net_billing", "price_usd_per_kwh": 0.1, "offsets": "energy", "leftover": "lost"}
    made = bill(flat(0.2, fixed_usd_per_month=12.0, export=export), y, in_month(y, 50.0), in_month(y, 500.0))
    assert made.month_usd[0] == pytest.approx(12.0)
    assert made.unused_credit_usd == pytest.approx(40.0)


def test_export_prices_by_period() -> None:
    y = year()
    energy = {
        "noon": {"hours": "12-13", "price_usd_per_kwh": 0.3},
        "other": {"hours": "rest", "price_usd_per_kwh": 0.1},
    }
    export = {
        "kind": "net_billing",
        "period_price_usd_per_kwh": {"noon": 0.02, "other": 0.05},
        "leftover": "paid_usd",
    }
    export_kwh = in_month(y, 10.0)
    export_kwh[0] = 4.0
    made = bill(plan(energy=energy, export=export), y, np.zeros(y.n), export_kwh)
    assert made.total_usd == pytest.approx(-10 * 0.02 - 4 * 0.05)


def test_export_earns_nothing_where_the_plan_says_none() -> None:
    y = year()
    assert bill(flat(0.1), y, in_month(y, 10.0), in_month(y, 500.0)).total_usd == pytest.approx(1.0)


def test_demand_counts_its_season_days_and_hours() -> None:
    y = year(15)
    demand = {"peak": {"seasons": ["summer"], "days": "weekday", "hours": "16-19", "price_usd_per_kw": 10.0}}
    p = flat(0.0, seasons=SEASONS, demand=demand)
    import_kwh = np.zeros(y.n)
    inside = np.flatnonzero((y.month == 7) & (y.weekday == 2) & (y.hour == 17))[0]
    import_kwh[inside : inside + 4] = [
        2.0,
        1.0,
        1.0,
        1.0,
    ]  # kWh in quarter hours: 8, 4, 4, 4 kW, 5 kW by the hour
    import_kwh[np.flatnonzero((y.month == 7) & (y.weekday == 6) & (y.hour == 17))] = 9.0
    import_kwh[np.flatnonzero((y.month == 1) & (y.hour == 17))] = 9.0
    assert bill(p, y, import_kwh).total_usd == pytest.approx(50.0)
    demand["peak"]["interval_min"] = 15
    quarter = flat(0.0, seasons=SEASONS, demand=demand)
    assert bill(quarter, y, import_kwh).total_usd == pytest.approx(80.0)
    hourly = year(60)
    found = bill_findings(quarter, hourly, bill(quarter, hourly, np.zeros(hourly.n)))
    assert "read every 15 min" in found[0].text


def test_lines_add_up_and_round_as_printed() -> None:
    y = year()
    import_kwh = np.random.default_rng(1).random(y.n)
    made = bill(
        evening_peak(fixed_usd_per_month=9.99, rounding="line", taxes={"t": {"frac": 0.0333}}), y, import_kwh
    )
    assert made.lines.usd.sum() == pytest.approx(made.total_usd, abs=1e-9)
    assert made.lines.groupby("month").usd.sum().to_numpy() == pytest.approx(made.month_usd, abs=1e-9)
    assert sum(made.part_usd.values()) == pytest.approx(made.total_usd, abs=1e-9)
    assert np.abs(made.lines.usd * 100 - (made.lines.usd * 100).round()).max() < 1e-7
    assert list(made.lines.columns) == ["month", "line", "quantity", "unit", "price", "usd"]


def test_half_a_cent_rounds_up() -> None:
    y = year()
    assert bill(flat(0.01, rounding="line"), y, in_month(y, 0.5)).total_usd == pytest.approx(0.01)
    assert bill(flat(1.005, rounding="line"), y, in_month(y, 1.0)).total_usd == pytest.approx(1.01)


def test_prices_are_what_one_more_kwh_costs() -> None:
    y = year()
    p = evening_peak(
        riders={"fuel": {"price_usd_per_kwh": 0.01}, "grid": {"price_usd_per_kwh": 0.02, "counts": "import"}},
        taxes={"state": {"frac": 0.05}, "city": {"frac": 0.02, "of": "energy"}},
        export={"kind": "net_billing", "price_usd_per_kwh": 0.05, "leftover": "paid_usd"},
    )
    load = np.full(y.n, 1.0)
    told, before = prices(p, y), bill(p, y, load).total_usd
    for step in (20, 44, 4000, 4007, 8000):
        more, sent = load.copy(), np.zeros(y.n)
        more[step] += 1.0
        sent[step] = 1.0
        assert bill(p, y, more).total_usd - before == pytest.approx(told.import_usd_per_kwh[step], abs=1e-9)
        assert before - bill(p, y, load, sent).total_usd == pytest.approx(
            told.export_usd_per_kwh[step], abs=1e-9
        )
    assert told.period_names[told.period[12]] == "day"
    assert told.period_names[told.period[2]] == "night"


def test_net_metering_export_is_worth_retail_less_riders_on_import() -> None:
    y = year()
    p = flat(
        0.15,
        riders={"grid": {"price_usd_per_kwh": 0.02, "counts": "import"}},
        export={"kind": "net_metering"},
    )
    told = prices(p, y)
    assert told.import_usd_per_kwh == pytest.approx(np.full(y.n, 0.17))
    assert told.export_usd_per_kwh == pytest.approx(np.full(y.n, 0.15))


def test_a_prepared_plan_gives_the_same_bill_and_is_kept() -> None:
    y, p = year(), evening_peak()
    import_kwh = np.ones(y.n)
    table = prepare(p, y)
    assert prepare(p, y) is table
    assert (
        bill_usd(table, import_kwh)
        == bill(p, y, import_kwh).total_usd
        == bill_from(table, import_kwh).total_usd
    )


def test_plans_that_say_the_same_share_a_table_and_others_do_not() -> None:
    y, p = year(), evening_peak()
    assert prepare(p.model_copy(deep=True), y) is prepare(p, y)
    dearer = p.model_copy(update={"fixed_usd_per_month": p.fixed_usd_per_month + 1.0})
    assert prepare(dearer, y) is not prepare(p, y)
    assert prepare(dearer, y).plan is dearer


def test_a_bill_is_quick_enough_for_sweeps() -> None:
    y, table = year(), prepare(evening_peak(), year())
    import_kwh = np.ones(y.n)
    took = []
    for _ in range(20):
        start = time.perf_counter()
        bill_usd(table, import_kwh)
        took.append(time.perf_counter() - start)
    assert min(took) < 0.01  # about 0.5 ms on two cores; ten times that on a busy machine


@pytest.mark.parametrize(
    ("import_kwh", "text"),
    [
        (np.zeros(10), "import_kwh has shape (10,), the year has 8760 steps"),
        (np.full(8760, -1.0), "import_kwh is negative somewhere"),
        (np.full(8760, np.nan), "import_kwh is not finite somewhere"),
        (np.full(8760, np.inf), "import_kwh is not finite somewhere"),
    ],
)
def test_bad_energy_is_refused(import_kwh: np.ndarray, text: str) -> None:
    with pytest.raises(ValueError) as caught:
        bill(flat(), year(), import_kwh)
    assert text in str(caught.value)


def test_what_a_reader_must_know_of_dates_and_ratchets() -> None:
    y = year()
    p = flat(
        0.1,
        critical_peaks={"hot": {"dates": ["2030-07-14"], "hours": "16-20", "price_usd_per_kwh": 0.9}},
        demand={"any": {"price_usd_per_kw": 5.0, "ratchet": {"frac": 0.5}}},
        followed_by={"energy": {"off": {"price_usd_per_kwh": 0.1}}, "starts": "2027-07-01"},
    )
    found = {f.code: f for f in bill_findings(p, y, bill(p, y, np.ones(y.n)))}
    assert set(found) == {"ratchet_start", "no_event_days", "plan_change_elsewhere"}
    assert found["no_event_days"].text == "no event day of hot lies in 2025: no event is billed"
    assert "the change of plan on 2027-07-01 is not in 2025" in found["plan_change_elsewhere"].text
    assert found["ratchet_start"].severity == "note"


def test_kwh_still_carried_after_the_true_up_are_told() -> None:
    y = year()
    export = {"kind": "net_metering", "leftover": "carried_kwh", "true_up_month": 3}
    p = flat(0.1, export=export)
    found = bill_findings(p, y, bill(p, y, np.zeros(y.n), in_month(y, 0.0, 40.0)))
    assert [f.text for f in found] == ["40 kWh of export are still carried after March and earn nothing"]
