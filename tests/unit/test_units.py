"""Unit table: names, labels, conversions against published factors and a reference library."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from kit.study.models import StudyModel
from kit.study.schema import Shape, fields_of
from kit.units import UNITS, allowed_names, conversion, split_name, unit_label, usual_names


@pytest.mark.parametrize(
    ("key", "field", "value", "expected", "digits"),
    [
        # NIST SP 811 (2008), appendix B.8, seven figures; factors from memory
        ("tank_gal", "tank_l", 1, 3.785412, 7),
        ("altitude_ft", "altitude_m", 1, 0.3048, 9),
        ("altitude_mi", "altitude_m", 1, 1609.344, 9),
        ("gas_ft3", "gas_m3", 1, 0.02831685, 7),
        ("co2e_lb", "co2e_kg", 1, 0.4535924, 7),
        ("idle_at_f", "idle_at_c", 212, 100, 9),
        ("idle_at_f", "idle_at_c", -40, -40, 9),
        # US EIA, "British thermal units (Btu)", rows of reference.md 1.1, recomputed there
        ("heat_btu", "heat_kwh", 120_214, 35.23, 4),
        ("heat_btu", "heat_kwh", 137_381, 40.26, 4),
        ("heat_btu", "heat_kwh", 91_452, 26.80, 4),
        ("heat_therm", "heat_kwh", 1, 29.307, 5),
        # 1 kWh = 3412.14 Btu, reference.md
        ("heat_btu_per_h", "heat_kw", 3412.14, 1, 9),
        # written out: 3.785411784 / 3.785411784, 0.6 * 3.785411784, 800 * 0.45359237 / 1000
        ("price_usd_per_gal", "price_usd_per_l", 3.785411784, 1, 9),
        ("fuel_gal_per_h", "fuel_l_per_h", 0.6, 2.2712470704, 9),
        ("grid_co2e_lb_per_mwh", "grid_co2e_kg_per_kwh", 800, 0.362873896, 9),
        ("altitude_frac_per_1000ft", "altitude_frac_per_300m", 0.035, 0.035 * 300 / 304.8, 9),
        ("heat_frac_per_10f", "heat_frac_per_5p6c", 0.01, 0.01 * 5.6 / (10 / 1.8), 9),
        ("keep_on_min", "keep_on_h", 90, 1.5, 9),
        ("transfer_time_min", "transfer_time_s", 0.5, 30, 9),
        ("idle_kw", "idle_w", 0.04, 40, 9),
        ("usable_wh", "usable_kwh", 1024, 1.024, 9),
        ("runs_per_month", "runs_per_year", 1, 12, 9),
        ("keeps_years", "keeps_months", 0.5, 6, 9),
    ],
)
def test_conversion_agrees_with_published_factor(
    key: str, field: str, value: float, expected: float, digits: int
) -> None:
    convert = conversion(key, field)
    assert convert is not None
    assert convert(value) == pytest.approx(expected, rel=0.5 * 10.0 ** (1 - digits), abs=1e-9)


@pytest.mark.parametrize(
    ("suffix", "reference"),
    [
        ("gal", constants.gallon * 1000),
        ("ft", constants.foot),
        ("mi", constants.mile),
        ("ft3", constants.foot**3),
        ("lb", constants.pound),
        ("min", constants.minute / constants.hour),
        ("mj", 1e6 / (constants.kilo * constants.hour)),
    ],
)
def test_exact_factor_is_the_reference_librarys(suffix: str, reference: float) -> None:
    assert UNITS[suffix].factor == pytest.approx(reference, rel=1e-14)


def test_rounded_factors_are_near_the_reference_library() -> None:
    kwh = constants.kilo * constants.hour
    assert UNITS["btu"].factor == pytest.approx(constants.Btu_IT / kwh, rel=1e-6)
    assert UNITS["hp"].factor == pytest.approx(constants.horsepower / 1000, rel=1e-5)


@given(st.floats(-100, 200))
def test_temperature_agrees_with_the_reference_library(value_f: float) -> None:
    convert = conversion("heat_above_f", "heat_above_c")
    assert convert is not None
    reference = constants.convert_temperature(value_f, "Fahrenheit", "Celsius")
    assert convert(value_f) == pytest.approx(float(reference), abs=1e-9)


@pytest.mark.parametrize(
    ("key", "field"),
    [
        ("life_years", "life_h"),  # calendar years are not run hours
        ("every_days", "every_h"),
        ("running_hp", "running_kw"),  # shaft power is not electrical power
        ("starting_kva", "starting_kw"),
        ("price_usd_per_ft3", "price_usd_per_l"),  # gas is not a liquid
        ("price_usd_per_therm", "price_usd_per_m3"),  # needs a heat content
        ("tank_gal", "fuel_on_site_l"),
        ("starting_extra_w", "starting_w"),
        ("fuel_gal", "fuel_l_per_h"),
        ("ride_through_frac_24h", "ride_through_frac_72h"),
        ("price_usd", "price"),
    ],
)
def test_other_quantities_do_not_convert(key: str, field: str) -> None:
    assert conversion(key, field) is None


@pytest.mark.parametrize(
    ("name", "stem", "suffix", "label"),
    [
        ("load_kw", "load", "kw", "kW"),
        ("price_usd_per_kwh", "price", "usd_per_kwh", "USD/kWh"),
        ("fuel_l_per_h", "fuel", "l_per_h", "L/h"),
        ("altitude_frac_per_300m", "altitude", "frac_per_300m", "per 300 m"),
        ("heat_frac_per_5p6c", "heat", "frac_per_5p6c", "per 5.6 °C"),
        ("runs_per_year", "runs", "per_year", "per year"),
        ("failed_outage_count_per_10y", "failed_outage", "count_per_10y", "per 10 years"),
        ("price_usd_per_kw_month", "price", "usd_per_kw_month", "USD/kW/month"),
        ("ride_through_frac_24h", "ride_through", "frac", ""),
        ("fuel_l_life_mean", "fuel", "l", "L"),
        ("noise_db_a_at_7m", "noise", "dba", "dB(A) at 7 m"),
        ("voltage_v", "voltage", "v", "V"),
        ("starting_kva", "starting", "kva", "kVA"),
        ("price_year", "price_year", "", ""),
        ("tier", "tier", "", ""),
    ],
)
def test_a_name_splits_into_stem_and_unit(name: str, stem: str, suffix: str, label: str) -> None:
    assert split_name(name) == (stem, suffix)
    assert unit_label(name) == label


def test_currency_stands_for_usd() -> None:
    assert unit_label("upkeep_usd_per_year", "EUR") == "EUR/year"


def test_hints_offer_both_habits() -> None:
    assert usual_names("tank_l") == ("tank_l", "tank_gal")
    assert usual_names("altitude_m") == ("altitude_m", "altitude_ft")
    assert "heat_btu_per_h" in usual_names("heat_kw")
    assert "price_usd_per_gal" in usual_names("price_usd_per_l")


def _numbers(shape: Shape, seen: set[type]) -> set[str]:
    if shape.kind in ("named", "listed"):
        assert shape.inner is not None
        return _numbers(shape.inner, seen)
    if shape.model is None or shape.model in seen:
        return set()
    seen.add(shape.model)
    names = set()
    for name, inner in fields_of(shape.model).items():
        names |= {name} if inner.numeric else _numbers(inner, seen)
    return names


def test_every_number_of_the_models_ends_in_a_unit_or_is_a_known_exception() -> None:
    names = _numbers(Shape("block", StudyModel, model=StudyModel), set())
    bare = {n for n in names if not split_name(n)[1]}
    counted = {"count", "packs_per_unit", "false_alarms_per_event", "customers_served", "months_back"}
    dates = {"year", "price_year", "begins_on_day", "start_hour", "true_up_month"}
    plain = {"kit_file", "seed", "leg", "multiply_by", "deflator", "l_per_trip", "spread", "shape"}
    allowed = counted | dates | plain
    assert bare - {"frac"} <= allowed
    assert len(names) > 100


@pytest.mark.parametrize("field", ["tank_l", "heat_kw", "idle_at_c", "price_usd_per_kwh", "fuel_m3_per_h"])
def test_every_allowed_name_converts_there_and_back(field: str) -> None:
    for name in allowed_names(field):
        there, back = conversion(name, field), conversion(field, name)
        assert there is not None
        assert back is not None
        assert back(there(7.25)) == pytest.approx(7.25, rel=1e-12)
