"""Random cases for the exact dispatch, and one call from a twin's case to the kit."""

import math

import numpy as np
from hypothesis import strategies as st

from kit.operate.best import BestUse, NoScheduleError, best_use

SHARES = st.floats(0, 1).map(lambda share: round(share, 6))


def limits(n: int) -> st.SearchStrategy[list[float]]:
    """A most of each step: the same in all, or, as in a study, another in each."""
    most = st.sampled_from([0.0, 0.5, 1.5, 4.0])
    return most.map(lambda kwh: [kwh] * n) | st.lists(most | SHARES, min_size=n, max_size=n)


def limit_kw(kwh: list[float], step_h: float) -> float | np.ndarray:
    """A limit as a caller gives it: one number where it is the same in every step."""
    return kwh[0] / step_h if len(set(kwh)) == 1 else np.array(kwh) / step_h


@st.composite
def dispatch_cases(draw: st.DrawFn, levels: int | None = 3) -> dict:
    """Small cases with ties, zeros, tight limits; prices of a few levels, or all different (levels=None)."""
    n = draw(st.integers(1, 14))
    rounded = st.sampled_from([-3.0, -1.0, -0.5, 0.0, 0.25, 0.5, 1.0, 2.0])
    watt_hours = st.integers(-3000, 4000).map(lambda part: part / 1000)
    net = draw(st.lists(rounded | watt_hours, min_size=n, max_size=n))
    if levels is None:
        price = st.floats(0.01, 0.9)
    else:
        price = st.sampled_from(
            draw(st.lists(st.sampled_from([0.0, 0.1, 0.2, 0.3, 0.5]), min_size=1, max_size=levels))
        )
    buy = draw(st.lists(price, min_size=n, max_size=n))
    paid = draw(st.sampled_from([0.0, 0.05, 0.4, 1.0]))
    sell = [paid * p for p in buy] if draw(st.booleans()) else [paid * min(buy)] * n
    full = draw(st.sampled_from([0.0, 1.0, 2.5, 6.0]))
    floor = draw(st.sampled_from([0.0, 0.2]) | SHARES) * full
    varying = draw(st.booleans())
    return {
        "net_kwh": net,
        "buy": buy,
        "sell": sell,
        "full": full,
        "floor": [floor * draw(st.sampled_from([0.0, 1.0])) for _ in range(n)] if varying else [floor] * n,
        "start": full * draw(st.sampled_from([0.0, 0.5, 1.0]) | SHARES),
        "charge": draw(limits(n)),
        "discharge": draw(limits(n)),
        "into": draw(st.sampled_from([1.0, 0.95, 0.85])),
        "out_of": draw(st.sampled_from([1.0, 0.95, 0.9])),
        "wear": draw(st.sampled_from([0.0, 0.02, 0.08])),
        "grid": draw(st.booleans()),
        "export": draw(st.booleans()),
        "worth": draw(st.sampled_from([None, 0.0, 0.1, 0.25, 1.0])),
    }


def use_of(case: dict, method: str = "auto", step_h: float = 0.5) -> BestUse | None:
    """best_use for a twin's case; None where no schedule exists."""
    try:
        return best_use(
            np.array(case["net_kwh"]) / step_h,
            case["buy"],
            case["sell"],
            step_h,
            usable_kwh=case["full"],
            start_kwh=case["start"],
            charge_kw=limit_kw(case["charge"], step_h),
            discharge_kw=limit_kw(case["discharge"], step_h),
            charge_efficiency_frac=case["into"],
            discharge_efficiency_frac=case["out_of"],
            reserve_kwh=case["floor"],
            wear_usd_per_kwh=case["wear"],
            grid_charge_allowed=case["grid"],
            export_allowed=case["export"],
            end_value_usd_per_kwh=case["worth"],
            method=method,  # type: ignore[arg-type]
        )
    except NoScheduleError:
        return None


def cost_of(use: BestUse, case: dict) -> float:
    return use.steered_by_usd - (case["worth"] or 0.0) * use.stored_kwh[-1]


def check_cost(case: dict, use: BestUse | None, expected: float, relative: float = 1e-9) -> None:
    """The cost told by a twin, or no schedule where the twin has none."""
    if use is None:
        assert math.isnan(expected)
        return
    scale = 1.0 + np.abs(np.array(case["net_kwh"])) @ np.array(case["buy"])
    assert abs(cost_of(use, case) - expected) <= relative * scale
    check_energy(case, use)


def check_energy(case: dict, use: BestUse) -> None:
    """The schedule itself: energy closes, limits and floors hold, never both ways at once."""
    tiny = 1e-9
    net = np.array(case["net_kwh"])
    stored = use.stored_kwh
    assert stored[0] == case["start"]
    moved = case["into"] * use.charge_kwh - use.discharge_kwh / case["out_of"]
    assert np.abs(np.diff(stored) - moved).max() <= tiny
    meter = net + use.charge_kwh - use.discharge_kwh
    assert np.abs(use.import_kwh - use.export_kwh - meter).max() <= tiny
    assert (stored[1:] >= np.array(case["floor"]) - tiny).all()
    assert stored.max() <= case["full"] + tiny
    assert (use.charge_kwh <= np.array(case["charge"]) + tiny).all()
    assert (use.discharge_kwh <= np.array(case["discharge"]) + tiny).all()
    assert (np.minimum(use.charge_kwh, use.discharge_kwh) == 0.0).all()
    assert (np.minimum(use.import_kwh, use.export_kwh) == 0.0).all()
    if not case["grid"]:
        assert (use.charge_kwh <= np.maximum(0, -net) + tiny).all()
    if not case["export"]:
        assert (use.discharge_kwh <= np.maximum(0, net) + tiny).all()
    if case["worth"] is None:
        assert abs(stored[-1] - case["start"]) <= 1e-7
