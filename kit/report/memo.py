"""The sections of a decision memo, one function each: `Comparison -> Shown`."""

from __future__ import annotations

import re
from typing import Any

from kit.report import cautions as caution_texts
from kit.report.charts import fuel_and_emissions
from kit.report.formats import CHANCE, Units, figure
from kit.report.html_table import Cell, Group, table
from kit.report.outage_charts import hard_outage, hard_outage_events, hard_outages_worth_showing
from kit.report.show import Shown, bullets, escape, heading, paragraph, show, together
from kit.report.theme import looks, option_key

_LOADS = {"must_run": "must-run loads", "wanted": "must-run and wanted loads"}


def head(comparison: Any) -> Shown:
    """Title, cover block, whether the data is invented; a life-support caution first of all."""
    return together(
        [
            title("Backup power decision memo", comparison),
            cover(comparison),
            invented(comparison),
            life_support(comparison),
        ]
    )


def title(kicker: str, comparison: Any) -> Shown:
    """What this paper is, and of which study."""
    name = comparison.study.model.name
    return Shown(
        f'<p class="kicker">{escape(kicker)}</p><h1 dir="auto">{escape(name)}</h1>', f"{kicker}\n{name}"
    )


def cover(comparison: Any) -> Shown:
    """For whom and by whom, when, which house, and the study's hash."""
    model = comparison.study.model
    prepared = model.prepared
    facts = [
        ("Prepared for", prepared.for_), ("Prepared by", prepared.by), ("Date", prepared.date),
        ("House", model.house.name), ("Study hash", comparison.study.sha256[:12]),
    ]  # fmt: skip
    known = [(label, value) for label, value in facts if value]
    heads = "".join(f'<th scope="col">{label}</th>' for label, _ in known)
    cells = "".join(f'<td dir="auto"{_whole(value)}>{escape(value)}</td>' for _, value in known)
    html = f'<table class="cover"><thead><tr>{heads}</tr></thead><tbody><tr>{cells}</tr></tbody></table>'
    return Shown(html, "\n".join(f"{label}: {value}" for label, value in known))


def _whole(value: str) -> str:
    """A date or a hash is not broken in two."""
    return ' class="whole"' if len(value) <= 12 else ""


def invented(comparison: Any) -> Shown | None:
    """The line that says so where the data is made up."""
    if not comparison.study.model.invented:
        return None
    return paragraph("Invented example: the house, prices and equipment are made up.", "invented")


def life_support(comparison: Any) -> Shown | None:
    """The box that comes before everything where someone depends on powered medical equipment."""
    if not caution_texts.has_life_support(comparison):
        return None
    names = [
        a.name or slug.replace("_", " ")
        for slug, a in comparison.study.model.house.appliances.items()
        if a.life_support
    ]
    text = f"{', '.join(names)}: {caution_texts.LIFE_SUPPORT}"
    return Shown(
        f'<div class="danger" role="note"><p><strong>Medical equipment.</strong> {escape(text)}</p></div>',
        f"MEDICAL EQUIPMENT. {text}",
    )


def wish(comparison: Any) -> str:
    """What the household asked for, in a sentence or two."""
    model = comparison.study.model
    asked, money = model.asked, model.money
    sentence = (
        f"Keep the {_LOADS.get(asked.loads, asked.loads)} on for {figure(asked.keep_on_h, 'h')} "
        "with a chance of at least "
        f"{figure(asked.chance_frac, CHANCE)}, counted over a stay of {asked.stay_years} years."
    )
    if asked.budget_usd is not None:
        sentence += f" Budget: {figure(asked.budget_usd, 'usd', currency=money.currency)} up front."
    return sentence


def asked(comparison: Any) -> Shown:
    """What the household asked for, and the terms the money is counted in."""
    model = comparison.study.model
    money = model.money
    barred = [words for key, words in _BARRED.items() if not getattr(model.allowed, key)]
    terms = (
        f"Money is in {money.money_basis} {money.currency} of {money.price_year}, "
        f"discounted at {figure(money.discount_rate_frac, 'frac')} a year; every option meets the same "
        f"hours of {model.year}, the same outages and the same draws of chance."
    )
    return together(
        [
            paragraph(wish(comparison), "lead"),
            paragraph(f"Not allowed at this address: {', '.join(barred)}.") if barred else None,
            paragraph(f"{_compared(comparison)} {terms}", "small"),
        ]
    )


def _compared(comparison: Any) -> str:
    """Letters and names of the options; their count where naming them would fill the page."""
    count = len(comparison.outcomes)
    if count > 12:
        return f"{count} options are compared; the table of main figures names them."
    return f"Compared: {option_key(comparison)}."


_BARRED = {
    "gas": "pipeline gas",
    "outdoor_set": "a generator outdoors",
    "roof": "anything on the roof",
    "wiring": "changes to the wiring",
}


def answer(comparison: Any) -> Shown:
    """The verdict in its sentences, and what would flip it."""
    verdict = comparison.verdict
    first, *others = (unbroken(sentence) for sentence in verdict.sentences)
    parts = [
        paragraph(first, "lead verdict"),
        *(paragraph(s) for s in others),
        heading("What would change this answer"),
    ]
    parts.append(
        bullets([unbroken(flip) for flip in verdict.flips])
        if verdict.flips
        else paragraph("Nothing that was tried changes it.")
    )
    return together(parts)


