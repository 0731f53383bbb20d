"""Public holidays, kept between runs."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from pathlib import Path

import holidays
import pytest

from kit.study.holiday_days import public_holidays


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("RIDETHROUGH_CACHE", str(tmp_path))
    return tmp_path


@pytest.mark.parametrize(("country", "subdivision"), [("US", None), ("US", "CA"), ("DE", "BY")])
def test_first_and_kept_answers_are_the_library_s(country: str, subdivision: str | None) -> None:
    named = holidays.country_holidays(country, subdiv=subdivision, years=(2024, 2025))
    for _ in range(2):
        assert public_holidays(country, subdivision, (2024, 2025)) == tuple(named.items())
    assert (dt.date(2025, 1, 1), named[dt.date(2025, 1, 1)]) in named.items()


def test_a_kept_answer_loads_no_calendar(own_cache: Path) -> None:
    public_holidays.cache_clear()  # asked before this test: then its answer may stand in another folder
    public_holidays("US", None, (2025,))
    ask = (
        "import sys; from kit.study.holiday_days import public_holidays as p; n = len(p('US', None, (2025,)))"
    )
    run = subprocess.run(
        [sys.executable, "-c", f"{ask}; print(n > 5, 'holidays' in sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout.split() == ["True", "False"]


def test_unknown_places_are_named() -> None:
    with pytest.raises(ValueError, match="no holiday calendar for country 'QQ'"):
        public_holidays("QQ", None, (2025,))
    with pytest.raises(ValueError, match="country US has no subdivision 'XX'"):
        public_holidays("US", "XX", (2025,))
