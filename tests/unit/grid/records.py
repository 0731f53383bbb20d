"""The outage records that come with the kit, read as a study reads them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from kit.study import read_study
from kit.study.outage_models import OutageRecord

PARAMS = Path(__file__).parents[3] / "params"


@cache
def shipped_record(name: str) -> OutageRecord:
    """One of params/outages by its name, put into the metered study from a file beside it."""
    setting = f"outages=../outages/{name}.yaml"
    return read_study(PARAMS / "studies" / "metered_house.yaml", [setting]).model.outages