def unbroken(text: str) -> str:
    """The text with its figures bound to their units, so that no line ends between them."""
    bound = re.sub(r"(\d) (h|kg|kWh|kW|years?)\b", "\\1\u00a0\\2", text)
    return re.sub(r"\b([A-Z]{3}) (\d)", "\\1\u00a0\\2", bound).replace("CO2e", "CO₂e")


def show_hard_outages(comparison: Any) -> None:
    """Display the hard outage of the options that decide: charts, then what happened when."""
    from IPython.display import display

    chosen = hard_outages_worth_showing(comparison)
    for look in (x for x in looks(comparison) if x.slug in chosen):
        show(*hard_outage(comparison, look.slug))
        events = hard_outage_events(comparison, look.slug)
        if events:
            display(_event_list(look.letter, events))


def _event_list(letter: str, events: list[tuple[float, str]]) -> Shown:
    shown = events[:12]
    items = [f"{_clock(hour)}: {text}" for hour, text in shown]
    if len(events) > len(shown):
        items.append(f"and {len(events) - len(shown)} more")
    return paragraph(f"What happens to {letter}:", "small") + bullets(items, "events", ordered=True)


def _clock(hour: float) -> str:
    return f"hour {figure(hour, '', with_unit=False)}"


def show_fuel_and_emissions(comparison: Any) -> None:
    """Display the small charts of fuel, run time and emissions."""
    from IPython.display import display

    display(paragraph(f"{option_key(comparison)}.", "small"))
    show(*fuel_and_emissions(comparison))


def beyond_money(comparison: Any) -> Shown:
    """What money does not show: the gap, noise, refuelling, fuel storage, carbon monoxide."""
    model = comparison.study.model
    items = [x for x in looks(comparison) if comparison.outcomes[x.slug].option is not None]
    facts = [_facts(comparison.outcomes[x.slug], model.units) for x in items]
    heads = list(dict.fromkeys(k for f in facts for k in f))
    rows: list[list[str | Cell]] = [
        [x.label, *(f.get(h, Cell("–", "does not apply")) for h in heads)]
        for x, f in zip(items, facts, strict=True)
    ]
    shown = table(
        "What has to be lived with", ["", *heads], [Group("", rows)], range(1, len(heads) + 1), "words"
    )
    return together([shown, _storage(model)])


def _facts(outcome: Any, units: Units) -> dict[str, str | Cell]:
    option, columns = outcome.option, outcome.columns
    out: dict[str, str | Cell] = {
        "Gap before power returns": _gap_words(option, columns.get("transfer_gap_s"))
    }
    noise = [
        f"{word} {figure(part.noise_db_a_at_7m, 'db_a')}"
        for word, part in (("generator", option.generator), ("battery", option.battery))
        if part is not None and part.noise_db_a_at_7m is not None
    ]
    distance = figure(7.0, "m", units)
    out[f"Noise at {distance}"] = "; ".join(noise) if noise else Cell("–", "no figure given in the study")
    generator = option.generator
    if generator is None:
        return out
    out["Someone must"] = (
        "start it by hand" if generator.start == "manual" else "only keep it fuelled and serviced"
    )
    out["Refuelling"] = refuelling(generator, columns.get("refuel_count_per_24h"))
    if generator.tank_l is None:
        return out
    on_site = generator.fuel_on_site_l if generator.fuel_on_site_l is not None else generator.tank_l
    out["Fuel kept at the house"] = f"{figure(on_site, 'l', units)} of {generator.fuel.replace('_', ' ')}"
    grams = columns.get("onsite_co_g_per_year")
    if grams is not None:
        out["Carbon monoxide at the house"] = f"{figure(grams, 'g')} a year, most of it beside the set"
    return out


def refuelling(generator: Any, stops_per_24h: Any) -> str:
    """How often the tank must be filled in an outage, in words."""
    if generator.tank_l is None:
        return "none: pipeline gas"
    night = "" if generator.refuels_at_night else "; not at night"
    if not stops_per_24h:
        return f"by tank{night}"
    if stops_per_24h >= 1.5:
        return f"{round(stops_per_24h)} stops in 24 h{night}"
    days = round(1 / stops_per_24h)
    return f"once a day{night}" if days <= 1 else f"once in {days} outage days{night}"


def _gap_words(option: Any, gap_s: Any) -> str | Cell:
    if gap_s is None:
        return Cell("–", "no figure for this option")
    if gap_s < 0.1:
        return f"{figure(gap_s, 's')}: lights may flicker"
    by_hand = option.generator is not None and option.battery is None and option.generator.start == "manual"
    if gap_s >= 120:
        return figure(gap_s / 60, "min") + (" once someone is there" if by_hand else "")
    return figure(gap_s, "s")


def _storage(model: Any) -> Shown | None:
    parts = []
    for name, fuel in model.fuels.items():
        words = name.replace("_", " ")
        if fuel.legal_limit_l is not None:
            parts.append(
                f"{words}: the study takes {figure(fuel.legal_limit_l, 'l', model.units)} "
                "as the most that may be kept"
            )
        if fuel.keeps_months is not None:
            parts.append(f"{words} keeps about {figure(fuel.keeps_months, 'count')} months")
    return paragraph(f"Fuel storage: {'; '.join(parts)}. {caution_texts.DECIDES}") if parts else None


def cautions(comparison: Any) -> Shown:
    """General cautions for the equipment shown."""
    return bullets(caution_texts.cautions(comparison), "cautions")
