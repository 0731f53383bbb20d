"""Green Button files: which readings count, and what is refused with which words."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from kit.house.green_button import read_green_button
from kit.house.meter import describe_meter
from kit.house.meter_clock import DstRule, MeterClock
from kit.house.readings import MeterError
from kit.study.house_models import Meter
from tests.unit.house.meter_files import block, entry, epoch, feed, reading_type, series, simple

START_S = epoch("2025-01-01T05:00")
ZONE = "America/New_York"


def written(folder: Path, text: str) -> Path:
    path = folder / "meter.xml"
    path.write_text(text, encoding="utf-8")
    return path


def refusal(path: Path) -> str:
    with pytest.raises(MeterError) as caught:
        describe_meter(path, ZONE)
    text = str(caught.value)
    assert text.startswith(f"{path}: ")
    assert "\n" not in text
    return text


def test_values_are_scaled_by_their_power_of_ten(tmp_path: Path) -> None:
    readings = read_green_button(written(tmp_path, simple([1, 2, 3], START_S, power=3)))
    assert readings.energy_wh.tolist() == [1000.0, 2000.0, 3000.0]


def test_blocks_out_of_order_are_put_in_order(tmp_path: Path) -> None:
    later, sooner = block([3, 4], START_S + 7200), block([1, 2], START_S)
    readings = read_green_button(written(tmp_path, feed(entry(reading_type()), entry(later), entry(sooner))))
    assert readings.energy_wh.tolist() == [1, 2, 3, 4]


def test_energy_sent_to_the_grid_is_told_apart_by_links(tmp_path: Path) -> None:
    text = feed(
        entry(reading_type(flow=1), "RT/1"),
        entry(reading_type(flow=19), "RT/2"),
        entry("<e:MeterReading/>", "MR/1", "MR", ["RT/1", "MR/1/IntervalBlock"]),
        entry("<e:MeterReading/>", "MR/2", "MR", ["RT/2", "MR/2/IntervalBlock"]),
        entry(block([100, 200], START_S), "MR/1/IntervalBlock/1", "MR/1/IntervalBlock"),
        entry(block([7, 8], START_S), "MR/2/IntervalBlock/1", "MR/2/IntervalBlock"),
    )
    report = describe_meter(written(tmp_path, text), ZONE)
    assert report.energy_kwh == pytest.approx(0.3)
    assert report.reverse_count == 2


def test_two_types_without_links_are_not_guessed(tmp_path: Path) -> None:
    text = feed(entry(reading_type()), entry(reading_type(flow=19)), entry(block([1], START_S)))
    assert "2 reading types and no link that tells which" in refusal(written(tmp_path, text))


def test_a_reading_without_a_value_is_left_out_and_counted(tmp_path: Path) -> None:
    report = describe_meter(written(tmp_path, simple([1, "", 3], START_S)), ZONE)
    assert (report.reading_count, report.left_out_count, report.gap_h) == (2, 1, 1.0)


@pytest.mark.parametrize(
    ("kind", "says"),
    [
        ({"unit": None}, "no unit"),
        ({"unit": 38}, "unit code is 38; energy in Wh is 72"),
        ({"unit": 5}, "unit code is 5"),
        ({"unit": 29}, "unit code is 29"),
        ({"unit": 65}, "unit code is 65"),
        ({"accumulation": 12}, "accumulation behaviour 12 is not energy of each interval"),
        ({"accumulation": 3}, "accumulation behaviour 3"),
        ({"commodity": 7}, "natural gas"),
        ({"flow": 2}, "flow direction 2"),
    ],
)
def test_only_interval_energy_of_electricity_is_taken(kind: dict, says: str, tmp_path: Path) -> None:
    assert says in refusal(written(tmp_path, simple([1, 2], START_S, **kind)))


def test_a_gas_usage_point_is_refused(tmp_path: Path) -> None:
    point = "<e:UsagePoint><e:ServiceCategory><e:kind>1</e:kind></e:ServiceCategory></e:UsagePoint>"
    text = feed(entry(point), entry(reading_type()), entry(block([1], START_S)))
    assert "it meters gas, not electricity" in refusal(written(tmp_path, text))


def test_no_readings(tmp_path: Path) -> None:
    point = "<e:UsagePoint><e:ServiceCategory><e:kind>0</e:kind></e:ServiceCategory></e:UsagePoint>"
    assert "no interval data" in refusal(written(tmp_path, feed(entry(point))))
    assert "no interval readings" in refusal(written(tmp_path, simple([], START_S)))


def test_an_entry_alone(tmp_path: Path) -> None:
    text = '<entry xmlns="http://www.w3.org/2005/Atom"><content/></entry>'
    assert "an Atom <feed>, this is a single <entry>" in refusal(written(tmp_path, text))


def test_equal_duplicates_are_dropped_and_counted(tmp_path: Path) -> None:
    twice = block([1, 2, 3], START_S)
    report = describe_meter(written(tmp_path, feed(entry(reading_type()), entry(twice), entry(twice))), ZONE)
    assert (report.reading_count, report.duplicate_count, report.energy_kwh) == (3, 3, 0.006)


def test_duplicates_that_contradict_are_refused_with_their_first_time(tmp_path: Path) -> None:
    text = feed(entry(reading_type()), entry(block([1, 2, 3], START_S)), entry(block([1, 2, 4], START_S)))
    says = refusal(written(tmp_path, text))
    assert "1 duplicates that contradict each other" in says
    assert "the first at 2025-01-01T07:00Z" in says


def test_descending_readings_are_put_in_order(tmp_path: Path) -> None:
    down = "".join(block([value], START_S + 3600 * k) for k, value in reversed(list(enumerate([5, 6, 7]))))
    readings = read_green_button(written(tmp_path, feed(entry(reading_type()), entry(down))))
    assert readings.energy_wh.tolist() == [5, 6, 7]
    assert np.all(np.diff(readings.start_s) == 3600)


@pytest.mark.parametrize("prefix", ["", "espi:", "ns0:"])
def test_any_prefix_or_none_is_read(prefix: str, tmp_path: Path) -> None:
    space = f'xmlns{":" + prefix[:-1] if prefix else ""}="http://naesb.org/espi"'
    body = simple([10, 20], START_S).replace("e:", prefix).replace('xmlns:e="http://naesb.org/espi"', "")
    body = body.replace(f"<{prefix}ReadingType>", f"<{prefix}ReadingType {space}>")
    body = body.replace(f"<{prefix}IntervalBlock>", f"<{prefix}IntervalBlock {space}>")
    assert read_green_button(written(tmp_path, body)).energy_wh.tolist() == [10, 20]


def test_a_reading_type_may_stand_behind_its_readings_and_its_links_be_written_short(tmp_path: Path) -> None:
    kind, reading, readings = series([1, 2], START_S, power=3)
    volts = entry(reading_type(unit=29), "https://utility.invalid/resource/ReadingType/9")
    kind = kind.replace("ReadingType/1", "https://utility.invalid/resource/ReadingType/1")
    found = read_green_button(written(tmp_path, feed(readings, reading, volts, kind)))
    assert found.energy_wh.tolist() == [1000, 2000]
    assert found.problems == ()


@pytest.mark.parametrize(
    ("beside", "says"),
    [
        ({"accumulation": 3}, "accumulation behaviour 3 is not energy of each interval"),
        ({"unit": 38, "accumulation": 6}, "its unit code is 38"),
        ({"commodity": 7}, "natural gas"),
    ],
)
def test_only_the_intervals_count_where_other_readings_stand_beside_them(
    beside: dict, says: str, tmp_path: Path
) -> None:
    text = feed(*series([10, 20], START_S, 1), *series([70_010, 70_030], START_S, 2, **beside))
    report = describe_meter(written(tmp_path, text), ZONE)
    assert (report.energy_kwh, report.reading_count, report.other_count) == (0.03, 2, 2)
    assert says in report.notes[0]


def test_daily_sums_beside_intervals_are_the_same_energy_again(tmp_path: Path) -> None:
    text = feed(*series([10] * 48, START_S, 1), *series([240, 240], START_S, 2, length_s=86_400))
    report = describe_meter(written(tmp_path, text), ZONE)
    assert (report.energy_kwh, report.other_count) == (0.48, 2)
    assert "2 daily sums beside the intervals" in report.notes[0]


def test_two_meters_in_one_file_are_not_added_up(tmp_path: Path) -> None:
    other = [e.replace("UsagePoint/1", "UsagePoint/2") for e in series([1], START_S + 3600, 2)]
    says = refusal(written(tmp_path, feed(*series([1], START_S), *other)))
    assert "2 electricity meters (usage points 1, 2): keep one" in says


def test_net_readings_are_split_into_both_directions(tmp_path: Path) -> None:
    report = describe_meter(written(tmp_path, simple([500, -200, 0], START_S, flow=4)), ZONE)
    assert (report.energy_kwh, report.export_kwh) == (0.5, 0.2)
    assert "the readings are net" in report.notes[0]


def test_export_beside_import_keeps_its_own_energy(tmp_path: Path) -> None:
    text = feed(*series([100, 0, 50], START_S), *series([0, 30, 0], START_S, 2, flow=19))
    report = describe_meter(written(tmp_path, text), ZONE)
    assert (report.energy_kwh, report.export_kwh, report.reverse_count) == (0.15, 0.03, 3)


def test_cost_has_a_scale_of_its_own(tmp_path: Path) -> None:
    # ESPI: cost in hundred-thousandths of the currency, whatever multiplier the energy has.
    text = simple([1, 2], START_S, power=3).replace("<e:timePeriod>", "<e:cost>1234</e:cost><e:timePeriod>")
    text = text.replace("<e:commodity>", "<e:currency>124</e:currency><e:commodity>")
    report = describe_meter(written(tmp_path, text), ZONE)
    assert (report.energy_kwh, report.cost_usd, report.currency) == (3.0, pytest.approx(0.02468), "CAD")


def test_readings_without_a_time_of_their_own_follow_their_block(tmp_path: Path) -> None:
    plain = "".join(f"<e:IntervalReading><e:value>{v}</e:value></e:IntervalReading>" for v in (4, 5, 6))
    span = f"<e:interval><e:duration>10800</e:duration><e:start>{START_S}</e:start></e:interval>"
    kind = reading_type().replace("<e:uom>", "<e:intervalLength>3600</e:intervalLength><e:uom>")
    text = feed(entry(kind), entry(f"<e:IntervalBlock>{span}{plain}</e:IntervalBlock>"))
    readings = read_green_button(written(tmp_path, text))
    assert readings.start_s.tolist() == [START_S, START_S + 3600, START_S + 7200]
    text = text.replace(span, "")
    assert "3 readings do not say when they start" in refusal(written(tmp_path, text))


def local_year(folder: Path) -> Path:
    """A file that counts seconds on the clock of New York: 8,760 h of 2025, hour 1 of 2 November twice."""
    clock = pd.date_range("2025-01-01", "2026-01-01", freq="h", tz=ZONE, inclusive="left").tz_localize(None)
    seconds = clock.as_unit("s").asi8
    readings = "".join(block([100 + k % 7], int(s)) for k, s in enumerate(seconds)).replace(
        "</e:IntervalBlock><e:IntervalBlock>", ""
    )
    return written(folder, feed(entry(reading_type()), entry(readings)))


def test_local_time_written_as_utc_is_hinted_at_and_never_guessed(tmp_path: Path) -> None:
    path = local_year(tmp_path)
    says = refusal(path)
    assert "1 duplicates that contradict each other" in says
    assert "look like a local clock's written as UTC" in says
    assert "nothing is read at 2025-03-09 02:00, the hour that the local clock skips" in says
    assert "2025-11-02 01:00 is read twice" in says
    told = describe_meter(Meter(file=str(path), times="local_clock"), ZONE)
    assert (told.reading_count, told.gap_count, told.duplicate_count) == (8760, 0, 0)
    assert (told.first_start, told.last_end) == ("2025-01-01T00:00", "2026-01-01T00:00")


def test_standard_time_written_as_utc_can_be_said(tmp_path: Path) -> None:
    path = written(tmp_path, simple([1] * 24 * 200, epoch("2025-01-01T00:00")))
    assert describe_meter(path, ZONE).first_start == "2024-12-31T19:00"
    told = describe_meter(Meter(file=str(path), times="standard_time"), ZONE)
    # 200 days of standard time end at 1:00 of daylight time on 20 July.
    assert (told.first_start, told.last_end) == ("2025-01-01T00:00", "2025-07-20T01:00")
    with pytest.raises(MeterError, match="needs the house's time zone"):
        describe_meter(Meter(file=str(path), times="standard_time"), None)


def test_daily_blocks_that_start_at_midnight_of_utc_are_a_hint(tmp_path: Path) -> None:
    days = [epoch(f"2025-01-0{d}T00:00") for d in (1, 2, 3)]
    span = "<e:IntervalBlock><e:interval><e:duration>86400</e:duration><e:start>{}</e:start></e:interval>"
    blocks = [block([1] * 24, d).replace("<e:IntervalBlock>", span.format(d)) for d in days]
    report = describe_meter(written(tmp_path, feed(entry(reading_type()), *map(entry, blocks))), ZONE)
    assert "every daily block starts at midnight of UTC" in report.notes[0]


def test_times_of_utc_give_no_hint(tmp_path: Path) -> None:
    path = written(tmp_path, simple([100] * 8760, START_S))
    assert describe_meter(path, ZONE).notes == ()


def test_overlap_negative_and_odd_lengths(tmp_path: Path) -> None:
    text = feed(entry(reading_type()), entry(block([1, 2], START_S)), entry(block([1], START_S + 1800)))
    assert "overlap in time" in refusal(written(tmp_path, text))
    assert "1 negative readings" in refusal(written(tmp_path, simple([1, -2], START_S)))
    assert "last 7 min" in refusal(written(tmp_path, simple([1, 2], START_S, 420)))
    text = feed(entry(reading_type()), entry(block([1, 2], START_S)), entry(block([1], START_S + 7200, 900)))
    assert "1 readings do not last 60 min" in refusal(written(tmp_path, text))


def test_not_xml_and_no_file(tmp_path: Path) -> None:
    assert "not XML" in refusal(written(tmp_path, "start,kwh\n"))
    assert "not XML" in refusal(written(tmp_path, ""))
    assert "there is no such file" in refusal(tmp_path / "absent.xml")
    other = tmp_path / "meter.pdf"
    other.write_text("x")
    assert "ends in .xml (Green Button) or .csv" in refusal(other)


def test_an_entity_bomb_is_refused_unopened(tmp_path: Path) -> None:
    layers = "".join(f'<!ENTITY b{i} "{f"&b{i - 1};" * 10}">' for i in range(1, 12))
    text = f'<?xml version="1.0"?><!DOCTYPE f [<!ENTITY b0 "boom">{layers}]><feed>&b11;</feed>'
    assert "refused: it declares XML entities" in refusal(written(tmp_path, text))


def test_an_outside_entity_is_refused(tmp_path: Path) -> None:
    text = '<!DOCTYPE f [<!ENTITY x SYSTEM "file:///etc/hostname">]><feed>&x;</feed>'
    assert "refused: it declares XML entities" in refusal(written(tmp_path, text))


def test_the_us_rules_of_daylight_saving() -> None:
    # Second Sunday of March and first Sunday of November at 2 a.m., the US rule since 2007.
    begins, ends = DstRule.from_hex("360E2000"), DstRule.from_hex("B40E2000")
    assert begins.local_in(2025).isoformat() == "2025-03-09T02:00:00"
    assert ends.local_in(2025).isoformat() == "2025-11-02T02:00:00"
    clock = MeterClock(-18000, 3600, begins, ends)
    moments = ["2025-03-09T06:59", "2025-03-09T07:00", "2025-11-02T05:59", "2025-11-02T06:00"]
    utc_s = np.array([epoch(m) for m in moments])
    assert ((clock.local_s(utc_s) - utc_s) / 3600).tolist() == [-5, -4, -4, -5]


def test_daylight_saving_south_of_the_equator() -> None:
    # First Sunday of October to first Sunday of April, at 2 and 3 a.m. (New South Wales).
    begins, ends = DstRule(10, 2, 0, 7, 7200), DstRule(4, 2, 0, 7, 10800)
    clock = MeterClock(36000, 3600, begins, ends)
    utc_s = np.array([epoch(m) for m in ("2025-01-15T00:00", "2025-07-15T00:00", "2025-12-15T00:00")])
    assert ((clock.local_s(utc_s) - utc_s) / 3600).tolist() == [11, 10, 11]


def test_other_forms_of_rule() -> None:
    assert DstRule(3, 7, 0, 7, 0).local_in(2025).day == 30  # last Sunday
    assert DstRule(3, 0, 20, 0, 0).local_in(2025).day == 20  # by date
    assert DstRule(3, 1, 8, 7, 0).local_in(2025).day == 9  # first Sunday on or after the 8th
    with pytest.raises(ValueError, match="no month"):
        DstRule.from_hex("00000000")
