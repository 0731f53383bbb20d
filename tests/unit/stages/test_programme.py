"""Programme income: paid while the contract runs, with its price in charge when an outage comes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from kit.compare import compare
from kit.stages.outcome import Comparison
from kit.study import StudyError, read_study

STUDY = Path(__file__).parents[3] / "params" / "studies" / "metered_house.yaml"
BATTERY = (
    "battery: {from: ../systems/home_battery.yaml, everyday: hold}, transfer: ../systems/backed_panel.yaml"
)
TERMS = "{usd_per_kw_year: 200, events_per_year: 60, event_h: 3, contract_years: 5}"
OPTIONS = f"options={{plain: {{{BATTERY}}}, called: {{{BATTERY}, programme: {TERMS}}}}}"


@pytest.fixture(scope="module")
def made() -> Comparison:
    return compare(read_study(STUDY, [OPTIONS]))


def test_income_is_in_the_cash_for_the_contract_only(made: Comparison) -> None:
    income = made.outcomes["called"].columns["programme_usd_per_year"]
    assert isinstance(income, float)
    assert income > 0.0
    line = made.outcomes["called"].cash["programme"]
    assert line.tolist() == pytest.approx([0.0, *[income] * 5, *[0.0] * 7])
    assert made.outcomes["plain"].columns["programme_usd_per_year"] is None
    assert made.outcomes["plain"].cash["programme"].abs().sum() == 0.0


def test_income_is_for_the_kw_delivered(made: Comparison) -> None:
    """Without leave to export the battery gives the load behind it: far less than its 5 kW."""
    outcome = made.outcomes["called"]
    calls_kwh = outcome.everyday.discharge_kwh.sum()
    paid = calls_kwh / (60 * 3.0) * 200.0
    assert outcome.columns["programme_usd_per_year"] == pytest.approx(paid)


def test_calls_cost_charge_when_an_outage_comes(made: Comparison) -> None:
    plain, called = made.outcomes["plain"], made.outcomes["called"]
    assert called.everyday.stored_kwh.mean() < plain.everyday.stored_kwh.mean()
    for column in ("ride_through_frac_8h", "ride_through_frac_24h"):
        assert called.columns[column] <= plain.columns[column]
    assert called.columns["must_run_unserved_h_per_year"] > plain.columns["must_run_unserved_h_per_year"]
    assert called.columns["bill_usd_per_year"] != plain.columns["bill_usd_per_year"]


def test_the_low_value_is_said(made: Comparison) -> None:
    found = next(f for f in made.findings if f.code == "programme_income")
    assert found.option == "called"
    assert found.severity == "warning"
    income = made.outcomes["called"].columns["programme_usd_per_year"]
    worth = income * (1 - 1.03**-5) / 0.03
    assert f"over 5 of 12 years, {worth:,.0f} at present value" in found.text
    assert "its low value is 0" in found.text
    assert "60 calls a year leave the battery below half full" in found.text


def test_the_contract_over_everything_is_as_before(made: Comparison) -> None:
    bills = made.outcomes["called"].cash["bill"].to_numpy()
    plain = made.outcomes["plain"].cash["bill"].to_numpy()
    assert np.abs(bills[1:6] - plain[1:6]).min() > 0.01
    assert bills[7] == pytest.approx(plain[7], abs=0.2)  # but for the recharge after outages


@pytest.mark.parametrize(
    ("terms", "text"),
    [
        (TERMS.replace("events_per_year: 60", "events_per_year: 200"), "200 events do not fit"),
        (TERMS.replace("}", ", months: [7, 7]}"), "names a month twice"),
        (TERMS.replace("event_h: 3", "event_h: 30"), "must be at most 12"),
    ],
)
def test_terms_that_cannot_be(terms: str, text: str) -> None:
    with pytest.raises(StudyError) as caught:
        read_study(STUDY, [f"options={{called: {{{BATTERY}, programme: {terms}}}}}"])
    assert text in str(caught.value)


def test_a_programme_needs_a_battery() -> None:
    setting = f"options={{a: {{generator: ../systems/portable_gasoline.yaml, programme: {TERMS}}}}}"
    with pytest.raises(StudyError, match="draws on a battery, and the option has none"):
        read_study(STUDY, [setting])
