"""Green Button files: which readings count, and what is refused with which words."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from kit.house.green_button import read_green_button
from kit.house.meter import describe_meter
from kit.house.meter_clock import DstRule, MeterClock
from kit.house.readings import MeterError
from tests.unit.house.meter_files import block, entry, epoch, feed, reading_type, simple

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
        ({"flow": 4}, "flow direction 4"),
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


def test_duplicates_are_counted(tmp_path: Path) -> None:
    twice = block([1, 2, 3], START_S)
    text = feed(entry(reading_type()), entry(twice), entry(twice))
    assert "3 duplicates" in refusal(written(tmp_path, text))


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
    other = tmp_path / "meter.txt"
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
