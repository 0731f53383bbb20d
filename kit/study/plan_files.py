"""Rate plans that stand in files of their own, read without a study around them."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from kit.study.explain import explain
from kit.study.problems import Problem, StudyError
from kit.study.quantities import Reading
from kit.study.rate_models import RatePlan
from kit.study.resolve import Resolver
from kit.study.schema import Shape

_WHOLE = Shape("block", RatePlan, model=RatePlan)


def read_plan(file: Path, root: Path) -> RatePlan:
    """One rate plan. No reference may lead outside `root`. Raises StudyError with all problems found."""
    problems: list[Problem] = []
    resolver = Resolver(root.resolve(), problems)
    tree = resolver.study(file)
    if tree is None:
        raise StudyError(problems)
    assert isinstance(tree.value, dict)
    tree.value.pop("kit_file", None)
    reading = Reading(resolver, file.resolve().parent, problems)
    plain = reading.value(tree, _WHOLE, (), "")
    plan = None
    try:
        plan = RatePlan.model_validate(plain)
    except ValidationError as error:
        problems += explain(error, reading)
    if problems or plan is None:
        raise StudyError(problems)
    return plan


def plan_root(folder: Path, study_root: Path) -> Path:
    """The root of plans in a folder: that of the study where the folder lies inside it, else the folder."""
    inside = folder.resolve().is_relative_to(study_root.resolve())
    return study_root if inside else folder
