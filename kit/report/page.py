"""A household's page: one HTML file with sliders over a grid that the engine computed beforehand.

It needs no program, no network and no library: a script of the kit's own looks up the grid's points
and adds up present values. What it shows at the study's own settings is what the memo shows; that is
checked before the file is written.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib import resources
from pathlib import Path
from typing import Any

from kit.account.time_value import capital_recovery
from kit.compare import compare
from kit.report.cautions import LIFE_SUPPORT
from kit.report.explore_settings import Choices, Price
from kit.report.explore_words import HELP, TERMS, cautions_for
from kit.report.exporter import json_for_script
from kit.report.formats import CHANCE, figure, unit_symbol
from kit.report.html_table import Cell, Group, table
from kit.report.memo import unbroken
from kit.report.page_grid import OFTEN, GridError, axes_of, hours_of, points
from kit.report.theme import looks
from kit.save import open_folder, write_text
from kit.stages.outcome import Comparison
from kit.stages.sources import DO_NOTHING
from kit.study import Study, read_study

NAME = "page.html"
_TEMPLATES = resources.files("kit.report") / "templates"
_APART = 1e-9


def write_page(
    study_path: str | Path, out_dir: str | Path, set_values: Sequence[str] = (), *, workers: int = 2
) -> Path:
    """Write the page of a study into `out_dir` and return its path.

    StudyError for a bad study, SaveError where it cannot be written: both before anything is computed.
    GridError where a point has no figures or the page would not say what the comparison says.
    """
    study = read_study(study_path, set_values)
    return write_text(open_folder(out_dir, (NAME,)) / NAME, page_html(study, workers=workers))


def page_html(study: Study, *, workers: int = 2) -> str:
    """The page as one text. Raises GridError."""
    from jinja2 import Environment

    comparison = compare(study)
    data = page_data(comparison, points(study, workers))
    check_page(comparison, data)
    environment = Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True)
    model = study.model
    alive = [a.name or slug.replace("_", " ") for slug, a in model.house.appliances.items() if a.life_support]
    return environment.from_string(_template("page.html.j2")).render(
        css=_template("page.css"),
        script=_template("page.js"),
        data=json_for_script(data),
        name=model.name,
        who=_who(model.prepared),
        invented=model.invented,
        danger=f"{', '.join(alive)}: {LIFE_SUPPORT}".replace("memo", "page") if alive else "",
        help=HELP,
        terms=TERMS,
        data_=data,
        sentences=[unbroken(sentence) for sentence in comparison.verdict.sentences],
        plain=_plain_table(comparison),
        by_value=model.asked.judged_by == "value",
        chance=figure(model.asked.chance_frac, CHANCE),
        grid=_grid_words(study),
        sha256=study.sha256[:12],
        plan=model.rate_plan.name or "the study’s",
        record=model.outages.name or "the study’s",
    )


def page_data(comparison: Comparison, grid: dict[str, list[dict[str, Any]]]) -> dict[str, Any]:
    """All that the page's script reads, as plain JSON values."""
    study = comparison.study
    model, axes, choices = study.model, axes_of(study), Choices(study, {}, {})
    asked, money = model.asked, model.money
    hours = hours_of(study)
    alive = any(a.life_support for a in model.house.appliances.values())
    prices = {slug: choices.price(slug) for slug in model.options}
    options = []
    for look in looks(comparison):
        block = model.options.get(look.slug)
        price = prices.get(look.slug)
        options.append(
            {
                "slug": look.slug,
                "name": look.name,
                "letter": look.letter,
                "units": list(axes[look.slug].unit_count) if block and block.battery else [],
                "reserves": list(axes[look.slug].reserve_frac) if block and block.battery else [],
                "own": list(axes[look.slug].own) if block else [0, 0],
                "held": bool(block and block.battery and block.battery.everyday == "hold"),
                "fuel": price.fuel if price else None,
                "points": [_short(point) for point in grid[look.slug]],
                "cautions": cautions_for(block, alive),
            }
        )
    return {
        "options": options,
        "hours": list(hours),
        "own_hour": hours.index(asked.keep_on_h),
        "often": list(OFTEN),
        "chance_frac": asked.chance_frac,
        "budget_usd": asked.budget_usd,
        "stay_years": asked.stay_years,
        "recovery": capital_recovery(money.discount_rate_frac, asked.stay_years, money.timing),
        "fuels": {p.fuel: _fuel(p) for p in prices.values() if p is not None and p.value > 0},
        "currency": _prefix(money.currency),
        "loan": money.loan is not None,
        "start": comparison.verdict.winner or next(iter(model.options)),
        "loads": "must-run loads" if asked.loads == "must_run" else "must-run and wanted loads",
    }


