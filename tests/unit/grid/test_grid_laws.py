"""Laws that hold for any bill and any outage record."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.grid.bill import bill
from kit.grid.outages import DurationLaw, class_ride_weights
from kit.study.outage_models import Duration, OutageRecord
from kit.study.rate_models import RatePlan
from tests.unit.grid.plans import SEASONS, evening_peak, flat, plan, year

YEAR = year()
FEW = settings(max_examples=40)
price = st.floats(0.0, 0.6, allow_subnormal=False)
BLOCKS = [
    {"up_to_kwh_per_day": 10.0, "price_usd_per_kwh": 0.11},
    {"up_to_kwh_per_day": 25.0, "price_usd_per_kwh": 0.19},
    {"price_usd_per_kwh": 0.14},
]


@st.composite
def plans(draw: st.DrawFn, carries: bool = True) -> RatePlan:
    """A plan of any of the four shapes with any export rule."""
    keys: dict[str, Any] = {
        "fixed_usd_per_month": draw(price) * 30,
        "minimum_usd_per_month": draw(st.sampled_from([0.0, 25.0])),
        "riders": {
            "fuel": {
                "price_usd_per_kwh": draw(price) / 20,
                "counts": draw(st.sampled_from(["billed", "import"])),
            }
        },
        "taxes": {
            "t": {"frac": draw(price) / 6, "of": draw(st.sampled_from(["subtotal", "charges", "energy"]))}
        },
        "rounding": draw(st.sampled_from(["none", "line"])),
    }
    leftovers = ["lost", "paid_usd"] + (["carried_usd"] if carries else [])
    kind = draw(st.sampled_from(["none", "net_metering", "net_billing"]))
    export = {
        "kind": kind,
        "leftover": draw(st.sampled_from(leftovers)),
        "offsets": draw(st.sampled_from(["all", "energy"])),
    }
    if kind == "net_billing":
        export["price_usd_per_kwh"] = draw(price) / 4
    keys["export"] = export
    shape = draw(st.sampled_from(["flat", "periods", "blocks", "adders"]))
    if shape == "flat":
        return flat(draw(price), **keys)
    if shape == "periods":
        return evening_peak(**keys)
    energy: dict[str, Any] = {"all_hours": {"tiers": BLOCKS}}
    if shape == "adders":
        energy = {
            "night": {"hours": "22-6", "price_usd_per_kwh": 0.0},
            "peak": {"hours": "rest", "price_usd_per_kwh": 0.1},
        }
        return plan(
            seasons=SEASONS, season_tiers={"summer": BLOCKS, "winter": BLOCKS[1:]}, energy=energy, **keys
        )
    return plan(energy=energy, **keys)


def energy(seed: int, scale: float) -> np.ndarray:
    return np.random.default_rng(seed).exponential(scale, YEAR.n)


seeds = st.integers(0, 10_000)


@FEW
@given(plans(), seeds, st.floats(0.1, 3.0), st.floats(0.0, 3.0))
def test_lines_add_up_to_the_bill(p: RatePlan, seed: int, load: float, solar: float) -> None:
    made = bill(p, YEAR, energy(seed, load), energy(seed + 1, solar))
    assert made.lines.usd.sum() == pytest.approx(made.total_usd, abs=1e-9)
    assert sum(made.part_usd.values()) == pytest.approx(made.total_usd, abs=1e-8)
    by_month = made.lines.groupby("month").usd.sum().reindex(range(1, 13), fill_value=0.0)
    assert by_month.to_numpy() == pytest.approx(made.month_usd, abs=1e-9)
    if p.rounding == "none":
        assert (made.lines.quantity * made.lines.price).to_numpy() == pytest.approx(made.lines.usd.to_numpy())


@FEW
@given(plans(), seeds, st.floats(0.1, 3.0), st.integers(0, 8759), st.floats(0.0, 500.0))
def test_more_import_never_costs_less(
    p: RatePlan, seed: int, load: float, step: int, more_kwh: float
) -> None:
    import_kwh, export_kwh = energy(seed, load), energy(seed + 1, 0.3)
    before = bill(p, YEAR, import_kwh, export_kwh).total_usd
    import_kwh[step] += more_kwh
    slack = 0.05 if p.rounding == "line" else 1e-6  # each line may round the other way
    assert bill(p, YEAR, import_kwh, export_kwh).total_usd >= before - slack


@FEW
@given(plans(carries=False), seeds, st.integers(1, 11))
def test_a_year_in_two_parts_is_billed_alike(p: RatePlan, seed: int, last: int) -> None:
    """Without carried credit a month's bill depends on that month alone."""
    import_kwh, export_kwh = energy(seed, 1.0), energy(seed + 1, 0.8)
    early = YEAR.month <= last
    whole = bill(p, YEAR, import_kwh, export_kwh).month_usd
    first = bill(p, YEAR, import_kwh * early, export_kwh * early).month_usd
    second = bill(p, YEAR, import_kwh * ~early, export_kwh * ~early).month_usd
    assert np.concatenate([first[:last], second[last:]]) == pytest.approx(whole, abs=1e-9)


