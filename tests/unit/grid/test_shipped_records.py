"""Every outage record that comes with the kit, and what it is there to show."""

from __future__ import annotations

import numpy as np
import pytest

from kit.grid.known import known_classes, log_rates
from kit.grid.outages import outage_hours_per_year, start_weights
from kit.grid.record_findings import outage_findings
from tests.unit.grid.plans import year
from tests.unit.grid.records import PARAMS, shipped_record

WHY = {
    "mild_suburb": "US average rates; the metered study",
    "ice_storm_rural": "a state's averages, major events told apart; the all-electric study",
    "hurricane_coast": "one long event in seven years beside short ones",
    "quiet_city_feeder": "rates from indices in minutes, with and without major event days",
    "rural_radial_line": "rates from a household's log, lengths from it and fitted to it",
    "wildfire_shutoff": "long planned outages: percentiles, clusters within days, forewarned",
    "ice_storm_north": "starts in cold hours only, a mixture of lengths, storms in pairs",
    "island_grid": "many short outages by a Weibull law, a cyclone of weeks, fuel by boat",
}


def codes(name: str) -> set[str]:
    return {f.code for f in outage_findings(shipped_record(name))}


def test_every_record_has_its_reason() -> None:
    assert {p.stem for p in (PARAMS / "outages").glob("*.yaml")} == set(WHY)


def test_quiet_city_feeder_keeps_the_minutes_it_was_given() -> None:
    known = known_classes(shipped_record("quiet_city_feeder"))
    assert known["routine"].events_per_year == pytest.approx(0.31)
    assert known["major"].events_per_year == pytest.approx(0.05)
    assert outage_hours_per_year(shipped_record("quiet_city_feeder")) == pytest.approx(58 / 60, rel=1e-4)


def test_rural_line_counts_its_log() -> None:
    """Of 30 outages two are momentary and five last 8 h or more; 8 years: 23.5 / 8 and 5.5 / 8."""
    rates = log_rates(shipped_record("rural_radial_line"))
    assert rates["short"].likely == pytest.approx(23.5 / 8, rel=1e-3)
    assert rates["storm"].likely == pytest.approx(5.5 / 8, rel=1e-3)
    assert rates["storm"].high > 1.5 * rates["storm"].likely
    assert {"tail_from_few_events", "momentary_in_log", "outage_rate_from_log"} <= codes("rural_radial_line")


def test_shut_offs_are_long_foreseen_and_dry() -> None:
    known = known_classes(shipped_record("wildfire_shutoff"))["shutoff"]
    assert (known.forewarned_frac, known.followed_within_h) == (0.95, 168.0)
    assert known.solar_frac_by_day == [1.0]
    assert {"outages_forewarned", "outages_in_clusters", "duration_from_percentiles"} <= codes(
        "wildfire_shutoff"
    )


def test_ice_falls_in_cold_hours() -> None:
    y = year()
    known = known_classes(shipped_record("ice_storm_north"))["ice"]
    mild_c = (
        9.0 - 12.0 * np.cos(2 * np.pi * y.day_of_year / 365) + 4.0 * np.sin(2 * np.pi * (y.hour - 9) / 24)
    )
    weight = start_weights(known, y, mild_c)
    assert weight[mild_c >= 2.0].sum() == 0.0
    assert weight.sum() == pytest.approx(1.0)
    assert weight[y.month == 4].sum() == 0.0  # a weight of 0.4, but no hour of it is cold enough
    months = np.array(known.month_weights)
    cold = np.array([((y.month == m) & (mild_c < 2.0)).any() for m in range(1, 13)])
    share = np.where(cold, months, 0.0) / months[cold].sum()
    assert [weight[y.month == m].sum() for m in range(1, 13)] == pytest.approx(share.tolist())
    with pytest.raises(ValueError, match="starts_below_c needs the temperature"):
        start_weights(known, y)
    with pytest.raises(ValueError, match="no hour of the year is left"):
        start_weights(known, y, np.full(y.n, 20.0))


def test_island_is_dark_by_the_dozen() -> None:
    known = known_classes(shipped_record("island_grid"))
    assert known["station"].events_per_year > 10.0
    assert known["cyclone"].resupply_delay_h == 168.0
