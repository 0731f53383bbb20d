"""The spine: a study goes in, a comparison comes out, one stage a line."""

from __future__ import annotations

from kit.house import house_year
from kit.stages.columns import columns
from kit.stages.daily import everyday_use
from kit.stages.money import account
from kit.stages.outage import event_side, outage_use
from kit.stages.outcome import Comparison, Outcome, gather
from kit.stages.power import power_check
from kit.stages.sources import sources
from kit.stages.verdict import Verdict, decide
from kit.study import Study

__all__ = ["Comparison", "Outcome", "Verdict", "compare"]


def compare(study: Study) -> Comparison:
    """Compute every option of a study, doing nothing included.

    The stages: the house in its year, the outages of the place, what each option is, whether it can
    carry and start the loads, everyday use and bills, a year of outages, money and burdens, the
    summary, the verdict. Raises ValueError (MeterError, WeatherError) for data that cannot be used.
    """
    house = house_year(study.model.house, study.model.year)
    kinds = event_side(study, house)
    options = sources(study, house)
    fits = power_check(study, house, options)
    daily = everyday_use(study, house, options)
    outages = outage_use(study, house, kinds, options, daily, fits)
    accounts = account(study, options, daily, outages)
    rows = columns(study, options, fits, daily, outages, accounts)
    verdict = decide(study, options, rows)
    return gather(study, house, options, fits, daily, outages, accounts, rows, verdict)