@FEW
@given(plans(), seeds, seeds)
def test_order_inside_a_flat_month_does_not_matter(p: RatePlan, seed: int, shuffle: int) -> None:
    if len(p.energy) > 1:
        p = flat(0.15, fixed_usd_per_month=p.fixed_usd_per_month, export=p.export.model_dump())
    import_kwh, order = energy(seed, 1.0), np.arange(YEAR.n)
    rng = np.random.default_rng(shuffle)
    for month in range(1, 13):
        inside = np.flatnonzero(YEAR.month == month)
        order[inside] = rng.permutation(inside)
    one, other = bill(p, YEAR, import_kwh), bill(p, YEAR, import_kwh[order])
    assert other.total_usd == pytest.approx(one.total_usd, abs=0.13 if p.rounding == "line" else 1e-6)


@st.composite
def durations(draw: st.DrawFn) -> Duration:
    hours = st.floats(0.05, 400.0)
    keys = draw(
        st.one_of(
            st.fixed_dictionaries({"kind": st.just("fixed"), "mean_h": hours}),
            st.fixed_dictionaries({"kind": st.just("exponential"), "mean_h": hours}),
            st.fixed_dictionaries(
                {"kind": st.just("lognormal"), "median_h": hours, "spread": st.floats(0.05, 2.5)}
            ),
            st.fixed_dictionaries(
                {"kind": st.just("log"), "events_h": st.lists(hours, min_size=1, max_size=12)}
            ),
        )
    )
    return Duration.model_validate(keys)


@given(durations(), st.floats(0.3, 1440.0), st.sampled_from([0.25, 0.5, 1.0]))
def test_steps_add_up_to_the_mean(duration: Duration, horizon_h: float, step_h: float) -> None:
    law = DurationLaw(duration, horizon_h)
    hours = law.step_hours(step_h)
    assert hours.sum() == pytest.approx(law.mean_h, rel=1e-9, abs=1e-12)
    assert (hours >= 0).all()
    assert (hours <= step_h * (1 + 1e-12)).all()
    starts = np.arange(len(hours)) * step_h
    ends = np.minimum(starts + step_h, horizon_h)
    assert (hours <= law.lasts_frac(starts) * (ends - starts) + 1e-9).all()
    assert (hours >= law.lasts_frac(np.nextafter(ends, 0)) * (ends - starts) * (1 - 1e-6) - 1e-9).all()


@given(durations(), st.floats(1.0, 1440.0))
def test_chance_of_lasting_falls(duration: Duration, horizon_h: float) -> None:
    law = DurationLaw(duration, horizon_h)
    chance = law.lasts_frac(np.linspace(0.0, horizon_h * 1.1, 300))
    assert chance[0] == 1.0
    assert (np.diff(chance) <= 1e-12).all()
    assert ((chance >= 0) & (chance <= 1)).all()
    assert chance[-1] == 0.0


weights = st.one_of(
    st.none(), st.lists(st.floats(0.0, 5.0), min_size=12, max_size=12).filter(lambda w: sum(w) > 0.1)
)


@FEW
@given(
    st.lists(st.tuples(durations(), st.floats(0.0, 5.0), weights), min_size=1, max_size=3),
    st.floats(0.0, 500.0),
)
def test_ride_weights_add_up_to_one(classes: list[tuple[Duration, float, Any]], hours: float) -> None:
    record = OutageRecord.model_validate(
        {
            "classes": {
                f"class_{number}": {
                    "events_per_year": rate,
                    "duration": duration.model_dump(exclude_none=True),
                    "month_weights": months,
                }
                for number, (duration, rate, months) in enumerate(classes)
            }
        }
    )
    made = class_ride_weights(record, YEAR, hours)
    assert sum(w.sum() for w in made.values()) == pytest.approx(1.0, abs=1e-9)
    assert all((w >= 0).all() for w in made.values())


