"""The comparison of rate plans as text for a screen, and as files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kit.report.rate_charts import plan_chart
from kit.report.rate_tables import best_table, foresight_table, plan_notes, plan_table
from kit.report.show import together
from kit.save import ensure_folder, write_text


def rates_text(compared: Any) -> str:
    """Bills, best plans, foresight and notes as plain text."""
    model = compared.study.model
    invented = " (invented data)" if model.invented else ""
    head = f"{model.name}{invented}, study {compared.study.sha256[:12]}"
    parts = [plan_table(compared), best_table(compared), foresight_table(compared), plan_notes(compared)]
    return f"{head}\n\n{together(parts).text}"


def write_rates(compared: Any, folder: Path) -> list[Path]:
    """Write the table, every line of every bill, the chart, and imported records as parameter files.

    Returns the paths: rates.csv, rate_lines.csv, rates.svg, one imported/SLUG.yaml a record. SaveError
    where one cannot be written.
    """
    import vl_convert

    ensure_folder(folder)
    chart = vl_convert.vegalite_to_svg(plan_chart(compared).to_dict())
    made = [
        write_text(folder / "rates.csv", compared.table.to_csv(index=False, lineterminator="\n")),
        write_text(folder / "rate_lines.csv", compared.lines.to_csv(index=False, lineterminator="\n")),
        write_text(folder / "rates.svg", chart),
    ]
    for slug, one in compared.plans.items():
        if one.as_yaml is not None:
            made.append(write_text(folder / "imported" / f"{slug}.yaml", one.as_yaml))
    return made
