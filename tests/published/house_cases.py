"""Published values for the house: meter files, position in the sky, weather, appliance energy."""

from __future__ import annotations

from dataclasses import dataclass

METER_SET = "NAESB ESPI (Green Button) standard sample set, EnergyOS 2012"


@dataclass(frozen=True)
class MeterCase:
    """A meter file and what is known of it, counted apart from the kit."""

    source: str
    file: str
    time_zone: str
    reading_count: int
    sum_wh: int
    lowest_wh: int | None
    highest_wh: int | None
    first_start: str
    last_end: str
    gap_count: int
    gap_h: float
    zero_count: int


METER_CASES = {
    "a year in monthly blocks": MeterCase(
        source=METER_SET,
        file="params/data/meter/coastal_mf_year_monthly_blocks.xml",
        time_zone="America/Los_Angeles",
        reading_count=8760,
        sum_wh=4_425_305,
        lowest_wh=170,
        highest_wh=944,
        first_start="2011-01-01T00:00",
        last_end="2012-01-01T00:00",
        gap_count=0,
        gap_h=0.0,
        zero_count=0,
    ),
    # Sums, lowest and highest of the next and of the last file: counted from their text by hand.
    "nine days": MeterCase(
        source=METER_SET,
        file="tests/data/meter/std_hourly_9days_with_cost.xml",
        time_zone="America/New_York",
        reading_count=216,
        sum_wh=199_563,
        lowest_wh=273,
        highest_wh=1365,
        first_start="2014-01-01T00:00",
        last_end="2014-01-10T00:00",
        gap_count=0,
        gap_h=0.0,
        zero_count=0,
    ),
    # Eight hours missing on 2011-02-09, and the second 1 a.m. of 2011-11-06.
    "a year with gaps and zeros": MeterCase(
        source="open sample of a utility's export, MIT; its usage summary prints the same sum",
        file="tests/data/meter/early2012_year_hourly_gaps_zeros.xml.gz",
        time_zone="America/Los_Angeles",
        reading_count=8727,
        sum_wh=5_089_595,
        lowest_wh=0,
        highest_wh=None,
        first_start="2011-02-01T00:00",
        last_end="2012-01-31T00:00",
        gap_count=2,
        gap_h=9.0,
        zero_count=32,
    ),
    "eight readings with a gap": MeterCase(
        source=METER_SET,
        file="tests/data/meter/std_electric_small_gap.xml",
        time_zone="America/Los_Angeles",
        reading_count=8,
        sum_wh=4_086,
        lowest_wh=410,
        highest_wh=611,
        first_start="2011-01-01T00:00",
        last_end="2011-01-01T16:00",
        gap_count=1,
        gap_h=8.0,
        zero_count=0,
    ),
}


@dataclass(frozen=True)
class WeatherCase:
    """A weather file and its known sums."""

    source: str
    file: str
    ghi_kwh_per_m2: float
    lowest_c: float
    highest_c: float
    yield_kwh_per_kw: tuple[float, float]


GREENSBORO = WeatherCase(
    source="US NREL TMY3 723170, public domain; yield of a fixed tilt: common practice, no source",
    file="params/data/weather/tmy3_723170_greensboro_NC.csv",
    ghi_kwh_per_m2=1566.2,
    lowest_c=-16.7,
    highest_c=35.6,
    yield_kwh_per_kw=(1300.0, 1450.0),
)


@dataclass(frozen=True)
class PositionCase:
    """Position in the sky at one moment."""

    source: str
    local_time: str
    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    pressure_pa: float
    temperature_c: float
    delta_t_s: float
    zenith_deg: float
    azimuth_deg: float
    tolerance_deg: float  # half of the last printed digit


GOLDEN = PositionCase(
    source="I. Reda, A. Andreas, NREL/TP-560-34302 (2008), Table A5.1",
    local_time="2003-10-17T12:30:30-07:00",
    latitude_deg=39.742476,
    longitude_deg=-105.1786,
    altitude_m=1830.14,
    pressure_pa=82_000.0,
    temperature_c=11.0,
    delta_t_s=67.0,
    zenith_deg=50.11162,
    azimuth_deg=194.34024,
    tolerance_deg=5e-6,
)

DOE = 'US DOE, "Estimating Appliance and Home Electronic Energy Use"'
WINDOW_FAN = {"source": DOE, "running_w": 200.0, "hours_per_day": 4.0, "days": 120, "kwh": 96.0}
REFRIGERATOR_THIRD = {"source": DOE, "duty_frac": 1 / 3}
REFRIGERATOR_KWH = 1460.0  # 500 W x 8,760 h / 3

DAILY_FILE = "tests/data/meter/std_daily_15months_dst_23h_25h.xml"
DAILY_COUNTS = {82_800: 2, 86_400: 441, 90_000: 1}  # readings by their length in seconds
DAILY_SUM_WH = 9_917_817
PEAK_TO_MEAN = 1.87  # of the year in monthly blocks, counted from its text
CLOCK_CHANGES_2011 = "03-13, 11-06"  # the US days of 23 and of 25 hours

# The same table of the same report: slope 30, rotation -10 from south (170 from north)
INCIDENCE_DEG, INCIDENCE_WITHIN_DEG = 25.18700, 5e-6

LOSSES = "NREL/TP-6A20-62641 (2014), table of losses; inputs from memory, product reproduced by a library"
# 2, 3, 0, 2, 2, 0.5, 1.5, 1, 0, 3 % multiply to this; their sum is 15 %
LOSSES_PERCENT, LOSSES_WITHIN_PERCENT = 14.0757, 5e-5
