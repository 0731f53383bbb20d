"""The chance by first gaps alone is the chance of the whole outage year, at every length."""

from __future__ import annotations

import pytest

from kit.house import house_year
from kit.operate.single import kept_on_frac, told_by_h
from kit.shipped import shipped
from kit.stages.daily import everyday_use
from kit.stages.outage import event_side, outage_use
from kit.stages.power import power_check
from kit.stages.sources import sources
from kit.study import read_study


@pytest.mark.parametrize(
    ("study_name", "slug"),
    [("farm_house", "two_batteries_solar"), ("farm_house", "battery"), ("metered_house", "battery_solar")],
)
def test_first_gaps_tell_the_chance_of_the_year(study_name: str, slug: str) -> None:
    study = read_study(shipped() / "params" / "studies" / f"{study_name}.yaml")
    house = house_year(study.model.house, study.model.year)
    kinds = event_side(study, house)
    options = {k: o for k, o in sources(study, house).items() if k in ("do_nothing", slug)}
    daily = everyday_use(study, house, options)
    side = outage_use(study, house, kinds, options, daily, power_check(study, house, options))[slug]
    assert side.backup.tolerates_h > 1.0  # a gap that begins just before the hour must be seen out
    for hours in (4.0, 8.0, 24.0, 72.0):
        alone = kept_on_frac(side.backup, kinds, study.model.seed, hours)
        # a kind is followed as far as its law reaches: of routine events one in ten thousand lasts longer
        assert alone == pytest.approx(side.year.ride_through_frac(hours), abs=2e-4), hours
        assert told_by_h(side.backup, hours) > hours
