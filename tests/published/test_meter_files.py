"""What `ridethrough meter` says of every open meter file: its facts, or why it is refused.

The facts are those of tests/data/SOURCES.md and params/data/SOURCES.md, counted apart from the kit.
"""

from __future__ import annotations

import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from click.testing import CliRunner

from kit.cli import main
from kit.house.green_button_feed import read_feed
from kit.house.meter import all_readings, describe_meter
from tests.published.house_cases import METER_CASES
from tests.published.meter_checks import unpacked

ROOT = Path(__file__).parents[2]
TEST_DATA = "tests/data/meter/"

# file -> (exit code, what it must say)
SAID = {
    "params/data/meter/coastal_mf_year_monthly_blocks.xml": (
        0,
        ("8,760 of 60 min, 100.00% covered", "4,425.305 kWh", "peak       0.944 kW", "1.87 times the mean"),
    ),
    TEST_DATA + "std_hourly_9days_with_cost.xml": (
        0,
        ("216 of 60 min", "22.05567 USD", "2014-01-01 00:00 to 2014-01-10 00:00"),
    ),
    TEST_DATA + "std_daily_15months_dst_23h_25h.xml": (
        2,
        ("444 of 1440 min", "9,917.817 kWh", "values are daily: too coarse, hourly readings or finer"),
    ),
    TEST_DATA + "std_electric_small_gap.xml": (
        0,
        ("8 of 60 min", "1, 8 h in all: 8 h from 2011-01-01 04:00"),
    ),
    TEST_DATA + "gas_utility_36mo_same_start.xml": (
        2,
        ("no unit", "35 duplicates", "values are for 29 days"),
    ),
    TEST_DATA + "std_reading_types_22.xml": (2, ("no interval data", "22 reading type(s)")),
    TEST_DATA + "prefix_usagepoint_only.xml": (2, ("no interval data", "1 usage point(s)")),
    TEST_DATA + "entry_root_authorization.xml": (2, ("an Atom <feed>, this is a single <entry>",)),
    # The 8 h are missing from 2011-02-09 00:00 UTC on: 16:00 of the day before, by the local clock.
    TEST_DATA + "early2012_year_hourly_gaps_zeros.xml.gz": (
        0,
        (
            "8,727 of 60 min",
            "5,089.595 kWh",
            "8 h from 2011-02-08 16:00",
            "1 h from 2011-11-06 01:00",
            "32 readings",
        ),
    ),
}
PACIFIC = ("coastal", "early2012", "small_gap")


def test_no_open_meter_file_is_left_out() -> None:
    there = {
        f"{folder}{p.name}" for folder in (TEST_DATA, "params/data/meter/") for p in (ROOT / folder).iterdir()
    }
    assert there == set(SAID)


@pytest.mark.parametrize("file", SAID, ids=lambda f: Path(f).name)
def test_the_command_gives_the_facts_or_the_refusal(file: str, tmp_path: Path) -> None:
    code, texts = SAID[file]
    zone = "America/Los_Angeles" if any(n in file for n in PACIFIC) else "America/New_York"
    path = unpacked(file, tmp_path)
    run = CliRunner().invoke(main, ["meter", str(path), "--time-zone", zone, "--out", str(tmp_path / "out")])
    assert run.exit_code == code, run.output
    for text in texts:
        assert text in run.output
    assert len(list(tmp_path.glob("out/*_tidy.csv"))) == (code == 0)
    if code == 2:
        assert all(line.startswith(f"{path}: ") for line in run.stderr.splitlines())


def test_a_tidy_table_holds_the_same_readings(tmp_path: Path) -> None:
    for file in (n for n, (code, _) in SAID.items() if code == 0):
        path = unpacked(file, tmp_path)
        CliRunner().invoke(
            main, ["meter", str(path), "--time-zone", "America/New_York", "--out", str(tmp_path)]
        )
        was = describe_meter(path, "America/New_York")
        now = describe_meter(tmp_path / f"{path.stem}_tidy.csv", "America/New_York")
        for field in ("reading_count", "gap_h", "zero_reading_count", "interval_min"):
            assert getattr(now, field) == getattr(was, field), (file, field)
        assert now.energy_kwh == pytest.approx(was.energy_kwh, rel=1e-12)
        assert now.cost_usd == (None if was.cost_usd is None else pytest.approx(was.cost_usd, rel=1e-12))


