"""All published checks in one list, and what they do not reach.

The tests run this list, and so does notebooks/published_checks.ipynb.
"""

from __future__ import annotations

from kit.report.checks import Check
from tests.published import (
    ageing_checks,
    appliance_checks,
    dwelling_checks,
    economics_checks,
    fuel_checks,
    generator_checks,
    house_checks,
    keyed_checks,
    meter_checks,
    outage_checks,
    reliability_checks,
    tariff_checks,
)
from tests.published.not_checked import NOT_CHECKED as NOT_CHECKED

CHECKS: list[Check] = [
    *meter_checks.CHECKS,
    *house_checks.CHECKS,
    *appliance_checks.CHECKS,
    *tariff_checks.CHECKS,
    *outage_checks.CHECKS,
    *generator_checks.CHECKS,
    *fuel_checks.CHECKS,
    *reliability_checks.CHECKS,
    *dwelling_checks.CHECKS,
    *ageing_checks.CHECKS,
    *economics_checks.CHECKS,
    *keyed_checks.CHECKS,
]
