"""The page of a sweep: what wins in each case, what failed, and where the memos are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from kit.report.batch import WORKERS, Bar, Job, Written, memos_as_done
from kit.report.formats import figure, whole_money
from kit.report.html_table import Cell, Group, table
from kit.report.plain_page import plain_page
from kit.report.show import Shown, bullets, escape, heading, paragraph, together
from kit.save import write_text
from kit.study.names import option_names
from kit.vary.sweep import TABLE, Sweep, Swept

MEMOS = "memos"
PAGE = "index.html"
DO_NOTHING = "do_nothing"


def cheapest(rows: pd.DataFrame) -> str | None:
    """The option with the least lifetime cost among those that meet what was asked; None where none does.

    rows: those of one case, columns option, meets_target, lifetime_cost_usd.
    """
    meeting = rows[rows["meets_target"].astype(bool)]
    if meeting.empty:
        return None
    return str(meeting.sort_values("lifetime_cost_usd", kind="stable")["option"].iloc[0])


def write_sweep_page(swept: Swept, folder: str | Path, memos: Mapping[str, Path] | None = None) -> Path:
    """Write index.html beside the table; `memos`: case -> its page. Raises SaveError."""
    home = Path(folder)
    name = swept.sweep.study.model.name
    body = together([_summary(swept), _cases(swept, home, memos or {}), _failures(swept)])
    return write_text(home / PAGE, plain_page(f"Sweep of {name}", body))


def _summary(swept: Swept) -> Shown:
    sweep = swept.sweep
    varied = "; ".join(f"{path} ({len(values)})" for path, values in sweep.file.varied.items())
    wins = Counter(_winner_name(swept, rows) for _, rows in _by_case(swept))
    told = [f"{name}: cheapest that meets what was asked in {count}" for name, count in wins.most_common()]
    text = f"{len(sweep.cases)} cases. Varied: {varied}."
    return together(
        [
            paragraph("An invented example.", "invented") if sweep.study.model.invented else None,
            paragraph(text, "lead"),
            bullets(told),
            Shown(
                f'<p>All figures, one row an option a case: <a href="{TABLE}">{TABLE}</a>.</p>',
                f"All figures, one row an option a case: {TABLE}.",
            ),
        ]
    )


def _by_case(swept: Swept) -> list[tuple[str, pd.DataFrame]]:
    whole = swept.table[swept.table["failed"].isna()]
    return [(str(case), rows) for case, rows in whole.groupby("case", sort=False)]


def _names(swept: Swept) -> dict[str, str]:
    return {DO_NOTHING: "Do nothing", **option_names(swept.sweep.study.model.options)}


def _winner_name(swept: Swept, rows: pd.DataFrame) -> str:
    slug = cheapest(rows)
    return "No option" if slug is None else _names(swept).get(slug, slug)


def _cases(swept: Swept, home: Path, memos: Mapping[str, Path]) -> Shown:
    paths = list(swept.sweep.file.varied)
    currency = swept.sweep.study.model.money.currency
    rows: list[list[str | Cell]] = []
    for case, found in _by_case(swept):
        first = found.iloc[0]
        slug = cheapest(found)
        best = None if slug is None else found[found["option"] == slug].iloc[0]
        rows.append(
            [
                case,
                *(_said(first[path]) for path in paths),
                _winner_name(swept, found),
                "" if best is None else whole_money(best["lifetime_cost_usd"], currency),
                "" if best is None else whole_money(-best["net_saving_usd"], currency),
                "" if best is None else figure(float(best["must_run_unserved_h_per_year"]), "h"),
            ]
        )
    if not rows:
        return paragraph("No case has figures.")
    heads = ["Case", *paths, "Cheapest that meets the target", "Lifetime cost", "More than\ndoing nothing"]
    heads.append("Unserved\na year")
    shown = table("The cases", heads, [Group("", rows)], tuple(range(1, len(paths) + 2)), kind="figures rows")
    links = [
        f'<li><a href="{escape(path.relative_to(home).as_posix())}">{escape(case)}</a></li>'
        for case, path in memos.items()
    ]
    if not links:
        return shown
    return together(
        [shown, heading("Memos", 2), Shown(f"<ul>{''.join(links)}</ul>", "\n".join(map(str, memos.values())))]
    )


def _said(value: Any) -> str:
    if isinstance(value, bool | str):
        return str(value)
    return "" if value is None or pd.isna(value) else f"{value:g}"


def _failures(swept: Swept) -> Shown | None:
    if not swept.failed:
        return None
    told = [f"{case}: {reason}" for case, reason in swept.failed.items()]
    return together([heading("Cases that failed", 2), bullets(told)])


@dataclass(frozen=True)
class SweptMemos:
    """Case -> its page, and case -> why it has none."""

    pages: dict[str, Path]
    failed: dict[str, str]


def sweep_memos(
    sweep: Sweep, folder: str | Path, skip: Mapping[str, str] | None = None, workers: int = WORKERS
) -> SweptMemos:
    """One executed memo a case, below memos/; those whose key still holds are left as they are.

    `skip`: cases that failed. A case whose notebook stops is told in `failed`; the others are made.
    """
    home = Path(folder) / MEMOS
    jobs = {
        home / case.slug: (
            case.slug,
            Job(
                sweep.file.study,
                home / case.slug,
                tuple(case.texts()),
                sha256=case.study(sweep.study).sha256,
            ),
        )
        for case in sweep.cases
        if case.slug not in (skip or {})
    }
    done: dict[str, Written] = {}
    told = memos_as_done([job for _, job in jobs.values()], workers)
    for one in Bar(told, total=len(jobs), desc="memos", unit="", disable=None, leave=False):
        done[jobs[one.job.folder][0]] = one
    ordered = {slug: done[slug] for slug, _ in jobs.values()}
    return SweptMemos(
        {slug: one.files.html for slug, one in ordered.items() if one.files is not None},
        {slug: one.failed for slug, one in ordered.items() if one.files is None},
    )
