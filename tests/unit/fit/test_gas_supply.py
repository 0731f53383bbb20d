"""What a propane tank boils off, by the printed rule, and the gas meter."""

from __future__ import annotations

import pytest

from kit.fit.gas_supply import boil_off_kw, cannot_feed_below_c
from kit.fit.inputs import Site
from kit.study.dwelling_models import GasService, PropaneTank
from tests.unit.fit.test_cautions import found

TANK = PropaneTank(diameter_m=37.4 * 0.0254, length_m=119.5 * 0.0254)  # 500 US gal


def test_rule_by_hand() -> None:
    zero_f = -32.0 / 1.8
    # 37.4 in x 119.5 in x 60 (one fifth full) = 268,158 Btu/h at 0 F; twice that at 20 F; none at -20 F
    assert boil_off_kw(TANK, 0.2, zero_f) * 3412.14 == pytest.approx(37.4 * 119.5 * 60.0, rel=1e-9)
    assert boil_off_kw(TANK, 0.2, -12.0 / 1.8) * 3412.14 == pytest.approx(2 * 37.4 * 119.5 * 60.0, rel=1e-9)
    assert boil_off_kw(TANK, 0.2, -52.0 / 1.8) == pytest.approx(0.0, abs=1e-9)
    assert boil_off_kw(TANK, 0.25, zero_f) == pytest.approx(65 / 60 * boil_off_kw(TANK, 0.2, zero_f))
    assert boil_off_kw(TANK, 0.8, zero_f) == pytest.approx(100 / 60 * boil_off_kw(TANK, 0.2, zero_f))
    assert boil_off_kw(TANK, 0.05, zero_f) == pytest.approx(45 / 60 * boil_off_kw(TANK, 0.2, zero_f))


def test_limit_is_where_boil_off_equals_the_need() -> None:
    for heat_kw in (30.0, 80.0, 150.0):
        limit_c = cannot_feed_below_c(TANK, 0.2, heat_kw)
        assert boil_off_kw(TANK, 0.2, limit_c) == pytest.approx(heat_kw, rel=1e-9)


@pytest.mark.parametrize("full_frac", [0.0, 0.81, -0.1])
def test_fill_outside_its_range(full_frac: float) -> None:
    with pytest.raises(ValueError, match="full_frac"):
        boil_off_kw(TANK, full_frac, 0.0)


def test_cold_finding_warns_only_where_it_gets_so_cold() -> None:
    set_ = {"fuel": "propane", "fuel_on_site_l": 1500.0}
    mild = found(generator=set_, site=Site(propane_tank=TANK, coldest_c=5.0))["propane_cold"]
    harsh = found(generator=set_, site=Site(propane_tank=TANK, coldest_c=-40.0))["propane_cold"]
    assert mild.severity == "note"
    assert harsh.severity == "warning"
    assert "falls to -40 C" in harsh.text
    assert "cannot feed" in harsh.text


def test_gas_meter_finding_adds_the_other_appliances() -> None:
    set_ = {"fuel": "natural_gas"}
    heat_kw = 136_486 / 3412.14  # Btu/h of the block's full load, as its own finding prints
    room = GasService(meter_rating_kw=heat_kw + 31.0, other_appliances_kw=30.0)
    short = GasService(meter_rating_kw=heat_kw + 29.0, other_appliances_kw=30.0)
    assert found(generator=set_, site=Site(gas=room))["gas_meter"].severity == "note"
    warned = found(generator=set_, site=Site(gas=short))["gas_meter"]
    assert warned.severity == "warning"
    assert "larger meter" in warned.text
