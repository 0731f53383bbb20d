"""Hourly prices from CSV: laid on steps, and every way in which a file can be wrong."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from kit.calendar import Year, calendar_year
from kit.grid.bill import bill
from kit.grid.price_series import PriceSeriesError, step_prices
from kit.grid.rates import prices
from kit.study.rate_models import RatePlan
from kit.study.rate_parts import PriceSeries

ZONE = "America/Los_Angeles"
YEAR = calendar_year(2011, ZONE, 60)


def rows(year: Year = YEAR, offset: bool = False) -> list[str]:
    """The hours of a year as CSV rows, the price of row k being k / 10000."""
    form = "%Y-%m-%dT%H:%M:%S%z" if offset else "%Y-%m-%d %H:%M"
    return [f"{t.strftime(form)},{k / 10000:.4f}" for k, t in enumerate(year.index)]


def written(folder: Path, lines: list[str], head: str = "start,import_usd_per_kwh") -> PriceSeries:
    file = folder / "prices.csv"
    file.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    return PriceSeries(file=str(file))


@pytest.mark.parametrize("offset", [False, True])
def test_local_times_and_offsets_say_the_same(offset: bool, tmp_path: Path) -> None:
    """Row k is hour k of the year by either way of writing; the repeated hour is two rows, in order."""
    found = step_prices(written(tmp_path, rows(offset=offset)), YEAR)
    assert found.import_usd_per_kwh == pytest.approx(np.arange(8760) / 10000)
    assert found.export_usd_per_kwh is not None
    twice = np.flatnonzero((YEAR.month == 11) & (YEAR.index.day == 6) & (YEAR.hour == 1))
    assert len(twice) == 2


def test_steps_shorter_and_longer_than_rows(tmp_path: Path) -> None:
    quarter = calendar_year(2011, ZONE, 15)
    fine = step_prices(written(tmp_path, rows()), quarter).import_usd_per_kwh
    assert fine == pytest.approx(np.repeat(np.arange(8760), 4) / 10000)
    lines = rows(quarter, offset=True)
    hourly = step_prices(written(tmp_path, lines), YEAR).import_usd_per_kwh
    assert hourly == pytest.approx((4 * np.arange(8760) + 1.5) / 10000)


def test_the_bill_of_a_series_is_the_sum_of_price_times_energy(tmp_path: Path) -> None:
    """2 kWh in hour 100 at 0.05 + 0.0100 and 3 kWh in hour 4000 at 0.05 + 0.4000; 1 kWh sent in hour 5000
    at 0.5000: 0.12 + 1.35 - 0.50 = 0.97."""
    series = written(tmp_path, rows())
    plan = RatePlan.model_validate(
        {
            "energy": {"all_hours": {"price_usd_per_kwh": 0.05}},
            "series": {"file": series.file},
            "export": {"kind": "net_billing", "price_from_series": True, "leftover": "paid_usd"},
        }
    )
    import_kwh, export_kwh = np.zeros(8760), np.zeros(8760)
    import_kwh[[100, 4000]], export_kwh[5000] = (2.0, 3.0), 1.0
    made = bill(plan, YEAR, import_kwh, export_kwh)
    assert made.total_usd == pytest.approx(0.97)
    assert (made.lines.quantity * made.lines.price).to_numpy() == pytest.approx(made.lines.usd.to_numpy())
    told = prices(plan, YEAR)
    assert told.import_usd_per_kwh[4000] == pytest.approx(0.45)
    assert told.export_usd_per_kwh[5000] == pytest.approx(0.50)


def changed(lines: list[str], row: int, text: str | None) -> list[str]:
    return lines[:row] + ([] if text is None else [text]) + lines[row + 1 :]


AUTUMN = int(np.flatnonzero((YEAR.month == 11) & (YEAR.index.day == 6) & (YEAR.hour == 1))[0])
SPRING = int(np.flatnonzero((YEAR.month == 3) & (YEAR.index.day == 13) & (YEAR.hour == 3))[0])
BAD = {
    "the repeated hour stands once": (
        changed(rows(), AUTUMN, None),
        f"prices.csv:{AUTUMN + 2}: 2011-11-06 01:00 happens twice in {ZONE}, and stands here 1 times; "
        "write the offset",
    ),
    "the hour that clocks leave out": (
        changed(rows(), SPRING, "2011-03-13 02:00,0.1"),
        f"prices.csv:{SPRING + 2}: 2011-03-13 02:00 does not exist in {ZONE}, clocks go forward over it",
    ),
    "a missing row": (changed(rows(), 500, None), "prices.csv:502: 2 h after the row before, the others 1 h"),
    "no number": (
        changed(rows(), 7, "2011-01-01 07:00,n/a"),
        "prices.csv:9: import_usd_per_kwh must be a number",
    ),
    "no time": (changed(rows(), 7, "noon,0.1"), "prices.csv:9: 'noon' is no time"),
    "some offsets": (
        changed(rows(), 7, "2011-01-01T07:00-08:00,0.1"),
        "prices.csv:9: some times have an offset and some have none",
    ),
    "half a year": (rows()[:5000], "covers 2011-01-01 00:00 to 2011-07-28"),
    "one row": (rows()[:1], "one row is no series"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_wrong_file_is_told(name: str, tmp_path: Path) -> None:
    lines, text = BAD[name]
    with pytest.raises(PriceSeriesError) as caught:
        step_prices(written(tmp_path, lines), YEAR)
    assert text in str(caught.value)


def test_another_year_and_a_missing_column(tmp_path: Path) -> None:
    of_2012 = calendar_year(2012, ZONE, 60)
    with pytest.raises(PriceSeriesError, match="not the whole study year 2012"):
        step_prices(written(tmp_path, rows()), of_2012)
    with pytest.raises(
        PriceSeriesError, match=r"prices.csv:1: has no column import_usd_per_kwh; it has start, usd"
    ):
        step_prices(written(tmp_path, rows(), "start,usd"), YEAR)
    with pytest.raises(PriceSeriesError, match="cannot be read as CSV"):
        step_prices(PriceSeries(file=str(tmp_path / "absent.csv")), YEAR)


def test_the_shipped_series_is_the_clock_of_its_year() -> None:
    file = Path(__file__).parents[3] / "params" / "data" / "prices" / "invented_hourly_2011.csv"
    frame = pd.read_csv(file)
    assert len(frame) == 8760
    assert frame.start.duplicated().sum() == 1
    found = step_prices(PriceSeries(file=str(file), multiply_by=2.0), YEAR).import_usd_per_kwh
    assert found == pytest.approx(2.0 * frame.import_usd_per_kwh.to_numpy())