@st.composite
def daily_plans(draw: st.DrawFn) -> dict[str, Any]:
    """Plans whose bill is a sum over days: prices, limits a day, charges a day, credit paid out."""
    kind = draw(st.sampled_from(["none", "net_billing"]))
    export: dict[str, Any] = {"kind": kind, "leftover": "paid_usd"}
    if kind == "net_billing":
        export["price_usd_per_kwh"] = draw(price) / 4
    return {
        "fixed_usd_per_day": draw(price),
        "fixed_usd_per_month": draw(price) * 20,
        "energy": {
            "peak": {"hours": "16-21", "days": "weekday", "price_usd_per_kwh": draw(price)},
            "off": {"hours": "rest", "price_usd_per_kwh": draw(price)},
        },
        "critical_peaks": {"hot": {"dates": ["07-14"], "hours": "15-19", "price_usd_per_kwh": 0.9}},
        "riders": {"fuel": {"price_usd_per_kwh": draw(price) / 20}},
        "taxes": {"t": {"frac": draw(price) / 6, "of": "charges"}},
        "export": export,
    }


@FEW
@given(daily_plans(), seeds, st.integers(2, 28), st.integers(1, 28), st.integers(1, 12))
def test_neither_read_days_nor_a_change_to_the_same_plan_move_the_year(
    keys: dict[str, Any], seed: int, begins: int, day: int, month: int
) -> None:
    import_kwh, export_kwh = energy(seed, 1.0), energy(seed + 1, 0.5)
    months = bill(plan(**keys), YEAR, import_kwh, export_kwh)
    cycle = {"billing_cycle": {"begins_on_day": begins}}
    cycles = bill(plan(**keys, **cycle), YEAR, import_kwh, export_kwh)
    later = plan(**keys, starts=f"{month:02d}-{day:02d}", **cycle)
    changed = bill(
        plan(**keys, **cycle).model_copy(update={"followed_by": later}), YEAR, import_kwh, export_kwh
    )
    assert cycles.total_usd == pytest.approx(months.total_usd, abs=1e-7)
    assert changed.total_usd == pytest.approx(months.total_usd, abs=1e-7)
    assert changed.month_usd == pytest.approx(cycles.month_usd, abs=1e-7)


@FEW
@given(seeds, st.floats(0.0, 1.0), st.integers(1, 12), st.floats(0.0, 20.0))
def test_a_ratchet_never_lowers_a_bill_and_is_bounded_by_the_highest(
    seed: int, frac: float, back: int, known_kw: float
) -> None:
    import_kwh = energy(seed, 1.0)
    charge: dict[str, Any] = {"price_usd_per_kw": 5.0}
    plain = bill(flat(0.1, demand={"d": charge}), YEAR, import_kwh)
    for before in ({}, {"before_kw": known_kw}):
        ratchet = {"frac": frac, "months_back": back, **before}
        held = bill(flat(0.1, demand={"d": charge | {"ratchet": ratchet}}), YEAR, import_kwh)
        assert (held.month_usd >= plain.month_usd - 1e-9).all()
        highest_kw = max(float(import_kwh.max()), known_kw * bool(before))
        assert held.part_usd["demand"] <= 12 * 5.0 * highest_kw + 1e-6


@FEW
@given(plans(), seeds, st.integers(1, 12))
def test_the_month_of_the_true_up_only_moves_credit(p: RatePlan, seed: int, month: int) -> None:
    """Charges do not depend on it, and no year earns more than its credit."""
    moved = p.model_copy(update={"export": p.export.model_copy(update={"true_up_month": month})})
    import_kwh, export_kwh = energy(seed, 1.0), energy(seed + 1, 0.8)
    one, other = (bill(x, YEAR, import_kwh, export_kwh) for x in (p, moved))
    for part in ("fixed", "energy", "rider", "minimum"):
        assert other.part_usd.get(part, 0.0) == pytest.approx(one.part_usd.get(part, 0.0), abs=1e-9)
    earned = sum(float(line.usd.sum()) for line in other.bill_lines if line.name.startswith("export credit"))
    slack = 0.2 if p.rounding == "line" else 1e-6
    assert earned - slack <= other.part_usd.get("credit", 0.0) <= slack
