"""A small study with ranges of every sort for the tests of doubt: three options, five years."""

from __future__ import annotations

from dataclasses import replace

from kit.shipped import shipped
from kit.study import Study, read_study
from kit.vary.ground import Ground
from kit.vary.kept import Kept, physics

OPTIONS = ("portable", "battery", "battery_small_set")


def small_study(*settings: str, options: tuple[str, ...] = OPTIONS) -> Study:
    whole = read_study(shipped() / "params/studies/metered_house.yaml")
    blocks = whole.tree.value["options"]
    few = {slug: blocks.value[slug] for slug in options}
    tree = replace(whole.tree, value={**whole.tree.value, "options": replace(blocks, value=few)})
    return replace(whole, tree=tree).changed(["outages.horizon_h=24", "asked.stay_years=5", *settings])


def ground_of(study: Study) -> Ground:
    return Ground(study, physics(study, Kept()))
