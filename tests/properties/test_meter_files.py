"""Meter files of any kind: what is written is read back, and nonsense ends in one clear error."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from kit.house.meter import describe_meter, read_readings
from kit.house.readings import MeterError
from kit.study.house_models import Meter
from tests.unit.house.meter_files import block, entry, feed, reading_type, simple

ZONES = st.sampled_from(
    ["America/New_York", "America/Los_Angeles", "Europe/Berlin", "Australia/Lord_Howe", "UTC"]
)
FORMS = st.sampled_from(["%Y-%m-%d %H:%M", "%m/%d/%Y %I:%M %p", "%d.%m.%Y %H:%M", "%b %d, %Y %H:%M"])


TABLE_MARKS = '0129:/-., ;"\nabkWhPM\u00a0é'
FEED_MARKS = "0129-<>/eE.:value"


def spoilt(data: st.DataObject, text: str, marks: str, most: int) -> str:
    """A text with a few pieces overwritten."""
    for _ in range(data.draw(st.integers(1, most))):
        place, length = data.draw(st.integers(0, len(text))), data.draw(st.integers(0, 30))
        text = text[:place] + data.draw(st.text(alphabet=marks, max_size=12)) + text[place + length :]
    return text


def read(text: str, zone: str | None, suffix: str, **left_open: object):  # type: ignore[no-untyped-def]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"meter{suffix}"
        path.write_text(text, encoding="utf-8")
        return read_readings(Meter(file=str(path), **left_open), zone)


def sound_or_refused(text: str, zone: str, suffix: str) -> bool:
    """Whether a file is read as a sound series, or refused in one line."""
    try:
        found = read(text, zone, suffix)
    except MeterError as error:
        return "\n" not in str(error)
    return bool(np.all(np.diff(found.start_s) > 0) and np.isfinite(found.energy_wh).all())


def near_a_clock_change(data: st.DataObject, step_min: int, zone: str) -> pd.DatetimeIndex:
    """A few days of 2025, mostly around the changes of the clock."""
    first = data.draw(
        st.sampled_from(["2025-03-07", "2025-03-28", "2025-04-04", "2025-10-04", "2025-10-24", "2025-11-01"])
    )
    skipped = data.draw(st.integers(0, 60))
    start = pd.Timestamp(first, tz=zone) + pd.Timedelta(minutes=step_min * skipped)
    return pd.date_range(start, periods=data.draw(st.integers(96, 200)), freq=f"{step_min}min")


@settings(max_examples=60)
@given(
    data=st.data(), zone=ZONES, form=FORMS, step_min=st.sampled_from([15, 30, 60]), backwards=st.booleans()
)
def test_a_table_on_the_local_clock_is_read_back(
    data: st.DataObject, zone: str, form: str, step_min: int, backwards: bool
) -> None:
    assume(step_min < 60 or "Lord_Howe" not in zone)  # its clock moves by half an hour: half a reading
    index = near_a_clock_change(data, step_min, zone)
    wh = np.arange(len(index)) % 17 + 1
    rows = [f'"{t.strftime(form)}",{v}' for t, v in zip(index, wh, strict=True)]
    text = "\n".join(["Date/Time,Wh", *(reversed(rows) if backwards else rows)])
    found = read(text, zone, ".csv", date_order="month_first")
    assert np.array_equal(found.start_s, index.as_unit("s").asi8)
    assert np.array_equal(found.energy_wh, wh)
    assert (found.duplicate_count, found.problems) == (0, ())


@settings(max_examples=60)
@given(data=st.data(), zone=ZONES, step_min=st.sampled_from([15, 30, 60]))
def test_a_feed_in_any_order_of_blocks_with_repeats_is_read_back(
    data: st.DataObject, zone: str, step_min: int
) -> None:
    index = near_a_clock_change(data, step_min, zone)
    seconds = index.as_unit("s").asi8
    cut = data.draw(st.integers(1, len(index) - 1))
    again = data.draw(st.integers(0, 20))
    wh = (np.arange(len(index)) % 23).tolist()
    parts = [
        block(wh[cut:], int(seconds[cut]), step_min * 60),
        block(wh[:cut], int(seconds[0]), step_min * 60),
        block(wh[:again], int(seconds[0]), step_min * 60),
    ]
    found = read(feed(*map(entry, data.draw(st.permutations([*parts, reading_type()])))), zone, ".xml")
    assert np.array_equal(found.start_s, seconds)
    assert np.array_equal(found.energy_wh, wh)
    assert found.duplicate_count == again


@settings(max_examples=60)
@given(data=st.data(), zone=ZONES)
def test_a_spoilt_table_is_read_or_refused_in_one_line(data: st.DataObject, zone: str) -> None:
    rows = [f"{d}/1/2025,{h}:00,{h / 4},0.5" for d in (1, 2, 3) for h in range(24)]
    text = "\n".join(["Some name", "Date,Time,Usage (kWh),Export kWh", *rows, "Total,72 kWh"])
    text = spoilt(data, text, TABLE_MARKS, 4)
    assert sound_or_refused(text, zone, ".csv")


@settings(max_examples=60)
@given(data=st.data())
def test_a_spoilt_feed_is_read_or_refused_in_one_line(data: st.DataObject) -> None:
    text = spoilt(data, simple([100, 200, 300, 400], 1735707600), FEED_MARKS, 3)
    assert sound_or_refused(text, "America/New_York", ".xml")


@settings(max_examples=60)
@given(days=st.integers(1, 9), hour_kw=st.floats(0.01, 20.0))
def test_figures_of_a_constant_load(days: int, hour_kw: float) -> None:
    text = simple([hour_kw * 1000] * (24 * days), 1735707600)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "meter.xml"
        path.write_text(text)
        report = describe_meter(path, None)
    assert np.isclose(report.energy_kwh, 24 * days * hour_kw)
    assert np.isclose(report.peak_to_mean, 1.0)
    assert report.coverage_frac == 1.0