def test_the_22_reading_types() -> None:
    path = ROOT / TEST_DATA / "std_reading_types_22.xml"
    kinds = [e for e in ET.parse(path).iter() if e.tag.endswith("}ReadingType")]
    said = [{child.tag.rpartition("}")[2]: child.text for child in kind} for kind in kinds]
    assert len(said) == 22
    assert {kind["uom"] for kind in said} == {"72", "38", "5", "29", "65"}
    deltas = sum(k["uom"] == "72" and k["accumulationBehaviour"] == "4" for k in said)
    unsaid = sum(k["uom"] == "72" and k["accumulationBehaviour"] == "0" for k in said)
    assert len(read_feed(path).entries["ReadingType"]) == 22
    problem = all_readings(path, None).problems[0]
    assert f"{deltas + unsaid} of them interval energy in Wh" in problem


def test_the_blocks_of_the_sample_set_are_counted() -> None:
    assert len(read_feed(ROOT / "params/data/meter/coastal_mf_year_monthly_blocks.xml").blocks) == 12
    assert len(read_feed(ROOT / TEST_DATA / "std_hourly_9days_with_cost.xml").blocks) == 9
    assert len(read_feed(ROOT / TEST_DATA / "gas_utility_36mo_same_start.xml").blocks) == 36


def test_parquet_with_its_library_and_one_sentence_without(tmp_path: Path) -> None:
    path = ROOT / METER_CASES["nine days"].file
    command = ["meter", str(path), "--out", str(tmp_path), "--format", "parquet"]
    hidden = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys; sys.modules['pyarrow'] = None\nfrom kit.cli import main\nmain()",
            *command,
        ],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert hidden.returncode == 2
    assert "Parquet needs pyarrow" in hidden.stderr
    assert len(hidden.stderr.splitlines()) == 1
    assert not list(tmp_path.iterdir())


def test_a_tidy_parquet_table(tmp_path: Path) -> None:
    import pandas as pd

    path = ROOT / METER_CASES["nine days"].file
    run = CliRunner().invoke(main, ["meter", str(path), "--out", str(tmp_path), "--format", "parquet"])
    assert run.exit_code == 0, run.output
    table = pd.read_parquet(tmp_path / f"{path.stem}_tidy.parquet")
    assert list(table.columns) == ["start", "minutes", "kwh", "cost_usd"]
    assert table["kwh"].sum() == pytest.approx(199.563)
    assert table["cost_usd"].sum() == pytest.approx(22.05567)


# VmHWM and not ru_maxrss: that one starts with the memory of the process that started this one.
MEASURE = """
import sys
from pathlib import Path
from kit.house.meter import describe_meter
report = describe_meter(sys.argv[1], "America/New_York")
lines = Path("/proc/self/status").read_text().splitlines()
peak_kb = next(line.split()[1] for line in lines if line.startswith("VmHWM:"))
print(report.reading_count, report.energy_kwh, int(peak_kb) / 1024)
"""


def test_fifty_megabytes_are_streamed_in_little_memory(tmp_path: Path) -> None:
    path, count, bytes_written = tmp_path / "large.xml", 0, 0
    with path.open("w", encoding="utf-8") as file:
        file.write(
            '<feed xmlns="http://www.w3.org/2005/Atom"><entry><content><ReadingType '
            'xmlns="http://naesb.org/espi"><uom>72</uom><flowDirection>1</flowDirection>'
            "<accumulationBehaviour>4</accumulationBehaviour></ReadingType></content></entry>"
        )
        while bytes_written < 50_000_000:
            readings = "".join(
                "\n        <IntervalReading>\n          <cost>7</cost>\n          <timePeriod>\n"
                f"            <duration>900</duration>\n            <start>{1296547200 + 900 * k}</start>\n"
                f"          </timePeriod>\n          <value>{k % 900}</value>\n        </IntervalReading>"
                for k in range(count, count + 960)
            )
            count += 960
            bytes_written += file.write(
                f'<entry><content><IntervalBlock xmlns="http://naesb.org/espi">{readings}</IntervalBlock>'
                "</content></entry>\n"
            )
        file.write("</feed>")
    run = subprocess.run(
        [sys.executable, "-c", MEASURE, str(path)], capture_output=True, text=True, cwd=ROOT, check=True
    )
    read, energy_kwh, peak_mb = (float(word) for word in run.stdout.split())
    assert path.stat().st_size > 50_000_000
    assert read == count
    assert energy_kwh * 1000 == pytest.approx(sum(k % 900 for k in range(count)))
    assert peak_mb < 300
