"""What a household may meet over the whole stay: luck, good and bad."""

from __future__ import annotations

from typing import Any

import pandas as pd

from kit.report.formats import figure
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, paragraph, together
from kit.report.theme import looks


def stay_table(comparison: Any, stays: pd.DataFrame) -> Shown:
    """One row an option: how likely no outage ever fails, and dark hours in lucky and unlucky stays.

    `stays`: rows of kit.vary.stays.whole_stays.
    """
    model = comparison.study.model
    by_option = {str(row["option"]): row for row in stays.to_dict("records")}
    rows = []
    for look in looks(comparison):
        row = by_option[look.slug]
        hours: list[str | Cell] = [
            figure(float(row[f"dark_h_{part}"]), "h") for part in ("p05", "p50", "p95")
        ]
        never = figure(float(row["never_failed_frac"]), "frac")
        rows.append([look.label, never, figure(float(row["failed_count_mean"]), "count"), *hours])
    heads = ["", "No outage ever fails", "Failed outages", "Lucky stay", "Middle", "Unlucky stay"]
    caption = f"Must-run hours off in a stay of {model.asked.stay_years} years"
    note = (
        f"{model.lifetime_count:,} stays were drawn, the same for every option, each with its own "
        "outages, people, share of solar and failures. One stay in twenty is luckier than the lucky "
        "one, one in twenty worse than the unlucky one. A failed outage is one in which must-run loads "
        "are off for longer than they tolerate."
    )
    return together([table(caption, heads, [Group("", rows)]), paragraph(note)])
