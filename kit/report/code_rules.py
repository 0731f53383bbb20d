"""The code worksheet as tables: the calculated load of the house, and the rules option by option."""

from __future__ import annotations

from typing import Any

import pandas as pd

from kit.fit.dwelling_load import CalculatedLoad
from kit.fit.equipment import DEFER
from kit.report.formats import Units, figure
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, paragraph, together
from kit.report.theme import looks
from kit.stages.worksheet import Worksheet, code_worksheet

HOLDS = {"within": "yes", "beyond": "NO", "open": "open"}


def code_rules(comparison: Any) -> Shown:
    """The worksheet of a comparison: calculated load, then what each option asks of service and place."""
    sheet = code_worksheet(comparison.study, comparison.house)
    return together([calculated_load_table(sheet), option_rules_table(comparison, sheet), _closing()])


def calculated_load_table(sheet: Worksheet) -> Shown:
    """Both methods of NEC Article 220, line by line; a sentence where the house gives no nameplates."""
    if not sheet.loads:
        return paragraph(
            "The house block gives no nameplates (`dwelling`), so the calculated load of NEC Article 220 "
            "is not known."
        )
    groups = [Group(f"{load.method.capitalize()} method", _load_rows(load)) for load in sheet.loads]
    heads = ["Line", "Nameplate", "Counted", "NEC"]
    return table("Calculated load of the house, NEC Article 220", heads, groups, (3,), kind="figures rules")


def _load_rows(load: CalculatedLoad) -> list[list[str | Cell]]:
    rows: list[list[str | Cell]] = []
    for line in load.lines.to_dict("records"):
        name = str(line["line"])
        counted = "" if pd.isna(line["counted_va"]) else _va(line["counted_va"])
        rows.append([name[:1].upper() + name[1:], _va(line["nameplate_va"]), counted, str(line["section"])])
    size = load.smallest_service_a
    note = f"{load.service_a:.1f} A at 240 V" + (f"; next standard size {size} A" if size else "")
    rows.append([Cell("Calculated load", note, "total"), "", Cell(_va(load.total_va), kind="total"), ""])
    if load.neutral_va is not None:
        rows.append(["Of it on the neutral", "", _va(load.neutral_va), "220.61"])
    return rows


def _va(value: float) -> str:
    return f"{value:,.0f}\N{NO-BREAK SPACE}VA"


def option_rules_table(comparison: Any, sheet: Worksheet) -> Shown:
    """Every rule of every option: what it asks for, what is there, and whether the figure holds."""
    groups = []
    units = comparison.study.model.units
    for look in looks(comparison):
        lines = sheet.options.get(look.slug)
        if lines is None or lines.empty:
            continue
        groups.append(Group(look.label, [_rule_row(line, units) for line in lines.to_dict("records")]))
    if not groups:
        return paragraph("No option asks anything of the house's wiring, gas or site.")
    heads = ["Rule", "Asks for", "There is", "Holds"]
    return table("What the rules compare", heads, groups, kind="figures checks")


def _rule_row(line: dict[Any, Any], units: Units) -> list[str | Cell]:
    name = str(line["rule"])
    note = f"{line['text']} {line['source']}."
    holds = Cell(HOLDS[line["outcome"]], note, "no" if line["outcome"] == "beyond" else "")
    return [
        name[:1].upper() + name[1:],
        _amount(line["need"], line["unit"], units),
        _amount(line["have"], line["unit"], units),
        holds,
    ]


def _amount(value: float | None, unit: str, units: Units) -> str:
    return figure(None if value is None or pd.isna(value) else float(value), unit, units)


def _closing() -> Shown:
    text = (
        "This worksheet helps a licensed designer to begin; 'yes' says only that one figure is not above "
        "another."
    )
    return paragraph(text + DEFER, "small")
