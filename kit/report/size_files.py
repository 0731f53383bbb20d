"""The sizing as text for a screen, and as files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kit.report.show import together
from kit.report.size_chart import size_chart
from kit.report.size_tables import answer, failures_table, frontier_table, hand_table
from kit.save import ensure_folder, write_text


def sizing_text(sizing: Any) -> str:
    """Answer, frontier, why the others fail and the hand method as plain text."""
    model = sizing.study.model
    invented = " (invented data)" if model.invented else ""
    head = f"{model.name}{invented}, study {sizing.study.sha256[:12]}"
    parts = [answer(sizing), frontier_table(sizing), failures_table(sizing), hand_table(sizing)]
    return f"{head}\n\n{together(parts).text}"


def write_sizes(sizing: Any, folder: Path) -> list[Path]:
    """Write sizes.csv (one row a configuration), hand_method.csv and sizes.svg. SaveError where it cannot."""
    import vl_convert

    ensure_folder(folder)
    chart = vl_convert.vegalite_to_svg(size_chart(sizing).to_dict())
    return [
        write_text(folder / "sizes.csv", sizing.table.to_csv(index=False, lineterminator="\n")),
        write_text(folder / "hand_method.csv", sizing.hand.to_csv(index=False, lineterminator="\n")),
        write_text(folder / "sizes.svg", chart),
    ]
