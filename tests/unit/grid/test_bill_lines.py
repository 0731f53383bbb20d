"""Lines of a bill that a change of plan cuts in two, by hand. Plans and figures are invented.

A limit a month goes by the days of each part: common practice, no source.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from kit.calendar import Year
from kit.grid.bill import bill
from tests.unit.grid.plans import flat, year


def sent_at_noon(y: Year, *days: tuple[int, int, float]) -> NDArray[np.float64]:
    """kWh sent at noon of (month, day, kWh)."""
    sent_kwh = np.zeros(y.n)
    for month, day, kwh in days:
        sent_kwh[(y.month == month) & (y.index.day == day) & (y.hour == 12)] = kwh
    return sent_kwh


def changed_bill(**limit: float) -> dict[str, Any]:
    """Line -> (quantity, USD) of the July bill, 21 June to 20 July: 10 days at 0.10, then 20 days at 0.06.

    250 kWh are sent in each part, and what they earn is paid out.
    """
    y = year()
    export = {"kind": "net_billing", "leftover": "paid_usd", **limit}
    later = {
        "energy": {"all_hours": {"price_usd_per_kwh": 0.3}},
        "export": {**export, "price_usd_per_kwh": 0.06},
        "starts": "07-01",
    }
    p = flat(
        0.2,
        billing_cycle={"begins_on_day": 21},
        export={**export, "price_usd_per_kwh": 0.10},
        ends="06-30",
        followed_by=later,
    )
    made = bill(p, y, np.zeros(y.n), sent_at_noon(y, (6, 25, 250.0), (7, 10, 250.0)))
    assert made.total_usd == pytest.approx(made.month_usd[6])
    july = made.lines[made.lines.month == 7]
    return {line: (kwh, usd) for line, kwh, usd in zip(july.line, july.quantity, july.usd, strict=True)}


def test_a_kwh_limit_of_export_is_shared_by_days_where_the_plan_changes() -> None:
    """300 kWh a bill are 300 x 10/30 = 100 kWh of the first part and 200 kWh of the second.

    Of 250 kWh each, 100 earn 0.10 = 10.00 and 200 earn 0.06 = 12.00; 150 and 50 kWh earn nothing.
    """
    lines = changed_bill(earns_up_to_kwh_per_month=300.0)
    assert set(lines) == {
        "export beyond the limit (from 21 June)",
        "export credit (from 21 June)",
        "export beyond the limit (from 1 July)",
        "export credit (from 1 July)",
    }
    assert lines["export credit (from 21 June)"] == pytest.approx((100.0, -10.0))
    assert lines["export credit (from 1 July)"] == pytest.approx((200.0, -12.0))
    assert lines["export beyond the limit (from 21 June)"] == pytest.approx((150.0, 0.0))
    assert lines["export beyond the limit (from 1 July)"] == pytest.approx((50.0, 0.0))


def test_a_money_limit_of_export_is_shared_by_days_where_the_plan_changes() -> None:
    """18.00 a bill are 6.00 of the first part and 12.00 of the second.

    250 x 0.10 = 25.00 keeps 6.00 and loses 19.00; 250 x 0.06 = 15.00 keeps 12.00 and loses 3.00.
    """
    lines = changed_bill(earns_up_to_usd_per_month=18.0)
    assert lines["credit beyond the limit (from 21 June)"][1] == pytest.approx(19.0)
    assert lines["credit beyond the limit (from 1 July)"][1] == pytest.approx(3.0)
    assert sum(usd for _, usd in lines.values()) == pytest.approx(-18.0)