def check_page(comparison: Comparison, data: dict[str, Any]) -> None:
    """GridError where the page's figures at the study's own settings are not those of the comparison."""
    for option in data["options"]:
        columns = comparison.outcomes[option["slug"]].columns
        units, reserve = option["own"]
        point = option["points"][units * max(1, len(option["reserves"])) + reserve]
        money = point["often"][OFTEN.index(1.0)]
        life = money["bill_usd"] + money["fuel_usd"] + money["bought_usd"] + money["rest_usd"]
        pairs = {
            "ride_through_frac_asked": point["chance_frac"][data["own_hour"]],
            "lifetime_cost_usd": life,
            "equivalent_annual_cost_usd": life * data["recovery"],
            "up_front_usd": money["up_front_usd"],
            "bill_usd_per_year": money["bill_usd_per_year"],
            "must_run_unserved_h_per_year": money["dark_h_per_year"],
        }
        for column, mine in pairs.items():
            theirs = columns[column]
            if not isinstance(theirs, float) or abs(mine - theirs) > _APART * max(1.0, abs(theirs)):
                raise GridError(f"{option['slug']}: {column} is {mine} on the page and {theirs} in the memo")


def _short(point: dict[str, Any]) -> dict[str, Any]:
    """A point in few characters: 13 digits are far below what is shown."""
    often = [{name: float(f"{usd:.13g}") for name, usd in m.items()} for m in point["often"]]
    chances = [float(f"{chance:.13g}") for chance in point["chance_frac"]]
    return {**point, "chance_frac": chances, "often": often}


def _fuel(price: Price) -> dict[str, Any]:
    return {"name": price.fuel.replace("_", " "), "price": price.value, "unit": price.unit}


def _prefix(currency: str) -> str:
    symbol = unit_symbol("usd", currency=currency)
    return symbol if symbol != currency else f"{currency}\N{NO-BREAK SPACE}"


def _who(prepared: Any) -> str:
    parts = [f"Prepared for {prepared.for_}"] if prepared.for_ else []
    parts += [f"by {prepared.by}"] if prepared.by else []
    parts += [prepared.date] if prepared.date else []
    return ", ".join(parts)


def _plain_table(comparison: Comparison) -> str:
    """The options at the study's own settings, for a reader whose mail program runs no script."""
    model = comparison.study.model
    currency = model.money.currency
    base = comparison.outcomes[DO_NOTHING].columns["equivalent_annual_cost_usd"]
    rows: list[list[str | Cell]] = []
    for look in looks(comparison):
        c = comparison.outcomes[look.slug].columns
        extra = float(c["equivalent_annual_cost_usd"] or 0.0) - float(base or 0.0)
        rows.append(
            [
                look.label,
                "yes" if c["meets_target"] else "no",
                figure(c["ride_through_frac_asked"], CHANCE),
                figure(c["up_front_usd"], "usd", currency=currency),
                figure(extra, "usd", currency=currency),
            ]
        )
    heads = ["Option", "Does it", "Chance", "Paid up front", "A year beside doing nothing"]
    return table("At the study’s own settings", heads, [Group("", rows)], [1]).html


def _grid_words(study: Study) -> list[str]:
    """The grid as sentences."""
    axes = [a for a in axes_of(study).values() if len(a.unit_count) * len(a.reserve_frac) > 1]
    units = sorted({n for a in axes for n in a.unit_count if n})
    reserves = sorted({r for a in axes if len(a.reserve_frac) > 1 for r in a.reserve_frac})
    said = [f"Hours wanted: {_listed(f'{h:g}' for h in hours_of(study))}."]
    if units:
        said.append(f"Battery units: {_listed(map(str, units))}.")
    if reserves:
        said.append(f"Reserve: {_listed(figure(r, 'frac') for r in reserves)} of the battery.")
    said.append(f"Outages: {_listed(f'{f:g}' for f in OFTEN)} times as often as on record.")
    return said


def _listed(items: Any) -> str:
    *first, last = items
    return f"{', '.join(first)} and {last}" if first else str(last)


def _template(name: str) -> str:
    return (_TEMPLATES / name).read_text(encoding="utf-8")
