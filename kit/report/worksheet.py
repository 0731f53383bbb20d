"""The worksheet of a house: the list, what runs together, what starts, what the rules compare."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from kit.house import house_year
from kit.report import code_rules, load_list
from kit.report.show import Shown, together
from kit.study import Study
from kit.study.names import option_names


def worksheet(comparison: Any) -> Shown:
    """The whole worksheet of a comparison."""
    return together(
        [
            load_list.load_list(comparison),
            load_list.running_together(comparison),
            load_list.starts(comparison),
            load_list.list_against_meter(comparison),
            code_rules.code_rules(comparison),
        ]
    )


def study_worksheet(study: Study) -> Shown:
    """The same without a comparison: nothing of the outages or of money is computed."""
    house = house_year(study.model.house, study.model.year)
    names = {
        slug: SimpleNamespace(name=name, option=study.model.options[slug])
        for slug, name in option_names(study.model.options).items()
    }
    return worksheet(SimpleNamespace(study=study, house=house, outcomes={"do_nothing": _NOTHING, **names}))


_NOTHING = SimpleNamespace(name="Do nothing", option=None)
