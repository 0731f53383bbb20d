"""What the explore notebook shows of a comparison: HTML made from columns, nothing computed."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources
from typing import Any

from kit.report.explore_words import HELP, TERMS, cautions_for
from kit.report.formats import CHANCE, figure
from kit.report.html_table import Cell, Group, table
from kit.report.memo import unbroken
from kit.report.show import VEGALITE, Shown, bullets, escape, heading, paragraph, together
from kit.report.theme import looks
from kit.stages.sources import DO_NOTHING
from kit.study import Study

WAIT = "being worked out"
CHART_PX = 700
_TEMPLATES = resources.files("kit.report") / "templates"

STYLE = f"<style>\n{(_TEMPLATES / 'explore.css').read_text('utf-8')}</style>"


def words(study: Study) -> Shown:
    """What can be moved, and what each word means: one sentence a term."""
    invented = " It is an invented example." if study.model.invented else ""
    return together(
        [
            paragraph(
                f"The house is {study.model.name}.{invented} Every figure is computed anew for it: the "
                "chance and the money of the option chosen at once, the whole comparison when no control "
                "has moved for a moment."
            ),
            heading("What can be moved", 2),
            bullets([f"{_LABELS[name]}: {text}" for name, text in HELP.items()]),
            heading("Words used here", 2),
            bullets([f"{term}: {text}" for term, text in TERMS.items()]),
        ]
    )


_LABELS = {
    "option": "Option",
    "keep_on_h": "Hours wanted",
    "unit_count": "Battery units",
    "packs_per_unit": "Packs per unit",
    "solar_kw": "Solar",
    "reserve_frac": "Reserve",
    "fuel_price": "Fuel price",
    "outages": "Outage record",
    "rate_plan": "Rate plan",
}


def label(name: str) -> str:
    """A control's label."""
    return _LABELS[name]


def answer_html(
    study: Study, name: str, row: Mapping[str, Any], nothing: Mapping[str, Any], provisional: bool
) -> str:
    """The figures of one option: its chance as a bar, and its money beside doing nothing."""
    asked, currency = study.model.asked, study.model.money.currency
    chance = float(row["ride_through_frac_asked"])
    wanted, hours = figure(asked.chance_frac, CHANCE), figure(asked.keep_on_h, "h")
    if row["meets_target"]:
        verdict = f"✔ That is what was asked: at least {wanted}."
    elif chance >= asked.chance_frac:
        verdict = f"✘ The chance is there, but the option cannot be called adequate: {_why(study, row)}."
    else:
        verdict = f"✘ Less than the {wanted} asked."
    usd = {k: figure(row[k], "usd", currency=currency) for k in ("up_front_usd", "bill_usd_per_year")}
    extra = float(row["equivalent_annual_cost_usd"]) - float(nothing["equivalent_annual_cost_usd"])
    side = "more" if extra >= 0 else "less"
    note = f" <small>(outage fuel and recharging {WAIT})</small>" if provisional else ""
    dark = WAIT if provisional else figure(row["must_run_unserved_h_per_year"], "h")
    dark_now = figure(nothing["must_run_unserved_h_per_year"], "h")
    facts = [
        ("Paid up front", usd["up_front_usd"]),
        ("Electricity bill", f"{usd['bill_usd_per_year']} in the first year"),
        (
            "Cost a year",
            f"{figure(abs(extra), 'usd', currency=currency)} {side} than doing nothing, over "
            f"{asked.stay_years} years{note}",
        ),
        ("Hours without power", f"{dark} a year; doing nothing {dark_now}"),
    ]
    rows = "".join(
        f'<div class="fact"><span>{term}</span><strong>{said}</strong></div>' for term, said in facts
    )
    return (
        f'{STYLE}<div class="rt-answer" role="status"><p>{escape(name)}: chance that the must-run loads stay '
        f'on for {hours}</p><div class="big">{figure(chance, CHANCE)}</div>'
        f'<div class="bar" aria-hidden="true"><i style="width:{100 * chance:.2f}%"></i>'
        f'<b style="left:{100 * asked.chance_frac:.2f}%"></b></div><p>{verdict}</p>{rows}</div>'
    )


def _why(study: Study, row: Mapping[str, Any]) -> str:
    if not row["feasible"]:
        return "it cannot be built and used as described"
    if any(a.life_support for a in study.model.house.appliances.values()):
        return "someone’s life depends on a machine"
    return "the power and start check says why"


def all_options(comparison: Any, as_moved: str) -> Shown:
    """Every option of a settled comparison in five columns, and the answer in words."""
    model = comparison.study.model
    currency = model.money.currency
    base = comparison.outcomes[DO_NOTHING].columns["equivalent_annual_cost_usd"]
    rows: list[list[str | Cell]] = []
    for look in looks(comparison):
        c = comparison.outcomes[look.slug].columns
        extra = float(c["equivalent_annual_cost_usd"]) - float(base)
        meets = Cell("yes") if c["meets_target"] else Cell("no", kind="no")
        rows.append(
            [
                look.label,
                meets,
                figure(c["ride_through_frac_asked"], CHANCE),
                figure(c["up_front_usd"], "usd", currency=currency),
                figure(extra, "usd", currency=currency),
                figure(c["must_run_unserved_h_per_year"], "h"),
            ]
        )
    heads = [
        "Option",
        "Does it",
        f"Chance for {figure(model.asked.keep_on_h, 'h')}",
        "Paid up front",
        "Cost a year beside doing nothing",
        "Without power a year",
    ]
    moved = f"; as moved: {as_moved}" if "(" in as_moved else ""
    sentences = [paragraph(unbroken(text)) for text in comparison.verdict.sentences]
    shown = together([*sentences, table(f"All options{moved}", heads, [Group("", rows)], [1])])
    return Shown(f'<div class="rt-whole">{shown.html}</div>', shown.text)


def cautions_html(study: Study, slug: str) -> str:
    """The short cautions of one option."""
    alive = any(a.life_support for a in study.model.house.appliances.values())
    items = cautions_for(study.model.options.get(slug), alive)
    body = "".join(f"<li>{escape(item)}</li>" for item in items)
    return f'<div class="rt-answer"><strong>Take care</strong><ul>{body}</ul></div>'


def help_html(name: str) -> str:
    """The one-sentence help under a control."""
    return f'<span class="rt-help">{escape(HELP[name])}</span>'


def titled(bundle: dict[str, Any]) -> list[dict[str, Any]]:
    """A chart with its title as text above it: JupyterLab's own drawing would cut one off below a legend."""
    spec = bundle[VEGALITE]
    title = spec.pop("title", {})
    right_px = max(12, spec.get("padding", {}).get("right", 0) - 18)  # rows of letters need more
    spec["width"], spec["padding"] = CHART_PX, {"left": 4, "right": right_px, "top": 20, "bottom": 4}
    _fixed_columns(spec)
    above = f"<p><strong>{escape(title.get('text', ''))}</strong><br>{escape(title.get('subtitle', ''))}</p>"
    return [{"text/html": above, "text/plain": bundle["text/plain"]}, bundle]


def _fixed_columns(spec: Any) -> None:
    """Legends in three columns: the height JupyterLab gives a chart does not follow a changing number."""
    for part in spec if isinstance(spec, list) else spec.values() if isinstance(spec, dict) else ():
        if isinstance(part, dict) and isinstance(part.get("columns"), dict):
            part["columns"] = 3
        _fixed_columns(part)
