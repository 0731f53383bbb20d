"""The ageing table: one row a battery, at rest beside it where that differs."""

from __future__ import annotations

from types import SimpleNamespace

from kit.report.ageing import ageing_table
from kit.stages.ageing import Wear
from kit.systems.ageing import YearStress


def comparison(**wears: Wear | None) -> SimpleNamespace:
    battery = SimpleNamespace(ageing=SimpleNamespace(form="naumann"))
    model = SimpleNamespace(
        asked=SimpleNamespace(keep_on_h=24.0),
        options={slug: SimpleNamespace(battery=battery) for slug in wears},
    )
    columns = {"ride_through_frac_asked": 0.9, "ride_through_frac_asked_aged": 0.8}
    outcomes = {s: SimpleNamespace(name=s, wear=w, columns=columns) for s, w in wears.items()}
    return SimpleNamespace(study=SimpleNamespace(model=model), outcomes=outcomes)


def test_rows_by_hand() -> None:
    """Loss 4 % + 2 % a square-root year: 6 % after one, 13.4 % after five, 19 % after ten."""
    used, rested = YearStress(0.04**2, 0.02**2), YearStress(0.05**2, 0.0)
    text = ageing_table(
        comparison(
            nothing=None,
            pack=Wear(12.0, "its life in years", stress=used, rested=rested),
            fixed=Wear(8.0, "its life in years", fade_frac_per_year=0.02),
        )
    ).text
    lines = {line.split("  ")[0] + line[1:12].strip(): line for line in text.splitlines()}
    pack = next(line for line in lines.values() if "pack" in line)
    assert [pack.split()[i] for i in (2, 3, 4)] == ["94%", "86.6%", "81%"]
    rest = next(line for line in lines.values() if line.startswith("the same at rest"))
    assert "95%" in rest
    assert "84.2%" in rest  # 1 - 0.05 sqrt(10)
    fixed = next(line for line in lines.values() if "fixed" in line)
    assert [fixed.split()[i] for i in (3, 4)] == ["98%", "90%"]
    assert "Naumann" in text


def test_no_battery() -> None:
    assert ageing_table(comparison(nothing=None)).text == "No option has a battery."
