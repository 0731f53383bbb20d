"""How the batteries age: capacity by year as used here and at rest, and when each is replaced."""

from __future__ import annotations

from typing import Any

from kit.report.formats import CHANCE, figure
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, paragraph, together
from kit.report.theme import looks

YEARS = (1.0, 5.0, 10.0)
FORMS = {
    "naumann": "Naumann et al. 2018 and 2020 (LFP cells, time and cycles)",
    "schimpe": "Schimpe et al. 2018 (LFP cells, time) and Naumann et al. 2020 (cycles)",
}


def ageing_table(comparison: Any) -> Shown:
    """Capacity left after 1, 5 and 10 years as each option uses its battery, beside resting full."""
    rows: list[list[str | Cell]] = []
    forms: set[str] = set()
    for look in looks(comparison):
        wear = comparison.outcomes[look.slug].wear
        if wear is None:
            continue
        rows.append([look.label, *_left(wear), _ends(wear), *_chances(comparison, look.slug)])
        if wear.stress is None:
            rows[-1][0] = Cell(look.label, "A fixed yearly fade of this study, not a published form.")
            continue
        forms.add(comparison.study.model.options[look.slug].battery.ageing.form)
        rested = [
            figure(1.0 - wear.rested.loss_frac(age, wear.scale_frac), "frac") if age < wear.life_years else ""
            for age in YEARS
        ]
        if rested != _left(wear):
            rows.append(["the same at rest, full", *rested, "", "", ""])
    if not rows:
        return paragraph("No option has a battery.")
    asked = figure(comparison.study.model.asked.keep_on_h, "h")
    heads = ["", *(f"After\n{age:.0f} year{'s' if age > 1 else ''}" for age in YEARS), "Replaced"]
    heads += [f"{asked} kept on,\nnew", f"{asked} kept on,\noldest"]
    shown = table("Capacity left of the batteries", heads, [Group("", rows)], (4,), kind="figures rows")
    return together([shown, _closing(forms)])


def _left(wear: Any) -> list[str]:
    """Capacity at each age; empty beyond the battery's life."""
    return [figure(wear.left_frac(age), "frac") if age < wear.life_years else "" for age in YEARS]


def _ends(wear: Any) -> str:
    return f"after {figure(wear.life_years, 'years')}: {wear.ends_by}"


def _chances(comparison: Any, slug: str) -> list[str]:
    columns = comparison.outcomes[slug].columns
    return [
        figure(columns.get("ride_through_frac_asked"), CHANCE),
        figure(columns.get("ride_through_frac_asked_aged"), CHANCE),
    ]


def _closing(forms: set[str]) -> Shown | None:
    if not forms:
        return None
    named = "; ".join(FORMS[form] for form in sorted(forms))
    return paragraph(
        f"Loss by {named}, along this house's own charge, hour by hour, at the temperature of the battery's "
        "place. Cells of one make are no forecast for a pack of another: the factor on the loss is an "
        "assumption of the study. Resting full ages a battery too; whichever loses more is to be read here.",
        "small",
    )
